"""From a map, its log and its belief to the drawing of it and to the page of a part."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import replace

from knowngood.bench.questions import AtPart
from knowngood.cli import advice_answers
from knowngood.handbook.quantities import format_minutes, money_of, percent
from knowngood.log.state import State
from knowngood.maps.device import Device, Part, PartModes, RailToGround, RailVoltage
from knowngood.maps.feeding import feeds
from knowngood.maps.words import CONDITIONS, FINE, MISSING
from knowngood.pages.layout import HEAD, LAYOUTS, Box, Layout
from knowngood.pages.picture_shapes import Deed, Deeds, Drawn, Group, PartSheet, Picture
from knowngood.pages.unit_answers import means, spoken, step, way_in
from knowngood.pages.unit_shapes import Tap
from knowngood.plan.moves import Move

LEVELS = (0.02, 0.10, 0.30)
"""Chances from which a part is drawn as more likely (own judgement): thicker outline, then hatching, then dense."""

SHOWN_FROM = 0.005
"""A chance below this is no figure in the picture."""

LETTERS = 17
"""Letters of a name that fit in one line."""

EDGE = 16.0
"""Pixels round the picture."""

LIKELY = 6
ZOOMS = (50, 75, 100, 150, 200)
"""Sizes of the picture, percent."""


def picture(device: Device, state: State, blocks: Mapping[str, float], target: str, zoom: int) -> Picture:
    """The map as it stands. ``blocks`` are chances by part, ``target`` what the next move is about."""
    layout = LAYOUTS.of(device)
    aim = aimed_at(device, target)
    drawn = {name: _drawn(device, state, name, box, blocks, aim) for name, box in layout.boxes.items()}
    parts = [one for one in drawn.values() if not one.rail]
    likely = sorted(parts, key=lambda one: (not one.aim, -blocks.get(one.name, 0.0), one.name))[:LIKELY]
    width, height = layout.width + 2 * EDGE, layout.height + 2 * EDGE
    return Picture(
        width=width,
        height=height,
        left=-EDGE,
        top=-EDGE,
        shown_width=round(width * zoom / 100),
        shown_height=round(height * zoom / 100),
        parts=tuple(drawn.values()),
        groups=tuple(Group(name, one.x, one.y, one.width, one.height) for name, one in layout.groups.items()),
        arrows=tuple(layout.arrows.values()),
        apart=_apart(layout),
        likely=tuple(one for one in likely if one.aim or blocks.get(one.name, 0.0) >= SHOWN_FROM),
    )


def _apart(layout: Layout) -> float | None:
    return layout.apart + HEAD if layout.height > layout.apart else None


def aimed_at(device: Device, target: str) -> str:
    """The part or rail that a move is about, if it is about one."""
    if target not in device.tests:
        return target if target in device.parts else ""
    match device.tests[target].senses:
        case PartModes(part=name) | RailVoltage(function=name) | RailToGround(function=name):
            return name
        case _:
            return ""


def _drawn(device: Device, state: State, name: str, box: Box, blocks: Mapping[str, float], aim: str) -> Drawn:
    place = (name, box.x, box.y, box.width, box.height)
    if name not in device.parts:
        what = device.functions[name].what
        return Drawn(*place, _lines(name, box), what, rail=True, aim=name == aim)
    chance, note = blocks.get(name, 0.0), note_of(state, name)
    shown = percent(chance) if chance >= SHOWN_FROM else ""
    said = [device.parts[name].what, f"stops something: {shown}" if shown else "", note]
    said += ["the next step is about it"] if name == aim else []
    return Drawn(
        *place,
        _lines(name, box),
        "; ".join(one for one in said if one),
        level=level_of(chance),
        chance=shown,
        note=note,
        away=name in state.apart,
        aim=name == aim,
    )


def level_of(chance: float) -> int:
    """0 to 3: how a chance is drawn."""
    return sum(chance >= one for one in LEVELS)


def note_of(state: State, name: str) -> str:
    """What is so with a part, in a word or two: the last that was seen on it that is not fine goes first."""
    if name in state.removed:
        return "out"
    if name in state.unplugged | state.loose:
        return "unplugged"
    seen = state.seen.get(name, ())
    wrong = [one for one in seen if one != FINE]
    return (wrong or list(seen) or [""])[-1].replace("-", " ")


def _lines(name: str, box: Box) -> tuple[tuple[float, str], ...]:
    """A name in at most two lines; what is longer is cut with a mark, and whole in the words of the part."""
    rows = [""]
    for word in name.split("-"):
        longer = f"{rows[-1]} {word}".strip()
        if len(longer) <= LETTERS or not rows[-1]:
            rows[-1] = longer
        else:
            rows.append(word)
    if len(rows) > 2:
        rows = [rows[0], " ".join(rows[1:])]
    rows = [one if len(one) <= LETTERS else one[: LETTERS - 1] + "…" for one in rows]
    if box.height < 40:
        return ((box.y + box.height / 2 + 4, " ".join(rows)),)
    return tuple((box.y + 17 + 14 * at, row) for at, row in enumerate(rows))


def part_sheet(device: Device, state: State, name: str, blocks: Mapping[str, float], found: AtPart | None) -> PartSheet:
    """The page of a part; ``found`` is None for a unit that has left the bench."""
    part, chance = device.parts[name], blocks.get(name, 0.0)
    return PartSheet(
        name=name,
        what=part.what,
        level=level_of(chance),
        chance=percent(chance) if name in blocks else "",
        where=tuple(_where(device, state, part)),
        looks=_looks(part, found) if found else None,
        others=_others(part, found) if found else (),
        tests=_deeds(device, found.tests, found) if found else Deeds(),
        remedies=_deeds(device, found.remedies, found) if found else Deeds(),
        hands=_hands(device, state, part, found) if found else None,
    )


def _where(device: Device, state: State, part: Part) -> Iterator[tuple[str, str]]:
    fed = feeds(device)
    seen = [one.replace("-", " ") for one in state.seen.get(part.id, ())]
    out = "out" if part.id in state.removed else "unplugged" if part.id in state.apart else ""
    joins = [device.parts[one].what for one in part.joins if one in device.parts]
    said: list[tuple[str, Iterable[str]]] = [
        ("Now", [out] if out else []),
        ("Seen on it", seen),
        ("In its place now", [state.origin[part.id]] if part.id in state.origin else []),
        ("Belongs to", [device.parts[one].what for one in device.within(part.id)[1:]]),
        ("Behind", [device.steps[part.behind].do] if part.behind else []),
        ("Joins", joins),
        ("Fed by", [_what(device, start) for start, end in fed if end == part.id]),
        ("Feeds", [_what(device, end) for start, end in fed if start == part.id]),
        ("Needed for", [one.what for one in device.functions.values() if part.id in one.needs]),
    ]
    for word, names in said:
        text = "; ".join(names)
        if text:
            yield word, text


def _what(device: Device, name: str) -> str:
    return device.parts[name].what if name in device.parts else device.functions[name].what


def _looks(part: Part, found: AtPart) -> Deed:
    """Conditions that can be seen on a part of its kind as buttons, fine first."""
    own, look = _own(part), found.look
    return Deed("What do you see?", "", look.cautions, _held(found, look), _first(look), _seen(part, found, own))


def _own(part: Part) -> set[str]:
    return {FINE, MISSING, *dict(part.looks), *(look for mode in part.modes for look, _ in mode.looks)}


def _others(part: Part, found: AtPart) -> tuple[Tap, ...]:
    return _seen(part, found, set(CONDITIONS) - _own(part))


def _seen(part: Part, found: AtPart, which: Collection[str]) -> tuple[Tap, ...]:
    if _held(found, found.look):
        return ()
    way = way_in(found.look)
    return tuple(Tap(one, (*way, f"saw {part.id} {one}"), means(one)) for one in CONDITIONS if one in which)


def _first(move: Move) -> str:
    closed = f"close {spoken(move.closes)}" if move.closes else ""
    opened = f"open {spoken(move.opens)}" if move.opens else ""
    return ", then ".join(one for one in (closed, opened) if one)


def _held(found: AtPart, move: Move) -> str:
    breach = found.held.get(move.log)
    return str(breach) if breach else ""


def _deeds(device: Device, moves: Iterable[Move], found: AtPart) -> Deeds:
    """Tests or remedies; a caution that all of them have stands once, above them."""
    deeds = [_deed(device, one, found) for one in moves]
    common = tuple(one for one in (deeds[0].cautions if deeds else ()) if all(one in deed.cautions for deed in deeds))
    own = (replace(deed, cautions=tuple(one for one in deed.cautions if one not in common)) for deed in deeds)
    return Deeds(common, tuple(own))


def _deed(device: Device, move: Move, found: AtPart) -> Deed:
    """A test or a remedy with its buttons; what a hard rule forbids now has none."""
    held = _held(found, move)
    shape = advice_answers.alone(move)
    takes = [format_minutes(move.minutes), *move.tools]
    currency = device.worth.working.currency
    takes += [f"{money_of(currency, move.materials)} of parts" if move.materials else ""]
    made = step(device, shape)
    return Deed(
        do=move.do,
        takes=", ".join(one for one in takes if one),
        cautions=(*move.precautions, *move.cautions),
        held=held,
        first=_first(move),
        taps=() if held else made.taps,
        blank=None if held else made.blank,
    )


def _hands(device: Device, state: State, part: Part, found: AtPart) -> Deed | None:
    way = way_in(found.look)
    words = {
        True: (("Unplugged", f"unplugged {part.id}"), ("Plugged in", f"plugged {part.id}")),
        False: (("Took it out", f"removed {part.id}"), ("Back in", f"fitted {part.id} from back")),
    }
    apart, again = (Tap(label, (*way, line)) for label, line in words[part.is_connection])
    if part.id in state.harvested:
        return None
    held = "" if part.id in state.apart else _held(found, found.apart)
    taps = (again,) if part.id in state.apart else (apart,)
    return Deed("", "", found.apart.cautions, held, _first(found.look), () if held else taps)
