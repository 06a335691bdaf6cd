"""The usual rules of the bench as policies on real units, to measure the planner against.

All rest on the same belief, and on the same moves, hard rules and ways out as the planner; they differ in what comes
next. One frame holds for all of them, so that none loses by a detail of its own (common practice, no source):

- Sell as soon as every promised function has been shown.
- What is more likely than not at fault is mended before anything else.
- While nothing is known to fail, the next promised function is tried, the quickest first.
- A part is looked at and tested by itself before it is mended on suspicion, if that costs less than mending it.
- Stop when what went in and what the next step would take come to more than a share of what success would add. That
  share is a choice, not measured against others: see ``BUDGET``.

Sources of the rules: J. Kalagnanam, M. Henrion, A comparison of decision analysis and expert rules for sequential
diagnosis, UAI 1988 (arXiv 1304.2362), for the three orders; J. de Kleer, B. Williams, Diagnosing multiple faults,
Artificial Intelligence 32 (1987), for the question that tells most.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

from knowngood.belief.believe import Belief, believe
from knowngood.belief.cases import Effort
from knowngood.belief.what_if import ask, query_look, query_test
from knowngood.log import events as ev
from knowngood.log.state import Replay
from knowngood.maps.device import Device, FunctionLevel, PartModes, Test
from knowngood.plan.access import closing_minutes
from knowngood.plan.hazards import Act
from knowngood.plan.judge import PROBABLY, Judge
from knowngood.plan.lifting import allowed, first_lift
from knowngood.plan.moves import Move, look_move, possible_tests, test_move
from knowngood.plan.rehearse import Policy, planner
from knowngood.plan.shortlist import shortlist
from knowngood.plan.terms import Terms
from knowngood.plan.value import bits_told

BUDGET = 0.5
"""Share of what success would add over the best way out that a rule may put into a unit."""

LEAST_BITS = 0.01
"""Bits a minute below which no question is worth asking any more by the rule of information per minute."""

Candidate = tuple[Move, float, float]
"""A remedy, the chance that its part stops something, and the chance that the remedy takes that away."""


class Situation:
    """A unit as its log leaves it, with what every rule asks of it."""

    def __init__(self, device: Device, log: Replay, terms: Terms) -> None:
        self.device, self.log, self.terms, self.state = device, log, terms, log.state

    @cached_property
    def belief(self) -> Belief:
        return believe(self.device, self.log, effort=Effort.ONE_PIECE)

    @cached_property
    def judge(self) -> Judge:
        return Judge(self.device, self.state, self.terms, self.belief)

    @property
    def remedies(self) -> list[Candidate]:
        """The best remedy of each part that may stop something, by chance over cost."""
        found = []
        for part, pairs in self.judge.remedies.items():
            if pairs:
                move, cures = max(pairs, key=lambda one: one[1] / max(1e-9, self.cost(one[0])))
                found.append((move, self.judge.suspects[part].p_blocks, cures))
        return found

    def cost(self, move: Move) -> float:
        """Cost of a move with closing what it opens."""
        closing = sum(self.device.steps[step].close_minutes for step in move.opens)
        return move.cost(self.terms) + closing * self.terms.rate

    def to_sell(self) -> Move | None:
        """The sale as working, once every promised function has been shown."""
        if any(name not in self.state.proven for name in self.device.wanted):
            return None
        return next((one.move for one in self.judge.exits if one.move.kind == "sell"), None) or self.closing()

    def to_stop(self) -> Move:
        """The best way out as it is."""
        return max((one for one in self.judge.exits if one.move.kind != "sell"), key=lambda one: one.worth).move

    def closing(self) -> Move:
        minutes = closing_minutes(self.device, self.state)
        return Move("close", "unit", "Close it up", minutes, 0.0, Act(), log="closed all")

    def fails(self) -> bool:
        """Whether a promised function was tried since the last act on the unit, and failed."""
        for line in reversed(self.log.lines):
            match line.event:
                case ev.Mended() | ev.Fitted() | ev.Bought():
                    return False
                case ev.Tried(test=test):
                    sensed = self.device.tests[test].senses
                    assert isinstance(sensed, FunctionLevel)
                    if sensed.function in self.device.wanted and sensed.function not in self.state.proven:
                        return True
                case _:
                    pass
        return False

    def tries(self) -> list[Move]:
        """Tries of promised functions that are still to be shown, the quickest first."""
        tests = [test for test in self.tests if test.verb == "tried" and self._to_show(test)]
        moves = [test_move(self.device, self.state, test) for test in tests]
        return sorted(moves, key=lambda move: (move.minutes, move.name))

    def _to_show(self, test: Test) -> bool:
        sensed = test.senses
        return (
            isinstance(sensed, FunctionLevel)
            and sensed.function in self.device.wanted
            and sensed.function not in self.state.proven
        )

    @cached_property
    def tests(self) -> list[Test]:
        return possible_tests(self.device, self.state, self.terms)

    def checks(self, part: str) -> list[Move]:
        """A look at a part and the tests of it alone that have not been made in this state, the cheapest first."""
        own = [test for test in self.tests if isinstance(test.senses, PartModes) and test.senses.part == part]
        moves = [test_move(self.device, self.state, test) for test in own if self._is_new(test)]
        if part not in self.state.removed and not self.belief.looked_at(part):
            moves.append(look_move(self.device, self.state, self.device.parts[part]))
        return sorted(moves, key=lambda move: (self.cost(move), move.name))

    def questions(self) -> list[Move]:
        """Every look and test that has not been made in this state, as the map has them."""
        looks = [
            look_move(self.device, self.state, part)
            for part in self.device.parts.values()
            if part.id not in self.state.removed and not self.belief.looked_at(part.id)
        ]
        return looks + [test_move(self.device, self.state, test) for test in self.tests if self._is_new(test)]

    def _is_new(self, test: Test) -> bool:
        return self.belief.outcome_in_this_state(test) is None

    def affords(self, move: Move) -> bool:
        """Whether the budget of the rules still holds with this move."""
        stop = self.judge.stop
        success = self.terms.working - self.terms.list_minutes * self.terms.rate
        bought = min((booking.seq for booking in self.state.bookings), default=0)
        paid = -sum(booking.amount.major for booking in self.state.bookings if booking.seq != bought)
        return paid + self.state.minutes * self.terms.rate + self.cost(move) <= BUDGET * (success - stop)

    def first_allowed(self, moves: Iterator[Move]) -> Move | None:
        """The first that no hard rule holds back, or that which lifts the rule."""
        for move in moves:
            _, held = allowed(self.device, self.state, [move])
            if not held:
                return move
            lifts = first_lift(self.device, self.state, self.terms, *held[0])
            if lifts is not None and not allowed(self.device, self.state, [lifts])[1]:
                return lifts
        return None


Rule = Callable[[Situation], Iterator[Move]]
"""What a rule would do next, the first choice first, when something is known to fail."""


@dataclass(frozen=True)
class Ruled:
    """A rule in the common frame, as a policy. One that asks first asks before anything is known to fail."""

    rule: Rule
    asks_first: bool = False

    def __call__(self, device: Device, log: Replay, terms: Terms) -> Move:
        now = Situation(device, log, terms)
        sale = now.to_sell()
        if sale is not None:
            return sale
        wanted = now.first_allowed(self._in_turn(now))
        return wanted if wanted is not None and now.affords(wanted) else now.to_stop()

    def _in_turn(self, now: Situation) -> Iterator[Move]:
        probable = sorted((one for one in now.remedies if one[1] >= PROBABLY), key=lambda one: -one[1])
        yield from (move for move, _, _ in probable)
        if not self.asks_first and not now.fails():
            yield from now.tries()
        yield from self.rule(now)


@dataclass(frozen=True)
class Order:
    """The rule that takes parts in an order, the least key first, and checks each by itself before it is mended."""

    key: Callable[[Situation, Candidate], float]

    def __call__(self, now: Situation) -> Iterator[Move]:
        for candidate in sorted(now.remedies, key=lambda one: (self.key(now, one), one[0].name)):
            remedy = candidate[0]
            yield from (one for one in now.checks(remedy.target) if now.cost(one) < now.cost(remedy))
            yield remedy


def _likeliest(now: Situation, candidate: Candidate) -> float:
    return -candidate[1]


def _cheapest(now: Situation, candidate: Candidate) -> float:
    return now.cost(candidate[0])


def _chance_over_cost(now: Situation, candidate: Candidate) -> float:
    move, blocks, cures = candidate
    return -blocks * cures / max(1e-9, now.cost(move))


def _information(now: Situation) -> Iterator[Move]:
    """The look or test that tells most about what stops the unit for its minutes; then by chance over cost."""
    moves = shortlist(now.judge, now.questions())
    queries = [query_test(now.belief, one.test) if one.test else query_look(now.belief, one.target) for one in moves]
    answers = ask(now.belief, queries) if queries else []
    bits = [bits_told(one, now.judge.p_blocks) for one in answers]
    told = [one / max(0.1, move.minutes) for move, one in zip(moves, bits, strict=True)]
    order = sorted(range(len(moves)), key=lambda index: (-told[index], moves[index].name))
    yield from (moves[index] for index in order if told[index] >= LEAST_BITS)
    yield from now.tries() if not now.fails() else ()
    yield from Order(_chance_over_cost)(now)


def _checklist(now: Situation) -> Iterator[Move]:
    """Looks from outside, tries, looks inside, tests, each as the map lists them; then the likeliest part."""
    yield from sorted(now.questions(), key=_line)
    yield from Order(_likeliest)(now)


def _line(move: Move) -> int:
    if move.kind == "look":
        return 0 if not move.opens else 2
    return 1 if move.kind == "try" else 3


POLICIES: Mapping[str, Policy] = {
    "planner": planner,
    "most probable part first": Ruled(Order(_likeliest)),
    "cheapest first": Ruled(Order(_cheapest)),
    "probability over cost": Ruled(Order(_chance_over_cost)),
    "information per minute": Ruled(_information, asks_first=True),
    "fixed checklist": Ruled(_checklist, asks_first=True),
}
"""Every policy by its name, this planner first."""
