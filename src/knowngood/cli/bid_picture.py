"""Bids as an SVG: for each candidate how often a unit brings how much, with the asking price and the most to pay."""

from __future__ import annotations

from xml.etree import ElementTree as xml

import numpy as np

from knowngood.cli import svg
from knowngood.cli.bid_shapes import BidAnswer, BidShape
from knowngood.handbook.quantities import parse_money

NAMES, WIDTH, ROW, TOP, FOOT, BARS = 190, 560, 120, 64, 40, 40
"""Pixels: width of the names and of the axis, height of a row, above and below the rows; bars on the axis."""


def picture(answer: BidAnswer) -> str:
    """The SVG's text: a row for each candidate on one axis of money."""
    ends = [end for one in answer.bids for end in (*one.net_of_each, _asked(one), _most(one))]
    ticks = svg.ticks(ends or [0.0], 8)
    least, most = ticks[0], ticks[-1]
    bottom = TOP + ROW * len(answer.bids)
    sheet = svg.sheet(NAMES + WIDTH + 40, bottom + FOOT, f"What a unit brings before its price, {answer.currency}")
    svg.text(
        sheet,
        8,
        40,
        "Dashed: as asked. Solid: the most to pay. Both with the way here. Dot: the mean of what it brings.",
    )

    def across(value: float) -> float:
        return NAMES + WIDTH * (value - least) / (most - least)

    for tick in ticks:
        svg.line(sheet, across(tick), TOP, across(tick), bottom, stroke="#ddd")
        svg.text(sheet, across(tick), bottom + 16, f"{tick:g}", anchor="middle")
    for number, one in enumerate(answer.bids):
        top, floor = TOP + ROW * number + 16, TOP + ROW * (number + 1) - 8
        svg.text(sheet, 8, top + 14, f"{one.offer.candidate} {one.offer.map}")
        svg.text(sheet, 8, top + 32, f"asked {one.offer.asking}")
        svg.text(sheet, 8, top + 50, f"at most {one.most}")
        heights, edges = np.histogram(one.net_of_each, BARS, (least, most), weights=one.weights)
        for height, left, right in zip(heights, edges, edges[1:], strict=False):
            if height > 0.0:
                tall = max(1.0, (floor - top) * float(height) / float(heights.max()))
                place = {"x": f"{across(float(left)):.1f}", "y": f"{floor - tall:.1f}"}
                size = {"width": f"{across(float(right)) - across(float(left)) - 1:.1f}", "height": f"{tall:.1f}"}
                xml.SubElement(sheet, "rect", {**place, **size, "fill": "#9bb"})
        svg.line(sheet, across(_asked(one)), top, across(_asked(one)), floor, dashes="4 3")
        svg.line(sheet, across(_most(one)), top, across(_most(one)), floor, thick=2)
        xml.SubElement(sheet, "circle", cx=f"{across(one.net.mean):.1f}", cy=f"{floor:.1f}", r="4")
    return svg.written(sheet)


def _asked(one: BidShape) -> float:
    return parse_money(one.offer.asking).major + parse_money(one.inward).major


def _most(one: BidShape) -> float:
    return parse_money(one.most).major + parse_money(one.inward).major
