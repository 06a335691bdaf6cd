"""The way in, the way back and the list before power: from the plan's answers to shapes, and to words for paper."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from rich.console import Console
from rich.text import Text

from knowngood.cli import assembly_shapes as shapes
from knowngood.cli.layout import hanging, under
from knowngood.handbook.quantities import format_minutes, minor_digits
from knowngood.handbook.quantities import percent as chance

if TYPE_CHECKING:
    from knowngood.plan.before_power import BeforePower, Line
    from knowngood.plan.reassembly import Sheet, SheetLine
    from knowngood.plan.way_in import WayIn

# ---- shapes ---------------------------------------------------------------------------------------------------------


def way(unit: str, found: WayIn, currency: str) -> shapes.WayAnswer:
    return shapes.WayAnswer(
        unit=unit,
        log_seq=found.log_seq,
        currency=currency,
        targets=found.targets,
        steps=[
            shapes.OpeningShape(
                step=one.step,
                do=one.do,
                minutes=one.minutes,
                wait=one.wait,
                holds=one.holds,
                fasteners=[
                    shapes.FastenerShape(
                        count=each.count, sort=each.sort, driver=each.driver, where=each.where, odd=each.odd
                    )
                    for each in one.fasteners
                ],
                pulls=[
                    shapes.PullShape(connection=each.connection, what=each.what, marks=list(each.marks))
                    for each in one.pulls
                ],
                takes_off=list(one.takes_off),
                cautions=list(one.cautions),
                held=one.held,
                first=one.first,
            )
            for one in found.steps
        ],
        minutes=found.minutes,
        closing=found.closing,
        elapsed=found.elapsed,
        drivers=found.drivers,
        looks=[
            shapes.FreeLookShape(
                kind=one.move.kind,
                do=one.move.do,
                log=one.move.log,
                outcomes=list(one.move.test.outcomes) if one.move.test and one.move.test.verb != "read" else [],
                after=one.after,
                minutes=one.move.minutes,
                bits=one.bits,
                worth=one.worth,
            )
            for one in found.looks
        ],
    )


def reassembly(unit: str, sheet: Sheet) -> shapes.ReassemblyAnswer:
    return shapes.ReassemblyAnswer(
        unit=unit,
        log_seq=sheet.log_seq,
        blocks=[
            shapes.BlockShape(
                step=block.step,
                puts=list(block.puts),
                remarks=list(block.remarks),
                lines=[sheet_line(line) for line in block.lines],
            )
            for block in sheet.blocks
        ],
        balances=[
            shapes.BalanceShape(
                step=step,
                opened=sheet.numbers.get(step),
                out=one.out,
                back=one.back,
                missing=dict(one.missing),
                by_map=sorted(one.by_map),
            )
            for step, one in sheet.balances.items()
        ],
    )


def sheet_line(line: SheetLine) -> shapes.SheetLineShape:
    return shapes.SheetLineShape(
        kind=line.kind,
        target=line.target,
        do=line.do,
        log=line.log,
        notes=list(line.notes),
        cautions=list(line.cautions),
        held=line.held,
        first=line.first,
    )


def before_power(unit: str, found: BeforePower, currency: str) -> shapes.BeforePowerAnswer:
    return shapes.BeforePowerAnswer(
        unit=unit,
        log_seq=found.log_seq,
        currency=currency,
        lines=[_power_line(one) for one in found.lines],
        closed_in=[_power_line(one) for one in found.closed_in],
        held=[_power_line(one) for one in found.held],
        any_fault=found.any_fault,
        minutes=sum(one.minutes for one in found.lines),
        apart=list(found.apart),
        no_power=list(found.no_power),
        with_power=list(found.with_power),
    )


def _power_line(line: Line) -> shapes.PowerLineShape:
    return shapes.PowerLineShape(
        kind=line.kind,
        target=line.target,
        do=line.do,
        log=line.log,
        odds=line.odds,
        damage=line.damage,
        at_stake=line.at_stake,
        hurts=line.hurts,
        minutes=line.minutes,
        cautions=list(line.cautions),
        source=line.source,
        opens=list(line.opens),
        shown_by=line.shown_by,
        held=line.held,
        first=line.first,
    )


# ---- words ----------------------------------------------------------------------------------------------------------


def show_way(out: Console, answer: shapes.WayAnswer, most: int) -> None:
    named = ", ".join(
        name if step in (None, name) else f"{name} (behind {step})" for name, step in answer.targets.items()
    )
    out.print(under(0, f"WAY   to {named}", style="bold"))
    if not answer.steps:
        out.print(under(6, "Nothing has to be opened for it."))
    else:
        turned = ", ".join(f"{driver} ({count})" for driver, count in answer.drivers.items())
        out.print(under(6, f"{format_minutes(answer.minutes)} of hands, {format_minutes(answer.elapsed)} until open"))
        out.print(under(6, f"then {format_minutes(answer.closing)} to close all again"))
        out.print(under(6, f"drivers: {turned}" if turned else "no driver"))
    shown = sorted(answer.looks, key=lambda one: -one.worth)[:most]
    _looks(out, answer, [one for one in shown if one.after is None], "As it is now")
    said: set[str] = set()
    for number, step in enumerate(answer.steps, start=1):
        _opening(out, number, step, said)
        _looks(out, answer, [one for one in shown if one.after == step.step], "Since it is open this far")
    if len(shown) < len(answer.looks):
        out.print(Text(f"\n{len(answer.looks) - len(shown)} more are worth less (--most)."))


def _opening(out: Console, number: int, step: shapes.OpeningShape, said: set[str]) -> None:
    out.print()
    out.print(under(0, f"{number}  {step.step}: {step.do}", style="bold"))
    wait = f", not before {format_minutes(step.wait)} from the start" if step.wait else ""
    out.print(under(3, f"{format_minutes(step.minutes)}{wait}"))
    warn(out, 3, step.cautions, said)
    if step.held:
        item(out, 3, "HELD ", f"{step.held}{first(step.first)}")
    for one in step.fasteners:
        about = ", ".join(each for each in (one.driver, one.where) if each)
        item(out, 3, "out  ", f"{one.count} x {one.sort} ({about})")
        if one.odd:
            item(out, 9, "!", one.odd)
    for pull in step.pulls:
        item(out, 3, "pull ", f"{pull.connection}" + (f": {'; '.join(pull.marks)}" if pull.marks else ""))
    if step.takes_off:
        item(out, 3, "off  ", ", ".join(step.takes_off))


def _looks(out: Console, answer: shapes.WayAnswer, looks: list[shapes.FreeLookShape], when: str) -> None:
    if not looks:
        return
    digits = minor_digits(answer.currency)
    these = (
        "this costs nothing more than its" if len(looks) == 1 else f"these {len(looks)} cost nothing more than their"
    )
    out.print(under(3, f"{when}, {these} time:"))
    for one in looks:
        follows = "CONDITION" if one.kind == "look" else "|".join(one.outcomes) or "VALUE"
        price = f"{format_minutes(one.minutes)}, worth {answer.currency} {one.worth:.{digits}f}"
        item(out, 3, "?", f"{one.log} {follows}  ({price})")


def show_reassembly(out: Console, answer: shapes.ReassemblyAnswer) -> None:
    if not answer.blocks:
        out.print(Text(f"Nothing of {answer.unit} is open, unplugged, out or uncounted."))
        return
    out.print(under(0, f"TOGETHER AGAIN  {answer.unit}, by its log up to line {answer.log_seq}", style="bold"))
    for one in answer.balances:
        out.print(under(3, balance(one)))
    said: set[str] = set()
    for block in answer.blocks:
        out.print()
        out.print(under(0, heading(block), style="bold"))
        for remark in block.remarks:
            out.print(under(3, remark))
        for line in block.lines:
            warn(out, 4, line.cautions, said)
            if line.held:
                item(out, 4, "HELD", f"{line.held}{first(line.first)}")
            item(out, 0, "[ ]", line.do)
            for note in line.notes:
                if note not in said:
                    out.print(under(7, note))
                if note.startswith("torque"):  # the same for every screw of that thread
                    said.add(note)
            out.print(under(4, f"> {line.log}"))


def heading(block: shapes.BlockShape) -> str:
    if block.step is None:
        return "What is closed over something left apart" if block.lines[0].kind == "open" else "Outside"
    puts = f", with {', '.join(block.puts)}" if block.puts else ""
    return f"Up to closing {block.step}{puts}"


def balance(one: shapes.BalanceShape) -> str:
    where = f"{one.step} (step {one.opened})" if one.opened else one.step
    missing = []
    for sort, count in one.missing.items():
        named = f"{abs(count)} x {sort}" if sort else f"{abs(count)} of no named sort"
        missing.append(f"{named} {'still out' if count > 0 else 'too many in'}")
    by_map = " (the map's figure)" if one.by_map else ""
    return f"{where}: {one.out} out{by_map}, {one.back} in: {', '.join(missing)}"


def show_before_power(out: Console, answer: shapes.BeforePowerAnswer) -> None:
    out.print(under(0, f"BEFORE POWER  {answer.unit}, by its log up to line {answer.log_seq}", style="bold"))
    for reason in answer.no_power:
        out.print(under(0, f"NO POWER YET  {reason}"))
    for one in answer.apart:
        out.print(under(3, one))
    said: set[str] = set()
    if answer.lines:
        whole = chance(answer.any_fault)
        out.print(under(3, f"Something of all below is wrong with a chance of {whole}. Most at stake first:"))
    for line in answer.lines:
        warn(out, 4, line.cautions, said)
        item(out, 0, "[ ]", line.do)
        out.print(under(4, f"> {to_type(line)}"))
        out.print(under(7, stake(line, answer.currency)))
    if answer.lines:
        out.print(under(0, f"\nTogether {format_minutes(answer.minutes)}."))
    _cannot(out, answer, answer.held, "Held by a hard rule:")
    _cannot(out, answer, answer.closed_in, "Closed in; a function that runs across it shows it, or open again:")
    if answer.with_power:
        out.print(under(0, "\nWith the power:"))
        warn(out, 0, answer.with_power, set())


def _cannot(out: Console, answer: shapes.BeforePowerAnswer, lines: list[shapes.PowerLineShape], heading: str) -> None:
    if not lines:
        return
    out.print(under(0, f"\n{heading}"))
    for line in lines:
        behind = f" behind {', '.join(line.opens)}" if line.opens else ""
        shows = f": {line.shown_by} shows it" if line.shown_by and not line.held else ""
        out.print(under(2, f"{line.target}{behind}{shows}"))
        if line.held:
            out.print(under(5, f"{line.held}{first(line.first)}"))
        out.print(under(5, stake(line, answer.currency)))


def first(line: str) -> str:
    """What lifts a hard rule, behind its reason."""
    return f" First: {line}" if line else ""


def to_type(line: shapes.PowerLineShape) -> str:
    return f"{line.log} VALUE" if line.kind == "cold" else line.log


def stake(line: shapes.PowerLineShape, currency: str) -> str:
    digits = minor_digits(currency)
    source = f"; {line.source}" if line.source else ""
    return f"{chance(line.odds)} x {currency} {line.damage:.{digits}f}: {line.hurts}{source}"


def warn(out: Console, indent: int, texts: Iterable[str], said: set[str]) -> None:
    """Cautions, each at the first line that it belongs to."""
    for text in texts:
        if text not in said:
            said.add(text)
            item(out, indent, "!", text)


def item(out: Console, indent: int, mark: str, text: str) -> None:
    """A text that hangs beside its mark."""
    out.print(hanging(f"{' ' * indent}{mark} ", text))
