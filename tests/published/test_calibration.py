"""Of the faults believed at p a share p is there: over drawn units with drawn logs, and not if a table is wrong.

Units are drawn from the map's priors and worked on without a plan: tests and looks picked at random, with acts between
them that open, unplug, mend and replace. The units of a round go through the same acts, and what can be found comes
from the same pool, so they share one network and are believed in one pass, each with its own evidence.

That must hold of any right posterior: whatever the log, the surplus of faults over what is believed has mean zero
(A. P. Dawid, The well-calibrated Bayesian, Journal of the American Statistical Association 77 (1982) 605-610). Faults
of one unit hang together, so it is units, not faults, that are counted as independent.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray

from knowngood.belief import priors, sensing
from knowngood.belief.believe import Batch, Belief, believe
from knowngood.belief.evaluate import World, sensed_row
from knowngood.belief.story import Sensed
from knowngood.errors import TooLargeError
from knowngood.handbook.quantities import Money
from knowngood.log import events as ev
from knowngood.log.state import Line, Replay, replay
from knowngood.maps.device import Device, Part, PartModes, RailToGround, RailVoltage, Test
from knowngood.maps.load import load
from knowngood.maps.words import FINE
from knowngood.plan.rehearse import HiddenUnit

Array = NDArray[np.float64]
Clue = tuple[int, Test | Part]
"""What can be found: the stage of the job (before the first act, the second, ...), and the test, or the part seen."""
Found = tuple[int, str]
"""A clue by its place in the pool, and what it showed."""

MAP, PAST = "some-mains-device", ("dropped",)
ACTS = (
    ("opened cover-off", "mended supply-lead reseat", "closed all"),
    ("opened cover-off", "fitted fan from used", "closed all"),
    ("opened cover-off", "unplugged fan-plug", "fitted supply from new", "plugged fan-plug"),
    ("opened cover-off", "mended main-board wash", "fitted fuse from new", "closed all"),
)
ROUNDS, UNITS, POOL = 12, 250, 24
LARGEST = 200_000
"""Table entries, for one unit, of a round's network. Clues that need more are drawn again: a choice by which tests and
looks there are, not by what they show."""
EDGES = (0.002, 0.005, 0.01, 0.03, 0.1, 0.3, 0.6, 0.9)
BOUND = 27.877
"""The 99.9 % point of chi-square with nine degrees of freedom, one for each bin (NIST/SEMATECH e-Handbook of
Statistical Methods, section 1.3.6.7.4)."""


@dataclass(frozen=True)
class Unit:
    """What was found in a drawn unit, and which claims are true of it in the end."""

    found: tuple[Found, ...]
    true: NDArray[np.bool_]


@dataclass(frozen=True)
class Wrong:
    """A mistake in what is believed of the tests, or of where units come from."""

    miss: float | None = None
    false_alarm: float | None = None
    past: tuple[str, ...] = PAST

    def taken(self, test: Test) -> Test:
        """The test as it is believed to be."""
        if self.false_alarm is not None:
            test = replace(test, false_alarm=self.false_alarm)
        if self.miss is not None:
            test = replace(test, miss=self.miss)
            if isinstance(test.senses, PartModes):
                finds = tuple((mode, 1.0 - self.miss) for mode, _ in test.senses.chances)
                test = replace(test, senses=PartModes(test.senses.part, finds))
        return test


RIGHT = Wrong()


@dataclass(frozen=True)
class Round:
    """Units with the same acts and one pool of clues, and the belief of a log with the whole pool in it."""

    device: Device
    pool: Sequence[Clue]
    whole: Belief
    units: Sequence[Unit]

    def claims(self, wrong: Wrong) -> Array:
        """The chance of each claim in each unit, shape (units, claims): every mode of every part, every unknown."""
        start = {}
        if wrong.past != PAST:
            parts = self.device.parts.values()
            start = {f"{one.id}#0": priors.bought(one, wrong.past) / priors.bought(one, PAST) for one in parts}
        batch = Batch(start, len(self.units), self.whole.network.states)
        for row, unit in enumerate(self.units):
            for clue, shown in unit.found:
                variable, rows = place(self.whole, clue)
                if variable is not None:
                    weights = likelihood(self.device, self.pool[clue][1], shown, wrong)
                    batch.multiply(row, variable, weights[list(rows)])
        posterior = self.whole.network.posteriors(batch.rows)
        modes = [posterior[self.whole.story.now[part]][:, 1:] for part in self.device.parts]
        unknown = [posterior[f"?{name}"][:, 1:] for name in self.whole.unknown]
        return np.hstack([*modes, *unknown])


def place(whole: Belief, clue: int) -> tuple[str | None, tuple[int, ...]]:
    """The variable that a clue weighs on, and the row of its table for each of that variable's states."""
    item = whole.story.evidence[clue]
    if isinstance(item, Sensed):
        handle = whole.wiring.handle(item.test, item.configuration)
        return handle.variable, handle.rows
    return item.variable, tuple(range(whole.network.states[item.variable]))


def table(device: Device, test: Test) -> Array:
    """P(outcome | what is sensed) of a test that gives a word."""
    if isinstance(test.senses, PartModes):
        return sensing.part_table(test, device.parts[test.senses.part])
    return sensing.tried_table(test) if test.verb == "tried" else sensing.two_word_table(test)


def can_be_high(device: Device, test: Test) -> bool:
    if not isinstance(test.senses, RailVoltage):
        return False
    needs = device.functions[test.senses.function].needs
    return any(mode.high for need in needs if need in device.parts for mode in device.parts[need].modes)


def likelihood(device: Device, of: Test | Part, shown: str, wrong: Wrong) -> Array:
    if isinstance(of, Part):
        return sensing.look_table(of, None)[:, sensing.LOOKS.index(shown)]
    if isinstance(of.senses, (RailVoltage, RailToGround)):
        return sensing.reading_likelihood(device, of, shown, high=can_be_high(device, of))
    return table(device, wrong.taken(of))[:, of.outcomes.index(shown)]


def outcome(device: Device, world: World, of: Test | Part, draw: np.random.Generator) -> str:
    """What a look or a test shows in a world."""
    if isinstance(of, Part):
        chances = sensing.look_table(of, None)[of.states.index(world.modes.get(of.id, FINE))]
        return sensing.LOOKS[int(draw.choice(len(chances), p=chances))]
    high = can_be_high(device, of)
    row = sensed_row(device, of, world, high=high)
    assert row is not None
    if isinstance(of.senses, (RailVoltage, RailToGround)):
        return sensing.sample_reading(device, of, sensing.reading_states(of, high=high)[row], draw, high=high)
    return of.outcomes[int(draw.choice(len(of.outcomes), p=table(device, of)[row]))]


def work(hidden: HiddenUnit, acts: Sequence[str], pool: Sequence[Clue], picked: Iterable[int]) -> tuple[Found, ...]:
    """Carries out the acts on a hidden unit, with the picked tests and looks between them."""
    found: list[Found] = []
    waiting = sorted(picked)
    for stage in range(len(acts) + 1):
        closed = hidden.replayed.state.closed
        worlds = [hidden.world(closed=closed, warm=warm) for warm in (False, True)]
        for clue in waiting:
            then, of = pool[clue]
            if then == stage:
                world = worlds[isinstance(of, Test) and of.warm]
                found.append((clue, outcome(hidden.device, world, of, hidden.draw)))
        if stage < len(acts):
            hidden.log(ev.parse(acts[stage]))
    return tuple(found)


def log(device: Device, acts: Sequence[str], pool: Sequence[Clue], found: Iterable[Found]) -> Replay:
    """The log that these findings would be written in."""
    by_stage: list[list[ev.Event]] = [[] for _ in range(len(acts) + 1)]
    for clue, shown in found:
        stage, of = pool[clue]
        looked = ev.Saw(part=of.id, condition=shown) if isinstance(of, Part) else None
        read = ev.Read(test=of.id, reading=shown) if isinstance(of, Test) and of.verb == "read" else None
        by_stage[stage].append(looked or read or ev.parse(f"{of.verb} {of.id} {shown}"))  # type: ignore[union-attr]
    events: list[ev.Event] = [ev.Bought(map=device.id, price=Money("EUR", 0), past=PAST), *by_stage[0]]
    for act, then in zip(acts, by_stage[1:], strict=True):
        events += [ev.parse(act), *then]
    return replay(device, [Line(number, "", event) for number, event in enumerate(events, 1)])


def draw_pool(device: Device, stages: int, draw: np.random.Generator) -> list[Clue]:
    """Clues at random, as many about functions and rails as about parts, in the order of the stages."""
    tests = list(device.tests.values())
    of_parts: list[Test | Part] = [one for one in tests if isinstance(one.senses, PartModes)]
    others: list[Test | Part] = [one for one in tests if not isinstance(one.senses, PartModes)]
    kinds = [others, others, of_parts, list(device.parts.values())]
    drawn = [(int(draw.integers(stages)), kind[draw.integers(len(kind))]) for kind in kinds * (POOL // len(kinds))]
    return sorted(dict.fromkeys(drawn), key=lambda clue: clue[0])


def draw_whole(device: Device, acts: Sequence[str], draw: np.random.Generator) -> tuple[list[Clue], Belief]:
    """A pool, and the belief of a log with all of it; which values it holds does not matter."""
    while True:
        pool = draw_pool(device, len(acts) + 1, draw)
        found = work(HiddenUnit(device, PAST, draw), acts, pool, range(len(pool)))
        try:
            whole = believe(device, log(device, acts, pool, found))
        except TooLargeError:
            continue
        if whole.network.plan.total <= LARGEST:
            return pool, whole


def draw_round(number: int) -> Round:
    device, acts = load(MAP), ACTS[number % len(ACTS)]
    draw = np.random.default_rng([2, number])
    pool, whole = draw_whole(device, acts, draw)
    # What is the same thing in two stages is found once: a repeat would share its error, and say nothing new.
    once = list({(clue[1].id, place(whole, number)): number for number, clue in enumerate(pool)}.values())
    units = []
    for _ in range(UNITS):
        hidden = HiddenUnit(device, PAST, draw)
        found = work(hidden, acts, pool, draw.choice(once, int(draw.integers(len(once))), replace=False).tolist())
        modes = [hidden.modes.get(part.id) == mode.name for part in device.parts.values() for mode in part.modes]
        units.append(Unit(found, np.array(modes + [name in hidden.unknown for name in whole.unknown])))
    return Round(device, pool, whole, units)


@cache
def rounds() -> list[Round]:
    return [draw_round(number) for number in range(ROUNDS)]


@dataclass(frozen=True)
class Calibration:
    """By bin of what was believed: how many claims, what they came to, and how many were true."""

    count: NDArray[np.int_]
    believed: Array
    true: Array
    z: Array
    """Surplus of true claims over its standard error, units taken as independent."""
    chi_square: float

    def __str__(self) -> str:
        lines = ["believed           claims  mean believed  share true   95 % interval        z"]
        edges = (0.0, *EDGES, 1.0)
        for one, count in enumerate(self.count):
            low, high = wilson(self.true[one], count)
            lines.append(
                f"{edges[one]:5.3f} to {edges[one + 1]:5.3f} {count:9} {self.believed[one] / count:14.5f} "
                f"{self.true[one] / count:11.5f}   {low:.5f} to {high:.5f} {self.z[one]:6.2f}"
            )
        return "\n".join([*lines, f"chi-square {self.chi_square:.1f} over {len(self.count)} bins"])


def wilson(true: float, count: int, z: float = 1.96) -> tuple[float, float]:
    """E. B. Wilson, Probable inference, the law of succession, and statistical inference, Journal of the American
    Statistical Association 22 (1927) 209-212. For independent claims."""
    share, spread = true / count, z * z / count
    middle = share + spread / 2
    half = z * np.sqrt(share * (1 - share) / count + spread / (4 * count))
    return float((middle - half) / (1 + spread)), float((middle + half) / (1 + spread))


def calibration(wrong: Wrong) -> Calibration:
    counts, believed, true, surplus = [], [], [], []
    for one in rounds():
        chances, facts = one.claims(wrong), np.array([unit.true for unit in one.units], float)
        inside = np.digitize(chances, EDGES)[..., None] == np.arange(len(EDGES) + 1)
        counts.append(inside.sum(axis=(0, 1)))
        believed.append(np.einsum("uc,ucb->b", chances, inside))
        true.append(np.einsum("uc,ucb->b", facts, inside))
        surplus.append(np.einsum("uc,ucb->ub", facts - chances, inside))
    by_unit = np.concatenate(surplus)
    total, spread = by_unit.sum(axis=0), by_unit.T @ by_unit
    return Calibration(
        np.sum(counts, axis=0),
        np.sum(believed, axis=0),
        np.sum(true, axis=0),
        total / np.sqrt(np.diag(spread)),
        float(total @ np.linalg.solve(spread, total)),
    )


def test_of_the_faults_believed_at_p_a_share_p_is_there() -> None:
    found = calibration(RIGHT)
    print(f"\n{found}")
    assert found.count.min() > 100
    assert np.abs(found.z).max() < 3.5
    assert found.chi_square < BOUND


MISTAKES = {
    "misses believed far more frequent": Wrong(miss=0.7),
    "false alarms not believed in": Wrong(false_alarm=0.001),
    "false alarms believed frequent": Wrong(false_alarm=0.3),
    "past not known": Wrong(past=()),
}


@pytest.mark.parametrize("wrong", MISTAKES.values(), ids=MISTAKES)
def test_a_wrong_table_is_found_out(wrong: Wrong) -> None:
    found = calibration(wrong)
    print(f"\n{found}")
    assert found.chi_square > BOUND


def test_a_batch_of_units_is_believed_as_each_alone() -> None:
    """The belief of the log that a unit's findings would be written in."""
    for number, one in enumerate(rounds()[: len(ACTS)]):
        chances = one.claims(RIGHT)
        for row in range(3):
            alone = believe(one.device, log(one.device, ACTS[number], one.pool, one.units[row].found))
            by_part = {suspect.part: suspect.modes for suspect in alone.suspects}
            modes = [chance for part in one.device.parts for chance in by_part[part].values()]
            assert modes == pytest.approx(list(chances[row, : len(modes)]), rel=1e-9, abs=1e-12)
