"""The next move: every move that is allowed, ranked by what the whole job is worth if it comes first.

One step of look-ahead: a test or look is worth the mean over its outcomes of what going on is worth then, less its
cost; a remedy, what going on is worth with that remedy first; a way out, what it brings. See ``value``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from knowngood.belief.believe import Belief, believe
from knowngood.belief.story import Donors
from knowngood.belief.what_if import Answer, ask, query_look, query_test
from knowngood.log.state import Replay, State
from knowngood.maps.device import Device, FunctionLevel, Part, PartModes, Test
from knowngood.plan.hazards import Breach
from knowngood.plan.moves import (
    WORTH_A_LOOK,
    Move,
    allowed,
    closing_minutes,
    exit_moves,
    lifting_move,
    look_move,
    possible_tests,
    remedy_moves,
    test_move,
    unproven,
)
from knowngood.plan.terms import Terms
from knowngood.plan.value import BIT_MINUTES, CHECK_MINUTES, Array, Outlook, going_on


@dataclass(frozen=True)
class Prospect:
    """One outcome of a move: how likely, and what it would make of the belief."""

    outcome: str
    probability: float
    known_good: float | None = None
    suspects: tuple[tuple[str, float], ...] = ()
    """The parts most likely to stop something then, with their p_blocks."""


@dataclass(frozen=True)
class Ranked:
    """A move with what it costs and what the job is worth if it comes first."""

    move: Move
    cost: float
    worth: float
    why: str
    outcomes: tuple[Prospect, ...] = ()


@dataclass(frozen=True)
class Advice:
    """Moves in order of worth, those that a hard rule holds back with the rule, and the belief they rest on."""

    ranked: tuple[Ranked, ...]
    held: tuple[tuple[Move, Breach], ...]
    belief: Belief
    stop_worth: float
    log_seq: int

    @property
    def best(self) -> Ranked:
        return self.ranked[0]


def advise(device: Device, replay: Replay, terms: Terms, *, donors: Donors | None = None) -> Advice:
    """The advice for a unit as its log leaves it."""
    state = replay.state
    tests = possible_tests(device, state, terms)
    belief = believe(device, replay, donors=donors, tests=tests)
    return _Decision(device, state, terms, belief, tests, replay.seq).advice()


class _Decision:
    """One decision: everything that the moves share."""

    def __init__(
        self, device: Device, state: State, terms: Terms, belief: Belief, tests: Sequence[Test], seq: int
    ) -> None:
        self.device, self.state, self.terms, self.belief, self.seq = device, state, terms, belief, seq
        self.suspects = {suspect.part: suspect for suspect in belief.suspects}
        self.p_blocks = np.array([[self.suspects[part.id].p_blocks for part in belief.parts]])
        self.good = np.array([belief.known_good])
        self.index = {part.id: number for number, part in enumerate(belief.parts)}
        self.unproven = unproven(belief, state)
        self.try_minutes = {name: _try_minutes(device, name) for name in belief.wanted}
        self.exits = exit_moves(device, state, terms, belief)
        self.stop = max(worth for move, worth in self.exits if move.kind != "sell")
        self.remedies = {part.id: self._remedies(part) for part in belief.parts if self._matters(part.id)}
        self.tests = [test for test in tests if self._worth_asking(test)]
        self.outlook = self._outlook()

    def _matters(self, part: str) -> bool:
        return self.suspects[part].p_blocks >= WORTH_A_LOOK

    def _worth_asking(self, test: Test) -> bool:
        if isinstance(test.senses, PartModes) and not self._matters(test.senses.part):
            return False
        before = self.belief.outcome_in_this_state(test)
        return before is None or (before == "works" and self._to_prove(test))

    def _to_prove(self, test: Test) -> bool:
        return isinstance(test.senses, FunctionLevel) and test.senses.function in self.unproven

    # ---- remedies and the outlook -------------------------------------------------------------------------------

    def _remedies(self, part: Part) -> list[tuple[Move, float]]:
        """Remedy moves of a part with the chance that each takes away what stops it."""
        modes = self.suspects[part.id].modes
        stopping = {mode.name for mode, stops in zip(part.modes, self.belief.stopping(part)[1:], strict=True) if stops}
        whole = sum(modes[mode] for mode in stopping)
        found = []
        for move in remedy_moves(self.device, self.state, self.terms, part):
            assert move.remedy is not None
            cures = dict(move.remedy.cures)
            chance = sum(modes[mode] * cures.get(mode, 0.0) for mode in stopping) / whole if whole else 0.0
            if chance > 0.0:
                found.append((move, chance))
        return found

    def _outlook(self) -> Outlook:
        count = len(self.belief.parts)
        cost, cures = np.full(count, np.inf), np.zeros(count)
        for part, remedies in self.remedies.items():
            if remedies:
                move, chance = max(remedies, key=lambda one: one[1] / max(1e-9, self._full_cost(one[0])))
                cost[self.index[part]], cures[self.index[part]] = self._full_cost(move), chance
        no_unknown = float(np.prod([1.0 - chance for chance in self.belief.unknown.values()]))
        check = CHECK_MINUTES * self.terms.rate
        return Outlook(cost, cures, no_unknown, check, self._success(), self.stop, BIT_MINUTES * self.terms.rate)

    def _full_cost(self, move: Move) -> float:
        """Cost of a move with closing what it opens."""
        again = sum(self.device.steps[step].close_minutes for step in move.opens)
        return move.cost(self.terms) + again * self.terms.rate

    def _success(self, opens: Sequence[str] = (), closes: Sequence[str] = (), shown: str = "") -> float:
        """Worth of a unit that works after access and, if ``shown`` is a function, after it was seen to work."""
        after = replace(self.state, open_steps=(self.state.open_steps | set(opens)) - set(closes))
        proving = sum(self.try_minutes[name] for name in self.unproven if name != shown)
        minutes = closing_minutes(self.device, after) + proving + self.terms.list_minutes
        return self.terms.working - minutes * self.terms.rate

    # ---- moves --------------------------------------------------------------------------------------------------

    def advice(self) -> Advice:
        informing = [test_move(self.device, self.state, test) for test in self.tests]
        informing += [
            look_move(self.device, self.state, part)
            for part in self.belief.parts
            if self._matters(part.id) and not self.belief.looked_at(part.id) and part.id not in self.state.removed
        ]
        mending = [(move, chance) for remedies in self.remedies.values() for move, chance in remedies]
        judged = {one.move.name + one.move.log: one for one in self._informed(informing)}
        judged |= {one.move.name + one.move.log: one for one in self._remedied(mending)}
        free, held = allowed(self.device, self.state, [one.move for one in judged.values()])
        ranked = [judged[move.name + move.log] for move in free]
        ranked += [Ranked(move, move.cost(self.terms), worth, self._why_exit(worth)) for move, worth in self.exits]
        ranked += self._lifting([(judged[move.name + move.log], breach) for move, breach in held])
        ranked.sort(key=lambda one: (-one.worth, one.cost, one.move.name))
        return Advice(tuple(ranked), tuple(held), self.belief, self.stop, self.seq)

    def _informed(self, moves: Sequence[Move]) -> list[Ranked]:
        """Looks and tests, judged by what each outcome would leave."""
        queries = [
            query_look(self.belief, move.target) if move.test is None else query_test(self.belief, move.test)
            for move in moves
        ]
        if not queries:
            return []
        answers = ask(self.belief, queries)
        success = np.concatenate(
            [self._success_by_outcome(move, answer) for move, answer in zip(moves, answers, strict=True)]
        )
        blocks = np.nan_to_num(np.concatenate([answer.p_blocks for answer in answers]))
        good = np.nan_to_num(np.concatenate([answer.known_good for answer in answers]))
        values = going_on(replace(self.outlook, success=success), blocks, good)
        ranked, row = [], 0
        for move, answer in zip(moves, answers, strict=True):
            rows = slice(row, row + len(answer.probability))
            ranked.append(self._by_outcomes(move, answer, values[rows]))
            row = rows.stop
        return ranked

    def _success_by_outcome(self, move: Move, answer: Answer) -> Array:
        success = np.full(len(answer.probability), self._success(move.opens, move.closes))
        if move.test is not None and isinstance(move.test.senses, FunctionLevel) and "works" in answer.query.outcomes:
            shown = self._success(move.opens, move.closes, move.test.senses.function)
            success[answer.query.outcomes.index("works")] = shown
        return success

    def _by_outcomes(self, move: Move, answer: Answer, values: Array) -> Ranked:
        cost = move.cost(self.terms)
        worth = float(answer.probability @ values) - cost
        possible = np.flatnonzero(answer.probability > 0.0)
        blocks = answer.p_blocks[possible]
        outcomes = tuple(
            self._prospect(
                answer.query.outcomes[row], answer.probability[row], answer.p_blocks[row], float(answer.known_good[row])
            )
            for row in possible
        )
        return Ranked(move, cost, worth, self._why_informing(move, outcomes, blocks), outcomes)

    def _prospect(self, name: str, chance: float, blocks: Array, good: float) -> Prospect:
        order = np.argsort(-blocks, kind="stable")[:3]
        suspects = tuple((self.belief.parts[one].id, float(blocks[one])) for one in order if blocks[one] >= 0.005)
        return Prospect(name, float(chance), good, suspects)

    def _remedied(self, remedies: Sequence[tuple[Move, float]]) -> list[Ranked]:
        """Remedies, judged by what going on is worth with each first."""
        if not remedies:
            return []
        rows = np.arange(len(remedies))
        first = np.array([self.index[move.target] for move, _ in remedies])
        cost, cures = (np.tile(one, (len(remedies), 1)) for one in (self.outlook.cost, self.outlook.cures))
        cost[rows, first] = [self._full_cost(move) for move, _ in remedies]
        cures[rows, first] = [chance for _, chance in remedies]
        outlook = replace(self.outlook, cost=cost, cures=cures)
        blocks, good = np.tile(self.p_blocks, (len(remedies), 1)), np.tile(self.good, len(remedies))
        values = going_on(outlook, blocks, good, first)
        return [
            self._by_cure(move, chance, float(worth)) for (move, chance), worth in zip(remedies, values, strict=True)
        ]

    def _by_cure(self, move: Move, chance: float, worth: float) -> Ranked:
        suspect = self.suspects[move.target]
        cured = suspect.p_blocks * chance
        outcomes = (
            Prospect("cured", cured),
            Prospect("not-cured", suspect.p_blocks - cured),
            Prospect("was-not-it", max(0.0, 1.0 - suspect.p_blocks)),
        )
        why = f"{suspect.what}: {suspect.p_blocks:.0%} likely to stop something; this takes that away {chance:.0%}."
        return Ranked(move, move.cost(self.terms), worth, f"{why} {move.remark}".strip(), outcomes)

    def _lifting(self, held: Sequence[tuple[Ranked, Breach]]) -> list[Ranked]:
        """Moves that lift what holds others back, each worth what the best move it frees would be, less its cost."""
        waiting: dict[str, tuple[Move, list[Ranked]]] = {}
        for ranked, breach in held:
            lifts = lifting_move(self.device, self.state, breach)
            if lifts is not None and not allowed(self.device, self.state, [lifts])[1]:
                waiting.setdefault(lifts.name, (lifts, []))[1].append(ranked)
        found = []
        for lifts, freed in waiting.values():
            best = max(freed, key=lambda one: one.worth)
            cost = lifts.cost(self.terms)
            why = f"{lifts.remark} It frees: {best.move.do}.".strip()
            found.append(Ranked(lifts, cost, best.worth - cost, why))
        return found

    # ---- words --------------------------------------------------------------------------------------------------

    def _why_informing(self, move: Move, outcomes: Sequence[Prospect], blocks: Array) -> str:
        if move.test is not None and self._to_prove(move.test):
            works = next((one.probability for one in outcomes if one.outcome in ("works", "ok")), 0.0)
            if works > 0.9:
                return f"Still to be shown; {works:.0%} likely to work."
        chances = np.array([one.probability for one in outcomes])
        moved = chances[:, None] * np.abs(blocks - self.p_blocks)
        row, part = divmod(int(np.argmax(moved)), moved.shape[1])
        tells, name = outcomes[row], self.belief.parts[part].id
        before, after = self.p_blocks[0, part], blocks[row, part]
        return f"'{tells.outcome}' ({tells.probability:.0%}) would take {name} from {before:.0%} to {after:.0%}."

    def _why_exit(self, worth: float) -> str:
        return f"Brings about {worth:.0f} {self.terms.currency}; the best way out as it is, {self.stop:.0f}."


def _try_minutes(device: Device, function: str) -> float:
    """Hands-on time of the shortest test that shows whether a function works."""
    sensing = (
        test.minutes
        for test in device.tests.values()
        if isinstance(test.senses, FunctionLevel) and test.senses.function == function
    )
    return min(sensing, default=0.0)
