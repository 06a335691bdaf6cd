"""Prints advice for people: what to do next, and why."""

from __future__ import annotations

from rich.console import Console
from rich.table import Table
from rich.text import Text
from rich.tree import Tree

from knowngood.cli import advice_shapes as shapes
from knowngood.cli.layout import grid, under
from knowngood.cli.partly import say_partly, share
from knowngood.cli.show import warned
from knowngood.handbook.quantities import format_minutes, minor_digits
from knowngood.handbook.quantities import percent as chance


def advice(out: Console, answer: shapes.NextAnswer, most: int) -> None:
    say_partly(out, answer.partly)
    if not answer.moves:
        out.print("Nothing can be done here: every move is held back.")
        return
    warned(out, answer.surprise)
    if answer.dispute:
        out.print(Text(f"! {answer.dispute}"))
    best = answer.moves[0]
    out.print(Text(f"NEXT  {best.move}", style="bold"))
    if best.opens:
        out.print(Text(f"      first open: {', '.join(best.opens)}"))
    if best.closes:
        out.print(Text(f"      first close: {', '.join(best.closes)}"))
    for caution in (*best.precautions, *best.cautions):
        out.print(under(4, f"! {caution}"))
    out.print(under(6, best.why))
    digits = minor_digits(answer.currency)
    price = f", {answer.currency} {best.materials:.{digits}f} of parts" if best.materials else ""
    out.print(Text(f"      {format_minutes(best.minutes)}{price}; costs {answer.currency} {best.cost:.{digits}f}"))
    out.print(Text(f"      log it: {_how_to_log(best)}"))
    if best.outcomes:
        out.print(_outcomes(best))
    out.print()
    table = grid(("worth", "right"), ("cost", "right"), ("time", "right"), ("move", "left"), ("why", "left"))
    for move in answer.moves[1:most]:
        name = f"{move.kind} {move.target}".strip() + (f"\n  open {', '.join(move.opens)}" if move.opens else "")
        table.add_row(f"{move.worth:.0f}", f"{move.cost:.{digits}f}", format_minutes(move.minutes), name, move.why)
    out.print(table)
    out.print()
    if not answer.standing.said:
        out.print(Text(answer.standing.sentence))
    if answer.considered:
        which = "all" if answer.followed == answer.considered else f"{answer.followed} of them"
        out.print(Text(f"Looks and tests: {answer.considered} considered, {which} followed exactly."))
    for reason in dict.fromkeys(held.why for held in answer.held):
        kept = sum(held.why == reason for held in answer.held)
        out.print(Text(f"Held back ({kept}): {reason}"))


def _outcomes(move: shapes.MoveShape) -> Table:
    """What each outcome would make of the belief."""
    table = grid(("    outcome", "left"), ("chance", "right"), ("known good", "right"), ("would then stop it", "left"))
    for outcome in move.outcomes:
        then = ", ".join(f"{one.part} {chance(one.p_blocks)}" for one in outcome.suspects[:2])
        good = "" if outcome.known_good is None else chance(outcome.known_good)
        table.add_row(f"    {outcome.outcome}", chance(outcome.probability), good, then)
    return table


def tells(out: Console, answer: shapes.TellsAnswer) -> None:
    say_partly(out, answer.partly)
    if answer.after:
        out.print(Text(f"If first: {'; '.join(answer.after)}\n"))
    table = grid(
        *(("bits", "right"), ("time", "right"), ("test or look", "left")),
        *(("outcome", "left"), ("chance", "right"), ("would then stop it", "left")),
    )
    for one in answer.questions:
        head = (f"{one.bits:.2f}", format_minutes(one.minutes), one.id)
        for outcome in one.outcomes[:3]:
            then = ", ".join(f"{each.part} {chance(each.p_blocks)}" for each in outcome.suspects[:2])
            then += f" (within {share(outcome.missed)})" if outcome.missed else ""
            table.add_row(*head, outcome.outcome, chance(outcome.probability), then)
            head = ("", "", "")
    out.print(table)


def _how_to_log(move: shapes.MoveShape) -> str:
    if move.kind == "measure":
        return f"{move.log} VALUE"
    if move.kind in ("test", "try"):
        return f"{move.log} {'|'.join(one.outcome for one in move.outcomes)}"
    if move.kind == "look":
        return f"{move.log} CONDITION"
    if move.kind == "discharge":
        return f"{move.log} VOLTS"
    return move.log


def several(out: Console, answer: shapes.BenchNext) -> None:
    if not answer.units and not answer.troubles:
        out.print("No unit is on the bench. Book one in: knowngood unit new")
        return
    table = grid(("unit", "left"), ("an hour", "right"), ("gain", "right"), ("hands", "right"), ("next", "left"))
    for one in answer.units:
        hour = "waits" if one.per_hour is None else f"{one.currency} {one.per_hour:.0f}"
        name = f"{one.kind} {one.target}".strip()
        table.add_row(one.unit, hour, f"{one.gain:.0f}", format_minutes(one.minutes), name)
    out.print(table)
    for unit, why_not in answer.troubles.items():
        out.print(Text(f"{unit}: {why_not}"))
    out.print("\nGain: over stopping now, hands paid. An hour: gain for an hour of hands, the best first.")


def why(out: Console, answer: shapes.WhyAnswer) -> None:
    say_partly(out, answer.partly)
    money, digits = answer.currency, minor_digits(answer.currency)
    out.print(Text(f"NEXT  {answer.move}", style="bold"))
    out.print(under(6, answer.why))
    second = answer.runner_up
    if second:
        out.print(under(6, f"Runner-up, {money} {second.margin:.{digits}f} behind: {second.move}"))
    if answer.branches:
        out.print()
        out.print(_tree(answer))
    out.print("\nWhat would change it", style="bold")
    for one in answer.thresholds:
        if one.then:
            out.print(under(2, f"{_if(one, money, digits)}: {one.then}"))
    kept = [one for one in answer.thresholds if one.then is None]
    if kept:
        stays = "; ".join(_if(one, money, digits).removesuffix(" or more").removesuffix(" or less") for one in kept)
        out.print(under(2, f"It stays the same up to there: {stays}."))
    out.print("\nWhat changed it", style="bold")
    if answer.changed_by_settings:
        settings = answer.changed_by_settings
        said = (
            f"The bench: {', '.join(settings.lines)}. Before: {settings.before} ({money} {settings.before_worth:.0f})."
        )
        out.print(under(2, said))
    turn = answer.changed_by
    if turn:
        said = (
            f"Line {turn.seq}, {turn.line}. It took {turn.part} from {chance(turn.p_before)} to {chance(turn.p_after)}."
        )
        before = "That was the advice" if turn.followed else f"Before it: {turn.before}"
        out.print(under(2, f"{said} {before} ({money} {turn.before_worth:.0f})."))
    elif not answer.changed_by_settings:
        out.print(under(2, "None of the last lines: it was the same before them."))


def _tree(answer: shapes.WhyAnswer) -> Tree:
    """Two levels: the outcomes of the first move with the move after each, and the outcomes of that one."""
    root = Tree(Text("Where it leads"), guide_style="none")
    for one in answer.branches:
        to = f"{one.outcome} {chance(one.probability)}: then {one.move} (worth {one.worth:.0f})"
        branch = root.add(Text(to))
        for outcome in one.outcomes:
            then = ", ".join(f"{each.part} {chance(each.p_blocks)}" for each in outcome.suspects[:1])
            good = "" if outcome.known_good is None else f"known good {chance(outcome.known_good)}"
            left = ", ".join(each for each in (good, f"suspect {then}" if then else "") if each)
            branch.add(Text(f"{outcome.outcome} {chance(outcome.probability)}" + (f": {left}" if left else "")))
    return root


def _if(one: shapes.ThresholdShape, money: str, digits: int) -> str:
    """The threshold in words."""
    way = "or more" if one.at > one.now else "or less"
    if one.figure == "minutes":
        return f"if it took {one.at:.1f} min {way}"
    said = {"hour": "an hour had to bring", "working": "it sold for", "price": "the part cost"}[one.figure]
    return f"if {said} {money} {one.at:.{digits}f} {way}"
