"""The state that replaying a unit's log gives. Pure and total: a line that does not fit is flagged, never an error."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

from knowngood.handbook.quantities import Money
from knowngood.log import events as ev
from knowngood.log.bookings import Booking, booked
from knowngood.log.coming_back import Sales
from knowngood.log.effect import effect, rested
from knowngood.log.fasteners import Fasteners
from knowngood.log.incoming import Incoming
from knowngood.log.intake import HANDS, Intake
from knowngood.log.leaving import Leaving
from knowngood.log.listing import Listing
from knowngood.log.met import Met
from knowngood.log.misfit import misfit
from knowngood.log.ruled_out import RuledOut
from knowngood.log.takes import taken
from knowngood.maps.device import Device

ACTS = (
    *(ev.Opened, ev.Closed, ev.Unplugged, ev.Plugged, ev.Removed, ev.Harvested, ev.Fitted, ev.Mended),
    *(ev.Began, ev.Dried, ev.Past, ev.Received, ev.Returned),
)
"""Events after which what worked before has to be shown again."""


@dataclass(frozen=True)
class Line:
    """One line of a unit's log with what it was computed against."""

    seq: int
    time: str
    event: ev.Event
    bench_seq: int = 0
    map_hash: str = ""
    version: str = ""

    def __hash__(self) -> int:  # enough to tell lines of one log apart; what is equal is decided by all fields
        return hash((self.seq, self.time))

    def __str__(self) -> str:
        return f"{self.seq} {self.time} {ev.render(self.event)}"


@dataclass(frozen=True)
class Flag:
    """A line that no longer fits what came before it: kept, shown, and without effect."""

    seq: int
    message: str


@dataclass(frozen=True)
class State:
    """What is so at the bench after some line."""

    past: tuple[str, ...] = ()
    asked_seller: bool = False
    open_steps: frozenset[str] = frozenset()
    unplugged: frozenset[str] = frozenset()
    """Connections taken apart on purpose, by a line of their own: they mask what hangs on them."""
    loose: frozenset[str] = frozenset()
    """Connections that an open step took apart; a test made meanwhile had what it needed plugged in."""
    removed: frozenset[str] = frozenset()
    harvested: frozenset[str] = frozenset()
    origin: dict[str, str] = field(default_factory=dict)
    """Where the part that sits in a slot now came from, if it is not the one that was bought."""
    seen: dict[str, tuple[str, ...]] = field(default_factory=dict)
    """Conditions found on what sits in a slot now, oldest first."""
    touched: tuple[str, ...] = ()
    """Connections made again since purchase, the last touched last."""
    mended: dict[str, tuple[str, ...]] = field(default_factory=dict)
    """Remedies done on what sits in a slot now; a connection that was made again since has none."""
    curing: dict[str, float] = field(default_factory=dict)
    """Parts that were worked on and may not be used yet, with the minutes still to wait."""
    discharged: frozenset[str] = frozenset()
    """Parts whose charge was let off and measured, with no power on the unit since."""
    shorted: frozenset[str] = frozenset()
    """Rails whose last reading to ground was a short."""
    over: frozenset[str] = frozenset()
    """Rails that once read above their limits."""
    wet: bool = False
    """Liquid got in, or something was seen wet, and the unit was not dried since."""
    drying: float | None = None
    """Minutes that the unit still dries since it was washed, 0 once that is over; None if it does not."""
    powered: bool = False
    """The unit had power since it came in and since the last act on it."""
    proven: frozenset[str] = frozenset()
    """Functions that worked when last tried, with no act on the unit since."""
    checked: frozenset[str] = frozenset()
    """General checks before power that were made with no act on the unit since."""
    fasteners: Fasteners = field(default_factory=Fasteners)
    met: Met = field(default_factory=Met)
    declared: frozenset[str] = frozenset()
    prices: dict[str, Money] = field(default_factory=dict)
    """What a way out would bring, where a line says so: working, as-is, parts."""
    ruled_out: RuledOut = field(default_factory=RuledOut)
    incoming: Incoming = field(default_factory=Incoming)
    leaving: Leaving = field(default_factory=Leaving)
    intake: Intake = field(default_factory=Intake)
    sales: Sales = field(default_factory=Sales)
    listing: Listing = field(default_factory=Listing)
    planned: str | None = None
    """What is to become of the unit by the plan of the shelf that was accepted last."""
    revisions: dict[str, str] = field(default_factory=dict)
    """Revision of what sits in a slot now, where it was read off."""
    bookings: tuple[Booking, ...] = ()
    minutes_logged: float = 0.0
    minutes_assumed: float = 0.0
    """Hands-on time by the map's figures, where the lines give none."""
    waited: float = 0.0
    exit: str | None = None
    """How it left the bench: sold ``working`` or ``as-is``, given up for its ``parts``, ``scrapped``. None while it is
    here, or here again."""

    @property
    def minutes(self) -> float:
        return self.minutes_logged + self.minutes_assumed

    @property
    def apart(self) -> frozenset[str]:
        """Connections that are not made, and what is out."""
        return self.unplugged | self.loose | self.removed

    @property
    def closed(self) -> bool:
        return not self.open_steps

    def is_out(self, part: str) -> bool:
        """Whether such a part of the unit is out of it: it, or the one that another took the place of."""
        return part in self.removed or part in self.origin or self.exit in ("parts", "scrapped")

    @property
    def ajar(self) -> tuple[str, ...]:
        """The steps that are open, those that were met and are on no map among them."""
        return (*sorted(self.open_steps), *self.met.opened)


@dataclass(frozen=True)
class Replay:
    """A log replayed: ``before[i]`` is the state before ``lines[i]``; ``state`` the state after all."""

    lines: tuple[Line, ...]
    before: tuple[State, ...]
    state: State
    flags: tuple[Flag, ...]
    seq: int
    """Sequence number of the last line, undone ones and undos included; 0 for an empty log."""
    now: str = ""
    """The time at which ``state`` is so, if time went by since the last line."""


def effective(lines: Iterable[Line]) -> tuple[list[Line], list[Flag]]:
    """The lines that hold: those not taken back, without the undos and redos themselves."""
    kept = list(lines)
    by_seq = {line.seq: line for line in kept}
    undone: set[int] = set()
    flags: list[Flag] = []
    for line in kept:
        event = line.event
        if isinstance(event, (ev.Undid, ev.Redid)):
            target = by_seq.get(event.line)
            if target is None or event.line >= line.seq or isinstance(target.event, (ev.Undid, ev.Redid)):
                flags.append(Flag(line.seq, f"There is no line {event.line} that could be taken back."))
            elif isinstance(event, ev.Undid):
                undone.add(event.line)
            else:
                undone.discard(event.line)
    plain = [one for one in kept if one.seq not in undone and not isinstance(one.event, (ev.Undid, ev.Redid))]
    return plain, flags


def as_of(told: Replay, now: str) -> Replay:
    """The log as it stands some time after its last line, with what cured meanwhile."""
    lain = minutes_between(told.lines[-1].time, now)
    return replace(told, state=rested(told.state, lain), now=now)


def considered(device: Device, told: Replay, events: Iterable[ev.Event]) -> Replay:
    """The log with lines after its last that are only thought of, at the time at which it is looked at."""
    lines = [Line(told.seq + number, told.now, event) for number, event in enumerate(events, start=1)]
    return replace(replay(device, [*told.lines, *lines]), now=told.now)


def replay(device: Device, lines: Iterable[Line]) -> Replay:
    """The state before each effective line, and after all of them."""
    return gone_through(device, list(lines)).told


@dataclass(frozen=True)
class Course:
    """A log replayed, so that it can be gone on with."""

    told: Replay
    last: Line | None
    """The last effective line, whether it fits or not."""


def gone_through(device: Device, lines: Sequence[Line]) -> Course:
    """A whole log replayed."""
    plain, flags = effective(lines)
    seq = max((line.seq for line in lines), default=0)
    return gone_on(device, Course(Replay((), (), State(), tuple(flags), seq), None), plain)


def gone_on(device: Device, course: Course, plain: Iterable[Line]) -> Course:
    """The same log with more lines, of which none takes a line back or brings one again."""
    told, last = course.told, course.last
    state, seq = told.state, told.seq
    lines, before, flags = list(told.lines), list(told.before), list(told.flags)
    for line in plain:
        problem = misfit(device, state, line.event)
        if problem:
            flags.append(Flag(line.seq, problem))
        else:
            lines.append(line)
            before.append(state)
            state = after(device, rested(state, _lain(last, line)), line.event, line.seq)
        last, seq = line, max(seq, line.seq)
    return Course(Replay(tuple(lines), tuple(before), state, tuple(flags), seq), last)


def _lain(last: Line | None, line: Line) -> float:
    """Minutes that the unit lay between two lines, by their times; those that the second says itself are left out."""
    lain = minutes_between(last.time, line.time) if last else 0.0
    return max(0.0, lain - line.event.wait) if isinstance(line.event, ev.Waited) else lain


def minutes_between(earlier: str, later: str) -> float:
    """Minutes from one time of a log to another; none where a time is not given."""
    try:
        return max(0.0, (datetime.fromisoformat(later) - datetime.fromisoformat(earlier)).total_seconds() / 60.0)
    except ValueError:
        return 0.0


def after(device: Device, state: State, event: ev.Event, seq: int) -> State:
    """The state after an event that fits."""
    act = isinstance(event, ACTS) or (isinstance(event, ev.Met) and event.sort == "step")
    acted = replace(state, proven=frozenset(), checked=frozenset(), powered=False) if act else state
    if isinstance(event, HANDS):
        acted = replace(acted, intake=acted.intake.acted(seq))
    if act or isinstance(event, (ev.Discharged, ev.Used)):
        acted = replace(acted, leaving=state.leaving.acted(device, event, seq))
        if isinstance(event, (ev.Received, ev.Returned)):  # back again: it will be shown to other buyers
            acted = replace(acted, listing=Listing())
    elif isinstance(event, (ev.Stated, ev.Inspected, ev.Measured, ev.Wiped, ev.Checked, ev.Overrode)):
        acted = replace(acted, leaving=state.leaving.after(device, event, seq))
    elif isinstance(event, (ev.Graded, ev.Listed)):
        acted = replace(acted, listing=state.listing.after(event, seq, state.declared))
    return booked(taken(device, effect(device, acted, event, seq), state, event), event, seq)


def last_effective(lines: Iterable[Line]) -> Line | None:
    """The line that an undo takes back: the last that holds, but never the purchase."""
    plain, _ = effective(lines)
    return next((line for line in reversed(plain) if not isinstance(line.event, (ev.Bought, ev.Offered))), None)


def last_undone(lines: Iterable[Line]) -> Line | None:
    """The line that a redo brings back: the last taken back, unless a new line came after the undo."""
    given = list(lines)
    undone: list[int] = []
    for line in given:
        if isinstance(line.event, ev.Undid):
            undone.append(line.event.line)
        elif isinstance(line.event, ev.Redid):
            undone = [one for one in undone if one != line.event.line]
        else:
            undone = []
    return next((line for line in given if undone and line.seq == undone[-1]), None)
