"""``knowngood parts``: what to do with each part of a unit, to shapes and words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.console import Console
from rich.text import Text

from knowngood.cli import parts_shapes as shapes
from knowngood.cli.layout import grid, under
from knowngood.cli.partly import part as partly
from knowngood.cli.partly import say_partly
from knowngood.handbook.quantities import format_minutes, minor_digits
from knowngood.handbook.quantities import percent as chance

if TYPE_CHECKING:
    from knowngood.money.choices import Choices, Course, Judged, Whole

WHAT = {"sell": "Sell it as working", "sell-as-is": "Sell it as it is", "part-out": "Part it out"}


def parts(unit: str, map_: str, found: Choices, currency: str, seq: int) -> shapes.PartsAnswer:
    return shapes.PartsAnswer(
        unit=unit,
        map=map_,
        log_seq=seq,
        currency=currency,
        margin=found.margin,
        wholes=[_whole(one) for one in found.wholes],
        parts=[
            shapes.PartShape(
                parts=list(one.parts),
                p_blocks=one.p_blocks,
                without=list(one.without),
                options=[_option(each) for each in one.options],
            )
            for one in found.parts
        ],
        kept=list(found.kept),
        every_combination=list(found.matter),
        barred=found.barred,
        partly=partly(found.belief, found.missed),
    )


def _whole(one: Whole) -> shapes.WholeShape:
    return shapes.WholeShape(
        what=one.what,
        worth=one.worth,
        works=one.works,
        minutes=one.minutes,
        money=one.money,
        declared=list(one.declared),
        courses=[_course(parts, course) for parts, course in one.courses],
        once=[
            shapes.OnceShape(what=each.do, chance=needed, minutes=each.minutes, money=each.money)
            for each, needed in one.once
        ],
        cautions=list(one.cautions),
    )


def _course(parts: tuple[str, ...], course: Course) -> shapes.CourseShape:
    steps = [shapes.StepShape(kind=one.kind, do=one.do, origin=one.origin, log=list(one.log)) for one in course.steps]
    return shapes.CourseShape(parts=list(parts), anyway=course.anyway, steps=steps)


def _option(one: Judged) -> shapes.OptionShape:
    option = one.option
    return shapes.OptionShape(
        kind=option.kind if option else "keep",
        do=option.do if option else "Keep it",
        origin=option.origin if option else "",
        works=list(one.works),
        risk=one.risk,
        minutes=option.minutes if option else 0.0,
        access=option.access if option else 0.0,
        money=option.money if option else 0.0,
        postage=option.postage if option else 0.0,
        wait=option.wait if option else 0.0,
        days=option.days if option else 0.0,
        worth=one.worth,
        chosen=one.chosen,
        why_not=one.why_not,
        note=option.note if option else "",
        once=[each.do for each in option.once] if option else [],
        disturbs=sorted(option.all_disturbed) if option else [],
        log=list(option.log) if option else [],
        cautions=list(option.cautions) if option else [],
    )


SHOWN = 0.1
"""What is done only if a part proves bad is in the summary from this chance on, and what is paid once."""


def show(out: Console, answer: shapes.PartsAnswer, most: int) -> None:
    best, digits = answer.wholes[0], minor_digits(answer.currency)
    say_partly(out, answer.partly)
    if answer.barred:
        out.print(Text(f"! It may not be tried: {answer.barred}"))
    out.print(Text(f"BEST  {_said(best, answer.currency)}", style="bold"))
    likely = {part for one in answer.parts if one.p_blocks >= SHOWN for part in one.parts}
    shown = [one for one in best.courses if one.anyway or likely & set(one.parts)]
    table = grid(("", "left"), ("", "left"))
    table.show_header = False
    for one in shown:
        name = " and ".join(one.parts)
        table.add_row("  do" if one.anyway else f"  if {name} proves bad", _in_short(one))
    if shown:
        out.print(table)
    if rest := len(best.courses) - len(shown):
        out.print(Text(f"  and for {rest} less likely parts, what their lists say first, if one proves bad"))
    if best.declared:
        out.print(Text(f"  declare {', '.join(best.declared)}"))
    if once := [one for one in best.once if one.chance >= SHOWN]:
        said = "; ".join(f"{one.what} ({_takes(one, answer.currency)}, {chance(one.chance)})" for one in once)
        out.print(under(2, f"paid once: {said}"))
    margin = f"{answer.currency} {answer.margin:.{digits}f}"
    out.print(Text(f"Next best, {margin} less: {_other(answer.wholes[1], best, answer.currency)}"))
    for part in answer.parts[:most]:
        out.print()
        _part(out, part, digits)
    out.print()
    hidden = len(answer.parts) - len(answer.parts[:most])
    more = f"{hidden} more suspects (--most 0); " if hidden else ""
    out.print(Text(f"{more}{len(answer.kept)} other parts are kept: each stops something with less than 1 %."))


def _part(out: Console, part: shapes.PartShape, digits: int) -> None:
    out.print(Text(f"{' and '.join(part.parts)}: {chance(part.p_blocks)} likely to stop something", style="bold"))
    right = ("worth", "works", "worse", "time", "way", "money")
    table = grid(("", "left"), *((title, "right") for title in right), ("", "left"))
    for one in part.options:
        worth = "held" if one.worth is None else f"{one.worth:.{digits}f}"
        works = " ".join(chance(each) for each in one.works)
        said = " ".join(filter(None, (" and ".join(one.log) or "keep it", one.note and f"({one.note})", one.why_not)))
        money = f"{one.money + one.postage:.{digits}f}"
        row = (worth, works, chance(one.risk), format_minutes(one.minutes), format_minutes(one.access), money, said)
        table.add_row("  *" if one.chosen else "", *row)
    out.print(table)
    if part.without:
        out.print(Text(f"    do without: declare {', '.join(part.without)}"))
    for caution in dict.fromkeys(caution for one in part.options for caution in one.cautions):
        out.print(under(4, f"! {caution}"))


def _said(one: shapes.WholeShape, currency: str) -> str:
    digits = minor_digits(currency)
    worth = f"worth {currency} {one.worth:.{digits}f}"
    if one.what != "work":
        return f"{WHAT[one.what]}: {worth}"
    price = f", {currency} {one.money:.{digits}f} of parts" if one.money else ""
    took = f"{format_minutes(one.minutes)}{price} in the mean"
    what = "Work on it" if one.courses else "Keep every part and try it"
    return f"{what}: {worth}, works in the end {chance(one.works)}, {took}"


def _other(one: shapes.WholeShape, best: shapes.WholeShape, currency: str) -> str:
    """Another choice, by what is different in it."""
    if one.what != "work" or best.what != "work":
        return f"{_said(one, currency)}."
    mine, theirs = ({tuple(each.parts): each for each in whole.courses} for whole in (best, one))
    changed = [name for name in {**mine, **theirs} if mine.get(name) != theirs.get(name)]
    said = [_instead(" and ".join(name), theirs.get(name)) for name in changed]
    if one.declared != best.declared:
        said.append(f"declare {', '.join(one.declared) or 'nothing'}")
    return "the same, but " + "; ".join(said) + "."


def _instead(name: str, course: shapes.CourseShape | None) -> str:
    if course is None:
        return f"keep {name}"
    return _in_short(course) if course.anyway else f"if {name} proves bad, {_in_short(course)}"


def _in_short(course: shapes.CourseShape) -> str:
    """A course by the lines that it would be logged with."""
    return "; else ".join(" and ".join(step.log) for step in course.steps)


def _takes(one: shapes.OnceShape, currency: str) -> str:
    price = f"{currency} {one.money:.{minor_digits(currency)}f}" if one.money else ""
    return ", ".join(filter(None, (format_minutes(one.minutes) if one.minutes else "", price)))
