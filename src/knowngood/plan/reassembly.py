"""The way back: everything that the log left open, unplugged, out or uncounted, in an order that can be done.

The sheet is made by logging each of its lines in thought: a line stands only where it fits the state that the lines
before it leave, and the sheet ends when nothing is open. Steps close in the reverse of the order in which they were
opened; what belongs behind a step, or is checked there, comes before it is closed.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from knowngood.handbook.quantities import format_minutes
from knowngood.log import events as ev
from knowngood.log.connections import made_by_fitting
from knowngood.log.fasteners import ANY_SORT, Balance, sorts
from knowngood.log.met import facts
from knowngood.log.misfit import misfit
from knowngood.log.state import Line, Replay, State, after
from knowngood.maps.access import reached
from knowngood.maps.device import CELL, Device
from knowngood.maps.words import SEATED
from knowngood.plan.constraints import stand_ins
from knowngood.plan.hazards import Act, StandIns, cautions, hands_near
from knowngood.plan.joints import Undone, not_swapped, thermal, torque, undone, when_making
from knowngood.plan.lifting import held_back
from knowngood.plan.moves import Move, lower
from knowngood.plan.terms import Terms
from knowngood.plan.touched import opened_in_order, remarks, unchecked


@dataclass(frozen=True)
class SheetLine:
    """One line of the sheet."""

    kind: str
    """open, wait, fit, plug, check, screw, unscrew or close."""
    target: str
    do: str
    log: str
    """The line that ticks it."""
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    held: str = ""
    """Why a hard rule forbids it as things are then; "" if none does."""
    first: str = ""
    """The line that lifts this rule, if one does."""


@dataclass(frozen=True)
class Block:
    """What comes before one step is closed, and its closing; without a step, what comes before or after all of them."""

    step: str | None
    puts: tuple[str, ...]
    """Parts that go on with the step."""
    remarks: tuple[str, ...]
    lines: tuple[SheetLine, ...]


@dataclass(frozen=True)
class Sheet:
    """The way back for a unit as its log leaves it; no blocks if nothing is left open."""

    blocks: tuple[Block, ...]
    balances: dict[str, Balance]
    """Fasteners that are not where they belong now, by step."""
    numbers: dict[str, int]
    """In which place each step was last opened, counted from 1, closed ones too."""
    log_seq: int

    @property
    def lines(self) -> tuple[SheetLine, ...]:
        return tuple(line for block in self.blocks for line in block.lines)


def reassembly(device: Device, told: Replay, terms: Terms) -> Sheet:
    """The sheet for a unit as its log leaves it."""
    made = _Making(device, told, terms, stand_ins(device, told.state, terms))
    balances = told.state.fasteners.balances(device, told.state.open_steps)
    numbers = {step: number for number, step in enumerate(opened_in_order(device, told, closed=True), start=1)}
    return Sheet(tuple(made.blocks()), balances, numbers, told.seq)


@dataclass
class _Making:
    """The state as the lines so far would leave it, and the lines of the block that is being written."""

    device: Device
    told: Replay
    terms: Terms
    others: StandIns
    lines: list[SheetLine] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.state: State = self.told.state
        self.said = remarks(self.device, self.told)
        self.to_check = set(unchecked(self.device, self.told))

    def blocks(self) -> Iterator[Block]:
        order = [*opened_in_order(self.device, self.told)]
        again = self._open_again()
        if self.lines:
            yield self._block(None)
        closing = self._closing_order([*order, *again])
        self.place = {step: number for number, step in enumerate(closing)}
        self.last = len(closing)
        self.out = undone([self.device.steps[step] for step in self.device.steps if step in self.state.open_steps])
        self._plan()
        for number, step in enumerate(closing):
            self._write(number)
            if step in self.device.steps:
                self._screw(step)
                self._close(step)
            else:
                self._close_met(step)
            yield self._block(step)
        self._write(self.last)
        if self.lines:
            yield self._block(None)

    def _block(self, step: str | None) -> Block:
        lines, self.lines = tuple(self.lines), []
        puts = self.device.steps[step].removes if step in self.device.steps else ()
        return Block(step, puts, self.said.get(step or "", ()), lines)

    # ---- what has to be open, and in which order it closes ----------------------------------------------------------

    def _open_again(self) -> tuple[str, ...]:
        """Opens what is closed over something that was left apart behind it."""
        device, state = self.device, self.state
        needed = {device.parts[one].behind for one in (*state.removed, *state.unplugged)} - {None}
        left = [step for step in state.fasteners.balances(device, state.open_steps) if step not in state.open_steps]
        for step in left:  # its fasteners sit in front of it
            needed |= set(device.way_in(state.open_steps, step)) - {step}
        steps = device.way_in(state.open_steps, *sorted(step for step in needed if step))
        for step in steps:
            near = hands_near(device, (), (), (step,), ())
            why = "something behind it was left apart"
            do = f"Open again, {why}: {device.steps[step].do}"
            self._add("open", step, do, ev.Opened(step=step), Act(near=near), own=device.steps[step].hazards)
        return steps

    def _closing_order(self, opened: list[str]) -> list[str]:
        """The last opened first, but none that an open step still needs."""
        order: list[str] = []
        left = list(opened)
        while left:
            for step in reversed(left):
                others = {one for one in left if one != step}
                known = others & self.device.steps.keys()
                behind = self.told.state.met.behind(step)
                if behind not in others and all(reached(self.device.steps[one], others) for one in known):
                    break
            left.remove(step)
            order.append(step)
        return order

    # ---- what belongs before which closing --------------------------------------------------------------------------

    def _plan(self) -> None:
        """Gives each thing to do the block that it belongs to: the last in which it can still be reached, or an earlier
        one if something else there waits for it."""
        device, state = self.device, self.state
        self.plugs = {one: self._reach(one, "unplugs") for one in state.unplugged | state.loose}
        self.fits = {one: self._reach(one, "removes") for one in state.removed}
        hangs = {part: [*device.plugs_of[part], *self._joined(part)] for part in {*self.fits, *state.curing}}
        for part in self.fits:
            self.fits[part] = min([self.fits[part], *(self._reach(one, "unplugs") for one in (part, *hangs[part]))])
        for part in sorted(self.fits, key=self._depth, reverse=True):  # an assembly before what sits on it
            above = device.parts[part].parent
            if above in self.fits:
                self.fits[above] = min(self.fits[above], self.fits[part])
        self.waits = {}
        for part in state.curing:
            own = self.fits.get(part, self._reach(part, "removes"))
            self.waits[part] = min([own, *(self.plugs[one] for one in (part, *hangs[part]) if one in self.plugs)])
        self.counts: dict[str, int] = {}
        for step in state.fasteners.balances(device, state.open_steps):
            before = (*device.steps[step].after, *(one for group in device.steps[step].any_of for one in group))
            if step not in state.open_steps:
                self.counts[step] = min((self.place[one] for one in before if one in self.place), default=self.last)

    def _reach(self, name: str, by: str) -> int:
        """The last block in which a part can be reached: before what it is behind, or what took it off, is closed."""
        behind = self.device.parts[name].behind
        steps = [one for one in self.place if one in self.device.steps and name in getattr(self.device.steps[one], by)]
        return min((self.place[step] for step in (*steps, behind) if step in self.place), default=self.last)

    def _joined(self, part: str) -> list[str]:
        """Connections to be made that a part is joined by."""
        return [one for one in self.plugs if part in self.device.parts[one].joins or part == one]

    def _depth(self, part: str) -> int:
        return len(self.device.within(part))

    # ---- the lines --------------------------------------------------------------------------------------------------

    def _write(self, block: int) -> None:
        for part in self._of(self.waits, block):
            self._wait(part)
        for part in sorted(self._of(self.fits, block), key=self._depth):
            self._fit(part)
        plugs = self._of(self.plugs, block)
        for connection in sorted(plugs, key=self._is_cells):
            self._plug(connection, plugs)
        reach = {one: self._reach(one, "unplugs") for one in self.to_check}
        for connection in self._of(reach, block):
            if self._can_check(connection):
                self._check(connection)
        for step in self._of(self.counts, block):
            self._screw(step)

    def _of(self, places: dict[str, int], block: int) -> list[str]:
        names = [*self.device.parts, *self.device.steps]
        return [name for name in dict.fromkeys(names) if places.get(name) == block]

    def _is_cells(self, connection: str) -> bool:
        """Whether it is the plug of a pack, which goes in last."""
        return any(CELL in self.device.parts[one].hazards for one in self.device.parts[connection].joins)

    def _can_check(self, connection: str) -> bool:
        """Whether its check exists, and nothing closed is in front of it."""
        behind = self.device.parts[connection].behind
        return (
            f"{connection}.{SEATED}" in self.device.tests
            and connection not in self.state.apart
            and (behind is None or behind in self.state.open_steps)
        )

    def _wait(self, part: str) -> None:
        left = self.state.curing.get(part)
        if left is not None:  # waiting for another one may have been long enough
            minutes = math.ceil(round(left * 10, 6)) / 10
            do = f"Wait {format_minutes(minutes)}: {self.device.parts[part].what} cures, nothing pulls at it before"
            self._add("wait", part, do, ev.Waited(wait=minutes), Act())

    def _fit(self, part: str) -> None:
        about, state = self.device.parts[part], self.told.state
        origin = ev.BACK
        notes = [thermal(about)]
        if part in state.harvested:  # even if another came along by now with what it sits on
            coming = state.incoming
            order = coming.arrived.get(part)
            origin = order.condition if order else coming.reserved.get(part, "used")
            notes.append("the one that was in left this unit; log where this one is from, and its price")
        near = hands_near(self.device, (part,), (), (), ())
        act = Act(touches=frozenset({part}), near=near)
        do = f"Fit: {about.what}"
        self._add("fit", part, do, ev.Fitted(part=part, origin=origin), act, notes, own=())
        self.to_check |= set(made_by_fitting(self.device, part))

    def _plug(self, connection: str, beside: Iterable[str]) -> None:
        marked = when_making(self.device, connection, [*beside, *self.told.state.touched])
        near = hands_near(self.device, (connection,), (), (), ())
        act = Act(touches=frozenset({connection}), near=near)
        do = f"Plug: {marked.what}"
        self._add("plug", connection, do, ev.Plugged(connection=connection), act, marked.marks)
        self.to_check.add(connection)

    def _check(self, connection: str) -> None:
        test = self.device.tests[f"{connection}.{SEATED}"]
        act = Act(touches=frozenset({connection}), near=hands_near(self.device, (connection,), test.hazards, (), ()))
        apart = not_swapped(self.device, connection, self.state.touched)
        do = f"Check {self.device.parts[connection].what}: {lower(test.do)}{apart}"
        self._add("check", connection, do, ev.Found(test=test.id, outcome=test.outcomes[0]), act, own=test.hazards)
        self.to_check.discard(connection)

    def _screw(self, step: str) -> None:
        state = self.state
        balance = state.fasteners.balances(self.device, state.open_steps).get(step)
        if balance is None:
            return
        known: dict[str, list[Undone]] = {}
        for one in self.out.get(step, undone([self.device.steps[step]])[step]):
            known.setdefault(one.sort, []).append(one)
        for sort in sorted(balance.missing, key=[*known, *balance.missing].index):
            count = balance.missing[sort]
            named = f"{abs(count)} x {sort}" if sort != ANY_SORT else str(abs(count))
            counted = {"step": step, "count": abs(count), "sort": sort or None}
            if count > 0:
                do = f"Screws of {step}: {named} in"
                self._add("screw", step, do, ev.Screwed(**counted), Act(), self._about(step, sort, known, balance))
            else:
                do = f"Screws of {step}: {named} out, more went in than came out"
                self._add("unscrew", step, do, ev.Unscrewed(**counted), Act(), ["is a wrong one in a hole?"])

    def _about(self, step: str, sort: str, known: dict[str, list[Undone]], balance: Balance) -> Iterator[str]:
        """Where fasteners go, with what they must not be mixed, how tight, and by whose count."""
        if sort == ANY_SORT:
            listed = ", ".join(f"{count} x {one}" for one, count in sorts(self.device.steps[step]).items())
            yield f"of these: {listed}" if listed else "the map names no sort"
        ones = known.get(sort, [])
        if where := [f"{one.count} at {one.where}" for one in ones if one.where]:
            yield ", ".join(where)
        yield from dict.fromkeys(one.driver for one in ones)
        yield from dict.fromkeys(one.odd for one in ones)
        if not ones and sort != ANY_SORT:
            yield "not on the map"
        tight = torque(sort.partition("x")[0])
        yield f"torque: {tight}" if tight else ""
        yield "the map's figure: no line counted them" if sort in balance.by_map else "as counted"

    def _close(self, step: str) -> None:
        near = hands_near(self.device, (), (), (), (step,))
        about = self.device.steps[step]
        notes = [thermal(self.device.parts[part]) for part in about.removes]
        do = f"Close {step}" + (f": {', '.join(about.removes)} on" if about.removes else "")
        self._add("close", step, do, ev.Closed(step=step), Act(near=near), notes, own=about.hazards)

    def _close_met(self, step: str) -> None:
        """A step that is on no map: what it holds and what lies behind it stands in the log alone."""
        out = facts(self.device, ((one.seq, one.event, before.open_steps) for one, before in self._lines()))[step].out
        counted = ", ".join(f"{count} x {sort}" if sort else str(count) for sort, count in out.items() if count)
        notes = ["met, and not on this map", f"its screws, as counted: {counted}" if counted else ""]
        self._add("close", step, f"Close {step}", ev.Closed(step=step), Act(), notes)

    def _lines(self) -> Iterator[tuple[Line, State]]:
        yield from zip(self.told.lines, self.told.before, strict=True)

    def _add(
        self,
        kind: str,
        target: str,
        do: str,
        event: ev.Event,
        act: Act,
        notes: Iterable[str] = (),
        own: Iterable[str] = (),
    ) -> None:
        problem = misfit(self.device, self.state, event)
        assert problem is None, problem  # a line of the sheet always fits the lines before it
        move = Move(kind, target, do, 0.0, 0.0, act)
        held, first = held_back(self.device, self.state, self.terms, move, self.others)
        said = self.said.get(target, ()) if kind in ("fit", "plug") else ()
        self.lines.append(
            SheetLine(
                kind,
                target,
                do,
                ev.render(event),
                (*(note for note in notes if note), *said),
                cautions(self.device, self.state, act, own),
                held,
                first,
            )
        )
        self.state = after(self.device, self.state, event, 0)
