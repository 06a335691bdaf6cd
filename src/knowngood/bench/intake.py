"""What intake still lacks, and what a unit did as it was received."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Literal

from knowngood.bench import gists, photos
from knowngood.bench.store import Store
from knowngood.bench.work import Draft, replayed
from knowngood.log import events as ev
from knowngood.log.intake import UNIT_SERIAL, Intake, tried_functions
from knowngood.log.state import Line, Replay, State
from knowngood.maps.device import Device, FunctionLevel
from knowngood.maps.words import CONDITIONS, MISSING
from knowngood.plan.lifting import allowed
from knowngood.plan.moves import test_move as move_of
from knowngood.proof.release import CELL, hurt_cells

DISPUTE_NEAR = 7
"""Days before the last one to dispute, from which on it is mentioned (own judgement)."""

PHOTOS_OF_A_UNIT = 8
"""Six sides, the ports, the plate with the serial: 8 to 12 photos (common practice, no source)."""

WEIGHT_TOLERANCE = 0.005
"""Share of its map's weight within which a unit counts as whole: scales, screws, dust (own judgement)."""

PART_TOLERANCE = 0.3
"""Share by which a difference of weight may miss a part's own weight and still speak of it (own judgement)."""

WET_CAUTION = (
    "Wet: pack out today, before anything else. It corrodes by the hour; no power and no charging until it is washed "
    "and dry."
)
DIRT_CAUTION = (
    "Kept apart: bag it before it meets the shelf, mask and gloves for soot, mould, insects or fluids; a pack that "
    "smells sweet or is warm goes out to a fire-safe place. Insects: sealed for 7 to 14 days."
)
"""Common practice, no source."""


@dataclass(frozen=True)
class Received:
    """One function as the unit came in."""

    function: str
    what: str
    promised: bool
    how: Literal["works", "weak", "fails", "not tried"]
    seq: int | None
    """The line that says so."""
    why: str
    """Why it was not tried, or what forbids trying it now; "" if nothing does."""
    log: str
    """The line that would say it, if none does."""


@dataclass(frozen=True)
class Weight:
    """What the unit weighs beside what its map says, kg."""

    kilograms: float
    expected: float | None
    says: str


@dataclass(frozen=True)
class Dispute:
    """The last day to dispute the purchase, and days left: 0 on that day, below zero once it has passed."""

    until: str
    days_left: int

    @property
    def near(self) -> bool:
        return 0 <= self.days_left <= DISPUTE_NEAR

    @property
    def says(self) -> str:
        if self.days_left < 0:
            return f"The day to dispute the purchase by has passed: {self.until}."
        left = {0: "today is the last day", 1: "1 day left"}.get(self.days_left, f"{self.days_left} days left")
        return f"It can be disputed until {self.until}: {left}."


@dataclass(frozen=True)
class Lack:
    """Something that intake still lacks, and the line or command that brings it."""

    what: str
    right: str


@dataclass(frozen=True)
class CameIn:
    """A unit as it was received."""

    intake: Intake
    lacks: tuple[Lack, ...]
    """What cannot wait first; empty once intake has ended."""
    chart: tuple[Received, ...]
    weight: Weight | None
    dispute: Dispute | None
    quarantine_days: int | None
    how_to_end: tuple[str, ...]
    """What ends the quarantine, as lines."""
    lock: str | None
    """``none`` or ``locked``, as it was seen last."""
    locks_wanted: bool
    cautions: tuple[str, ...]
    remarks: tuple[str, ...]
    """Words that were noted during intake."""
    back: str | None
    """What its buyer said, if it came back."""


def intake_of(store: Store, unit: str) -> tuple[CameIn, int]:
    """How a unit came in, and its last line. Raises NotFoundError."""
    device, told = replayed(store, unit)
    return came_in(device, told, store.unit_id(unit), store.now()), told.seq


def photograph(
    store: Store, unit: str, files: Sequence[Path], of: str, when: Literal["before", "after"] | None = None
) -> list[Line]:
    """Stores photos of a target and logs each, all of them or none. Returns the lines.

    A photo that is there already is not stored twice; its line names the same file. Raises NotFoundError for a file
    that cannot be read, LineError for one that is no photo or too large, or for the target, StoreError if it cannot be
    written.
    """
    return keep_photos(store, unit, [photos.read(file) for file in files], of, when)


def keep_photos(
    store: Store,
    unit: str,
    contents: Sequence[tuple[bytes, str]],
    of: str,
    when: Literal["before", "after"] | None = None,
) -> list[Line]:
    """The same for photos that are read and checked already: the bytes of each, and what it is."""
    device = store.device(unit)
    made: list[Path] = []
    try:
        with store.writing():
            draft = Draft(store, unit, device)
            there = photos.folder(store, unit)
            for content, extension in contents:
                name, new = photos.keep(there, content, extension, draft.lines[-1].seq + 1)
                made += [there / name] if new else []
                draft.add(f"photographed {of} as {name}" + (f" {when}" if when else ""))
            return store.append(unit, draft.events)
    except BaseException:
        for file in made:
            file.unlink(missing_ok=True)
        raise


def dispute_of(state: State, now: str) -> Dispute | None:
    """Until when the purchase can be disputed, at a time of a log; None if no line says."""
    until = state.intake.until
    if until is None:
        return None
    return Dispute(until, (date.fromisoformat(until) - date.fromisoformat(now[:10])).days)


def near_dispute(store: Store, unit: str) -> str | None:
    """What is to be said of the last day to dispute a purchase: something only while it is near and not past."""
    _, told = replayed(store, unit)
    found = dispute_of(told.state, store.now())
    return found.says if found and found.near and told.state.exit is None else None


def near_disputes(store: Store) -> dict[str, str]:
    """The same for all units of which something is to be said."""
    still = set(gists.here(store))
    said = {unit: near_dispute(store, unit) for unit in store.units_with("disputable") if unit in still}
    return {unit: text for unit, text in said.items() if text}


def came_in(device: Device, told: Replay, unit: str, now: str) -> CameIn:
    """How a unit came in, as its log leaves it at some time."""
    state = told.state
    intake = state.intake
    times = {line.seq: line.time for line in told.lines}
    kept = intake.quarantine
    days = (date.fromisoformat(now[:10]) - date.fromisoformat(times[kept[0]][:10])).days if kept else None
    chart = tuple(_chart(device, state))
    ended = intake.ended is not None or state.exit is not None
    return CameIn(
        intake,
        () if ended else tuple(_lacks(device, state, unit, chart)),
        chart,
        _weight(device, state),
        dispute_of(state, now),
        days,
        tuple(_ways_out(state)) if kept else (),
        state.leaving.lock.lock if state.leaving.lock else None,
        device.stores_data or bool(device.data_parts),
        tuple(_cautions(device, state)),
        tuple(_remarks(told, intake)),
        state.sales.returns[-1].why if state.sales.returns and intake.began > 1 else None,
    )


def _chart(device: Device, state: State) -> Iterator[Received]:
    tests = {
        test.senses.function: test
        for test in reversed(device.tests.values())
        if test.verb == "tried" and isinstance(test.senses, FunctionLevel)
    }
    intake = state.intake
    moves = [move_of(device, state, test) for test in tests.values()]
    held = {move.target: breach for move, breach in allowed(device, state, moves)[1]}
    for name in tried_functions(device):
        what, promised = device.functions[name].what, name in device.wanted
        if tried := intake.tried.get(name):
            yield Received(name, what, promised, tried.outcome, tried.seq, "", "")  # type: ignore[arg-type]
        elif left := intake.untried.get(name):
            yield Received(name, what, promised, "not tried", left[0], left[1], "")
        elif breach := held.get(tests[name].id):
            yield Received(name, what, promised, "not tried", None, str(breach), f"left {name} untried -- WHY")
        else:
            line = f"tried {tests[name].id} works|weak|fails"
            yield Received(name, what, promised, "not tried", None, "", f"{line}, or left {name} untried -- WHY")


def _lacks(device: Device, state: State, unit: str, chart: Sequence[Received]) -> Iterator[Lack]:
    """What is lacking, in the order in which it is urgent: wet, hurt cell, the day to dispute, the rest."""
    intake = state.intake
    if state.wet:
        yield Lack("it is wet", "removed PACK (if it has one), then dried unit")
    for part, seen in hurt_cells(device, state):
        yield Lack(f"its cell is {CONDITIONS[seen]}", f"removed {part}")
    if intake.until is None and not state.sales.returns:
        yield Lack("the last day to dispute the purchase", "disputable until YYYY-MM-DD")
    of_unit = sum(event.target in (ev.UNIT, "serial") for seq, event in intake.photos if seq > intake.began)
    if of_unit < PHOTOS_OF_A_UNIT:
        here = f"; {of_unit} so far" if of_unit else ""
        yield Lack(
            f"photos of all six sides, the ports and the serial, before the first screw turns{here}",
            f"knowngood photo {unit} FILE... --of unit",
        )
    if UNIT_SERIAL not in intake.serials:
        yield Lack("its serial number", "recorded serial NUMBER")
    if intake.weight is None:
        yield Lack("its weight", "weighed WEIGHT")
    if (device.stores_data or device.data_parts) and state.leaving.lock is None:
        yield Lack("whether it is locked to an account", "checked account-lock none|locked")
    free = [one.function for one in chart if one.log.startswith("tried ")]
    if free:
        whether = f"whether {len(free)} more functions work" if len(free) > 1 else f"whether {free[0]} works"
        right = "tried FUNCTION works|weak|fails, or left FUNCTION untried -- WHY"
        yield Lack(whether, right if len(free) > 1 else right.replace("FUNCTION", free[0]))
    for one in chart:
        if one.log.startswith("left "):
            yield Lack(f"why {one.function} is not tried", one.log)


def _weight(device: Device, state: State) -> Weight | None:
    weighed = state.intake.weight
    if weighed is None:
        return None
    found, expected = weighed.kilograms, device.weight
    if expected is None:
        return Weight(found, None, "the map does not say what a whole unit weighs")
    less = expected - found
    if abs(less) <= WEIGHT_TOLERANCE * expected:
        return Weight(found, expected, f"as its map says, within {100 * WEIGHT_TOLERANCE:g} %")
    grams = f"{1000 * abs(less):.0f} g"
    if less < 0:
        return Weight(
            found, expected, f"{grams} more than its map says: water, something left inside, or what came along?"
        )
    out = [
        part
        for part in device.parts.values()
        if part.weight
        and abs(less - part.weight) <= PART_TOLERANCE * part.weight
        and part.id not in state.removed
        and MISSING not in state.seen.get(part.id, ())
    ]
    which = " or ".join(f"'{part.id}' ({1000 * (part.weight or 0):.0f} g)" for part in out)
    hint = f"about what {which} weighs. Is it in? If not: saw {out[0].id} missing" if out else "is something out?"
    return Weight(found, expected, f"{grams} less than its map says: {hint}")


def _ways_out(state: State) -> Iterator[str]:
    if state.wet:
        yield "dried unit"
    yield "cleared unit"


def _cautions(device: Device, state: State) -> Iterator[str]:
    if state.wet:
        yield WET_CAUTION
    if any(CELL in part.hazards for part in device.parts.values()):
        yield device.hazards[CELL].caution
    if state.intake.quarantine:
        yield DIRT_CAUTION


def _remarks(told: Replay, intake: Intake) -> Iterable[str]:
    for line in told.lines:
        during = line.seq >= intake.began and (intake.ended is None or line.seq < intake.ended)
        if during and isinstance(line.event, ev.Noted):
            yield line.event.text
