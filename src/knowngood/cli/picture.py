"""The comparison of a rehearsal as an SVG: for each policy what it brings, takes and brings back, with intervals."""

from __future__ import annotations

from collections.abc import Sequence
from xml.etree import ElementTree as xml

from knowngood.cli import shapes, svg

NAMES, PANEL, GAP, ROW, TOP, FOOT = 190, 190, 24, 26, 84, 44
"""Pixels: width of the names and of a panel, between panels, height of a row, and above and below the rows."""

TICKS = 4
"""About so many figures on an axis."""


def picture(answer: shapes.RehearseAnswer) -> str:
    """The SVG's text: a panel for each figure, in it a dot and its interval for each policy."""
    money, first, policies = answer.currency, answer.policies[0].policy, answer.policies
    panels: list[tuple[str, list[shapes.IntervalShape | None], list[float]]] = [
        (f"{money} a unit", [one.net for one in policies], [answer.parted_at_once, answer.if_known.mean]),
        (f"{money} less {first}", [one.behind for one in policies], [0.0]),
        ("minutes a unit", [one.minutes for one in policies], []),
        ("share brought back", [one.brought_back for one in policies], []),
    ]
    width, height = NAMES + len(panels) * (PANEL + GAP), TOP + ROW * len(policies) + FOOT
    title = f"{answer.units} units drawn from {answer.map}, past {', '.join(answer.past) or 'unknown'}"
    sheet = svg.sheet(width, height, title)
    says = f"Seed {answer.seed}. Bars: 95 % intervals. Dashed: parted out on arrival; if what is wrong were known."
    svg.text(sheet, 8, 40, says)
    for row, one in enumerate(policies):
        svg.text(sheet, 8, _row(row) + 4, one.policy)
    for number, (name, found, marks) in enumerate(panels):
        _panel(sheet, NAMES + number * (PANEL + GAP), name, found, marks)
    return svg.written(sheet)


def _panel(
    sheet: xml.Element, left: float, name: str, found: Sequence[shapes.IntervalShape | None], marks: Sequence[float]
) -> None:
    figures = [end for one in found if one for end in (one.mean, one.low, one.high) if end is not None]
    ticks = svg.ticks([*figures, *marks] or [0.0], TICKS)
    least, most = ticks[0], ticks[-1]
    bottom = TOP + ROW * len(found)

    def across(value: float) -> float:
        return left + PANEL * (value - least) / (most - least)

    svg.text(sheet, left, TOP - 12, name)
    for tick in ticks:
        svg.line(sheet, across(tick), TOP, across(tick), bottom, stroke="#ddd")
        svg.text(sheet, across(tick), bottom + 16, f"{tick:g}", anchor="middle")
    for mark in marks:
        svg.line(sheet, across(mark), TOP, across(mark), bottom, dashes="4 3")
    for row, one in enumerate(found):
        if one is None:
            continue
        if one.low is not None and one.high is not None:
            svg.line(sheet, across(one.low), _row(row), across(one.high), _row(row), thick=2)
        xml.SubElement(sheet, "circle", cx=f"{across(one.mean):.1f}", cy=f"{_row(row):.1f}", r="4")


def _row(row: int) -> float:
    return TOP + ROW * (row + 0.5)
