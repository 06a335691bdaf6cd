"""Looks, tests and remedies as moves: what each costs, what it takes and touches, and how to log it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from knowngood.belief.priors import NEW, USED, Vector, fitted, mended, replaced
from knowngood.handbook.quantities import format_expected, money_of, percent
from knowngood.log import events as ev
from knowngood.log.connections import made_by_fitting
from knowngood.log.state import State
from knowngood.log.takes import LOOK_MINUTES
from knowngood.maps.device import AnyMode, Device, Part, PartModes, RailToGround, RailVoltage, Remedy, Test
from knowngood.plan.access import after_access, warnings, way
from knowngood.plan.constraints import moved_alone, out_of_reach
from knowngood.plan.hazards import Act, StandIns, hands_near, precautions
from knowngood.plan.terms import PRICE_UNKNOWN_SHARE, SMALL_PRICE_SHARE, InStock, Terms

KIND_OF_VERB = {"read": "measure", "tried": "try", "found": "test"}
FASTENERS = "fasteners"
"""The kind of a set of screws."""

WORTH_A_LOOK = 0.01
"""Parts less likely than this to stop anything are not worth a look or a test of their own."""


@dataclass(frozen=True)
class Move:
    """Something that the person could do next."""

    kind: str
    """ask, look, measure, try, test, mend, replace, discharge, dry, take-out, open, close, unplug, plug, wait, sell,
    sell-as-is or part-out."""
    target: str
    do: str
    minutes: float
    """Hands-on, opening and closing on the way included."""
    materials: float
    """Money for parts and materials, in the terms' currency."""
    act: Act
    opens: tuple[str, ...] = ()
    closes: tuple[str, ...] = ()
    log: str = ""
    """The line to log, or its start where the outcome follows."""
    cautions: tuple[str, ...] = ()
    precautions: tuple[str, ...] = ()
    """What must be in place; without it a hard rule forbids the move."""
    remark: str = ""
    remedy: Remedy | None = None
    source: InStock | None = None
    """Where a replacement comes from."""
    test: Test | None = None
    wait: float = 0.0
    """Minutes without hands: cooling on the way, curing after it."""
    tools: tuple[str, ...] = ()
    disturbs: tuple[str, ...] = ()
    """Connections that it takes apart or makes again, and the part if the remedy may spoil it."""
    then: Move | None = None
    """What a wait is for."""
    hurries: bool = False
    """It comes first, whatever it is worth and whatever becomes of the unit: harm goes on until it is done."""

    @property
    def name(self) -> str:
        return f"{self.kind} {self.target}".strip()

    def cost(self, terms: Terms) -> float:
        """Minutes at the bench's rate, and materials."""
        return self.minutes * terms.rate + self.materials + terms.dearer.get(self.log, 0.0)


def possible_tests(device: Device, state: State, terms: Terms) -> list[Test]:
    """Tests of what is there, with tools that are."""
    return [
        test for test in tests_here(device, state) if out_of_reach(state, terms, test_move(device, state, test)) is None
    ]


def tests_here(device: Device, state: State) -> list[Test]:
    """Tests of what is there now."""
    return [
        test
        for test in device.tests.values()
        if not (isinstance(test.senses, PartModes) and test.senses.part in state.removed)
    ]


def test_move(device: Device, state: State, test: Test, others: StandIns = None) -> Move:  # noqa: PT028 (no test)
    """A test as a move; ``others`` are the parts in whose place another can be put (``constraints.stand_ins``)."""
    there = way(device, state, test.behind, closed=test.closed)
    touched: frozenset[str] = frozenset()
    if isinstance(test.senses, PartModes) and test.power == "off":
        touched = frozenset({test.senses.part})
    if isinstance(test.senses, AnyMode) and test.power == "off":
        touched = frozenset(part for part, _ in test.senses.modes)
    probed = device.loads_of[test.senses.function] if isinstance(test.senses, RailToGround) else ()
    own = test.hazards if test.power == "off" else ()
    near = hands_near(device, touched, own, there.opens, there.closes) | frozenset(probed)
    act = Act(power=test.power, feeds=test.feeds, touches=touched, near=near)
    stated = precautions(device, after_access(state, there.opens, there.closes), act, others)
    act = replace(act, stated=frozenset(stated))
    return Move(
        kind=KIND_OF_VERB[test.verb],
        target=test.id,
        do=test.do,
        minutes=there.minutes + test.minutes,
        materials=0.0,
        act=act,
        opens=there.opens,
        closes=there.closes,
        log=f"{test.verb} {test.id}",
        cautions=warnings(device, state, act, test.hazards, there),
        precautions=tuple(stated.values()),
        remark=_rests_on(device, test),
        test=test,
        wait=there.wait,
        tools=_together(there.tools, test.tools),
        disturbs=there.disturbs,
    )


def _rests_on(device: Device, test: Test) -> str:
    """What a reading is held to, where the map has that from the handbook."""
    if not isinstance(test.senses, (RailVoltage, RailToGround)):
        return ""
    expected = device.functions[test.senses.function].expected[test.senses.key]
    return f"Expect {format_expected(expected)}, by {expected.rests_on}." if expected.rests_on else ""


def look_move(device: Device, state: State, part: Part) -> Move:
    """A close look at a part."""
    there = way(device, state, part.behind)
    act = Act(near=hands_near(device, (), (), there.opens, ()))
    return Move(
        kind="look",
        target=part.id,
        do=f"Look closely at the {lower(part.what)}",
        minutes=there.minutes + LOOK_MINUTES,
        materials=0.0,
        act=act,
        opens=there.opens,
        log=f"saw {part.id}",
        cautions=warnings(device, state, act, (), there),
        wait=there.wait,
        tools=there.tools,
        disturbs=there.disturbs,
    )


def remedy_moves(device: Device, state: State, terms: Terms, part: Part) -> list[Move]:
    """What can be done to a part: its remedies, and another part in its place."""
    return available(device, state, terms, remedies_here(device, state, terms, part))


def available(device: Device, state: State, terms: Terms, moves: Iterable[Move]) -> list[Move]:
    """Those of the remedies for which tool and part are to be had."""
    return [move for move in moves if not (out_of_reach(state, terms, move) or moved_alone(device, state, move))]


def remedies_here(
    device: Device, state: State, terms: Terms, part: Part, at_parts: dict[tuple[str, str], Move] | None = None
) -> list[Move]:
    """What could be done to a part if every tool and every part were to be had. ``at_parts``: what no terms have a part
    in, by part and remedy, as far as it is known for this state; what is not is added."""
    known = at_parts if at_parts is not None else {}
    return [
        _remedy_move(device, state, terms, part, remedy, known)
        for remedy in part.remedies
        # What was done to the part once and did not help is not proposed again; the person may do it all the same.
        if remedy.part or (part.id not in state.removed and remedy.name not in state.mended.get(part.id, ()))
    ]


def _remedy_move(
    device: Device, state: State, terms: Terms, part: Part, remedy: Remedy, known: dict[tuple[str, str], Move]
) -> Move:
    which = part.id, remedy.name
    if which not in known:
        known[which] = _at_the_part(device, state, part, remedy)
    move = known[which]
    return _replacing(device, terms, part, move, *_source(device, terms, part)) if remedy.part else move


def _at_the_part(device: Device, state: State, part: Part, remedy: Remedy) -> Move:
    """A remedy as a move, but for where another part comes from."""
    there = way(device, state, part.behind)
    near = hands_near(device, (part.id,), remedy.hazards, there.opens, ())
    act = Act(touches=frozenset({part.id}), near=near, takes_out=part.id if remedy.part else None)
    disturbed = (*there.disturbs, *((part.id,) if remedy.spoils else ()))
    return Move(
        kind="mend",
        target=part.id,
        do=f"{remedy.do} ({part.what})",
        minutes=there.minutes + remedy.minutes,
        materials=remedy.materials.major if remedy.materials else 0.0,
        act=act,
        opens=there.opens,
        log=f"mended {part.id} {remedy.name}" + (f" for {remedy.materials}" if remedy.materials else ""),
        cautions=warnings(device, state, act, remedy.hazards, there),
        remedy=remedy,
        wait=there.wait + remedy.wait,
        tools=_together(there.tools, remedy.tools),
        disturbs=_together(disturbed),
    )


def replacements(device: Device, state: State, terms: Terms, part: Part, sources: Iterable[InStock]) -> list[Move]:
    """Another part in its place, from each of these sources; none where its kind has no such remedy, or a tool for it
    is not to be had."""
    if part.swap is None:
        return []
    move = _at_the_part(device, state, part, part.swap)
    moves = [_replacing(device, terms, part, move, source, "") for source in sources]
    return [move for move in moves if out_of_reach(state, terms, move) is None]


def _replacing(device: Device, terms: Terms, part: Part, move: Move, source: InStock, remark: str) -> Move:
    price = f" for {money_of(terms.currency, source.price)}" if source.price else ""
    assert move.remedy is not None
    return replace(
        move,
        kind="replace",
        do=f"{move.remedy.do} ({part.what}, {_from(source.origin)})",
        materials=move.materials + source.price,
        log=f"fitted {part.id} from {source.origin}{price}",
        remark=remark,
        source=source,
        disturbs=_together(move.disturbs, made_by_fitting(device, part.id)),
    )


def _together(*names: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(name for some in names for name in some))


def _from(origin: str) -> str:
    return origin if origin in ev.TO_BUY else f"from {origin}"


def _source(device: Device, terms: Terms, part: Part) -> tuple[InStock, str]:
    """Where a replacement comes from, and what is to be said of it: the least money for the chance that it is fine."""
    said = []
    sources = bought_by_the_map(part)
    if part.id in terms.stock:
        sources.append(terms.stock[part.id])
    if not sources:
        sources.append(InStock(USED, guessed_price(device, part)))
        said.append(f"The map gives no price for it: taken as {money_of(terms.currency, sources[0].price)}.")
    minutes = part.swap.minutes if part.swap else 0.0
    best = min(sources, key=lambda one: (one.price + minutes * terms.rate) / max(1e-9, fresh_states(part, one)[0]))
    if best.origin not in (NEW, USED):
        said.append(
            f"The one from {best.origin} is {percent(float(fresh_states(part, best)[0]))} likely to be fine itself"
            + (f"; {best.remark}." if best.remark else ".")
        )
    return best, " ".join(said)


def bought_by_the_map(part: Part) -> list[InStock]:
    """Where a part can be bought at the map's prices: used, new."""
    return [InStock(name, price.major) for name, price in ((USED, part.price.used), (NEW, part.price.new)) if price]


def guessed_price(device: Device, part: Part) -> float:
    """What a part is taken to cost where nothing gives a price: a connection or a set of screws little."""
    share = SMALL_PRICE_SHARE if part.is_connection or part.kind == FASTENERS else PRICE_UNKNOWN_SHARE
    return share * device.worth.working.major


def fresh_states(part: Part, source: InStock) -> Vector:
    """Chances of the states of a replacement as it comes, shape (states,).

    One from the shelf may be bad itself. A bought one that is bad is taken to be sent back for another.
    """
    if source.states is not None:
        return np.array(source.states)
    return np.eye(len(part.states))[0] if source.origin in (NEW, USED) else fitted(part, source.origin)


def after_remedy(part: Part, move: Move) -> NDArray[np.float64]:
    """What a remedy does to the part's states, shape (states before, states after): a replacement may be bad itself."""
    assert move.remedy is not None
    if move.source is None:
        return mended(part, move.remedy)
    return replaced(part, move.remedy, fresh_states(part, move.source))


def way_there(move: Move, state: State) -> list[ev.Event]:
    """What is closed and opened before a move."""
    closes = not state.open_steps.isdisjoint(move.closes)
    opens = [ev.Opened(step=step) for step in move.opens]
    return [*([ev.Closed(step=ev.ALL)] if closes else []), *opens]


def done_by(move: Move) -> ev.Event:
    """What a move that asks nothing writes into the log; of a charge that it could be let off."""
    return ev.parse(move.log if move.kind != "discharge" else f"{move.log} 1 V")


def lower(text: str) -> str:
    """The text as it stands inside a sentence."""
    return text[:1].lower() + text[1:] if text[1:2].islower() else text
