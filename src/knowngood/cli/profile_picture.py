"""A temperature log as an SVG: the curve in its limits, what was measured of it, and below it the findings in words."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from itertools import pairwise
from typing import Any
from xml.etree import ElementTree as xml

from knowngood.cli import svg
from knowngood.handbook.rework.judgement import Finding, Run
from knowngood.handbook.rework.profile import run_of
from knowngood.handbook.rework.slopes import Slope
from knowngood.handbook.rework.temperature_log import Cycle

WIDTH, LEFT, RIGHT, TOP, CHART, LANE, ROW = 960, 56, 24, 56, 360, 22, 18
"""Pixels: the sheet, beside the chart, above it, its height, a lane of times below it, a row of the findings."""

COLUMNS = (8, 250, 430, 600)
"""Where the columns of the findings begin."""

OUTSIDE, OPEN, SHADE = "#b00020", "#8a5a00", "#f0f0f0"

Scale = Callable[[float], float]


def picture(called: Mapping[str, Any]) -> str:
    """The SVG's text, for the arguments that ``profile`` was called with."""
    return drawn(run_of(**called))


def drawn(run: Run) -> str:
    """The SVG's text of a judged run."""
    times = svg.ticks([run.samples[0][0], run.samples[-1][0]], 8)
    hottest = max(degrees for _, degrees in run.samples)
    highest = max(hottest, run.limits.liquidus, (run.limits.body and run.limits.body.high) or 0.0)
    degrees = svg.ticks([min(degrees for _, degrees in run.samples), highest], 6)
    bottom, right = TOP + CHART, WIDTH - RIGHT
    below = bottom + 24 + 2 * LANE
    height = below + 36 + ROW * len(run.findings)

    def across(time: float) -> float:
        return LEFT + (right - LEFT) * (time - times[0]) / (times[-1] - times[0])

    def up(level: float) -> float:
        return bottom - CHART * (level - degrees[0]) / (degrees[-1] - degrees[0])

    sheet = svg.sheet(WIDTH, height, f"Temperature log, {run.limits.alloy}: {run.findings[0].value}")
    says = (
        f"degC over s. Thick: steepest over {run.span:g} s. Band: preheat. Red: outside. Brown: open, dashed in gaps."
    )
    svg.text(sheet, 8, 40, says)
    _preheat(sheet, run, up)
    for cycle in run.cycles:
        _melted(sheet, cycle, run.limits.liquidus, across, up)
    for tick in times:
        svg.line(sheet, across(tick), TOP, across(tick), bottom, stroke="#ddd")
        svg.text(sheet, across(tick), bottom + 16, f"{tick:g}", anchor="middle")
    for tick in degrees:
        svg.line(sheet, LEFT, up(tick), right, up(tick), stroke="#ddd")
        svg.text(sheet, LEFT - 6, up(tick) + 4, f"{tick:g}", anchor="end")
    _levels(sheet, run, up)
    _curve(sheet, run, across, up)
    for number, cycle in enumerate(run.cycles, start=1):
        label = f"cycle {number}: " if len(run.cycles) > 1 else ""
        verdicts = {one.what.removeprefix(label): one for one in run.findings if one.what.startswith(label)}
        _measured(sheet, cycle, verdicts, across, up, bottom + 24)
    _listed(sheet, run, below + 16)
    return svg.written(sheet)


def _preheat(sheet: xml.Element, run: Run, up: Scale) -> None:
    span = run.limits.preheat
    if span is None or span.low is None or span.high is None:
        return
    place = {"x": f"{LEFT}", "width": f"{WIDTH - RIGHT - LEFT}", "y": f"{up(span.high):.1f}"}
    xml.SubElement(sheet, "rect", {**place, "height": f"{up(span.low) - up(span.high):.1f}", "fill": SHADE})


def _melted(sheet: xml.Element, cycle: Cycle, level: float, across: Scale, up: Scale) -> None:
    """The areas between curve and liquidus."""
    for begin, end in cycle.above:
        inner = [(time, degrees) for time, degrees in cycle.samples if begin < time < end]
        corners = [(begin, level), *inner, (end, level)]
        points = " ".join(f"{across(time):.1f},{up(degrees):.1f}" for time, degrees in corners)
        xml.SubElement(sheet, "polygon", points=points, fill="#f6ddb0")


def _levels(sheet: xml.Element, run: Run, up: Scale) -> None:
    limits, right = run.limits, WIDTH - RIGHT
    svg.line(sheet, LEFT, up(limits.liquidus), right, up(limits.liquidus), dashes="6 3")
    svg.text(
        sheet, LEFT + 4, up(limits.liquidus) - 4, f"liquidus of the profile, {limits.liquidus:g} degC", fill="black"
    )
    if limits.body is None or limits.body.high is None:
        return
    for level in {limits.body.low, limits.body.high} - {None}:
        svg.line(sheet, LEFT, up(level or 0.0), right, up(level or 0.0), dashes="6 3", stroke=OUTSIDE)
    words = f"{limits.body.high:g} degC" if limits.body.low == limits.body.high else "by size"
    svg.text(sheet, LEFT + 4, up(limits.body.high) - 4, f"most for the package, {words}", fill=OUTSIDE)


def _curve(sheet: xml.Element, run: Run, across: Scale, up: Scale) -> None:
    """The samples joined, and broken at gaps."""
    starts = {begin for begin, _ in run.gaps}
    pieces: list[list[tuple[float, float]]] = [[]]
    for sample in run.samples:
        pieces[-1].append(sample)
        if sample[0] in starts:
            pieces.append([])
    for piece in pieces:
        points = " ".join(f"{across(time):.1f},{up(degrees):.1f}" for time, degrees in piece)
        xml.SubElement(sheet, "polyline", {"points": points, "fill": "none", "stroke": "black", "stroke-width": "1.5"})
    for before, after in pairwise(pieces):
        (t1, d1), (t2, d2) = before[-1], after[0]
        svg.line(sheet, across(t1), up(d1), across(t2), up(d2), dashes="3 3", stroke=OPEN)


def _measured(
    sheet: xml.Element, cycle: Cycle, found: Mapping[str, Finding], across: Scale, up: Scale, lane: float
) -> None:
    """What a cycle was judged by: slopes and peak on the curve, times as bars below it."""
    for slope, name, side in ((cycle.rise, "steepest rise", "end"), (cycle.fall, "steepest fall", "start")):
        if slope is not None:
            _slope(sheet, slope, _colour(found.get(name)), side, across, up)
    time, degrees = cycle.peak
    colour = _worst(found.get("peak, solder"), found.get("peak, package"))
    place = {"cx": f"{across(time):.1f}", "cy": f"{up(degrees):.1f}", "r": "4", "fill": colour}
    xml.SubElement(sheet, "circle", place)
    svg.text(sheet, across(time), up(degrees) - 8, f"{degrees:.1f}", anchor="middle", fill=colour)
    spans = [("soak", cycle.soak, lane)]
    if cycle.above:
        spans.append(("time above", (cycle.above[0][0], cycle.above[-1][1]), lane + LANE))
    for name, span, y in spans:
        one = next((one for what, one in found.items() if what.startswith(name)), None)
        if span is not None and one is not None:
            svg.line(sheet, across(span[0]), y + 6, across(span[1]), y + 6, stroke=_colour(one), thick=5)
            svg.text(sheet, across(span[1]) + 6, y + 10, f"{name.replace('time ', '')} {one.value}", fill=_colour(one))


def _slope(sheet: xml.Element, slope: Slope, colour: str, side: str, across: Scale, up: Scale) -> None:
    half = (slope.end - slope.begin) / 2.0
    ends = [(slope.middle + sign * half, slope.level + sign * half * slope.rate) for sign in (-1.0, 1.0)]
    svg.line(sheet, across(ends[0][0]), up(ends[0][1]), across(ends[1][0]), up(ends[1][1]), stroke=colour, thick=5)
    shift = -10 if side == "end" else 10
    words = f"{slope.rate:.2f} K/s"
    svg.text(sheet, across(slope.middle) + shift, up(slope.level) + 4, words, anchor=side, fill=colour)


def _colour(one: Finding | None) -> str:
    if one is not None and one.verdict.startswith(("over", "short", "not to profile")):
        return OUTSIDE
    return OPEN if one is not None and one.verdict.startswith(("indeterminate", "not covered", "open")) else "black"


def _worst(*found: Finding | None) -> str:
    colours = [_colour(one) for one in found]
    return next((colour for colour in (OUTSIDE, OPEN) if colour in colours), "black")


def _listed(sheet: xml.Element, run: Run, top: float) -> None:
    for number, one in enumerate(run.findings):
        y = top + ROW * (number + 0.5)
        for x, words in zip(COLUMNS, (one.what, one.value, one.limit, one.verdict), strict=True):
            svg.text(sheet, x, y, words, fill=_colour(one))
