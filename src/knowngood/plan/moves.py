"""Every move that the map and the state allow, with its cost, what it touches and how to log it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from knowngood.belief.believe import Belief
from knowngood.handbook.quantities import money_of, percent
from knowngood.log.state import DISCHARGE_MINUTES, DRY_MINUTES, LOOK_MINUTES, TAKE_OUT_MINUTES, State, one_node
from knowngood.maps.device import AnyMode, Device, Part, PartModes, RailToGround, Remedy, Test
from knowngood.plan.hazards import EVERYTHING, Act, Breach, StandIns, breaches, cautions, hands_near, precautions
from knowngood.plan.terms import PRICE_UNKNOWN_SHARE, InStock, Terms

KIND_OF_VERB = {"read": "measure", "tried": "try", "found": "test"}
WORTH_A_LOOK = 0.01
"""Parts less likely than this to stop anything are not worth a look or a test of their own."""


@dataclass(frozen=True)
class Move:
    """Something that the person could do next."""

    kind: str
    """look, measure, try, test, mend, replace, discharge, dry, take-out, close, sell, sell-as-is or part-out."""
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
    test: Test | None = None
    wait: float = 0.0

    @property
    def name(self) -> str:
        return f"{self.kind} {self.target}".strip()

    def cost(self, terms: Terms) -> float:
        """Minutes at the bench's rate, and materials."""
        return self.minutes * terms.rate + self.materials


def possible_tests(device: Device, state: State, terms: Terms) -> list[Test]:
    """Tests that the tools at hand allow."""
    return [test for test in device.tests.values() if _has_tools(terms, test.tools) and _there(device, state, test)]


def _has_tools(terms: Terms, tools: Iterable[str]) -> bool:
    return terms.tools is None or set(tools) <= terms.tools


def _there(device: Device, state: State, test: Test) -> bool:
    sensed = test.senses
    return not (isinstance(sensed, PartModes) and sensed.part in state.removed)


def stand_ins(device: Device, terms: Terms) -> frozenset[str]:
    """Parts in whose place the bench can put another: their kind has one, and the tools for it are at hand."""
    return frozenset(
        part.id for part in device.parts.values() if part.swap is not None and _has_tools(terms, part.swap.tools)
    )


def test_move(device: Device, state: State, test: Test, others: StandIns = None) -> Move:  # noqa: PT028 (no test)
    """A test as a move; ``others`` are the parts in whose place another can be put (``stand_ins``)."""
    opens, closes, minutes = _access(device, state, test.behind, closed=test.closed)
    touched: frozenset[str] = frozenset()
    if isinstance(test.senses, PartModes) and test.power == "off":
        touched = frozenset({test.senses.part})
    if isinstance(test.senses, AnyMode) and test.power == "off":
        touched = frozenset(part for part, _ in test.senses.modes)
    probed = device.loads_of[test.senses.function] if isinstance(test.senses, RailToGround) else ()
    own = test.hazards if test.power == "off" else ()
    near = hands_near(device, touched, own, opens, closes) | frozenset(probed)
    act = Act(power=test.power, feeds=test.feeds, touches=touched, near=near)
    stated = precautions(device, _after_access(state, opens, closes), act, others)
    act = replace(act, stated=frozenset(stated))
    return Move(
        kind=KIND_OF_VERB[test.verb],
        target=test.id,
        do=test.do,
        minutes=minutes + test.minutes,
        materials=0.0,
        act=act,
        opens=opens,
        closes=closes,
        log=f"{test.verb} {test.id}",
        cautions=_warnings(device, state, act, test.hazards, opens, closes),
        precautions=tuple(stated.values()),
        test=test,
    )


def look_move(device: Device, state: State, part: Part) -> Move:
    """A close look at a part."""
    opens, _, minutes = _access(device, state, part.behind, closed=False)
    act = Act(near=hands_near(device, (), (), opens, ()))
    return Move(
        kind="look",
        target=part.id,
        do=f"Look closely at the {_lower(part.what)}",
        minutes=minutes + LOOK_MINUTES,
        materials=0.0,
        act=act,
        opens=opens,
        log=f"saw {part.id}",
        cautions=_warnings(device, state, act, (), opens),
    )


def remedy_moves(device: Device, state: State, terms: Terms, part: Part) -> list[Move]:
    """What can be done to a part: its remedies, and another part in its place."""
    return [
        _remedy_move(device, state, terms, part, remedy)
        for remedy in part.remedies
        if _has_tools(terms, remedy.tools)
        # What was done to the part once and did not help is not proposed again; the person may do it all the same.
        and (remedy.part or (part.id not in state.removed and remedy.name not in state.mended.get(part.id, ())))
    ]


def _remedy_move(device: Device, state: State, terms: Terms, part: Part, remedy: Remedy) -> Move:
    opens, _, minutes = _access(device, state, part.behind, closed=False)
    near = hands_near(device, (part.id,), remedy.hazards, opens, ())
    act = Act(touches=frozenset({part.id}), near=near, takes_out=part.id if remedy.part else None)
    warned = _warnings(device, state, act, remedy.hazards, opens)
    materials = remedy.materials.major if remedy.materials else 0.0
    if not remedy.part:
        log = f"mended {part.id} {remedy.name}" + (f" for {remedy.materials}" if remedy.materials else "")
        return Move(
            kind="mend",
            target=part.id,
            do=f"{remedy.do} ({part.what})",
            minutes=minutes + remedy.minutes,
            materials=materials,
            act=act,
            opens=opens,
            log=log,
            cautions=warned,
            remedy=remedy,
            wait=remedy.wait,
        )
    source, remark = _source(device, terms, part)
    price = source.price
    return Move(
        kind="replace",
        target=part.id,
        do=f"{remedy.do} ({part.what}, {_from(source.origin)})",
        minutes=minutes + remedy.minutes,
        materials=materials + price,
        act=act,
        opens=opens,
        log=f"fitted {part.id} from {source.origin}" + (f" for {money_of(terms.currency, price)}" if price else ""),
        cautions=warned,
        remark=remark,
        remedy=remedy,
        wait=remedy.wait,
    )


def _from(origin: str) -> str:
    return origin if origin in ("new", "used") else f"from {origin}"


def _source(device: Device, terms: Terms, part: Part) -> tuple[InStock, str]:
    """Where a replacement comes from: the shelf, else used, else new."""
    married = [one for one in device.married if part.id in one.parts]
    if married:
        lost = ", ".join(married[0].spoils)
        alone = f"It is married ({married[0].bond}): moved alone, {lost} is lost for certain."
    else:
        alone = ""
    if part.id in terms.stock:
        return terms.stock[part.id], alone
    if part.price.used:
        return InStock("used", part.price.used.major), alone
    if part.price.new:
        return InStock("new", part.price.new.major), alone
    guess = PRICE_UNKNOWN_SHARE * device.worth.working.major
    remark = f"The map gives no price for it: taken as {money_of(terms.currency, guess)}."
    return InStock("used", guess), f"{remark} {alone}".strip()


def lifting_move(device: Device, state: State, terms: Terms, held: Move, breach: Breach) -> Move | None:
    """The move that lifts the rule which holds another back, or None where nothing but its own end does."""
    part = device.parts[breach.part] if breach.part else None
    facts = breach.rule.unless
    if "discharged" in facts and part:
        node = [device.parts[one] for one in sorted(one_node(device, state, part.id) - {part.id})]
        at = (part, *(one for one in node if breach.hazard in one.hazards))
        ways = [_discharge_move(device, state, one, breach) for one in at]
        return next((way for way in ways if not allowed(device, state, [way])[1]), ways[0])
    if "dried" in facts:
        act = Act(near=frozenset(device.parts))  # nobody knows where the liquid went
        warned = cautions(device, state, act, [breach.hazard, "solvent"])
        do = "Pack out, wash what the liquid reached, and dry the unit through"
        return Move("dry", "unit", do, DRY_MINUTES, 0.0, act, log="dried unit", cautions=warned, wait=24 * 60.0)
    if breach.rule.forbids == EVERYTHING and part:
        opens, _, minutes = _access(device, state, part.behind, closed=False)
        near = hands_near(device, (part.id,), (), opens, ())
        act = Act(touches=frozenset({part.id}), near=near, takes_out=part.id)
        warned = _warnings(device, state, act, [breach.hazard], opens)
        do, minutes = f"Take out the {_lower(part.what)} before anything else", minutes + TAKE_OUT_MINUTES
        return Move("take-out", part.id, do, minutes, 0.0, act, opens, log=f"removed {part.id}", cautions=warned)
    if "covered" in facts and state.open_steps and not (held.test and held.test.behind):
        steps, minutes = tuple(sorted(state.open_steps)), closing_minutes(device, state)
        act = Act(near=hands_near(device, (), (), (), steps))
        return Move("close", "unit", "Close it up", minutes, 0.0, act, log="closed all", remark=breach.rule.why)
    if "replaced" in facts and part:
        swaps = [move for move in remedy_moves(device, state, terms, part) if move.kind == "replace"]
        return min(swaps, key=lambda move: move.cost(terms), default=None)
    return None


def first_lift(device: Device, state: State, terms: Terms, held: Move, breach: Breach) -> Move | None:
    """What to do first so that a move is held back no more: the move that lifts its rule or, if a rule holds that one
    back too, what lifts that, and so on."""
    tried: set[str] = set()
    while True:
        lifts = lifting_move(device, state, terms, held, breach)
        if lifts is None or lifts.name in tried:
            return None
        still = allowed(device, state, [lifts], stand_ins(device, terms))[1]
        if not still:
            return lifts
        tried.add(lifts.name)
        ((held, breach),) = still


def _discharge_move(device: Device, state: State, part: Part, breach: Breach) -> Move:
    opens, _, minutes = _access(device, state, part.behind, closed=False)
    act = Act(near=hands_near(device, (), (), opens, ()), discharges=part.id)
    warned = _warnings(device, state, act, [breach.hazard, "mains"], opens)
    return Move(
        "discharge",
        part.id,
        f"Unplug, let off the charge of the {_lower(part.what)} through a resistor, measure what is left",
        minutes + DISCHARGE_MINUTES,
        0.0,
        act,
        opens,
        log=f"discharged {part.id}",
        cautions=warned,
        remark=breach.rule.why,
    )


def exit_moves(device: Device, state: State, terms: Terms, belief: Belief) -> list[tuple[Move, float]]:
    """The ways out with their worth: sold working (only when all is shown to work), sold as it is, parted out."""
    close = closing_minutes(device, state) * terms.rate
    work = terms.list_minutes
    whole = Act(near=hands_near(device, (), (), (), state.open_steps), ends=True, ships=True)
    apart = breaches(device, state, replace(whole, touches=frozenset(device.parts)))
    ways = [
        (
            Move(
                "sell-as-is",
                "",
                "Sell it as it is, with what was found",
                work,
                0.0,
                whole,
                closes=tuple(sorted(state.open_steps)),
                log=f"sold as-is for {state.prices.get('as-is', device.worth.as_is)}",
            ),
            terms.as_is - close - work * terms.rate,
        ),
        (
            Move(
                "part-out",
                "",
                "Stop: part it out",
                0.0,
                0.0,
                Act(ends=True),
                log=f"parted worth {state.prices.get('parts', device.worth.parts)}",
                cautions=tuple(dict.fromkeys(device.hazards[one.hazard].caution for one in apart)),
            ),
            terms.parts,
        ),
    ]
    if not unproven(belief, state) and not state.open_steps:
        good = belief.known_good
        worth = good * terms.working - (1 - good) * terms.come_back - work * terms.rate
        do = f"Sell it as working: every promised function has been shown ({percent(good)} known good)"
        log = f"sold working for {state.prices.get('working', device.worth.working)}"
        ways.append((Move("sell", "", do, work, 0.0, whole, log=log), worth))
    return [way for way in ways if not breaches(device, state, way[0].act)]


def unproven(belief: Belief, state: State) -> tuple[str, ...]:
    """Promised functions that have not been shown to work since the last act on the unit."""
    return tuple(name for name in belief.wanted if name not in state.proven)


def closing_minutes(device: Device, state: State) -> float:
    """Hands-on time to close all that is open."""
    return sum(device.steps[step].close_minutes for step in state.open_steps)


def allowed(
    device: Device, state: State, moves: Sequence[Move], others: StandIns = None
) -> tuple[list[Move], list[tuple[Move, Breach]]]:
    """The moves that break no hard rule, and the others with the first rule that each would break.

    ``others`` are the parts in whose place another can be put (``stand_ins``).
    """
    free, held = [], []
    for move in moves:
        broken = breaches(device, _after_access(state, move.opens, move.closes), move.act, others)
        if broken:
            held.append((move, broken[0]))
        else:
            free.append(move)
    return free, held


def _after_access(state: State, opens: Sequence[str], closes: Sequence[str]) -> State:
    if not opens and not closes:
        return state
    return replace(state, open_steps=(state.open_steps | set(opens)) - set(closes))


def _warnings(
    device: Device, state: State, act: Act, own: Iterable[str], opens: Sequence[str], closes: Sequence[str] = ()
) -> tuple[str, ...]:
    """Cautions of a move: those of opening the way to it, its own, and those that the act calls for there."""
    on_the_way = [hazard for step in opens for hazard in device.steps[step].hazards]
    return cautions(device, _after_access(state, opens, closes), act, [*on_the_way, *own])


def _access(
    device: Device, state: State, behind: str | None, *, closed: bool
) -> tuple[tuple[str, ...], tuple[str, ...], float]:
    """Steps to open, steps to close, and the minutes of both."""
    opens = tuple(one for one in device.path_to[behind] if one not in state.open_steps) if behind else ()
    closes = tuple(sorted(state.open_steps)) if closed else ()
    minutes = sum(device.steps[one].open_minutes for one in opens)
    return opens, closes, minutes + sum(device.steps[one].close_minutes for one in closes)


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:] if text[1:2].islower() else text
