"""May the unit go? What stops it, and what is only warned of and may be overridden by a line of its log.

Two rules cannot be overridden: nothing that stores data of a stranger leaves, and no mains unit is sold as working
without a safety test that passed and still holds. Methods of removal by NIST SP 800-88 Rev. 2 (26 Sep 2025), 3.1.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from knowngood.log import events as ev
from knowngood.log.state import Replay, State
from knowngood.maps.device import Device
from knowngood.maps.words import MISSING
from knowngood.proof.known import Proof
from knowngood.proof.safety_test import SafetyTest

How = Literal["working", "as-is"]

CELL = "cell"
"""The hazard of a part that holds a lithium cell."""

BY_POST = (
    "With a lithium cell in it the rules for batteries in equipment hold (UN 3481): label, small-package limits (49 "
    "CFR 173.185(c): 20 Wh a cell, 100 Wh a battery), transport law of the place and the carrier's own rule first"
)

METHODS = {
    "clear": "logical overwrite or reset through the normal interface: against simple recovery",
    "purge": "sanitize command, block erase, crypto erase: defeats laboratory recovery",
    "destroy": "the medium cannot be used again",
}
"""What the methods mean. Source: NIST SP 800-88 Rev. 2, 3.1; destroy in words of our own, from memory."""

FLASH = (
    "overwriting flash is unreliable, so clear it by the device's own sanitize or crypto erase (NIST SP 800-88 Rev. 2)"
)


@dataclass(frozen=True)
class Stop:
    """Something that holds the unit here."""

    matter: str
    """``data`` or ``safety-test``, which nothing overrides; else the word that ``overrode`` takes."""
    says: str
    right: str
    """What would be right, as the line to log."""


@dataclass(frozen=True)
class DataPlace:
    """A part that may hold data of whoever had the unit (``unit``: nobody knows which)."""

    part: str
    what: str
    how: str
    """What was done about it, or ""."""

    @property
    def done(self) -> bool:
        """Whether it holds none any more, or is out."""
        return bool(self.how)


@dataclass(frozen=True)
class Release:
    """Whether a unit may go, and how it would."""

    how: How
    stops: tuple[Stop, ...]
    """What nothing overrides."""
    warnings: tuple[Stop, ...]
    """What a line of the log may override."""
    overridden: tuple[str, ...]
    """Warnings that a line has overridden, each with that line."""
    notes: tuple[str, ...]
    places: tuple[DataPlace, ...]

    @property
    def free(self) -> bool:
        return not self.stops and not self.warnings


def data_places(device: Device, state: State) -> tuple[DataPlace, ...]:
    """Where data of a stranger may be in the unit, and what was done about it."""
    parts = device.data_parts or ((ev.UNIT,) if device.stores_data else ())
    return tuple(_place(device, state, part) for part in parts)


def _place(device: Device, state: State, part: str) -> DataPlace:
    what = device.parts[part].what if part != ev.UNIT else device.what
    around = device.within(part) if part != ev.UNIT else ()
    if part not in state.leaving.wiped and any(one in state.removed for one in around):
        return DataPlace(part, what, "it is out of the unit")
    return DataPlace(part, what, _clean(state, part))


def _clean(state: State, part: str) -> str:
    """Why a part holds no data of a stranger, wherever it is; "" if it may hold some."""
    wiped = state.leaving.wiped.get(part)
    if wiped:
        return f"line {wiped[0]}: {ev.render(wiped[1])}"
    if MISSING in state.seen.get(part, ()):
        return "it was missing"
    new = state.origin.get(part) == "new" and part not in state.leaving.used
    return "it was fitted new" if new else ""


def wiping_stops(device: Device, state: State) -> tuple[Stop, ...]:
    """What still holds data of a stranger."""
    return tuple(_not_wiped(device, one) for one in data_places(device, state) if not one.done)


def _not_wiped(device: Device, place: DataPlace, *, out: bool = False) -> Stop:
    said = f"'{place.part}' ({place.what}) may hold data of whoever had it, and no line says that it was removed"
    right = f"wiped {place.part} by clear|purge|destroy [with TOOL] [verified HOW]"
    if place.part == ev.UNIT or out:
        return Stop("data", said, right)
    if any(place.part in one.parts for one in device.married):
        right += " (it is married to other parts: only by the unit's own reset, or the unit is lost)"
    return Stop("data", said, f"{right}, or removed {place.part}")


def wiping_of_a_part(device: Device, state: State, part: str) -> Stop | None:
    """What keeps a part from leaving by itself: data on it, or on a part of its assembly."""
    held = [one for one in device.data_parts if part in device.within(one)]
    kept = (one for one in held if one in state.leaving.unwiped or not _clean(state, one))
    first = next(kept, None)
    return _not_wiped(device, DataPlace(first, device.parts[first].what, ""), out=True) if first else None


def hard_stops(device: Device, state: State, test: SafetyTest, how: How) -> tuple[Stop, ...]:
    """The two rules that nothing overrides; a unit sold as it is needs its data removed only."""
    stops = wiping_stops(device, state)
    if how == "as-is" or not test.needed or test.verdict == "pass":
        return stops
    wrong = {"fail": "failed", "void": "is void", "incomplete": "is incomplete"}[test.verdict]
    begun = bool(test.steps) and state.leaving.test.begun
    said = "has not been made" if test.verdict == "incomplete" and not begun else f"{wrong}: {test.why}"
    right = "what 'knowngood safety-test' asks for, or 'sold as-is ...' with its cord cut"
    return (*stops, Stop("safety-test", f"it runs on mains, and its safety test after repair {said}", right))


def hurt_cells(device: Device, state: State, of: str | None = None) -> tuple[tuple[str, str], ...]:
    """The cells in the unit, or in one part, that were seen hurt, each with what was seen: what the hard rule of cells
    names."""
    seen = {condition for rule in device.hazards[CELL].rules for condition in rule.if_seen}
    return tuple(
        (part, next(one for one in state.seen[part] if one in seen))
        for part in (cells_in(device, state) if of is None else _cells_of(device, of))
        if seen & set(state.seen.get(part, ()))
    )


def _hurt(device: Device, state: State, of: str | None = None) -> Iterable[Stop]:
    """What holds hurt cells here: those in the unit, or the one that a part is or holds."""
    for part, seen in hurt_cells(device, state, of):
        out = f"disposed {part} to PLACE, where cells are taken back"
        yield Stop(
            "damaged-cell",
            f"'{part}' was seen {seen}, and a damaged lithium cell never flies and goes in no ordinary parcel; on the "
            "ground it goes only in special packing, by the transport law of the place",
            out if part in state.removed else f"removed {part}, then {out}",
        )


def damaged_cells(device: Device, state: State, of: str | None = None) -> Iterable[Stop]:
    """The same, unless a line has overridden it."""
    for one in () if "damaged-cell" in state.leaving.overrode else _hurt(device, state, of):
        other = "overrode damaged-cell -- WHO takes it, and how it is packed"
        yield Stop(one.matter, one.says, f"{one.right}; or {other}")


def cells_thrown_away(device: Device, state: State, part: str) -> Iterable[Stop]:
    """The cells that would go with a part, or with the whole ``unit``, to where other waste goes."""
    inside = cells_in(device, state) if part == ev.UNIT else _cells_of(device, part)
    for cell in inside:
        whole = "" if part != ev.UNIT else f"removed {cell} first; then "
        yield Stop(
            "cell",
            f"'{cell}' holds a lithium cell, which burns in household waste",
            f"{whole}tape its contacts and log 'disposed {cell} to PLACE', where cells are taken back by local rules",
        )


def _cells_of(device: Device, part: str) -> tuple[str, ...]:
    return tuple(one.id for one in device.parts.values() if CELL in one.hazards and part in device.within(one.id))


def cells_in(device: Device, state: State) -> tuple[str, ...]:
    """The parts with a lithium cell that are in the unit, as far as the log says."""
    return tuple(
        part.id
        for part in device.parts.values()
        if CELL in part.hazards
        and not any(one in state.removed for one in device.within(part.id))
        and MISSING not in state.seen.get(part.id, ())
    )


def release(device: Device, told: Replay, test: SafetyTest, proof: Proof | str, how: How) -> Release:
    """Whether a unit may go as its log leaves it. ``proof`` may be the reason why there is none."""
    state = told.state
    found = tuple(_warnings(device, state, proof, how))
    overrode = state.leaving.overrode
    lines = {line.seq: str(line) for line in told.lines}
    places = data_places(device, state)
    return Release(
        how,
        hard_stops(device, state, test, how),
        tuple(one for one in found if one.matter not in overrode),
        tuple(f"{one.says} (line {lines[overrode[one.matter]]})" for one in found if one.matter in overrode),
        tuple(_notes(device, state, test, how, places)),
        places,
    )


def _warnings(device: Device, state: State, proof: Proof | str, how: How) -> Iterable[Stop]:
    if state.ajar:
        names = ", ".join(state.ajar)
        yield Stop("open-steps", f"it is open: {names}", "closed all")
    if how == "working":
        if isinstance(proof, str):
            yield Stop("not-proved", f"nothing is proved: {proof.rstrip('.')}", "what that asks for")
        elif proof.unproven:
            names = ", ".join(proof.unproven)
            yield Stop("not-proved", f"not shown to work since the last act on it: {names}", "tried FUNCTION works")
        if unnamed := state.declared - state.listing.named:
            names = ", ".join(sorted(unnamed))
            said = f"declared as not working: {names}; no listing since says so"
            yield Stop("declared-faults", said, "listed at PRICE, with the text of 'knowngood listing'")
    yield from _hurt(device, state)
    lock = state.leaving.lock
    if device.stores_data and lock is None:
        yield Stop(
            "account-lock", "nobody looked whether it is locked to an account", "checked account-lock none|locked"
        )
    elif lock and lock.lock == "locked":
        said = (
            "it is locked to an account of somebody else: do not bypass it; it may be stolen, and it goes for parts "
            "only where law allows (common practice, no source)"
        )
        yield Stop("account-lock", said, "checked account-lock none, once its owner has let it go")


def _notes(device: Device, state: State, test: SafetyTest, how: How, places: tuple[DataPlace, ...]) -> Iterable[str]:
    if how == "as-is" and test.needed and test.verdict != "pass":
        yield "It goes without a safety test: say so, and that nobody may power it; for spares cut its cord."
    if cells := cells_in(device, state):
        yield f"{BY_POST} ({', '.join(cells)})."
    if any(not one.done for one in places):
        yield from (f"{method}: {meaning} (NIST SP 800-88 Rev. 2, 3.1)" for method, meaning in METHODS.items())
    done = dict(state.leaving.wiped.values())
    for seq, event in sorted(done.items()):
        if event.check is None:
            yield f"Line {seq}: not verified, as NIST SP 800-88 Rev. 2, 4.5.1 asks: wiped {event.part} ... verified HOW"
        if event.method == "clear":
            yield f"Line {seq}: {FLASH}"
