"""Judges each move by what the whole job is worth if it comes first.

A move counts by the plan that could be followed after it (``one_by_one``). Where it brings the job forward by the other
estimate too (``found_out`` rises by more than the move costs), it counts by that gain over what going on is worth now,
if that is more. Opening an access step is shared by all that is worth doing behind it. A look or test that neither
pays for itself nor shows what is still to be shown never comes before a way out.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from knowngood.belief.believe import Belief
from knowngood.belief.what_if import Answer, ask, query_look, query_test
from knowngood.handbook.quantities import percent
from knowngood.log.state import State
from knowngood.maps.device import Device, FunctionLevel, Part
from knowngood.plan.moves import WORTH_A_LOOK, Move, closing_minutes, exit_moves, remedy_moves, unproven
from knowngood.plan.terms import Terms
from knowngood.plan.value import BIT_MINUTES, CHECK_MINUTES, Access, Array, Outlook, bits_of, found_out, one_by_one

SHARED = 0.5
"""What is worth doing behind one step tells partly the same: of the gains together, this share pays for opening it."""

PROBABLY = 0.5
"""From this chance on that it takes away what stops the unit, a remedy counts by its gain even below zero."""


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


class Judge:
    """One decision: everything that the judgements of its moves share."""

    def __init__(
        self, device: Device, state: State, terms: Terms, belief: Belief, bit_minutes: float = BIT_MINUTES
    ) -> None:
        self.bit_minutes = bit_minutes
        self.device, self.state, self.terms, self.belief = device, state, terms, belief
        self.suspects = {suspect.part: suspect for suspect in belief.suspects}
        self.p_blocks = np.array([[self.suspects[part.id].p_blocks for part in belief.parts]])
        self.good = np.array([belief.known_good])
        self.unproven = unproven(belief, state)
        self.exits = exit_moves(device, state, terms, belief)
        self.stop = max(worth for move, worth in self.exits if move.kind != "sell")
        self.remedies = {part.id: self._remedies(part) for part in belief.parts if self.matters(part.id)}
        self._try_minutes = {name: try_minutes(device, name) for name in belief.wanted}
        self._outlook = self._looking_out()
        self._now = float(found_out(self._outlook, self.p_blocks)[0])
        self._plan_now = float(one_by_one(self._outlook, self.p_blocks, self.good)[0])

    def bearable_minutes(self) -> float:
        """Minutes that each bit may take until finding all out and mending it is worth no more than stopping."""
        free = float(found_out(replace(self._outlook, bit=0.0), self.p_blocks)[0])
        return (free - self.stop) / max(1e-9, float(bits_of(self.p_blocks).sum()) * self.terms.rate)

    def matters(self, part: str) -> bool:
        """Whether a part is likely enough to stop something to be worth a question or a remedy."""
        return self.suspects[part].p_blocks >= WORTH_A_LOOK

    def to_prove(self, move: Move) -> bool:
        """Whether a move could show a promised function that is still to be shown."""
        sensed = move.test.senses if move.test else None
        return isinstance(sensed, FunctionLevel) and sensed.function in self.unproven

    # ---- the ways on and out --------------------------------------------------------------------------------------

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

    def _looking_out(self) -> Outlook:
        count = len(self.belief.parts)
        cost, cures = np.full(count, np.inf), np.zeros(count)
        for part, remedies in self.remedies.items():
            if remedies:
                move, chance = max(remedies, key=lambda one: one[1] / max(1e-9, self._full_cost(one[0])))
                cost[self.belief.index[part]], cures[self.belief.index[part]] = self._own_cost(move), chance
        no_unknown = float(np.prod([1.0 - chance for chance in self.belief.unknown.values()]))
        price = self.bit_minutes * self.terms.rate
        steps = [step for step in self.device.steps.values() if step.id not in self.state.open_steps]
        behind = np.array(
            [[float(self._lies_behind(part, step.id)) for step in steps] for part in self.belief.parts]
        ).reshape(count, len(steps))
        ways = np.array([(step.open_minutes + step.close_minutes) * self.terms.rate for step in steps])
        check, success = self._check(), self._success()
        return Outlook(cost, cures, no_unknown, check, success, self.stop, price, Access(behind, ways))

    def _lies_behind(self, part: Part, step: str) -> bool:
        return part.behind is not None and step in self.device.path_to[part.behind]

    def _own_cost(self, move: Move) -> float:
        """Cost of a move without the way to it."""
        return move.cost(self.terms) - self._opening_cost(move)

    def _check(self, move: Move | None = None) -> float:
        """Cost of closing what is open (after a move) and checking whether the unit works."""
        opens, closes = (move.opens, move.closes) if move else ((), ())
        after = replace(self.state, open_steps=(self.state.open_steps | set(opens)) - set(closes))
        return (CHECK_MINUTES + closing_minutes(self.device, after)) * self.terms.rate

    def _full_cost(self, move: Move) -> float:
        """Cost of a move with closing what it opens."""
        return move.cost(self.terms) + self._closing_cost(move)

    def _access_cost(self, move: Move) -> float:
        """Cost of opening and closing the way to a move."""
        return self._opening_cost(move) + self._closing_cost(move)

    def _closing_cost(self, move: Move) -> float:
        return sum(self.device.steps[step].close_minutes for step in move.opens) * self.terms.rate

    def _opening_cost(self, move: Move) -> float:
        return sum(self.device.steps[step].open_minutes for step in move.opens) * self.terms.rate

    def _success(self, shown: str = "") -> float:
        """Worth of a unit that works and, if ``shown`` is a function, was just seen to do that."""
        proving = sum(self._try_minutes[name] for name in self.unproven if name != shown)
        return self.terms.working - (proving + self.terms.list_minutes) * self.terms.rate

    # ---- looks and tests ------------------------------------------------------------------------------------------

    def informing(self, moves: Sequence[Move]) -> list[Ranked]:
        """Looks and tests, judged by what each outcome would leave."""
        if not moves:
            return []
        queries = [
            query_look(self.belief, move.target) if move.test is None else query_test(self.belief, move.test)
            for move in moves
        ]
        answers = ask(self.belief, queries)
        pairs = list(zip(moves, answers, strict=True))
        success = np.concatenate([self._success_after(*pair) for pair in pairs])
        check = np.concatenate([np.full(len(answer.probability), self._check(move)) for move, answer in pairs])
        # For the gains all stays as open as it is; what access costs is shared out among them below.
        still = replace(self._outlook, success=success)
        after = replace(still, check=check)
        blocks = np.nan_to_num(np.concatenate([answer.p_blocks for answer in answers]))
        good = np.nan_to_num(np.concatenate([answer.known_good for answer in answers]))
        follow, found = one_by_one(after, blocks, good), found_out(still, blocks)
        by_plan, gains, row = [], [], 0
        for move, answer in pairs:
            rows = slice(row, row + len(answer.probability))
            plan = float(answer.probability @ follow[rows]) - move.cost(self.terms)
            pays = plan >= self._plan_now or self.to_prove(move)
            by_plan.append(plan if pays else min(plan, self.stop - move.cost(self.terms)))
            gains.append(float(answer.probability @ found[rows]) - self._now - self._own_cost(move))
            row = rows.stop
        shares = self._access_shares(moves, gains)
        return [
            self._by_outcomes(move, answer, self._worth(plan, gain - share))
            for (move, answer), plan, gain, share in zip(pairs, by_plan, gains, shares, strict=True)
        ]

    def _worth(self, by_plan: float, gain: float) -> float:
        return max(by_plan, self._now + gain) if gain > 0.0 else by_plan

    def shared_gains(self, moves: Sequence[Move], bits: Sequence[float]) -> list[float]:
        """What moves that bring so many bits gain, by the price of a bit, less their cost and share of access."""
        own = [told * self._outlook.bit - self._own_cost(move) for move, told in zip(moves, bits, strict=True)]
        return [gain - share for gain, share in zip(own, self._access_shares(moves, own), strict=True)]

    def _access_shares(self, moves: Sequence[Move], gains: Sequence[float]) -> list[float]:
        """What each move pays of opening and closing the way to it, by its part of the gains behind that way."""
        together: dict[tuple[str, ...], float] = defaultdict(float)
        for move, gain in zip(moves, gains, strict=True):
            if move.opens and gain > 0.0:
                together[move.opens] += gain
        shares = []
        for move, gain in zip(moves, gains, strict=True):
            access = self._access_cost(move)
            others = SHARED * (together[move.opens] - gain) if gain > 0.0 else 0.0
            shares.append(access * gain / (gain + others) if gain > 0.0 else access)
        return shares

    def _success_after(self, move: Move, answer: Answer) -> Array:
        success = np.full(len(answer.probability), self._success())
        if move.test is not None and isinstance(move.test.senses, FunctionLevel):
            success[answer.query.outcomes.index(move.test.outcomes[0])] = self._success(move.test.senses.function)
        return success

    def _by_outcomes(self, move: Move, answer: Answer, worth: float) -> Ranked:
        possible = np.flatnonzero(answer.probability > 0.0)
        outcomes = tuple(
            self._prospect(
                answer.query.outcomes[row], answer.probability[row], answer.p_blocks[row], float(answer.known_good[row])
            )
            for row in possible
        )
        why = self._why(move, outcomes, answer.p_blocks[possible])
        return Ranked(move, move.cost(self.terms), worth, why, outcomes)

    def _prospect(self, name: str, chance: float, blocks: Array, good: float) -> Prospect:
        order = np.argsort(-blocks, kind="stable")[:3]
        suspects = tuple((self.belief.parts[one].id, float(blocks[one])) for one in order if blocks[one] >= 0.005)
        return Prospect(name, float(chance), good, suspects)

    def _why(self, move: Move, outcomes: Sequence[Prospect], blocks: Array) -> str:
        if move.test is not None and self.to_prove(move):
            works = next((one.probability for one in outcomes if one.outcome == move.test.outcomes[0]), 0.0)
            if works > 0.9:
                return f"Still to be shown; {percent(works)} likely to work."
        chances = np.array([one.probability for one in outcomes])
        moved = chances[:, None] * np.abs(blocks - self.p_blocks)
        row, part = divmod(int(np.argmax(moved)), moved.shape[1])
        name, before, after = self.belief.parts[part].id, self.p_blocks[0, part], blocks[row, part]
        tells = outcomes[row]
        was, is_then = percent(before), percent(after)
        return f"'{tells.outcome}' ({percent(tells.probability)}) would take {name} from {was} to {is_then}."

    # ---- remedies -------------------------------------------------------------------------------------------------

    def mending(self) -> list[Ranked]:
        """Remedies, judged by what going on is worth with each first."""
        remedies = [pair for pairs in self.remedies.values() for pair in pairs]
        if not remedies:
            return []
        rows = np.arange(len(remedies))
        first = np.array([self.belief.index[move.target] for move, _ in remedies])
        cost, cures = (np.tile(one, (len(remedies), 1)) for one in (self._outlook.cost, self._outlook.cures))
        cost[rows, first] = [self._own_cost(move) for move, _ in remedies]
        access = np.array([self._access_cost(move) for move, _ in remedies])
        cures[rows, first] = [chance for _, chance in remedies]
        blocks, good = np.tile(self.p_blocks, (len(remedies), 1)), np.tile(self.good, len(remedies))
        by_plan = one_by_one(replace(self._outlook, cost=cost, cures=cures), blocks, good, first)
        blocks[rows, first] *= 1.0 - cures[rows, first]
        paid = cost[rows, first] + access + self._outlook.check
        gains = found_out(self._outlook, blocks) - paid - self._now
        return [
            self._by_cure(move, chance, self._worth_of_cure(move, chance, float(plan), float(gain)))
            for (move, chance), plan, gain in zip(remedies, by_plan, gains, strict=True)
        ]

    def _worth_of_cure(self, move: Move, chance: float, by_plan: float, gain: float) -> float:
        """Curing what is probably at fault moves the job on, though the gain lacks what it costs if it was not."""
        likely = self.suspects[move.target].p_blocks * chance >= PROBABLY
        return max(by_plan, self._now + gain) if likely else self._worth(by_plan, gain)

    def _by_cure(self, move: Move, chance: float, worth: float) -> Ranked:
        suspect = self.suspects[move.target]
        cured = suspect.p_blocks * chance
        outcomes = (
            Prospect("cured", cured),
            Prospect("not-cured", suspect.p_blocks - cured),
            Prospect("was-not-it", max(0.0, 1.0 - suspect.p_blocks)),
        )
        odds = percent(suspect.p_blocks)
        why = f"{suspect.what}: {odds} likely to stop something; this takes that away {percent(chance)}."
        return Ranked(move, move.cost(self.terms), worth, f"{why} {move.remark}".strip(), outcomes)


def try_minutes(device: Device, function: str) -> float:
    """Hands-on time of the shortest test that shows whether a function works."""
    sensing = (
        test.minutes
        for test in device.tests.values()
        if isinstance(test.senses, FunctionLevel) and test.senses.function == function
    )
    return min(sensing, default=0.0)
