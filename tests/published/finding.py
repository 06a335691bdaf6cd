"""How soon the program's own questions find a single fault on a real board, and where the fault then stands."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from board import Bench, bases, board, groups, log, mode_name, ratios_of
from circuit import Fault
from numpy.typing import NDArray

from knowngood.belief.believe import Belief, believe
from knowngood.belief.what_if import ask, query_test
from knowngood.errors import TooLargeError
from knowngood.handbook.quantities import Money
from knowngood.log import events as ev
from knowngood.maps.device import Test
from knowngood.plan.choose import advise
from knowngood.plan.terms import DEFAULTS, terms

MOST = 8
"""Tests that are made on each board."""

Events = Sequence[ev.Event]
Policy = Callable[[Events], "Proposal | None"]


@dataclass(frozen=True)
class Proposal:
    """The test that is asked for next, and whether the program would rather mend or sell by now."""

    test: Test
    done_asking: bool


def by_plan(so_far: Events) -> Proposal | None:
    """Of the program's advice (``plan.choose.advise``) the test that ranks highest."""
    ranked = advise(board(), log(so_far), terms(board(), **DEFAULTS)).ranked
    tests = [one.move.test for one in ranked if one.move.test]
    return Proposal(tests[0], ranked[0].move.test is None) if tests else None


def by_information(so_far: Events) -> Proposal | None:
    """The test not made yet that is expected to tell most for its minutes about which parts stop something
    (``belief.what_if``): bits, summed over the parts."""
    made = {one.test for one in so_far if isinstance(one, (ev.Found, ev.Read, ev.Tried))}
    tests = [test for test in board().tests.values() if test.id not in made]
    belief = believe(board(), log(so_far))
    now = np.array([{one.part: one.p_blocks for one in belief.suspects}[part.id] for part in belief.parts])
    told = []
    for test, answer in zip(tests, ask(belief, [query_test(belief, test) for test in tests]), strict=True):
        then = answer.probability @ _bits(np.nan_to_num(answer.p_blocks)).sum(axis=1)
        told.append((_bits(now).sum() - then) / test.minutes)
    return Proposal(tests[int(np.argmax(told))], False)


def _bits(chance: NDArray[np.float64]) -> NDArray[np.float64]:
    inside = np.clip(chance, 1e-15, 1.0 - 1e-15)
    bits: NDArray[np.float64] = -(inside * np.log2(inside) + (1 - inside) * np.log2(1 - inside))
    return bits


@dataclass(frozen=True)
class Finding:
    """Where a fault stands after the tests. Rank 1 is first; what is just as probable stands before it.

    ``part`` and ``mode`` leave out what no test of the map could tell from the fault (its group); ``strict`` does not.
    """

    fault: Fault
    lines: tuple[str, ...]
    part: int
    mode: int
    strict: int
    chance: float
    """p_bad of the part."""
    asked: int | None
    """Tests after which the program would rather mend or sell than ask; None if it never would."""
    refused: bool
    """Whether one more test would have outgrown exact inference, so that it ended there."""


def find(fault: Fault, policy: Policy, most: int = MOST) -> Finding:
    """Makes the tests that the policy asks for on a board with this fault."""
    bench = Bench(fault)
    so_far: list[ev.Event] = [ev.Bought(map=board().id, price=Money("EUR", 0))]
    belief, asked, refused = believe(board(), log(so_far)), None, False
    while len(so_far) <= most:
        try:
            proposal = policy(so_far)
            if proposal is None or proposal.done_asking:
                asked = len(so_far) - 1 if asked is None else asked
            if proposal is None:
                break
            next_one = bench.outcome(proposal.test)
            belief = believe(board(), log([*so_far, next_one]))
        except TooLargeError:
            refused = True
            break
        so_far.append(next_one)
    return _standing(fault, so_far, belief, asked, refused)


def _standing(fault: Fault, so_far: Events, belief: Belief, asked: int | None, refused: bool) -> Finding:
    alike = {(part.lower(), mode_name(mode)) for part, mode in groups()[fault]}
    own = (fault[0].lower(), mode_name(fault[1]))
    bad = {one.part: one.p_bad for one in belief.suspects}
    modes = {(one.part, mode): chance for one in belief.suspects for mode, chance in one.modes.items()}
    others = {part for part in bad if part not in {part for part, _ in alike}}
    return Finding(
        fault,
        tuple(ev.render(one) for one in so_far[1:]),
        part=1 + sum(bad[part] >= bad[own[0]] for part in others),
        mode=1 + sum(chance >= modes[own] for mode, chance in modes.items() if mode not in alike),
        strict=1 + sum(chance >= bad[own[0]] for part, chance in bad.items() if part != own[0]),
        chance=bad[own[0]],
        asked=asked,
        refused=refused,
    )


def weights(faults: Iterable[Fault]) -> Mapping[Fault, float]:
    """How often each fault is met, by the published rates and ratios that the map rests on."""
    return {fault: bases()[fault[0]] * ratios_of(fault[0])[fault[1]] for fault in faults}


@dataclass(frozen=True)
class Table:
    """Shares over some findings, each weighing the same or as often as it is met."""

    first: float
    in_three: float
    mean_rank: float
    mode_first: float
    mode_in_three: float
    strict_first: float
    tests: float
    refused: float

    @staticmethod
    def of(found: Sequence[Finding], weight: Mapping[Fault, float] | None = None) -> Table:
        by = np.array([1.0 if weight is None else weight[one.fault] for one in found])

        def mean(value: Callable[[Finding], float]) -> float:
            return float(np.average([value(one) for one in found], weights=by))

        return Table(
            mean(lambda one: one.part == 1),
            mean(lambda one: one.part <= 3),
            mean(lambda one: one.part),
            mean(lambda one: one.mode == 1),
            mean(lambda one: one.mode <= 3),
            mean(lambda one: one.strict == 1),
            mean(lambda one: len(one.lines)),
            mean(lambda one: one.refused),
        )

    def __str__(self) -> str:
        return (
            f"part first {self.first:4.0%}, in first three {self.in_three:4.0%}, mean rank {self.mean_rank:5.2f}; "
            f"mode first {self.mode_first:4.0%}, in first three {self.mode_in_three:4.0%}; "
            f"part first with its group against it {self.strict_first:4.0%}; tests {self.tests:.1f}, "
            f"ended by TooLargeError {self.refused:4.0%}"
        )
