"""Suspects over time as an SVG: after each line of the log the chance that each stops something, told apart by dashes
and marks as well as by colour, with its name where its line falls or ends. It follows the viewer's light or dark."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from xml.etree import ElementTree as xml

from knowngood.cli import film_shapes as shapes
from knowngood.cli import svg

LEFT, RIGHT, TOP, FOOT, HIGH = 56, 224, 66, 46, 380
"""Pixels round the drawing, and its height."""

LEAST_STEP, LEAST_WIDE = 11, 560
"""Pixels from one line to the next at least, and of the whole drawing."""

NAME_HIGH, LETTER = 16, 6.4
"""Height of a name and about the width of a letter, pixels."""

CLEARED = 0.02
"""Below this for good a suspect counts as cleared, and its line ends."""

DASHES = ("", "8 3", "3 3", "10 3 2 3", "14 4", "2 5")
LIGHT = ("#0060a0", "#b34700", "#00725a", "#99407a", "#6f5600", "#4a4a9c")
DARK = ("#6cb8f0", "#ff9a5c", "#4fd0a8", "#f09ccb", "#e5c64a", "#b0b0f8")
MARKS = ("circle", "square", "triangle", "diamond", "cross", "ring")

STYLE = "".join(
    (
        ":root{--paper:#fff;--ink:#1a1a1a;--grid:#d8d8d8}",
        *(f":root{{--s{number}:{colour}}}" for number, colour in enumerate(LIGHT)),
        "@media (prefers-color-scheme: dark){:root{--paper:#15171b;--ink:#ececec;--grid:#3a3d44}",
        *(f":root{{--s{number}:{colour}}}" for number, colour in enumerate(DARK)),
        "}",
        ".paper{fill:var(--paper)}text{fill:var(--ink)}text[paint-order]{stroke:var(--paper)}",
        "line{stroke:var(--grid)}.good{stroke:var(--ink);fill:none;stroke-width:3}",
        *(
            f".s{number}{{stroke:var(--s{number});fill:none;stroke-width:2}}"
            f".m{number}{{stroke:var(--s{number});fill:var(--paper);stroke-width:2}}"
            for number in range(len(LIGHT))
        ),
    )
)


@dataclass(frozen=True)
class Name:
    """A name at a line: where it fell from its height for the last time, or where it ends."""

    x: float
    y: float
    text: str


def picture(answer: shapes.FilmAnswer, what: str) -> str:
    """The SVG's text."""
    rows = answer.suspected
    step = max(LEAST_STEP, LEAST_WIDE / max(1, len(rows) - 1))
    wide = step * max(1, len(rows) - 1)
    title = f"{answer.unit}: what was suspected, line by line"
    sheet = svg.sheet(LEFT + wide + RIGHT, TOP + HIGH + FOOT, title, STYLE)
    svg.text(sheet, 8, 40, f"{what}. Chance that a part stops something promised; thick: that all of it is good.")
    for tick in range(0, 101, 20):
        svg.line(sheet, LEFT, _down(tick / 100), LEFT + wide, _down(tick / 100))
        svg.text(sheet, LEFT - 8, _down(tick / 100) + 4, f"{tick} %", anchor="end")
    _numbers(sheet, [one.seq for one in rows], step)
    good = [one.known_good for one in rows]
    _drawn(sheet, good, step, "good", "")
    names = [Name(LEFT + wide + 8, _down(good[-1]), f"known good {100 * good[-1]:.0f} %")] if good[-1] else []
    taken: list[Name] = []
    parts = list(dict.fromkeys(part for one in rows for part in one.suspects))
    for number, part in enumerate(parts):
        chances = [one.suspects.get(part) for one in rows]
        last = max((at for at, chance in enumerate(chances) if (chance or 0.0) >= CLEARED), default=0)
        shown = chances[: last + 2]
        _drawn(sheet, shown, step, f"s{number}", DASHES[number])
        taken += _marks(sheet, shown, step, number)
        words = part.replace("-", " ")
        most = max(chance or 0.0 for chance in chances)
        fell = max(at for at, chance in enumerate(chances) if (chance or 0.0) >= most / 2)
        if fell + 1 < len(rows):
            names.append(Name(LEFT + step * (fell + 1) + 8, _down(chances[fell] or 0.0), words))
        if last + 1 == len(rows):
            names.append(
                Name(LEFT + wide + 8, _down(chances[-1] or 0.0), f"{words} {100 * (chances[-1] or 0.0):.0f} %")
            )
    for name in _apart(names, taken):
        svg.text(sheet, name.x, name.y + 4, name.text, fill="black")
    return svg.written(sheet)


def _down(chance: float) -> float:
    return TOP + HIGH * (1.0 - chance)


def _numbers(sheet: xml.Element, seqs: list[int], step: float) -> None:
    """Numbers of lines below, as many as have room."""
    each = max(1, round(26 / step + 0.499))
    for at, seq in enumerate(seqs):
        if at % each == 0:
            svg.text(sheet, LEFT + step * at, TOP + HIGH + 18, str(seq), anchor="middle", size=11)
    svg.text(sheet, LEFT, TOP + HIGH + 36, "number of the line in the log", size=11)


def _drawn(sheet: xml.Element, chances: list[float | None], step: float, look: str, dashes: str) -> None:
    """A line of steps, with a gap where nothing is known."""
    path, on = [], False
    for at, chance in enumerate(chances):
        x = LEFT + step * at
        if chance is None:
            on = False
        elif not on:
            path.append(f"M{x:.1f} {_down(chance):.1f}")
            on = True
        else:
            path.append(f"H{x:.1f}V{_down(chance):.1f}")
    dashed = {"stroke-dasharray": dashes} if dashes else {}
    xml.SubElement(sheet, "path", {"class": look, "d": "".join(path), "fill": "none", "stroke": "black", **dashed})


def _marks(sheet: xml.Element, chances: list[float | None], step: float, number: int) -> list[Name]:
    """A mark where the chance moved, and at the end of the line. Where they are, as names without words."""
    found = []
    moved = [
        at for at, (one, next_) in enumerate(pairwise(chances), start=1) if abs((one or 0.0) - (next_ or 0.0)) > 0.05
    ]
    for at in dict.fromkeys((*moved, len(chances) - 1)):
        chance = chances[at]
        if chance is not None:
            found.append(Name(LEFT + step * at, _down(chance), ""))
            _mark(sheet, found[-1].x, found[-1].y, number)
    return found


def _mark(sheet: xml.Element, x: float, y: float, number: int) -> None:
    shape, look = MARKS[number], {"class": f"m{number}", "fill": "white", "stroke": "black"}
    if shape in ("circle", "ring"):
        xml.SubElement(
            sheet, "circle", {**look, "cx": f"{x:.1f}", "cy": f"{y:.1f}", "r": "4" if shape == "circle" else "6"}
        )
        return
    corners = {
        "square": ((-4, -4), (4, -4), (4, 4), (-4, 4)),
        "triangle": ((0, -5), (5, 4), (-5, 4)),
        "diamond": ((0, -6), (5, 0), (0, 6), (-5, 0)),
        "cross": ((-5, -5), (0, -1), (5, -5), (1, 0), (5, 5), (0, 1), (-5, 5), (-1, 0)),
    }[shape]
    points = " ".join(f"{x + dx:.1f},{y + dy:.1f}" for dx, dy in corners)
    xml.SubElement(sheet, "polygon", {**look, "points": points})


def _apart(names: list[Name], taken: list[Name]) -> list[Name]:
    """The names, moved down or up until none lies on another or on a mark."""
    placed = list(taken)
    for one in sorted(names, key=lambda name: (name.y, name.x)):
        tries = (one.y + way * NAME_HIGH * turn for turn in range(24) for way in (1, -1))
        y = next((y for y in tries if _free(placed, one, y)), one.y)
        placed.append(Name(one.x, y, one.text))
    return placed[len(taken) :]


def _free(placed: list[Name], one: Name, y: float) -> bool:
    if not TOP - 8 <= y <= TOP + HIGH:
        return False
    ends = one.x + LETTER * len(one.text)
    return all(
        abs(y - other.y) >= NAME_HIGH or ends < other.x or other.x + LETTER * len(other.text) < one.x
        for other in placed
    )
