"""A plan of the shelf that the person accepted: its lines, and what has happened since.

The ways of the units and what is reserved for whom are lines of the units' logs. One line of the bench's log says that
a plan was accepted, the last line of each log that it rests on, and what it would buy from whom.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Annotated, ClassVar, Literal, NamedTuple

from pydantic import BeforeValidator

from knowngood.bench.gists import Here, all_here, here
from knowngood.bench.market import EVENTS as MARKET_EVENTS
from knowngood.bench.promises import inside, there
from knowngood.bench.reservations import reserved
from knowngood.bench.shelf.facts import BENCH
from knowngood.bench.stock import lying
from knowngood.bench.store import BenchEntry, Store, donors_last
from knowngood.bench.work import log_lines
from knowngood.errors import LineError
from knowngood.handbook.quantities import Money, parse_money
from knowngood.log import events as ev
from knowngood.log.events.line import NAME
from knowngood.log.remembered import replay
from knowngood.log.state import Line, State, effective

UNIT = r"[A-Z]\d+"


class Buy(NamedTuple):
    """A part that a plan would buy for a unit."""

    unit: str
    part: str
    condition: Literal["new", "used"]
    supplier: str
    price: Money

    def __str__(self) -> str:
        return f"{self.unit}/{self.part} {self.condition} from {self.supplier} at {self.price}"


def _after(value: object) -> object:
    if not isinstance(value, str):
        return value
    return tuple((log, int(seq)) for log, seq in (one.split(" ") for one in value.split(", ")))


def _buys(value: object) -> object:
    if not isinstance(value, str):
        return value
    found = []
    for one in value.split(", "):
        what, condition, _, supplier, _, currency, amount = one.split(" ")
        unit, _, part = what.partition("/")
        found.append(Buy(unit, part, condition, supplier, parse_money(f"{currency} {amount}")))  # type: ignore[arg-type]
    return tuple(found)


_BUY = rf"{UNIT}/{NAME} (?:new|used) from {NAME} at [A-Z]{{3}} \d+(?:\.\d+)?"


class PlannedShelf(ev.Event):
    """A plan of the shelf was accepted."""

    form: ClassVar[str] = "planned shelf after LOG NUMBER, ... [buying UNIT/PART new|used from SUPPLIER at MONEY, ...]"
    example: ClassVar[str] = "planned shelf after bench 4, U1 3 buying U1/exhaust-fan new from northparts at EUR 8"
    pattern: ClassVar[str] = (
        rf"shelf after (?P<after>(?:{BENCH}|{UNIT}) \d+(?:, {UNIT} \d+)*)(?: buying (?P<buying>{_BUY}(?:, {_BUY})*))?"
    )
    verb: Literal["planned"] = "planned"
    after: Annotated[tuple[tuple[str, int], ...], BeforeValidator(_after)]
    buying: Annotated[tuple[Buy, ...], BeforeValidator(_buys)] = ()

    def words(self) -> str:
        after = ", ".join(f"{log} {seq}" for log, seq in self.after)
        return f"shelf after {after}" + (f" buying {', '.join(map(str, self.buying))}" if self.buying else "")


def parse(text: str) -> PlannedShelf:
    """The event of a line that says a plan was accepted. Raises LineError."""
    event = ev.parse(text, {"planned": PlannedShelf})
    assert isinstance(event, PlannedShelf)
    return event


@dataclass(frozen=True)
class UnitPlan:
    """What a plan means for one unit."""

    unit: str
    way: str
    takes: Mapping[str, str]
    """Where each part that it is to get comes from: a unit, ``new`` or ``used``."""
    buys: tuple[Buy, ...] = ()


def accept(
    store: Store, plan: Iterable[UnitPlan], after: Mapping[str, int]
) -> tuple[dict[str, list[Line]], BenchEntry]:
    """Stores a plan that rests on the logs up to ``after``, all of it or nothing: the lines of each unit, the bench's.

    Raises LineError if a log has got a line meanwhile, or if a part is not there to be reserved.
    """
    given = [*plan]
    stored: dict[str, list[Line]] = {one.unit: [] for one in given}
    with store.writing():
        changed = [log for log, seq in _last(store).items() if log in after and seq != after[log]]
        if changed:
            raise LineError(f"{' and '.join(changed)} got a line since this plan was made. Make it again.")
        _to_be_had(store, given)
        for texts_of in (_lets_go, _takes):  # what one unit lets go another may take
            for one in given:
                texts = texts_of(_state(store, one.unit), one)
                stored[one.unit] += log_lines(store, one.unit, texts) if texts else []
        buys = tuple(buy for one in given for buy in one.buys)
        entry = store.bench_append(ev.render(PlannedShelf(after=tuple(after.items()), buying=buys)))
    return stored, entry


def _to_be_had(store: Store, plan: Iterable[UnitPlan]) -> None:
    """Raises LineError if a part is to go to two units, or is not there."""
    goes: dict[tuple[str, str], str] = {}
    given = [*plan]
    shelf = lying(store, {origin for one in given for origin in one.takes.values() if origin not in ev.TO_BUY})
    for one in given:
        for part, origin in one.takes.items():
            if origin in ev.TO_BUY:
                continue
            if (other := goes.setdefault((origin, part), one.unit)) != one.unit:
                raise LineError(f"'{part}' of {origin} cannot go to {other} and to {one.unit}.")
            if not there(store, shelf, origin, part):
                raise LineError(f"'{part}' for {one.unit} is neither in {origin} nor on the shelf from it.")


def _last(store: Store) -> dict[str, int]:
    """Number of the last line of each log."""
    return {BENCH: store.bench_seq(), **{one.id: one.lines for one in store.units()}}


def _state(store: Store, unit: str) -> State:
    return replay(store.device(unit), store.lines(unit)).state


def _lets_go(state: State, plan: UnitPlan) -> list[str]:
    return [f"released {part}" for part, origin in state.incoming.reserved.items() if plan.takes.get(part) != origin]


def _takes(state: State, plan: UnitPlan) -> list[str]:
    texts = [] if state.planned == plan.way else [f"planned {plan.way}"]
    return texts + [
        f"reserved {part} from {origin}"
        for part, origin in plan.takes.items()
        if state.incoming.reserved.get(part) != origin
    ]


@dataclass(frozen=True)
class Standing:
    """The plan that was accepted last, and what makes it stale."""

    seq: int
    """Its line in the bench's log."""
    time: str
    plan: PlannedShelf
    changed: Mapping[str, tuple[str, ...]]
    """By unit, or the bench: lines since then that the plan does not know of, each with its number."""
    new: tuple[str, ...]
    """Units that came since, or came back."""

    @property
    def stale(self) -> bool:
        return bool(self.changed or self.new)


def standing(store: Store) -> Standing | None:
    """The plan that was accepted last; None if none was."""
    entries = store.bench_lines()
    last = next((entry for entry in reversed(entries) if entry.text.startswith("planned ")), None)
    if last is None:
        return None
    plan = parse(last.text)
    after = dict(plan.after)
    promised = {(origin, part) for part_of in _reservations(store) for part, origin in part_of.items()}
    now = store.last_seqs(after)
    changed = {
        unit: found
        for unit, seq in after.items()
        if now.get(unit, seq) > seq and (found := tuple(_unforeseen(store, unit, seq, promised)))
    }
    if bench := tuple(f"{one.seq} {one.text}" for one in entries if one.seq > last.seq and _matters(one)):
        changed = {BENCH: bench, **changed}
    came = sorted(set(here(store)) - after.keys(), key=donors_last)
    return Standing(last.seq, last.time, plan, changed, tuple(came))


def _matters(entry: BenchEntry) -> bool:
    """Whether a line of the bench's log bears on a plan: a setting or the market, but no money that moved."""
    verb = entry.text.partition(" ")[0]
    return verb == "set" or (verb in MARKET_EVENTS and verb not in ("paid", "got"))


def _reservations(store: Store) -> list[dict[str, str]]:
    """What each unit had reserved at any time."""
    found: dict[str, dict[str, str]] = {}
    for unit, text in store.texts("reserved"):
        event = ev.parse(text)
        assert isinstance(event, ev.Reserved)
        found.setdefault(unit, {})[event.part] = event.origin
    return [*found.values()]


CARRIES_OUT = (
    *(ev.Planned, ev.Reserved, ev.Ordered, ev.Arrived, ev.Released, ev.Noted, ev.Worked, ev.Waited, ev.Paid, ev.Got),
    *(ev.Put, ev.Wiped, ev.Stated, ev.Overrode, ev.Photographed, ev.Marked, ev.Recorded, ev.Weighed, ev.Disputable),
    *(ev.Dispatched, ev.Refunded, ev.Caused),
)
"""Lines after an accepted plan that tell it nothing new."""


def _unforeseen(store: Store, unit: str, seq: int, promised: set[tuple[str, str]]) -> Iterable[str]:
    """The lines of a unit after number ``seq`` that are not the plan carried out."""
    lines = store.lines(unit)
    holding = {line.seq for line in effective(lines)[0]}
    told = replay(store.device(unit), lines)
    before = dict(zip((line.seq for line in told.lines), told.before, strict=True))
    for line in lines:
        taken_back = isinstance(line.event, (ev.Undid, ev.Redid)) and line.event.line <= seq
        news = line.seq in before and not _foreseen(unit, line.event, before[line.seq], promised)
        if line.seq > seq and (taken_back or (line.seq in holding and news)):
            yield f"{line.seq} {ev.render(line.event)}"


def _foreseen(unit: str, event: ev.Event, state: State, promised: set[tuple[str, str]]) -> bool:
    """Whether a line does no more than the plan says."""
    incoming = state.incoming
    match event:
        case ev.Fitted(part=part, origin=origin):
            bought = {order.condition for order in (incoming.arrived.get(part), incoming.ordered.get(part)) if order}
            return origin in {incoming.reserved.get(part), *bought}
        case ev.Harvested(part=part):
            return state.planned == "parts" or (unit, part) in promised
        case ev.Sold(how=how):
            return state.planned == {"working": "finish", "as-is": "as-is"}[how]
        case ev.Parted() | ev.Vended() | ev.Scrapped() | ev.Disposed():
            return state.planned == "parts"
        case _:
            return isinstance(event, CARRIES_OUT)


def glance(store: Store) -> tuple[list[Here], list[str]]:
    """Every unit that is here, and what in their reservations cannot be kept, one sentence each."""
    rows = all_here(store)
    return rows, [*_conflicts(store, rows)]


def _conflicts(store: Store, rows: Iterable[Here]) -> Iterable[str]:
    held = reserved(store)
    planned, shelf = {row.unit: row.planned for row in rows}, lying(store, {origin for origin, _ in held})
    for (origin, part), units in held.items():
        if len(units) > 1:
            yield f"'{part}' of {origin} is reserved for {' and '.join(units)}."
        if not there(store, shelf, origin, part):
            yield f"'{part}' of {origin} is reserved for {units[0]} and is gone: neither in {origin} nor on the shelf."
        elif (sold := SOLD.get(planned.get(origin) or "")) and inside(store, origin, part):
            yield f"{origin} is to be {sold}, and its '{part}' is reserved for {units[0]}."


SOLD = {"finish": "finished", "as-is": "sold as it is"}


@dataclass(frozen=True)
class Difference:
    """What another plan would change for one unit; None where nothing was planned or nothing is taken."""

    unit: str
    way: tuple[str | None, str]
    """As accepted, and now."""
    parts: Mapping[str, tuple[str | None, str | None]]
    """By part: where it was to come from, and where now."""


def differences(store: Store, plan: Iterable[UnitPlan]) -> list[Difference]:
    """What a plan would change of what the units' logs hold as accepted, by unit."""
    found = []
    for one in plan:
        state = _state(store, one.unit)
        was = state.incoming.reserved
        parts = {
            part: (was.get(part), one.takes.get(part))
            for part in sorted({*was, *one.takes})
            if was.get(part) != one.takes.get(part)
        }
        if parts or state.planned != one.way:
            found.append(Difference(one.unit, (state.planned, one.way), parts))
    return found
