"""A person's hands at the bench of ``month.py``: what is done goes to the log, what comes of it is drawn.

Every unit has its faults hidden in it (``plan.rehearse``). A move is carried out on what is hidden, and its lines go to
the store by the function that the command line calls; whatever a hard rule asks for comes first.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

from knowngood.bench import work
from knowngood.bench.store import Store
from knowngood.handbook.quantities import Money
from knowngood.log import events as ev
from knowngood.log.state import State, replay
from knowngood.log.takes import TAKE_OUT_MINUTES
from knowngood.maps.device import Device
from knowngood.plan.access import way
from knowngood.plan.hazards import Act, hands_near
from knowngood.plan.moves import Move, remedies_here, test_move
from knowngood.plan.opening import close_move
from knowngood.plan.policies import Situation
from knowngood.plan.rehearse import HiddenUnit
from knowngood.plan.terms import InStock, Terms

PAPER = (ev.Planned, ev.Reserved, ev.Ordered, ev.Arrived, ev.Released)
"""Lines that change nothing on the unit itself."""


SAFETY_TEST = (
    *("stated cord detachable 1.8 m 0.75 mm2", "stated metal earthed", "inspected visual passed in 2 min"),
    "measured protective-earth 0.14 ohm by fluxa under german in 1 min",
    "measured insulation 48 Mohm by fluxa at 500 V against 1 Mohm under german in 1 min",
    "measured protective-current 0.6 mA by fluxa under german in 2 min",
    "inspected function passed in 2 min",
)


def euros(cents: int) -> str:
    return str(Money("EUR", cents))


@dataclass
class Piece:
    """A unit on the bench, and what is hidden in it."""

    id: str
    hidden: HiddenUnit
    terms: Terms
    mends: tuple[tuple[str, str], ...] = ()
    """How the plan would have needs met without a part from somewhere: parts, and a remedy or ``buy`` (in town)."""

    @property
    def device(self) -> Device:
        return self.hidden.device

    def now(self) -> Situation:
        return Situation(self.device, self.hidden.replayed, self.terms)


@dataclass
class Hands:
    """One person, the bench's store, and a till of its own to hold the ledger against."""

    store: Store
    till: list[tuple[str, int]] = field(default_factory=list)
    """What was got, and paid (below zero), in cents, written down apart from the logs; the unit comes first."""
    pieces: dict[str, Piece] = field(default_factory=dict)
    moved: set[tuple[str, str]] = field(default_factory=set)
    """Parts that have left the unit they came in."""

    def log(self, piece: Piece, *texts: str) -> None:
        """Lines as typed: to the store, and to the hidden unit, which they may change."""
        for line in work.log_lines(self.store, piece.id, texts):
            if not isinstance(line.event, PAPER):
                piece.hidden.log(line.event)

    def pay(self, piece: Piece, cents: int, why: str) -> None:
        self.till.append((f"{piece.id} {why}", -cents))
        self.log(piece, f"paid {euros(cents)} for {why}")

    def here(self) -> list[str]:
        """Units that have not left the bench."""
        return [unit for unit in self.pieces if not self.state(unit).exit]

    def cash(self) -> int:
        """Cents in the till."""
        return sum(cents for _, cents in self.till)

    def minutes(self) -> float:
        """Hands-on minutes so far."""
        return sum(self.state(unit).minutes for unit in self.pieces)

    def state(self, unit: str) -> State:
        return replay(self.store.device(unit), self.store.lines(unit)).state

    def carry_out(self, piece: Piece, move: Move) -> None:
        """Does a move, its access first; what comes of it is drawn from what is hidden."""
        before = len(piece.hidden.lines)
        piece.hidden.carry_out(move)
        work.log_lines(self.store, piece.id, [ev.render(line.event) for line in piece.hidden.lines[before:]])
        if move.kind == "replace" and move.remedy and move.remedy.materials:  # the line that fits it books the part
            self.log(piece, f"paid {move.remedy.materials} for what it takes to fit the {move.target}")
        if move.materials:
            self.till.append((f"{piece.id} {move.name}", -round(100 * move.materials)))

    def do(self, piece: Piece, make: Callable[[State], Move | None]) -> bool:
        """Does a move, and before it whatever a hard rule asks for. False if it cannot be done."""
        for _ in range(12):
            now = piece.now()
            move = make(now.state)
            step = now.first_allowed(iter([move])) if move else None
            if step is None:
                return False
            self.carry_out(piece, step)
            if step is move:
                return True
        return False

    def harvest(self, giver: Piece, part: str) -> bool:
        """Takes a part out for the shelf. False if it is gone, or cannot be had without breaking a hard rule."""
        device = giver.device

        def taken_out(state: State) -> Move:
            there = way(device, state, device.parts[part].behind)
            near = hands_near(device, (part,), (), there.opens, ())
            act = Act(touches=frozenset({part}), near=near, takes_out=part)
            minutes = there.minutes + TAKE_OUT_MINUTES
            return Move("take-out", part, "", minutes, 0.0, act, opens=there.opens, log=f"harvested {part}")

        assert (giver.id, part) not in self.moved, f"{part} of {giver.id} was taken twice"
        with_its_board = any((giver.id, one) in self.moved for one in device.within(part))
        if with_its_board or part in giver.hidden.replayed.state.removed or not self.do(giver, taken_out):
            return False
        self.moved.add((giver.id, part))
        return True

    def fit(self, piece: Piece, part: str, origin: str | None) -> bool:
        """Puts another part in, from a unit, ``new`` or ``used`` and paid already, or (None) bought in town."""
        bench = replace(piece.terms, stock={part: InStock(origin, 0.0)} if origin else {})

        def replaced(state: State) -> Move | None:
            made = remedies_here(piece.device, state, bench, piece.device.parts[part])
            return next((one for one in made if one.kind == "replace"), None)

        giver = self.pieces.get(origin or "")
        mode = giver.hidden.modes.get(part) if giver else None
        if not self.do(piece, replaced):
            return False
        if giver:  # what is put in is the very part that came out there
            states = piece.device.parts[part].states
            piece.hidden.values[piece.hidden.story.now[part]] = states.index(mode) if mode in states else 0
        return True

    def mend(self, piece: Piece, part: str, name: str) -> None:
        def mended(state: State) -> Move | None:
            made = remedies_here(piece.device, state, piece.terms, piece.device.parts[part])
            return next((one for one in made if one.remedy and one.remedy.name == name), None)

        self.do(piece, mended)

    def wipe(self, piece: Piece, part: str, how: str) -> None:
        """Removes the last owner's data before a part, or the unit, leaves."""
        if any(part == ev.UNIT or part in piece.device.within(one) for one in piece.device.data_parts):
            self.log(piece, f"wiped {part} by {how}")

    def tested_safe(self, piece: Piece) -> None:
        """The safety test of a mains unit, the last electrical act (its readings are invented)."""
        if piece.device.power == "mains":
            self.log(piece, *SAFETY_TEST)

    def proven(self, piece: Piece) -> bool:
        """Closes it and tries what is promised, the quickest first, up to the first that is not as it should be."""
        if piece.now().state.open_steps:
            self.do(piece, lambda state: close_move(piece.device, state))
        for one in piece.now().tries():
            known = len(piece.hidden.lines)
            made = self.do(piece, lambda state, one=one: test_move(piece.device, state, one.test))
            results = [line.event for line in piece.hidden.lines[known:] if isinstance(line.event, ev.Tried)]
            if not made or any(one.outcome != "works" for one in results):
                return False
        return piece.now().state.proven >= set(piece.device.wanted)
