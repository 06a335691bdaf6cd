"""What stands on a label: of a unit, a part, a lot of loose parts, the tray for a step's screws, a place."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from knowngood.bench import loose
from knowngood.bench.donors import Origins
from knowngood.bench.passages import StockPart
from knowngood.bench.provenance import place_of, place_on_shelf
from knowngood.bench.revisions import Reader
from knowngood.bench.shown import shown_to_work
from knowngood.bench.stays import Stay, stays
from knowngood.bench.store import Store
from knowngood.errors import NotFoundError
from knowngood.log.effect import STORED
from knowngood.log.state import State
from knowngood.maps.device import Device, Step
from knowngood.maps.shape import similar
from knowngood.maps.words import HARMLESS

CODE = "knowngood:"
"""What a QR code begins with. It is no address of a network; a page of this program can open what follows."""

SHAPES = ("triangle", "circle", "square", "diamond", "hexagon", "cross")
"""Shapes of the mark of a married pair, told apart without colour."""

CAUTIONS = {
    "wet": "WET: no power",
    "cell": "lithium cell",
    "stored-charge": "may hold a charge",
    "short": "a rail is shorted",
    "laser": "laser",
    "lamp": "mercury lamp",
    "glass": "glass",
    "sharp": "sharp edges",
    "lifting": "heavy",
    "static": "static: bag it",
}
"""Hazards that a label warns of, in few words (common practice, no source), gravest first."""

OF_A_UNIT = ("wet", "cell", "stored-charge", "short", "laser")
"""Those that the label of a whole unit warns of; the others are inside."""


@dataclass(frozen=True)
class Pair:
    """The mark that married parts have in common."""

    words: str
    shape: str
    others: str
    """In words, what it works with."""


@dataclass(frozen=True)
class Label:
    """What stands on one label, in the order of size."""

    asked: str
    number: str
    name: str
    what: str
    code: str
    pair: Pair | None = None
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


def label(store: Store, asked: str) -> Label:
    """The label of what is named: ``U1``, ``D1/lamp-door``, ``U1/cover-off``, ``S3``, or a place, as ``drawer 3``.

    Raises NotFoundError that names what would be right.
    """
    asked = " ".join(asked.split())
    unit, slash, inside = asked.upper().partition("/")
    names, lots = store.names(), loose.lots(store)
    if unit not in names:
        places = _places(store)
        if asked.upper() in lots:
            return _of_lot(lots[asked.upper()])
        if asked.lower() in places:
            return _of_place(*places[asked.lower()])
        known = {*names, *lots, *(place for place, _ in places.values())}
        raise NotFoundError(
            f"No unit, lot or place '{asked}'. {similar(asked, known)} A part is named with its unit, as D1/lamp-door."
        )
    origins = Origins.of(store, [unit], shelf=False)
    if not slash:
        return _of_unit(origins, unit)
    device, name = origins.logs[unit][0], inside.lower().replace(" ", "-")
    if name in device.parts:
        return _of_part(origins, unit, name)
    if name in device.steps:
        return _of_step(unit, device.steps[name])
    known = {*device.parts, *device.steps}
    raise NotFoundError(f"{unit} has no part and no access step '{name}'. {similar(name, known)}")


def _of_unit(origins: Origins, unit: str) -> Label:
    device, state, place = origins.logs[unit][0], origins.told(unit).state, place_of(origins.told(unit))
    notes = [f"past: {', '.join(state.past)}"] if state.past else []
    notes += [place] if place else []
    there = {part.id for part in device.parts.values()} - state.removed
    hazards = [name for part in there for name in _of_the_part(device, state, part)]
    return Label(unit, unit, "", device.what, CODE + unit, None, tuple(notes), _cautions(state, hazards, OF_A_UNIT))


def _of_part(origins: Origins, unit: str, name: str) -> Label:
    device, told = origins.logs[unit][0], origins.told(unit)
    part = device.parts[name]
    left = [
        one for one in (*origins.moved.taken.values(), *origins.moved.shelf) if (one.unit, one.part) == (unit, name)
    ]
    came = max(left, key=lambda one: one.seq, default=None)
    if came is None or name not in told.state.harvested:
        came = StockPart(name, part.what, unit, told.seq + 1, device.id, "")
    stayed = stays(origins, came)
    state, shown, revision = stayed[-1].state, shown_to_work(stayed), Reader(origins.logs, origins.moved).of(came)
    hurt = dict.fromkeys(one for one in state.seen.get(name, ()) if one not in HARMLESS)
    place = place_on_shelf(stayed[-1])
    notes = [
        f"from {' by '.join(one.unit for one in stayed)}" if len(stayed) > 1 else "",
        f"revision {revision}" if revision else "",
        f"seen {', '.join(hurt)}" if hurt else "",
        f"shown by: {shown.line}" if shown else "not tested",
        place,
    ]
    return Label(
        f"{unit}/{name}",
        unit,
        name,
        part.what,
        f"{CODE}{unit}/{name}",
        _pair(stayed[0], name),
        tuple(note for note in notes if note),
        _cautions(state, _of_the_part(device, state, name), tuple(CAUTIONS)),
    )


def _pair(first: Stay, part: str) -> Pair | None:
    """The mark of a part that is married to others of the unit it was bought in."""
    for index, group in enumerate(first.device.moving_together):
        if part in group.parts and not first.put_in:
            others = ", ".join(one for one in group.parts if one != part)
            # Pairs of units that lie beside one another have unlike shapes.
            start = int(first.unit[1:]) - 1 + (len(SHAPES) // 2 if first.unit.startswith("D") else 0)
            shape = SHAPES[(start + index) % len(SHAPES)]
            return Pair(f"{first.unit} pair {chr(ord('A') + index)}: {shape}", shape, f"only with its {others}")
    return None


def _of_step(unit: str, step: Step) -> Label:
    screws = [
        " ".join(word for word in (f"{one.count} x {one.thread}", one.length, one.driver, one.where) if word)
        for one in step.fasteners
    ]
    return Label(
        f"{unit}/{step.id}", unit, step.id, step.do, f"{CODE}{unit}/{step.id}", None, tuple(screws or ["no screws"])
    )


def _of_lot(lot: loose.Lot) -> Label:
    notes = [one for one in (f"{lot.stocked} on {lot.time[:10]}", lot.place, lot.note) if one]
    return Label(lot.id, lot.id, "", lot.part.text(), CODE + lot.id, None, tuple(notes))


def _of_place(place: str, things: list[str]) -> Label:
    return Label(place, place, "", "", f"{CODE}in/{place}", None, tuple(things))


def _places(store: Store) -> dict[str, tuple[str, list[str]]]:
    """Places that lines name, in small letters, each as first written and with what lies there."""
    found: dict[str, tuple[str, list[str]]] = {}
    origins = Origins.of(store)
    lying = [(place_on_shelf(stays(origins, one)[-1]), f"{one.unit}/{one.part}") for one in origins.moved.shelf]
    lying += [(lot.place, lot.id) for lot in loose.lots(store).values() if lot.left]
    for unit in store.units_with("put"):
        lying.append((place_of(origins.told(unit)), unit))
    for place, thing in lying:
        if place:
            found.setdefault(place.lower(), (place, []))[1].append(thing)
    return found


def _of_the_part(device: Device, state: State, part: str) -> list[str]:
    """Hazards of a part that hold: a charge that was let off is none."""
    return [name for name in device.parts[part].hazards if not (name == STORED and part in state.discharged)]


def _cautions(state: State, hazards: Iterable[str], among: tuple[str, ...]) -> tuple[str, ...]:
    held = {*hazards, *(["wet"] if state.wet else []), *(["short"] if state.shorted and among == OF_A_UNIT else [])}
    return tuple(CAUTIONS[name] for name in CAUTIONS if name in held and name in among)
