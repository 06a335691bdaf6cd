"""What every picture is made of: the empty sheet, a line, a text, round figures for an axis, the file it goes to."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, floor, log10
from pathlib import Path
from xml.etree import ElementTree as xml

from knowngood.errors import PictureError


def can_draw(file: Path, ending: str = ".svg", what: str = "picture") -> None:
    """Raises PictureError if there is no drawing into this file: to be asked before the long work."""
    if file.suffix.lower() != ending:
        kind = ending[1:].upper()
        raise PictureError(f"The {what} is {'an' if kind == 'SVG' else 'a'} {kind}: '{file}' should end in {ending}.")
    if not file.parent.is_dir():
        raise PictureError(f"There is no folder '{file.parent}' for the {what}. Make it first.")


def write(file: Path, picture: str | bytes, what: str = "picture") -> None:
    """Writes a picture into its file. Raises PictureError if it cannot be written."""
    try:
        file.write_bytes(picture if isinstance(picture, bytes) else picture.encode())
    except OSError as problem:
        raise PictureError(f"The {what} cannot be written to '{file}': {problem.strerror}.") from problem


def sheet(width: float, height: float, title: str, style: str = "") -> xml.Element:
    """A white sheet with its title, which is drawn as well. A ``style`` may paint it (``.paper``) in other colours."""
    view = {"viewBox": f"0 0 {width:g} {height:g}", "width": f"{width:g}", "height": f"{height:g}"}
    svg = xml.Element("svg", {"xmlns": "http://www.w3.org/2000/svg", "role": "img", **view})
    svg.set("font-family", "sans-serif")
    svg.set("font-size", "12")
    xml.SubElement(svg, "title").text = title
    if style:
        xml.SubElement(svg, "style").text = style
    xml.SubElement(svg, "rect", {"class": "paper", "width": "100%", "height": "100%", "fill": "white"})
    text(svg, 8, 20, title, size=15)
    return svg


def written(svg: xml.Element) -> str:
    """The sheet as the text of its file."""
    xml.indent(svg)
    return xml.tostring(svg, encoding="unicode") + "\n"


def ticks(figures: Sequence[float], about: int) -> list[float]:
    """Round figures that span the given ones, about so many: steps of 1, 2 or 5 times a power of ten."""
    least, most = min(figures), max(figures)
    rough = max(most - least, 1e-9 + abs(most) * 1e-3) / about
    power = 10.0 ** floor(log10(rough))
    step = next(power * one for one in (1, 2, 5, 10) if power * one >= rough)
    first, last = floor(least / step), max(ceil(most / step), floor(least / step) + 1)
    return [round(step * number, 10) for number in range(first, last + 1)]


def text(
    svg: xml.Element, x: float, y: float, words: str, *, anchor: str = "start", size: int = 12, fill: str = ""
) -> None:
    """Words from, around or up to a place on their base line; with a ``fill``, lines behind them are kept clear."""
    place = {"x": f"{x:.1f}", "y": f"{y:.1f}", "text-anchor": anchor, "font-size": str(size)}
    clear = {"fill": fill, "stroke": "white", "stroke-width": "4", "paint-order": "stroke"} if fill else {}
    xml.SubElement(svg, "text", {**place, **clear}).text = words


def line(
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
    """A straight line."""
    ends = {name: f"{value:.1f}" for name, value in (("x1", x1), ("y1", y1), ("x2", x2), ("y2", y2))}
    looks = {"stroke": stroke, "stroke-width": str(thick), **({"stroke-dasharray": dashes} if dashes else {})}
    xml.SubElement(svg, "line", {**ends, **looks})
