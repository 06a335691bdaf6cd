"""How well the program's own questions find single faults on a real board: every open and short, one at a time.

The board, the map and what a meter shows on it: ``tests/published/board.py``. On each of the boards up to eight tests
are made that the program asks for, first by its plan, then by expected information for the minutes alone; beside them,
as yardsticks, the same number of tests drawn at random, and none. Run: ``python benchmarks/board.py``.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from time import perf_counter

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "published"))

from board import board, groups, unseen
from finding import MOST, Events, Finding, Proposal, Table, by_information, by_plan, find, weights

from knowngood.log import events as ev


class AtRandom:
    """Any test that was not made yet."""

    def __init__(self, seed: int) -> None:
        self.draw = np.random.default_rng(seed)

    def __call__(self, so_far: Events) -> Proposal:
        made = {one.test for one in so_far if isinstance(one, (ev.Found, ev.Read, ev.Tried))}
        tests = [test for test in board().tests.values() if test.id not in made]
        return Proposal(tests[int(self.draw.integers(len(tests)))], False)


def by_fault(found: Sequence[Finding]) -> None:
    print(
        f"{'fault':18}{'alike':>6}{'part':>6}{'mode':>6}{'strict':>7}{'p_bad':>8}{'tests':>7}{'asked':>7}"
        "  what was asked"
    )
    for one in found:
        name, alike = " ".join(one.fault), len(groups()[one.fault])
        asked = "-" if one.asked is None else one.asked
        ranks = f"{one.part:6}{one.mode:6}{one.strict:7}{one.chance:8.3f}{len(one.lines):7}{asked:>7}"
        print(f"{name:18}{alike:6}{ranks}  {'; '.join(line.partition(' ')[2] for line in one.lines)}")


def main() -> None:
    faults = list(groups())
    seen = [fault for fault in faults if fault not in unseen()]
    weight = weights(faults)
    print(f"{len(board().parts)} parts, {len(board().tests)} tests, {len(faults)} single faults")
    print("no test shows:", ", ".join(" ".join(fault) for fault in sorted(unseen())))
    for group in dict.fromkeys(groups().values()):
        if len(group) > 1 and not group & unseen():
            print("cannot be told apart:", ", ".join(" ".join(fault) for fault in sorted(group)))
    policies = {"plan": by_plan, "information": by_information, "random": AtRandom(1)}
    lines = []
    for name, policy in policies.items():
        start = perf_counter()
        found = [find(fault, policy) for fault in seen]
        spent = perf_counter() - start
        if name == "plan":
            by_fault(found)
        lines += [f"{name:12}each alike  {Table.of(found)}", f"{'':12}as met      {Table.of(found, weight)}"]
        lines.append(f"{'':12}{spent:.0f} s, {1e3 * spent / sum(len(one.lines) for one in found):.0f} ms a test")
    none = [find(fault, by_plan, 0) for fault in seen]
    lines += [f"{'no test':12}each alike  {Table.of(none)}", f"{'':12}as met      {Table.of(none, weight)}"]
    print(f"\nUp to {MOST} tests on each of {len(seen)} boards whose fault shows in some test:")
    print("\n".join(lines))


if __name__ == "__main__":
    main()
