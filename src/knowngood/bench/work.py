"""One function for each thing a person does at the bench; the terminal and the pages call the same ones."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace

from knowngood.bench import leaving, loose, photos
from knowngood.bench.passages import Moves, Taking
from knowngood.bench.revisions import Reader, known_for, misfit
from knowngood.bench.settings import BenchSettings, read_settings, setting_line
from knowngood.bench.stock import Logs, moves_about
from knowngood.bench.store import Store, one_line, utc_now
from knowngood.errors import LineError
from knowngood.handbook.quantities import Money, parse_money
from knowngood.log import events as ev
from knowngood.log.events.line import NAME
from knowngood.log.lines import understand
from knowngood.log.remembered import replay
from knowngood.log.state import Flag, Line, Replay, State, after, effective, last_effective, last_undone
from knowngood.maps.device import Device
from knowngood.maps.load import load
from knowngood.maps.shape import nearest, similar

ORIGINS = (*ev.TO_BUY, ev.BACK)
"""Where a fitted part may come from, other than a unit."""

FIRST = (ev.Bought, ev.Offered)
"""First lines of a log, which nothing takes back."""

TOLD = (
    ev.Past,
    ev.Asked,
    ev.Photographed,
    ev.Marked,
    ev.Saw,
    ev.Read,
    ev.Tried,
    ev.Found,
    ev.Noted,
    ev.Priced,
    ev.Undid,
    ev.Redid,
)
"""What can be logged of a candidate: what its seller says or shows."""

COMMANDS = ("undo", "redo")
"""Words that a person may type where a line is wanted, and that are acts on the log instead."""


def new_unit(
    store: Store,
    map_name_or_path: str,
    paid: str | Money,
    past: Iterable[str] = (),
    *,
    donor: bool = False,
    source: str | None = None,
) -> str:
    """Books a unit in, or a donor. Returns its id.

    Raises NotFoundError or MapError for the map, QuantityError for the price, LineError for the past or the source.
    """
    device = load(map_name_or_path)
    price = paid if isinstance(paid, Money) else parse_money(paid)
    bought = ev.Bought(map=device.id, price=price, past=tuple(past), source=known_source(source))
    event = understand(device, State(), ev.render(bought))
    in_currency(event, bench_settings(store).currency, "the bench's currency")
    assert isinstance(event, ev.Bought)
    return store.new_unit(device, event, donor)


def known_source(words: str | None) -> str | None:
    """A source as lines hold it: small letters, with hyphens between words. Raises LineError."""
    if words is None:
        return None
    name = "-".join(words.lower().split())
    if not re.fullmatch(NAME, name):
        raise LineError(f"'{words}' is no name of a source: letters, digits, hyphens. For example: house-clearance")
    return name


def log_lines(store: Store, unit: str, texts: Iterable[str]) -> list[Line]:
    """Understands what was typed, each line in the state that those before it give, and stores all of it or nothing.

    Raises LineError; with several lines it says which one.
    """
    typed = [text for text in texts if text.strip()]
    if not typed:
        raise LineError("There is no line to log. Say what happened, for example: saw exhaust-fan missing")
    device = store.device(unit)  # read before the lock is taken: the first time takes a moment
    with store.writing():
        draft = Draft(store, unit, device)
        for number, text in enumerate(typed, start=1):
            try:
                draft.add(text)
            except LineError as error:
                if len(typed) == 1:
                    raise
                raise LineError(f"Line {number} of {len(typed)}: {error} Nothing was stored.", error.similar) from None
        return store.append(unit, draft.events)


class Draft:
    """A log with lines that are understood and not stored yet. Belongs inside ``store.writing()``."""

    def __init__(self, store: Store, unit: str, device: Device) -> None:
        self.store = store
        self.unit = store.unit_id(unit)
        self.device = device
        self.lines = store.lines(unit)
        self.events: list[ev.Event] = []
        self._state = replay(device, self.lines).state

    def add(self, text: str) -> None:
        """One more line. Raises LineError if it is not understood or does not fit."""
        line = one_line(text)
        if line.lower() in COMMANDS:
            raise LineError(f"'{line}' is a command of its own and not a line of the log.")
        event = self._checked(line, understand(self.device, self._state, line))
        self.events.append(event)
        seq = self.lines[-1].seq + 1
        self.lines.append(Line(seq, utc_now(), event))
        if isinstance(event, (ev.Undid, ev.Redid)):
            self._state = replay(self.device, self.lines).state
        else:
            self._state = after(self.device, self._state, event, seq)

    def _checked(self, text: str, event: ev.Event) -> ev.Event:
        first = self.lines[0].event
        if isinstance(first, ev.Offered) and not isinstance(event, TOLD):
            raise LineError(
                f"'{text}': {self.unit} is only offered; log what its seller says or shows. Once it is bought: "
                f"knowngood unit new --candidate {self.unit} --paid ..."
            )
        match event:
            case ev.Bought():
                raise LineError(f"'{text}': {self.unit} was bought already, by its line 1.")
            case ev.Offered() | ev.Refused() | ev.Accepted():
                raise LineError(
                    f"'{text}': {self.unit} was bought already. An offer is made by: knowngood bid --map ..."
                )
            case ev.Fitted():
                event = self._with_origin(text, event)
            case ev.Put(part=part) if part != ev.UNIT:
                self._on_the_shelf(text, part)
            case ev.Used():
                self._in_stock(text, event)
            case ev.Began(wait=None):
                event = event.model_copy(update={"wait": 60.0 * bench_settings(self.store).drying_hours})
            case ev.Measured():
                event = leaving.measured(self.store, text, event, bench_settings(self.store).safety_rules)
            case ev.Photographed():
                photos.stored(self.store, self.unit, event)
            case ev.Sold() | ev.Dispatched() | ev.Scrapped(part=ev.UNIT) | ev.Disposed():
                leaving.may_go(self.store, text, self.device, self.lines, event)
            case ev.Vended(part=part) | ev.Scrapped(part=part):
                self._still_here(text, part)
                leaving.may_go(self.store, text, self.device, self.lines, event)
            case ev.Clapped(line=int(seq)) if seq not in {line.seq for line in effective(self.lines)[0]}:
                raise LineError(f"'{text}': {self.unit} has no line {seq} that holds.")
            case ev.Undid(line=seq):
                held = {line.seq for line in effective(self.lines)[0] if not isinstance(line.event, FIRST)}
                if seq not in held:
                    raise LineError(f"'{text}': there is no line {seq} in {self.unit} that holds and could be undone.")
            case ev.Redid(line=seq):
                undone = self._undone()
                if seq not in undone:
                    raise LineError(f"'{text}': line {seq} of {self.unit} was not undone.")
                self.check_again(undone[seq])
            case _:
                pass
        if isinstance(first, (ev.Bought, ev.Offered)):
            in_currency(event, first.price.currency, f"the currency {self.unit} was bought in")
        return event

    def _undone(self) -> dict[int, Line]:
        plain = (line for line in self.lines if not isinstance(line.event, (ev.Undid, ev.Redid)))
        held = {line.seq for line in effective(self.lines)[0]}
        return {line.seq: line for line in plain if line.seq not in held}

    def check_again(self, line: Line) -> None:
        """Raises LineError if a line that was undone cannot hold again, because another unit has the part now."""
        if isinstance(line.event, ev.Fitted):
            self._with_origin(ev.render(line.event), line.event)
        elif isinstance(line.event, ev.Used):
            self._in_stock(ev.render(line.event), line.event)
        elif isinstance(line.event, (ev.Vended, ev.Scrapped)) and line.event.part != ev.UNIT:
            self._still_here(ev.render(line.event), line.event.part)
        if isinstance(line.event, (ev.Sold, ev.Dispatched, ev.Vended, ev.Scrapped, ev.Disposed)):
            leaving.may_go(self.store, ev.render(line.event), self.device, self.lines, line.event)

    def _moved(self, *others: str) -> Moves:
        """How the parts of this unit and of others moved, by this draft and the stored logs."""
        return moves_about(self.store, others, shelf=False, given={self.unit: (self.device, self.lines)})

    def _logs(self) -> Logs:
        return Logs(self.store, {self.unit: (self.device, self.lines)})

    def _still_here(self, text: str, part: str) -> None:
        """Raises LineError if no such part of this unit lies on the shelf."""
        here = sorted({one.part for one in self._moved().shelf if one.unit == self.unit})
        if part not in here:
            raise LineError(
                f"'{text}': no '{part}' of {self.unit} is on the shelf. From {self.unit}: "
                f"{', '.join(here) or 'nothing'}. Log 'harvested {part}' first."
            )

    def _in_stock(self, text: str, event: ev.Used) -> None:
        """Raises LineError if so many are not left in the lot."""
        loose.enough(text, event, loose.lots(self.store, {self.unit: self.lines}))

    def _on_the_shelf(self, text: str, part: str) -> None:
        """Raises LineError if a part that was harvested here is in another unit now."""
        found = self._moved()
        if not any((one.unit, one.part) == (self.unit, part) for one in found.shelf):
            into = [to for (to, _), one in found.taken.items() if (one.unit, one.part) == (self.unit, part)]
            raise LineError(f"'{text}': '{part}' of {self.unit} is in {into[-1]} now, not on the shelf.")

    def _with_origin(self, text: str, event: ev.Fitted) -> ev.Fitted:
        """The event with its origin as stored, if the part is there to be fitted."""
        if event.origin.lower() in ORIGINS:
            return event.model_copy(update={"origin": event.origin.lower()})
        origin = event.origin.upper()
        known = self.store.names()
        if loose.LOT.fullmatch(origin):
            raise LineError(
                f"'{text}': {origin} is a lot of loose parts. Log 'used 1 of {origin} on {event.part}', and "
                f"'fitted {event.part} from new' if that was all of '{event.part}'."
            )
        if origin not in known:
            others = sorted({*ORIGINS, *known} - {self.unit})
            raise LineError(f"'{text}': no unit '{event.origin}'. {similar(origin, others)}", nearest(origin, others))
        if origin == self.unit:
            raise LineError(f"'{text}': that is this unit. For the part that came out of it write 'from {ev.BACK}'.")
        found = self._moved(origin)
        there = [one for one in found.shelf if one.unit == origin and one.part == event.part]
        if not there:
            gone = [to for (to, _), one in found.taken.items() if one.unit == origin and one.part == event.part]
            have = ", ".join(sorted({one.part for one in found.shelf if one.unit == origin})) or "nothing"
            where = f"'{event.part}' of {origin} is in {gone[-1]} now" if gone else f"{origin} gave no '{event.part}'"
            raise LineError(
                f"'{text}': {where}. On the shelf from {origin}: {have}. "
                f"Log 'harvested {event.part}' in {origin} first, or write 'from used'."
            )
        was = known_for(replay(self.device, self.lines), event.part)
        if wrong := misfit(self.device.parts[event.part], Reader(self._logs(), found).of(there[0]), was):
            raise LineError(
                f"'{text}': {wrong} If one was misread, log 'identified {event.part} as ...' again where it was read."
            )
        return event.model_copy(update={"origin": origin})


def undo(store: Store, unit: str) -> Line:
    """Takes back the last line that holds. Raises LineError when only the purchase is left."""
    with store.writing():
        target = last_effective(store.lines(unit))
        if target is None:
            raise LineError(f"There is nothing to undo in {store.unit_id(unit)}: only its purchase is left.")
        [stored] = store.append(unit, [ev.Undid(line=target.seq)])
    return stored


def redo(store: Store, unit: str) -> Line:
    """Brings back the last line that was undone. Raises LineError when there is none or its part is elsewhere now."""
    device = store.device(unit)
    with store.writing():
        draft = Draft(store, unit, device)
        target = last_undone(draft.lines)
        if target is None:
            raise LineError(f"There is nothing to redo in {draft.unit}: no undo came last.")
        draft.check_again(target)
        [stored] = store.append(unit, [ev.Redid(line=target.seq)])
    return stored


def replayed(store: Store, unit: str) -> tuple[Device, Replay]:
    """A unit's device and its log replayed. Flags name the lines that no longer fit, here or in the donor's log."""
    device, name = store.device(unit), store.unit_id(unit)
    lines = store.lines(name)
    result = replay(device, lines)
    flags = list(result.flags)
    if any(_takes(line.event) for line in result.lines):
        given = {name: (device, lines)}
        found = moves_about(store, shelf=False, given=given)
        flags += Reader(Logs(store, given), found).flags(name, result, device.parts)
        for (to, seq), event in found.unexplained.items():
            if to == name:
                flags.append(Flag(seq, _unexplained(event)))
    return device, replace(result, flags=tuple(flags))


def _takes(event: ev.Event) -> bool:
    """Whether a line takes a part off the shelf."""
    if isinstance(event, (ev.Vended, ev.Scrapped, ev.Disposed)):
        return event.part != ev.UNIT
    return isinstance(event, ev.Fitted) and event.origin[:1].isupper()


def _unexplained(event: Taking) -> str:
    if isinstance(event, ev.Fitted):
        return (
            f"The log of {event.origin} no longer has '{event.part}' leaving it for here. "
            "It counts as a used part of which nothing is known."
        )
    return f"No '{event.part}' that left this unit is there to be {ev.render(event).split()[0]}. Its cost is not known."


def bench_settings(store: Store, up_to: int | None = None) -> BenchSettings:
    """What the bench is set to now, or was after line ``up_to`` of its log."""
    return read_settings(line for line in store.bench_lines() if up_to is None or line.seq <= up_to)


def bench_set(store: Store, key: str, value: str) -> BenchSettings:
    """Changes a setting. Returns all of them as they are then. Raises LineError that names what would be right."""
    with store.writing():
        line = setting_line(key, value, bench_settings(store))
        store.bench_append(line)
    return bench_settings(store)


def in_currency(event: ev.Event, currency: str, why: str) -> None:
    amounts = (getattr(event, name, None) for name in ("price", "amount", "worth"))
    for amount in amounts:
        if isinstance(amount, Money) and amount.currency != currency:
            raise LineError(f"'{ev.render(event)}': {amount} is not in {currency}, {why}. Convert it and book that.")
