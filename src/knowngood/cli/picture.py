"""The comparison of a rehearsal as an SVG: for each policy what it brings, takes and brings back, with intervals."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, floor, log10
from pathlib import Path
from xml.etree import ElementTree as xml

from knowngood.cli import shapes
from knowngood.errors import PictureError

NAMES, PANEL, GAP, ROW, TOP, FOOT = 190, 190, 24, 26, 84, 44
"""Pixels: width of the names and of a panel, between panels, height of a row, and above and below the rows."""

TICKS = 4
"""About so many figures on an axis."""


def draw(file: Path, answer: shapes.RehearseAnswer) -> None:
    """Draws the answer into a file. Raises PictureError if it cannot be written."""
    try:
        file.write_text(picture(answer), encoding="utf-8")
    except OSError as problem:
        raise PictureError(f"The picture cannot be written to '{file}': {problem.strerror}.") from problem


def can_draw(file: Path) -> None:
    """Raises PictureError if there is no drawing into this file: to be asked before the long work."""
    if file.suffix.lower() != ".svg":
        raise PictureError(f"The picture is an SVG: '{file}' should end in .svg.")
    if not file.parent.is_dir():
        raise PictureError(f"There is no folder '{file.parent}' for the picture. Make it first.")


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
    view = {"viewBox": f"0 0 {width} {height}", "width": str(width), "height": str(height)}
    svg = xml.Element("svg", xmlns="http://www.w3.org/2000/svg", role="img", **view)
    svg.set("font-family", "sans-serif")
    svg.set("font-size", "12")
    title = f"{answer.units} units drawn from {answer.map}, past {', '.join(answer.past) or 'unknown'}"
    xml.SubElement(svg, "title").text = title
    xml.SubElement(svg, "rect", width="100%", height="100%", fill="white")
    _text(svg, 8, 20, title, size=15)
    says = f"Seed {answer.seed}. Bars: 95 % intervals. Dashed: parted out on arrival; if what is wrong were known."
    _text(svg, 8, 40, says)
    for row, one in enumerate(policies):
        _text(svg, 8, _row(row) + 4, one.policy)
    for number, (name, found, marks) in enumerate(panels):
        _panel(svg, NAMES + number * (PANEL + GAP), name, found, marks)
    xml.indent(svg)
    return xml.tostring(svg, encoding="unicode") + "\n"


def _panel(
    svg: xml.Element, left: float, name: str, found: Sequence[shapes.IntervalShape | None], marks: Sequence[float]
) -> None:
    figures = [end for one in found if one for end in (one.mean, one.low, one.high) if end is not None]
    ticks = _ticks([*figures, *marks] or [0.0])
    least, most = ticks[0], ticks[-1]
    bottom = TOP + ROW * len(found)

    def across(value: float) -> float:
        return left + PANEL * (value - least) / (most - least)

    _text(svg, left, TOP - 12, name)
    for tick in ticks:
        _line(svg, across(tick), TOP, across(tick), bottom, stroke="#ddd")
        _text(svg, across(tick), bottom + 16, f"{tick:g}", anchor="middle")
    for mark in marks:
        _line(svg, across(mark), TOP, across(mark), bottom, dashes="4 3")
    for row, one in enumerate(found):
        if one is None:
            continue
        if one.low is not None and one.high is not None:
            _line(svg, across(one.low), _row(row), across(one.high), _row(row), thick=2)
        xml.SubElement(svg, "circle", cx=f"{across(one.mean):.1f}", cy=f"{_row(row):.1f}", r="4")


def _ticks(figures: Sequence[float]) -> list[float]:
    """Round figures that span the given ones: steps of 1, 2 or 5 times a power of ten."""
    least, most = min(figures), max(figures)
    rough = max(most - least, 1e-9 + abs(most) * 1e-3) / TICKS
    power = 10.0 ** floor(log10(rough))
    step = next(power * one for one in (1, 2, 5, 10) if power * one >= rough)
    first, last = floor(least / step), max(ceil(most / step), floor(least / step) + 1)
    return [round(step * number, 10) for number in range(first, last + 1)]


def _row(row: int) -> float:
    return TOP + ROW * (row + 0.5)


def _text(svg: xml.Element, x: float, y: float, text: str, *, anchor: str = "start", size: int = 12) -> None:
    place = {"x": f"{x:.1f}", "y": f"{y:.1f}", "text-anchor": anchor, "font-size": str(size)}
    xml.SubElement(svg, "text", place).text = text


def _line(
    svg: xml.Element,
    x1: float,
    y1: float,
    x2: float,
    y2: float,
    *,
    stroke: str = "black",
    dashes: str = "",
    thick: int = 1,
) -> None:
    ends = {name: f"{value:.1f}" for name, value in (("x1", x1), ("y1", y1), ("x2", x2), ("y2", y2))}
    looks = {"stroke": stroke, "stroke-width": str(thick), **({"stroke-dasharray": dashes} if dashes else {})}
    xml.SubElement(svg, "line", {**ends, **looks})
