"""``knowngood grade``, ``knowngood listing`` and ``knowngood report``: the unit as its buyers are shown it."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from knowngood.cli.frame import Home, Json, UnitName, answer, failing_plainly, opened

if TYPE_CHECKING:
    from rich.console import Console

    from knowngood.cli import listing_shapes

Serial = Annotated[bool, typer.Option("--serial", help="Show serial numbers in full, and not masked.")]


def grade(unit: UnitName, home: Home = None, as_json: Json = False) -> None:
    """Says which grade a unit is by the facts of its log, with what each rests on, and what a person's own grade says.

    unmarked, marked, scarred, faulty, unproved: the answer says what its grade means. A line graded GRADE -- WHY goes
    before the facts; those that do not go with it are named.

    Example: knowngood grade U1
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench.account import account_of
        from knowngood.cli.listing_answers import grade_answer

        answer(grade_answer(account_of(store, unit)), as_json, _show_grade)


def _show_grade(out: Console, answer: listing_shapes.GradeAnswer) -> None:
    from rich.text import Text

    from knowngood.cli.layout import hanging, under
    from knowngood.cli.listing_answers import resting

    found = answer.grade
    at_best = "at best " if found.not_looked and found.given_by is None else ""
    out.print(Text(f"{answer.unit}: {at_best}{found.grade}", style="bold"))
    out.print(under(3, f"{found.means}."))
    if found.given_by is not None:
        out.print(under(3, f"graded by line {found.given_by}: {found.why}; by the facts: {found.by_facts}"))
    for one in found.against:
        out.print(hanging("!  ", f"does not go with it: {resting(one)}"))
    for one in found.reasons:
        if one not in found.against:
            out.print(hanging("-  ", f"{one.grade}: {resting(one)}"))
    if found.not_looked:
        out.print(hanging("?  ", f"nobody looked at: {', '.join(found.not_looked)}"))


def listing(
    unit: UnitName,
    at: Annotated[
        str | None, typer.Option("--at", metavar="PRICE", help='Log that it is listed at this price, as "EUR 215".')
    ] = None,
    serial: Serial = False,
    home: Home = None,
    as_json: Json = False,
) -> None:
    """Writes honest listing text from the log, as plain text to paste. What no line shows is not claimed.

    What to put right goes to standard error, apart from the text. With --at the log remembers that it is listed: then
    'release' knows that its declared faults are named.

    Example: knowngood listing U1
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench import account
        from knowngood.cli import listing_answers

        if at is not None:
            account.listed(store, unit, at)
        shape = listing_answers.listing(account.account_of(store, unit), serial=serial)
        if as_json:
            print(shape.model_dump_json(indent=2))
        else:
            print(shape.text)
            for remark in shape.remarks:
                print(f"! {remark}", file=sys.stderr)


def report(
    unit: UnitName,
    pdf: Annotated[Path, typer.Option("--pdf", metavar="FILE", help="The PDF file to write.")],
    buyer: Annotated[bool, typer.Option("--buyer", help="For buyers: no prices, names, remarks, serials.")] = False,
    serial: Serial = False,
    home: Home = None,
    as_json: Json = False,
) -> None:
    """Writes a report as PDF in which every claim names the lines of the log that it rests on; they stand at its end.

    For buyers prices, names of sources and suppliers, and remarks are left out, and of a serial number no more than the
    last four characters are left (a third of a short one); --serial shows it. Photos are copies without the place where
    they were taken, before beside after, for buyers none of a serial number.

    Example: knowngood report U1 --pdf report.pdf --buyer
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.cli import listing_answers
        from knowngood.cli.svg import can_draw, write

        can_draw(pdf, ".pdf", "report")
        shape, content = listing_answers.report(store, unit, pdf, buyer=buyer, serial=serial)
        write(pdf, content, "report")
        answer(shape, as_json, _show_report)


def _show_report(out: Console, answer: listing_shapes.ReportAnswer) -> None:
    from rich.text import Text

    claims = sum(len(one.claims) for one in answer.sections)
    whom = "for buyers" if answer.for_buyers else "for the bench"
    out.print(Text(f"{answer.pdf}: {claims} claims on {len(answer.appendix)} lines of {answer.unit}, {whom}."))
