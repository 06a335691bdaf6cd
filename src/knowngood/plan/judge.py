"""Judges each move by what the whole job is worth if it comes first.

A move counts by the plan that could be followed after it (``one_by_one``). Where it brings the job forward by the other
estimate too (``found_out`` rises by more than the move costs), it counts by that gain over what going on is worth now,
if that is more. Opening an access step is shared by all that is worth doing behind it. A look or test that neither
pays for itself nor shows what is still to be shown never comes before a way out.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from copy import copy
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from knowngood.belief.believe import Belief
from knowngood.belief.what_if import Answer, ask, query_look, query_test
from knowngood.handbook.quantities import percent
from knowngood.log.state import State
from knowngood.maps.device import Device, FunctionLevel, Part, PartModes, Test
from knowngood.plan.access import after_access, closing_minutes
from knowngood.plan.constraints import stand_ins
from knowngood.plan.exits import exits, unproven
from knowngood.plan.moves import WORTH_A_LOOK, Move, after_remedy, available, remedies_here
from knowngood.plan.ranked import Prospect, Ranked, prospects
from knowngood.plan.terms import InStock, Terms
from knowngood.plan.value import (
    BIT_MINUTES,
    CHECK_MINUTES,
    Access,
    Array,
    Estimate,
    Outlook,
    Series,
    bits_of,
    checked_first,
    found_out,
    one_by_one,
    seen_through,
)

SHARED = 0.5
"""What is worth doing behind one step tells partly the same: of the gains together, this share pays for opening it."""

PROBABLY = 0.5
"""From this chance on that it takes away what stops the unit, a remedy counts by its gain even below zero, and so does
a look or test of its part: the way to both is the same, and what is seen there may save the remedy."""


Done = tuple[str, InStock | None]
"""What a remedy does to the part that it is for rests on its line, and on what comes in the part's place."""


def _done(move: Move) -> Done:
    return move.log, move.source


class Judge:
    """One decision: everything that the judgements of its moves share."""

    def __init__(
        self,
        device: Device,
        state: State,
        terms: Terms,
        belief: Belief,
        bit_minutes: float = BIT_MINUTES,
        like: Judge | None = None,
    ) -> None:
        """``like``: the judge of the same unit under other terms. What the terms have no part in is taken from it."""
        self.bit_minutes = bit_minutes
        self.device, self.state, self.terms, self.belief = device, state, terms, belief
        self.suspects = {suspect.part: suspect for suspect in belief.suspects}
        self.p_blocks = np.array([[self.suspects[part.id].p_blocks for part in belief.parts]])
        self.good = np.array([belief.known_good])
        self.unproven = unproven(belief, state)
        self.stand_ins = stand_ins(device, state, terms)
        self.exits = exits(device, state, terms, belief)
        self.stop = max(one.worth for one in self.exits if one.move.kind != "sell")
        self._after: dict[Done, Array] = like._after if like else {}
        self._modes: dict[str, Array] = like._modes if like else {}
        self._taken: dict[tuple[Done, ...], float] = like._taken if like else {}
        self._at_parts: dict[tuple[str, str], Move] = like._at_parts if like else {}
        mattering = [part for part in belief.parts if self.matters(part.id)]
        self.remedies_here = {part.id: remedies_here(device, state, terms, part, self._at_parts) for part in mattering}
        """Of each part that matters what could be done if every tool and every part were to be had."""
        self.remedies = {part.id: self._remedies(part) for part in mattering}
        cures = {part: max((chance for _, chance in own), default=0.0) for part, own in self.remedies.items()}
        self.probable = {
            part: PROBABLY / chance
            for part, chance in cures.items()
            if self.suspects[part].p_blocks * chance >= PROBABLY
        }
        """Parts with a remedy that probably takes away what stops the unit: from which p_blocks on it does."""
        self._try_minutes = {name: try_minutes(device, name) for name in belief.wanted}
        self.outlook = self._looking_out()
        self._plan_now = float(one_by_one(self.outlook, self.p_blocks, self.good).worth[0])
        trying = sum(self._try_minutes[name] for name in self.unproven) * terms.rate
        to_show = trying + self.outlook.check + self._closing()
        gain = belief.known_good * (self.outlook.success + self.outlook.shown - self.stop)
        self._proof_pays = self.outlook.checkable and gain > to_show
        """Whether the chance that all works is worth what showing the rest takes: while something fails it is not."""
        closed_first = self._proof_pays and state.open_steps
        self.closed_to_prove = self._if_checked_first() if closed_first else None
        """What closing up to show all is worth, where it pays."""
        self._now = self._if_found_out()

    def at_price(self, bit_minutes: float) -> Judge:
        """The same decision at another price of a bit."""
        other = copy(self)
        other.bit_minutes = bit_minutes
        other.outlook = replace(self.outlook, bit=bit_minutes * self.terms.rate)
        other._now = other._if_found_out()
        return other

    def _if_found_out(self) -> float:
        return float(found_out(self.outlook, self.p_blocks, self.good).worth[0])

    def _if_checked_first(self) -> float:
        return float(checked_first(self.outlook, self.p_blocks, self.good).worth[0])

    def bearable_minutes(self) -> float:
        """Minutes that each bit may take until finding all out and mending it is worth no more than stopping."""
        free = float(found_out(replace(self.outlook, bit=0.0), self.p_blocks, self.good).worth[0])
        return (free - self.stop) / max(1e-9, float(bits_of(self.p_blocks).sum()) * self.terms.rate)

    def matters(self, part: str) -> bool:
        """Whether a part is likely enough to stop something to be worth a question or a remedy."""
        return self.suspects[part].p_blocks >= WORTH_A_LOOK

    def to_prove(self, test: Test | None) -> bool:
        """Whether a test could show a promised function that is still to be shown."""
        sensed = test.senses if test else None
        return isinstance(sensed, FunctionLevel) and sensed.function in self.unproven

    def estimates(self, p_blocks: Array, known_good: Array) -> tuple[Array, Array]:
        """What going on is worth one by one and if found out, for rows of beliefs, both of shape (rows,)."""
        plan, found = (of(self.outlook, p_blocks, known_good).worth for of in (one_by_one, found_out))
        return plan, found

    @property
    def price_of_a_bit(self) -> float:
        return self.outlook.bit

    def _may_prove(self, move: Move, answer: Answer) -> bool:
        """Whether a test could show what is still to be shown: not while the unit is open, for closing it is an act
        after which all has to be shown again, and not what hangs on an open connection."""
        if move.test is None or not self.to_prove(move.test) or not self._proof_pays or self._is_open(move):
            return False
        return float(answer.probability[answer.query.outcomes.index(move.test.outcomes[0])]) > 0.0

    def seen_through(self) -> float:
        """Worth of going on until all that is in the way is mended, closed up and shown once: no stopping before."""
        return float(seen_through(self.outlook, self.p_blocks, self.good).worth[0])

    # ---- the ways on and out --------------------------------------------------------------------------------------

    def _remedies(self, part: Part) -> list[tuple[Move, float]]:
        """Remedy moves of a part with the chance that each takes away what stops it."""
        found = []
        for move in available(self.device, self.state, self.terms, self.remedies_here[part.id]):
            if move.kind == "replace" and self._replaced_in_vain(part.id):
                continue
            chance = self._cures(part, move)
            if chance > 0.0:
                found.append((move, chance))
        return found

    def _stopping(self, part: Part) -> Array:
        """Chance of each mode that stops something, shape (modes,)."""
        if part.id not in self._modes:
            modes = self.suspects[part.id].modes
            self._modes[part.id] = np.array([modes[mode.name] for mode in part.modes]) * self.belief.stopping(part)[1:]
        return self._modes[part.id]

    def _after_remedy(self, part: Part, move: Move) -> Array:
        """What a remedy does to the part's states."""
        done = _done(move)
        if done not in self._after:
            self._after[done] = after_remedy(part, move)
        return self._after[done]

    def _cures(self, part: Part, move: Move, *before: Move) -> float:
        """Chance that a remedy takes away what stops the unit (where those ``before`` it have not helped)."""
        done = tuple(map(_done, (*before, move)))
        if done not in self._taken:
            chances = self._stopping(part)
            for earlier in before:
                chances = (chances @ self._after_remedy(part, earlier)[1:])[1:]
            self._taken[done] = self._takes_away_of(part, chances, move)
        return self._taken[done]

    def _takes_away_of(self, part: Part, chances: Array, move: Move) -> float:
        """Chance that a remedy takes away what stops the unit, given the chances of a part's modes, shape (modes,)."""
        stops = self.belief.stopping(part)
        stopping = chances * stops[1:]
        left = self._after_remedy(part, move)[1:][:, ~stops].sum(axis=1)
        return float(stopping @ left) / float(stopping.sum()) if stopping.any() else 0.0

    def _replaced_in_vain(self, part: str) -> bool:
        """Whether a part was replaced already and what was found since speaks more against another."""
        there = part in self.state.origin and part not in self.state.removed
        return there and self.suspects[part].p_blocks < float(self.p_blocks.max())

    def _looking_out(self) -> Outlook:
        count = len(self.belief.parts)
        cost, cures = np.full(count, np.inf), np.zeros(count)
        then_cost, then_cures = cost.copy(), cures.copy()
        series = Series(*np.zeros((3, count)))
        for part, remedies in self.remedies.items():
            if remedies:
                move, chance = max(remedies, key=self._per_money)
                index = self.belief.index[part]
                cost[index], cures[index] = self._own_cost(move), chance
                then_cost[index], then_cures[index] = self._then(move)
                series.cost[index], series.tries[index], series.cures[index] = self._in_series(part)
        price = self.bit_minutes * self.terms.rate
        opened = self.state.open_steps
        steps = [step for step in self.device.steps if step not in opened]
        self._behind, self._ways = self._lying_behind(steps, opened), {step: self._ways_to([step]) for step in steps}
        every = list(self.device.steps)
        self._shut = Access(self._lying_behind(every, frozenset()), np.array([self._ways_to([one]) for one in every]))
        return Outlook(
            cost,
            cures,
            self.belief.no_unknown,
            CHECK_MINUTES * self.terms.rate,
            self._success(),
            self.stop,
            price,
            Access(self._behind, np.array(list(self._ways.values()))),
            then_cost,
            then_cures,
            self._shown(),
            self._closing(),
            self._checkable(),
            self._shut if opened else None,
            series,
        )

    def _per_money(self, one: tuple[Move, float]) -> float:
        """Chance of a remedy over its cost."""
        return one[1] / max(1e-9, self._full_cost(one[0]))

    def _in_series(self, part: str, tried: Move | None = None) -> tuple[float, float, float]:
        """Mean cost, remedies and chance to cure of all that is worth doing to a part that stops something, after one
        that has not helped: of those left always the one with the most chance over cost, access not counted.

        A remedy whose cost is more than its chance of what success adds is not worth doing, and ends the row.
        """
        before = [tried] if tried else []
        others = [move for move, _ in self.remedies[part] if tried is None or move.log != tried.log]
        cost, tries, left = 0.0, 0.0, 1.0
        while others:
            chances = [(self._cures(self.device.parts[part], move, *before), move) for move in others]
            chance, best = max(chances, key=lambda one: self._per_money((one[1], one[0])))
            if chance * (self._success() - self.stop) <= self._own_cost(best):
                break
            cost, tries, left = cost + left * self._own_cost(best), tries + left, left * (1.0 - chance)
            before.append(best)
            others.remove(best)
        return cost, tries, 1.0 - left

    def _then(self, move: Move) -> tuple[float, float]:
        """Cost and chance of what would be done to the part if a remedy has not helped: infinite and 0 for nothing.

        Only what cures more surely comes after it. Nobody goes from a new part to cleaning it, and to count with that
        would make the cleaning look good as a way to be rid of it.
        """
        part = self.device.parts[move.target]
        own = self._cures(part, move)
        others = [
            (other, chance)
            for other, _ in self.remedies[part.id]
            if other.log != move.log and (chance := self._cures(part, other, move)) > own
        ]
        if not others:
            return np.inf, 0.0
        best, chance = max(others, key=self._per_money)
        return self._own_cost(best), chance

    def _ways_after(self, move: Move) -> Array:
        """What the ways cost after a move, shape (steps closed now + steps,): as they lead now, or, after one that
        closes something, as they lead from a closed unit."""
        left_open = after_access(self.state, move.opens, move.closes).open_steps
        now = [0.0 if step in left_open else cost for step, cost in self._ways.items()]
        shut = np.where([step in left_open for step in self.device.steps], 0.0, self._shut.cost)
        closes = not self.state.open_steps <= left_open
        return np.concatenate([np.zeros(len(now)), shut] if closes else [now, np.zeros(len(shut))])

    def _lying_behind(self, steps: Sequence[str], opened: frozenset[str]) -> Array:
        """1 where the way to a part leads through a step, with these open; shape (parts, steps)."""
        ways = [self.device.way_in(opened, part.behind) if part.behind else () for part in self.belief.parts]
        return np.array([[float(step in way) for step in steps] for way in ways]).reshape(len(ways), len(steps))

    def _ways_to(self, steps: Iterable[str]) -> float:
        """Cost of opening and closing steps."""
        minutes = (self.device.steps[step].open_minutes + self.device.steps[step].close_minutes for step in steps)
        return sum(minutes) * self.terms.rate

    def _own_cost(self, move: Move) -> float:
        """Cost of a move without the way to it."""
        return move.cost(self.terms) - self._opening_cost(move)

    def _closing(self, move: Move | None = None) -> float:
        """Cost of closing what is open (after a move)."""
        opens, closes = (move.opens, move.closes) if move else ((), ())
        return closing_minutes(self.device, after_access(self.state, opens, closes)) * self.terms.rate

    def _checkable(self) -> bool:
        """Whether all that is still to be shown could be, as the unit is: a trial that failed would fail again."""
        tests = [test for test in self.device.tests.values() if self.to_prove(test)]
        before = {test.id: self.belief.outcome_in_this_state(test) for test in tests}
        open_yet = {
            test.senses.function
            for test in tests
            if isinstance(test.senses, FunctionLevel) and before[test.id] in (None, test.outcomes[0])
        }
        return open_yet >= set(self.unproven)

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

    def _success(self) -> float:
        """Worth of a unit that works, when all of it has still to be proved."""
        proving = sum(self._try_minutes.values()) + self.terms.list_minutes
        return self.terms.working - proving * self.terms.rate

    def _is_open(self, move: Move) -> bool:
        """Whether something is open after a move."""
        return bool(after_access(self.state, move.opens, move.closes).open_steps)

    def _shown(self, more: str = "") -> float:
        """Worth of the trials made since the last act on the unit, and of that of the function ``more``; none while it
        is open."""
        if self.state.open_steps:
            return 0.0
        made = sum(minutes for name, minutes in self._try_minutes.items() if name == more or name not in self.unproven)
        return made * self.terms.rate

    # ---- looks and tests ------------------------------------------------------------------------------------------

    def answers(self, moves: Sequence[Move]) -> list[Answer]:
        """What each outcome of looks and tests would leave; the terms have no part in it."""
        queries = [
            query_look(self.belief, move.target) if move.test is None else query_test(self.belief, move.test)
            for move in moves
        ]
        return ask(self.belief, queries) if queries else []

    def informing(self, moves: Sequence[Move], answers: Sequence[Answer]) -> list[Ranked]:
        """Looks and tests, judged by what each outcome would leave."""
        if not moves:
            return []
        pairs = list(zip(moves, answers, strict=True))
        shown = np.concatenate([self._shown_after(*pair) for pair in pairs])
        closing = np.concatenate([np.full(len(answer.probability), self._closing(move)) for move, answer in pairs])
        # For the gains all stays as open as it is; what access costs is shared out among them below. The plan after a
        # move finds open what the move opened.
        known = np.nan_to_num(np.concatenate([answer.no_unknown for answer in answers]))
        still = replace(self.outlook, shown=shown, no_unknown=known)
        ways = np.concatenate([np.tile(self._ways_after(move), (len(answer.probability), 1)) for move, answer in pairs])
        after = replace(still, closing=closing, access=Access(np.hstack([self._behind, self._shut.behind]), ways))
        blocks = np.nan_to_num(np.concatenate([answer.p_blocks for answer in answers]))
        good = np.nan_to_num(np.concatenate([answer.known_good for answer in answers]))
        follow, found = one_by_one(after, blocks, good), found_out(still, blocks, good)
        by_plan, gains, beside, row = [], [], [], 0
        for move, answer in pairs:
            rows = slice(row, row + len(answer.probability))
            plan, *by_follow = _mixed(answer.probability, follow, rows)
            brings, *by_found = _mixed(answer.probability, found, rows)
            plan -= move.cost(self.terms)
            pays = plan >= self._plan_now or self._may_prove(move, answer)
            by_plan.append(plan if pays else min(plan, self.stop - move.cost(self.terms)))
            gains.append(brings - self._now - self._own_cost(move))
            beside.append((by_follow, by_found))
            row = rows.stop
        shares = self._access_shares(moves, gains)
        ranked = []
        for (move, answer), plan, gain, share, each in zip(pairs, by_plan, gains, shares, beside, strict=True):
            worth = self._worth(plan, gain - share, moves_on=self.moves_on(move) and self._may_save(move, answer))
            ranked.append(self._by_outcomes(move, answer, worth, *(each[0] if worth == plan else each[1])))
        return ranked

    def _worth(self, by_plan: float, gain: float, *, moves_on: bool) -> float:
        """What is about a part that is probably at fault moves the job on, though it costs more than it gains."""
        return max(by_plan, self._now + gain) if moves_on or gain > 0.0 else by_plan

    def moves_on(self, move: Move) -> bool:
        """Whether a look or test is about a part alone that is probably at fault."""
        if move.test is None:
            return move.target in self.probable
        return isinstance(move.test.senses, PartModes) and move.test.senses.part in self.probable

    def _may_save(self, move: Move, answer: Answer) -> bool:
        """Whether an outcome of a look or test of a part that is probably at fault would save its remedy."""
        part = move.test.senses.part if move.test and isinstance(move.test.senses, PartModes) else move.target
        left = answer.p_blocks[answer.probability > 0.0, self.belief.index[part]]
        return bool((left < self.probable[part]).any())

    def shared_gains(self, moves: Sequence[Move], bits: Sequence[float]) -> list[float]:
        """What moves that bring so many bits gain, by the price of a bit, less their cost and share of access."""
        own = [told * self.outlook.bit - self._own_cost(move) for move, told in zip(moves, bits, strict=True)]
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

    def _shown_after(self, move: Move, answer: Answer) -> Array:
        """Worth of what has been shown after each outcome: opening and closing are acts on the unit, too."""
        acts = move.opens or move.closes
        shown = np.full(len(answer.probability), 0.0 if acts else self._shown())
        if move.test is not None and isinstance(move.test.senses, FunctionLevel) and not self._is_open(move):
            function, works = move.test.senses.function, answer.query.outcomes.index(move.test.outcomes[0])
            shown[works] = self._try_minutes.get(function, 0.0) * self.terms.rate if acts else self._shown(function)
        return shown

    def _by_outcomes(self, move: Move, answer: Answer, worth: float, spread: float, finishes: float) -> Ranked:
        outcomes = prospects(self.belief, answer)
        why = self._why(move, outcomes, answer.p_blocks[answer.probability > 0.0])
        return Ranked(move, move.cost(self.terms), worth, f"{why} {move.remark}".strip(), outcomes, spread, finishes)

    def _why(self, move: Move, outcomes: Sequence[Prospect], blocks: Array) -> str:
        if move.test is not None and self.to_prove(move.test):
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
        outlook = self.outlook.by_row(len(remedies))
        cost, cures = outlook.cost.copy(), outlook.cures.copy()
        then_cost, then_cures = (one.copy() for one in outlook.afterwards())
        cost[rows, first] = [self._own_cost(move) for move, _ in remedies]
        access = np.array([self._access_cost(move) for move, _ in remedies])
        cures[rows, first] = [chance for _, chance in remedies]
        then_cost[rows, first], then_cures[rows, first] = zip(*(self._then(move) for move, _ in remedies), strict=True)
        blocks, good = np.tile(self.p_blocks, (len(remedies), 1)), np.tile(self.good, len(remedies))
        tried = replace(outlook, cost=cost, cures=cures, then_cost=then_cost, then_cures=then_cures)
        by_plan = one_by_one(tried, blocks, good, first)
        after = blocks.copy()
        after[rows, first] *= 1.0 - cures[rows, first]
        paid = cost[rows, first] + access + self.outlook.check
        found = found_out(self._once_tried(tried, [move for move, _ in remedies], first), after, good, blocks)
        gains = found.worth - paid - self._now
        ranked = []
        for row, (move, chance) in enumerate(remedies):
            plan = float(by_plan.worth[row])
            probable = self._takes_away(move, chance) >= PROBABLY
            worth = self._worth(plan, float(gains[row]), moves_on=probable)
            by = by_plan if worth == plan else found
            spread, finishes = float(np.sqrt(by.variance[row])), float(by.finishes[row])
            ranked.append(self._by_cure(move, chance, worth, spread, finishes))
        return ranked

    def _once_tried(self, tried: Outlook, moves: Sequence[Move], first: NDArray[np.intp]) -> Outlook:
        """What can be done once each row's remedy was tried: to its part, all others."""
        shape = (len(moves), len(self.belief.parts))
        series = tried.series()
        after = Series(*(np.broadcast_to(one, shape).copy() for one in (series.cost, series.tries, series.cures)))
        for row, (move, part) in enumerate(zip(moves, first, strict=True)):
            after.cost[row, part], after.tries[row, part], after.cures[row, part] = self._in_series(move.target, move)
        return replace(tried, in_series=after)

    def _takes_away(self, move: Move, chance: float) -> float:
        """Chance that a remedy takes away what stops the unit."""
        return self.suspects[move.target].p_blocks * chance

    def _by_cure(self, move: Move, chance: float, worth: float, spread: float, finishes: float) -> Ranked:
        suspect = self.suspects[move.target]
        cured = self._takes_away(move, chance)
        outcomes = (
            Prospect("cured", cured),
            Prospect("not-cured", suspect.p_blocks - cured),
            Prospect("was-not-it", max(0.0, 1.0 - suspect.p_blocks)),
        )
        odds = percent(suspect.p_blocks)
        why = f"{suspect.what}: {odds} likely to stop something; this takes that away {percent(chance)}."
        return Ranked(move, move.cost(self.terms), worth, f"{why} {move.remark}".strip(), outcomes, spread, finishes)


def _mixed(chances: Array, by_row: Estimate, rows: slice) -> tuple[float, float, float]:
    """Over outcomes, each with its own: mean, standard deviation, and the chance that it ends in a unit that works."""
    worth = by_row.worth[rows]
    mean = float(chances @ worth)
    spread = float(np.sqrt(chances @ (by_row.variance[rows] + (worth - mean) ** 2)))
    return mean, spread, float(chances @ by_row.finishes[rows])


def try_minutes(device: Device, function: str) -> float:
    """Hands-on time of the shortest test that shows whether a function works."""
    sensing = (
        test.minutes
        for test in device.tests.values()
        if isinstance(test.senses, FunctionLevel) and test.senses.function == function
    )
    return min(sensing, default=0.0)
