"""How well the program's own questions find single faults on a real board: every open and short, one at a time.

The board, the map and what a meter shows on it: ``tests/published/board.py``. On each of the boards some tests are made
that the program asks for, first by its plan, then by expected information for the minutes alone; beside them, as
yardsticks, as many drawn at random, and none. Run: ``python benchmarks/board.py [TESTS [POLICY ...]]``, by itself eight
tests and all policies (plan, information, random), half an hour; five take a third of that.
"""

from __future__ import annotations

import sys
from pathlib import Path
from time import perf_counter

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "published"))

from board import board, groups, unseen
from finding import MOST, Events, Finding, Policy, Proposal, Table, by_information, by_plan, find, weights

from knowngood.log import events as ev


class AtRandom:
    """Any test that was not made yet."""

    def __init__(self, seed: int) -> None:
        self.draw = np.random.default_rng(seed)

    def __call__(self, so_far: Events) -> Proposal:
        made = {one.test for one in so_far if isinstance(one, (ev.Found, ev.Read, ev.Tried))}
        tests = [test for test in board().tests.values() if test.id not in made]
        return Proposal(tests[int(self.draw.integers(len(tests)))], False)


HEAD = f"{'fault':18}{'alike':>6}{'part':>6}{'mode':>6}{'strict':>7}{'p_bad':>8}{'tests':>6}{'asked':>6}"


def line(one: Finding) -> str:
    """``asked``: tests after which the plan would rather mend or sell. A star: one more was refused as too large."""
    asked = "-" if one.asked is None else one.asked
    tests = f"{len(one.lines)}{'*' if one.refused else ''}"
    ranks = f"{one.part:6}{one.mode:6}{one.strict:7}{one.chance:8.3f}{tests:>6}{asked:>6}"
    return f"{' '.join(one.fault):18}{len(groups()[one.fault]):6}{ranks}"


def main() -> None:
    most = int(sys.argv[1]) if len(sys.argv) > 1 else MOST
    policies: dict[str, Policy] = {"plan": by_plan, "information": by_information, "random": AtRandom(1)}
    chosen = sys.argv[2:] or list(policies)
    faults = list(groups())
    seen = [fault for fault in faults if fault not in unseen()]
    weight = weights(faults)
    print(f"{len(board().parts)} parts, {len(board().tests)} tests, {len(faults)} single faults")
    print("no test shows:", ", ".join(" ".join(fault) for fault in sorted(unseen())))
    for group in dict.fromkeys(groups().values()):
        if len(group) > 1 and not group & unseen():
            print("cannot be told apart:", ", ".join(" ".join(fault) for fault in sorted(group)))
    tables = [("none", 0.0, [find(fault, by_plan, 0) for fault in seen])]
    for name in chosen:
        print(f"\nby {name}\n{HEAD}")
        start, found = perf_counter(), []
        for fault in seen:
            found.append(find(fault, policies[name], most))
            print(line(found[-1]), flush=True)
        tables.append((name, perf_counter() - start, found))
    print(f"\nUp to {most} tests on each of {len(seen)} boards whose fault shows in some test:")
    for name, spent, found in tables:
        print(f"{name:12} each alike  {Table.of(found)}")
        print(f"{'':12} as met      {Table.of(found, weight)}; {spent:.0f} s")


if __name__ == "__main__":
    main()
