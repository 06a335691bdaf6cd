"""What an hour brought, as an SVG: for each map, past, source or cause a dot with its 95 % interval."""

from __future__ import annotations

from xml.etree import ElementTree as xml

from knowngood.cli import svg
from knowngood.cli.ledger_shapes import ShelfLedger

NAMES, WIDTH, ROW, TOP, FOOT = 150, 330, 30, 48, 28
"""Pixels: width of the names and of the axis, height of a row, above and below the rows."""

LETTERS = 20
"""Of a name, that find room."""


def picture(answer: ShelfLedger) -> str:
    """The SVG's text; a row for each that has hours to its profit, and one for all. Empty if there is none."""
    rows = [(row.name, row.per_hour) for row in (*answer.rows, answer.all) if row.per_hour]
    figures = [end for _, one in rows for end in (one.mean, one.low, one.high) if end is not None]
    if not figures:
        return ""
    marks = svg.ticks([0.0, *figures], 5)
    least, most, bottom = marks[0], marks[-1], TOP + ROW * len(rows)
    title = f"Profit of an hour of hands, {answer.currency}"
    sheet = svg.sheet(NAMES + WIDTH + 30, bottom + FOOT, title)

    def across(value: float) -> float:
        return NAMES + WIDTH * (value - least) / (most - least)

    for mark in marks:
        svg.line(sheet, across(mark), TOP, across(mark), bottom, stroke="black" if mark == 0.0 else "#ddd")
        svg.text(sheet, across(mark), bottom + 16, f"{mark:g}", anchor="middle")
    for number, (name, one) in enumerate(rows):
        middle = TOP + ROW * (number + 0.5)
        svg.text(sheet, 8, middle + 4, name if len(name) <= LETTERS else f"{name[: LETTERS - 1]}…")
        if one.low is not None and one.high is not None:
            svg.line(sheet, across(one.low), middle, across(one.high), middle, thick=2)
        xml.SubElement(sheet, "circle", cx=f"{across(one.mean):.1f}", cy=f"{middle:.1f}", r="5")
    return svg.written(sheet)
