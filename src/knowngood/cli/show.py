"""Prints answers for people: 80 columns, nothing that only colour says."""

from __future__ import annotations

from rich.console import Console
from rich.text import Text

from knowngood.cli import shapes
from knowngood.cli.layout import grid
from knowngood.cli.partly import say_partly
from knowngood.handbook.quantities import NEAR_CERTAIN, format_minutes, format_quantity
from knowngood.handbook.quantities import percent as chance
from knowngood.handbook.readings import OPEN


def factor(log10: float) -> str:
    """A factor on odds: "x 38" or "x 1/6"."""
    size = 10.0 ** abs(log10)
    shown = f"{size:.0f}" if size >= 10 else f"{size:.1f}"
    return f"x {shown}" if log10 >= 0 else f"x 1/{shown}"


def logged(out: Console, answer: shapes.Logged) -> None:
    from knowngood.cli.marks import show_one

    said = {one.seq: one for one in answer.readings}
    marked = {one.seq: one for one in answer.marks}
    for line in answer.lines:
        out.print(Text(f"{answer.unit} {line.seq}  {line.line}"))
        if line.seq in said:
            one = said[line.seq]
            near = "; too near to a limit to be told" if one.conformity == "cannot be told" and one.zone != OPEN else ""
            out.print(Text(f"   {one.zone} {chance(one.zones[one.zone])}{near}"))
            if one.rests_on:
                limits = (
                    f"{format_quantity(one.expected_low, one.unit)} to {format_quantity(one.expected_high, one.unit)}"
                )
                out.print(Text(f"   {limits} by the handbook: {one.rests_on}"))
            _flagged(out, [one])
            if one.slip:
                out.print(Text("! Nothing that this map knows reads so there: a slip? Recheck it."))
        if line.seq in marked:
            show_one(out, marked[line.seq])
    if any(line.line.startswith("arrived ") for line in answer.lines):
        out.print(Text(f"{answer.unit} wakes up. What it does next: knowngood next {answer.unit}"))
    for warning in answer.warnings:
        out.print(Text(f"! {warning}"))


def _flagged(out: Console, readings: list[shapes.ReadingShape]) -> None:
    for one in readings:
        if one.flag:
            out.print(Text(f"! {one.flag}"))


def learned(out: Console, answer: shapes.ReadingsAnswer) -> None:
    table = grid(("test", "left"), ("map expects", "left"), ("known-good units", "left"), ("would expect", "left"))
    for row in answer.rows:
        units = "none read"
        if row.median is not None and row.spread is not None:
            spread = f" +/- {format_quantity(row.spread, row.unit)}" if row.units > 1 else ""
            units = f"{row.units}: {format_quantity(row.median, row.unit)}{spread}"
        table.add_row(row.test, row.expected, units, row.learned or "")
    out.print(table)
    for row in answer.rows:
        if row.rests_on:
            out.print(Text(f"{row.test} by the handbook: {row.rests_on}"))
    if answer.written:
        out.print(Text(f"Written to {answer.written}. Units booked in from now on may use it: --map {answer.written}"))
    elif answer.difference:
        out.print(Text(f"\n{answer.difference}\nTo accept it: knowngood readings {answer.map} --into FILE"))
    else:
        out.print(Text("Nothing to learn yet: it takes three known-good units that were read."))


def log(out: Console, answer: shapes.UnitState) -> None:
    for line in answer.lines:
        mark = " " if line.holds else "-"
        out.print(Text(f"{line.seq:>4} {mark} {line.time}  {line.line}"))
        if line.flag:
            out.print(Text(f"       ! no effect: {line.flag}"))
    facts = {
        "past": ", ".join(answer.past),
        "open": ", ".join(answer.open),
        "unplugged": ", ".join(answer.unplugged),
        "out": ", ".join(answer.out),
        "met": ", ".join(answer.met),
        "fitted": ", ".join(f"{part} from {origin}" for part, origin in answer.fitted.items()),
        "shown to work": ", ".join(answer.proven),
        "declared": ", ".join(answer.declared),
        "lacking": ", ".join(answer.lacks),
        "put off": ", ".join(answer.deferred),
        "curing": ", ".join(f"{part} {format_minutes(left)}" for part, left in answer.curing.items()),
        "time": format_minutes(answer.minutes),
        "left as": answer.exit or "",
        "quarantine": answer.quarantine or "",
        "came back": "; ".join(answer.returns),
        "dispute": answer.dispute or "",
    }
    out.print()
    table = grid(("", "left"), ("", "left"))
    for name, text in facts.items():
        if text:
            table.add_row(name, text)
    out.print(table)
    if any(not line.holds for line in answer.lines):
        out.print("Lines with - were taken back.")


def belief(out: Console, answer: shapes.BeliefAnswer, most: int) -> None:
    out.print(
        Text(f"{answer.unit} ({answer.map}) after line {answer.log_seq}: known good {chance(answer.known_good)}"),
    )
    say_partly(out, answer.partly)
    if answer.cases > 1 and not answer.partly:
        out.print(Text(f"Exact, in {answer.cases} cases: the log is too long for one, so every answer takes its time."))
    out.print()
    table = grid(("stops", "right"), ("faulty", "right"), ("part and how", "left"), ("moved by", "left"))
    for part in answer.parts[: most or None]:
        modes = [(mode, p) for mode, p in sorted(part.modes.items(), key=lambda one: -one[1]) if p >= 0.05 * part.p_bad]
        how = ", ".join(f"{mode} {chance(p)}" for mode, p in modes[:3])
        movers = "\n".join(f"{factor(one.log10_factor)}  line {one.seq}: {one.line}" for one in part.moved_by)
        table.add_row(chance(part.p_blocks), chance(part.p_bad), f"{part.part}\n  {how}", movers)
    out.print(table)
    worst = sorted(answer.unknown.items(), key=lambda one: -one[1])[:1]
    for function, p in worst:
        if p >= 0.02:
            out.print(Text(f"\nSomething this map does not know in '{function}': {chance(p)}."))
    _explanations(out, answer)
    if answer.parts and answer.parts[0].p_blocks >= NEAR_CERTAIN:
        out.print("\n97 % + means: as sure as this map can be.")
    warned(out, answer.surprise)
    _flagged(out, answer.readings)
    for flag in answer.flags:
        out.print(Text(f"! {flag}"))


def warned(out: Console, surprise: shapes.SurpriseShape | None) -> None:
    if surprise is not None:
        out.print(Text(f"! {surprise.message}"))


def _explanations(out: Console, answer: shapes.BeliefAnswer) -> None:
    """The joint explanations: the first in full, the others by what is different."""
    first = answer.explanations[0]
    table = grid(("exactly", "right"), ("at least", "right"), ("what together explains the log", "left"))
    for one in answer.explanations:
        others = chance(one.with_others) if one.faults else ""
        table.add_row(chance(one.probability), others, explanation(one, None if one is first else first))
    out.print()
    out.print(table)
    count = len(answer.explanations)
    these = f"These {count} cover" if count > 1 else "This covers"
    out.print(Text(f"{these} {chance(answer.explained)} of all that could be, most probable course first."))


def explanation(one: shapes.ExplanationShape, first: shapes.ExplanationShape | None) -> str:
    """One in words: in full, or by what differs from the first where that is shorter."""
    unknown = []
    if one.unknown:
        where = ", ".join(f"'{name}' {chance(p)}" for name, p in one.unknown.items())
        unknown = [f"something this map does not know (in {where})"]
    before = [] if first is None else first.faults
    gone, new = [each for each in before if each not in one.faults], [each for each in one.faults if each not in before]
    explains, strange = set(one.explains), set(one.strange)
    if first is not None and len(gone) + len(new) < len(one.faults):
        was, now = {fault.part for fault in gone}, {fault.part for fault in new}
        named = [f"without {_fault(fault)}" for fault in gone if fault.part not in now]
        named += [f"{'but' if fault.part in was else 'with'} {_fault(fault)}" for fault in new]
        text = f"as the first, {', '.join([*named, *unknown])}"
        explains -= set(first.explains)
        strange -= set(first.strange)
    else:
        text = ", ".join([*map(_fault, one.faults), *unknown]) or "nothing wrong"
    if explains:
        text += f"\n  explains {_lines(explains)}"
    if strange:
        text += f"\n  leaves {_lines(strange)} strange"
    return text


def _fault(fault: shapes.FaultShape) -> str:
    since = "" if fault.since is None else f" since line {fault.since}"
    until = "" if fault.until is None else f" until line {fault.until}"
    return f"{fault.part} {fault.mode}{since}{until}"


def _lines(numbers: set[int]) -> str:
    """Numbers of lines in words: "line 4", "lines 4, 9 to 12"."""
    runs: list[list[int]] = []
    for number in sorted(numbers):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    named = [f"{run[0]} to {run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs]
    return f"{'line' if len(numbers) == 1 else 'lines'} {', '.join(named)}"


def findings(out: Console, answer: shapes.MapCheck) -> None:
    for one in answer.findings:
        out.print(Text(f"{one.file}:{one.line}:{one.column}: {one.message}"), soft_wrap=True)
    for call in answer.calls:
        out.print(Text(f"{call.function}, {call.key}: {call.expected} by {call.call} ({call.source})"), soft_wrap=True)
    if answer.right:
        out.print(Text(f"{answer.file}: nothing wrong"), soft_wrap=True)
    else:
        out.print(Text(f"{len(answer.findings)} to put right"))


def rehearsal(out: Console, answer: shapes.RehearseAnswer) -> None:
    money_ = answer.currency
    past = ", ".join(answer.past) or "unknown"
    out.print(Text(f"{answer.units} units drawn from {answer.map}, seed {answer.seed}, past {past}"))
    out.print(Text(f"Faults that stop something, as drawn: {answer.stopping_faults:.2f} a unit."))
    out.print(Text(f"Parted out on arrival a unit brings {money_} {answer.parted_at_once:.1f}."))
    out.print(Text(f"If what is wrong were known it would bring {money_} {within(answer.if_known)}.\n"))
    first, *others = answer.policies
    worth = grid(("policy", "left"), (f"{money_} a unit", "right"), (f"less {first.policy}", "right"))
    for one in answer.policies:
        worth.add_row(one.policy, within(one.net), within(one.behind) if one.behind else "")
    out.print(worth)
    took = grid(("policy", "left"), ("minutes", "right"), ("materials", "right"), ("moves", "right"))
    for one in answer.policies:
        took.add_row(one.policy, within(one.minutes, 0), within(one.materials), f"{one.moves.mean:.1f}")
    out.print(Text(), took)
    ways = grid(
        *(("policy", "left"), ("brought back", "right"), ("comes back", "right")),
        *(("as is", "right"), ("parts", "right"), ("no end", "right")),
    )
    for one in answer.policies:
        low, high = (100 * (end or 0.0) for end in (one.brought_back.low, one.brought_back.high))
        back = f"{one.brought_back.mean:.0%} ({low:.0f} to {high:.0f})".replace("%", " %")
        rest = (one.would_return, one.as_is, one.parted, one.given_up)
        ways.add_row(one.policy, back, *(f"{share.mean:.0%}".replace("%", " %") for share in rest))
    out.print(Text(), ways)
    same = " All worked on the same units: the difference is taken unit by unit." if others else ""
    out.print(Text(f"\nIn brackets 95 % intervals.{same}"))
    out.print("Drawn from the map and judged by it: as right as the map is, no more.")
    if answer.picture:
        out.print(Text(f"Picture: {answer.picture}"))


def within(found: shapes.IntervalShape, digits: int = 1) -> str:
    ends = "" if found.low is None or found.high is None else f" ({found.low:.{digits}f} to {found.high:.{digits}f})"
    return f"{found.mean:.{digits}f}{ends}"
