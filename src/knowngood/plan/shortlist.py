"""Which looks and tests are worth following through exactly.

A quick estimate of the bits that each would bring: the chance of each part's modes as the belief has them, and what
each mode alone does to what is sensed. It takes parts as independent where the exact pass does not, so it only decides
which moves the exact pass is asked about, never what any of them is worth.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from knowngood.belief import sensing
from knowngood.belief.evaluate import effects
from knowngood.belief.terms import GOOD
from knowngood.maps.device import AnyMode, FunctionLevel, PartModes, RailToGround, RailVoltage, Test
from knowngood.plan.judge import Judge
from knowngood.plan.moves import Move
from knowngood.plan.value import bits_of

Array = NDArray[np.float64]

MOST = 12
"""Looks and tests followed through for what they tell."""

MOST_TO_PROVE = 4
"""Tries followed through because a promised function is still to be shown."""


def shortlist(judge: Judge, moves: Sequence[Move]) -> list[Move]:
    """The moves that look best, at most ``MOST`` of them and ``MOST_TO_PROVE`` that show what is still to be shown, and
    those about a part that is probably at fault."""
    sketch = Sketch(judge)
    gains = judge.shared_gains(moves, [sketch.bits(move) for move in moves])
    order = sorted(range(len(moves)), key=lambda index: (-gains[index], moves[index].name))
    picked = [index for index in order if gains[index] > 0.0][:MOST]
    picked += [index for index in order if judge.to_prove(moves[index].test) and index not in picked][:MOST_TO_PROVE]
    picked += [index for index in order if judge.moves_on(moves[index]) and index not in picked]
    return [moves[index] for index in picked]


class Sketch:
    """The belief as independent parts."""

    def __init__(self, judge: Judge) -> None:
        self.belief = judge.belief
        self.device = judge.device
        self.parts = judge.belief.parts
        self.states = [judge.belief.slot(judge.belief.posterior, part)[0] for part in self.parts]
        self.stopping = [judge.belief.stopping(part) for part in self.parts]
        self.p_blocks = judge.p_blocks[0]

    def bits(self, move: Move) -> float:
        """How many bits about what stops the unit a look or test would bring, roughly."""
        test = move.test
        if test is None:
            part = self.device.parts[move.target]
            return self._of_part(move.target, sensing.look_table(part, None))
        if isinstance(test.senses, PartModes):
            return self._of_part(test.senses.part, self.belief.table(test))
        table = self.belief.table(test)
        limited = self._limited(test)
        return self._of_rows(limited, self._chances(test, limited), table[: limited.shape[1] + 1])

    def _of_part(self, name: str, table: Array) -> float:
        index = self.belief.index[name]
        joint = self.states[index][:, None] * table
        chances = joint.sum(axis=0)
        blocks = joint[self.stopping[index]].sum(axis=0) / np.maximum(chances, 1e-300)
        return float(bits_of(self.p_blocks[index : index + 1])[0] - chances @ bits_of(blocks))

    def _limited(self, test: Test) -> Array:
        """P(a part stops something and puts what is sensed in each row below the best), shape (parts, rows - 1)."""
        sensed = test.senses
        two = isinstance(sensed, (AnyMode, RailToGround))
        limited = np.zeros((len(self.parts), 1 if two else GOOD))
        if isinstance(sensed, (FunctionLevel, RailVoltage)):
            for index, number, level in self._lowered.get(sensed.function, ()):
                limited[index, level] += self.states[index][number]
            return limited
        of_any = {part: set(modes) for part, modes in sensed.modes} if isinstance(sensed, AnyMode) else {}
        loads = set(self.device.loads_of[sensed.function]) if isinstance(sensed, RailToGround) else set()
        for index, part in enumerate(self.parts):
            for number, mode in enumerate(part.modes, start=1):
                if not self.stopping[index][number]:
                    continue
                row: int | None = None
                if isinstance(sensed, AnyMode):
                    row = 0 if mode.name in of_any.get(part.id, ()) else None
                elif isinstance(sensed, RailToGround):
                    row = 0 if part.id in loads and mode.takes == "short" else None
                if row is not None:
                    limited[index, row] += self.states[index][number]
        return limited

    @cached_property
    def _lowered(self) -> dict[str, list[tuple[int, int, int]]]:
        """By function the states of parts that stop something and hold it below its best: part, state, level."""
        found: dict[str, list[tuple[int, int, int]]] = {}
        levels = effects(self.device).levels
        for index, part in enumerate(self.parts):
            for number, mode in enumerate(part.modes, start=1):
                if self.stopping[index][number]:
                    for function, level in levels[part.id, mode.name].items():
                        found.setdefault(function, []).append((index, number, int(level)))
        return found

    def _chances(self, test: Test, limited: Array) -> Array:
        """Chance of each row of what is sensed, shape (rows,), of independent parts; how likely a wanted function is
        good is the belief's."""
        sensed = test.senses
        up_to = np.cumsum(limited, axis=1)
        at_most = 1.0 - np.prod(1.0 - np.clip(up_to, 0.0, 1.0), axis=0)
        chances = np.diff(np.concatenate([[0.0], at_most, [1.0]]))
        if isinstance(sensed, FunctionLevel) and sensed.function in self.belief.good:
            good = self.belief.good[sensed.function]
            below = chances[:-1].sum()
            chances[:-1] = (1.0 - good) * (chances[:-1] / below if below else 1.0 / len(chances[:-1]))
            chances[-1] = good
        return chances

    def _of_rows(self, limited: Array, chances: Array, table: Array) -> float:
        rest = np.maximum(self.p_blocks - limited.sum(axis=1), 0.0)
        joint = np.concatenate([limited, np.zeros((len(limited), 1))], axis=1) + rest[:, None] * chances
        outcomes = chances @ table
        blocks = np.clip(joint @ table / np.maximum(outcomes, 1e-300), 0.0, 1.0)
        before, after = bits_of(self.p_blocks).sum(), (bits_of(blocks).sum(axis=0) @ outcomes)
        return float(before - after)
