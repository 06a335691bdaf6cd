"""Of the faults believed at p a share p is there: over drawn units with drawn logs, and not if a table is wrong.

Units are drawn from the map's priors and worked on without a plan: tests and looks picked at random, with acts between
them that open, unplug, mend and replace. The units of a round go through the same acts, and what can be found comes
from the same pool, so they share one network and are believed in one pass, each with its own evidence.

Why that must hold, and what is counted as independent: ``knowngood.belief.calibration``.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray

from knowngood.belief import priors, sensing
from knowngood.belief.believe import Belief, believe
from knowngood.belief.calibration import BOUNDS, EDGES, Calibration, calibration, wilson
from knowngood.belief.evaluate import World, sensed_row
from knowngood.belief.evidence import Batch
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

pytestmark = pytest.mark.xdist_group("calibration")
"""One worker draws the units, once for all tests."""

MAP, PAST = "some-mains-device", ("dropped",)
ACTS = (
    ("opened cover-off", "mended supply-lead reseat", "closed all"),
    ("opened cover-off", "fitted fan from used", "closed all"),
    ("opened cover-off", "unplugged fan-plug", "fitted supply from new", "plugged fan-plug"),
    ("opened cover-off", "mended main-board wash", "fitted fuse from new", "closed all"),
)
ROUNDS, UNITS, POOL = 12, 250, 24
LARGEST = 40_000
"""Table entries, for one unit, of a round's network. Clues that need more are drawn again: a choice by which tests and
looks there are, not by what they show."""


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


def same(whole: Belief, clue: int) -> Hashable:
    """What makes a clue the same again: all that it could rest on."""
    item = whole.story.evidence[clue]
    return item.key if isinstance(item, Sensed) else item.variable


def table(device: Device, test: Test) -> Array:
    """P(outcome | what is sensed) of a test that gives a word."""
    if isinstance(test.senses, PartModes):
        return sensing.part_table(test, device.parts[test.senses.part])
    return sensing.tried_table(test) if test.verb == "tried" else sensing.two_word_table(test)


def likelihood(device: Device, of: Test | Part, shown: str, wrong: Wrong) -> Array:
    if isinstance(of, Part):
        return sensing.look_table(of, None)[:, sensing.LOOKS.index(shown)]
    if isinstance(of.senses, (RailVoltage, RailToGround)):
        return sensing.reading_likelihood(device, of, shown)
    return table(device, wrong.taken(of))[:, of.outcomes.index(shown)]


def outcome(device: Device, world: World, of: Test | Part, draw: np.random.Generator) -> str:
    """What a look or a test shows in a world."""
    if isinstance(of, Part):
        chances = sensing.look_table(of, None)[of.states.index(world.modes.get(of.id, FINE))]
        return sensing.LOOKS[int(draw.choice(len(chances), p=chances))]
    row = sensed_row(device, of, world)
    assert row is not None
    if isinstance(of.senses, (RailVoltage, RailToGround)):
        return sensing.sample_reading(device, of, sensing.reading_states(device, of)[row], draw)
    return of.outcomes[int(draw.choice(len(of.outcomes), p=table(device, of)[row]))]


def work(
    hidden: HiddenUnit, acts: Sequence[str], pool: Sequence[Clue], picked: Iterable[int], whole: Belief | None = None
) -> tuple[Found, ...]:
    """Carries out the acts on a hidden unit, with the picked tests and looks between them, each in the configuration
    that it has in the log of the whole pool (where that is known)."""
    found: list[Found] = []
    waiting = sorted(picked)
    for stage in range(len(acts) + 1):
        for clue in waiting:
            then, of = pool[clue]
            if then == stage:
                now = hidden.story.configuration(
                    closed=hidden.replayed.state.closed, warm=isinstance(of, Test) and of.warm
                )
                if whole is not None and isinstance(item := whole.story.evidence[clue], Sensed):
                    now = item.configuration
                    hidden.story.shown.update(whole.story.shown)
                found.append((clue, outcome(hidden.device, hidden.world(now), of, hidden.draw)))
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


def as_in(whole: Belief, told: Replay) -> Replay:
    """A log whose belief asks of the same rails what they have hurt as that of the whole pool does."""
    return replace(told, state=replace(told.state, over=whole.story.state.over))


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
        if whole.network.entries <= LARGEST:
            return pool, whole


def draw_round(number: int) -> Round:
    device, acts = load(MAP), ACTS[number % len(ACTS)]
    draw = np.random.default_rng([2, number])
    pool, whole = draw_whole(device, acts, draw)
    # What is the same thing in two stages is found once: a repeat would share its error, and say nothing new.
    first: dict[Hashable, int] = {}
    for number, clue in enumerate(pool):
        first.setdefault((clue[1].id, same(whole, number)), number)
    once = list(first.values())
    units = []
    for _ in range(UNITS):
        hidden = HiddenUnit(device, PAST, draw, whole.story.state.over)
        picked = draw.choice(once, int(draw.integers(len(once))), replace=False).tolist()
        found = work(hidden, acts, pool, picked, whole)
        faults = hidden.modes
        modes = [faults.get(part.id) == mode.name for part in device.parts.values() for mode in part.modes]
        units.append(Unit(found, np.array(modes + [name in hidden.unknown for name in whole.unknown])))
    return Round(device, pool, whole, units)


@cache
def rounds() -> list[Round]:
    return [draw_round(number) for number in range(ROUNDS)]


def found_of(wrong: Wrong) -> Calibration:
    """The calibration over all rounds."""
    return calibration(
        (chances[None], np.array(unit.true[None], float))
        for one in rounds()
        for chances, unit in zip(one.claims(wrong), one.units, strict=True)
    )


def test_of_the_faults_believed_at_p_a_share_p_is_there() -> None:
    found = found_of(RIGHT)
    print(f"\n{found}")
    assert found.count.min() > 30
    assert np.abs(found.z).max() < 3.5
    assert found.bound == BOUNDS[-1]
    assert found.calibrated


MISTAKES = {
    "misses believed far more frequent": Wrong(miss=0.7),
    "false alarms not believed in": Wrong(false_alarm=0.001),
    "false alarms believed frequent": Wrong(false_alarm=0.5),
    "past not known": Wrong(past=()),
}


@pytest.mark.parametrize("wrong", MISTAKES.values(), ids=MISTAKES)
def test_a_wrong_table_is_found_out(wrong: Wrong) -> None:
    found = found_of(wrong)
    print(f"\n{found}")
    assert not found.calibrated


def test_a_batch_of_units_is_believed_as_each_alone() -> None:
    """The belief of the log that a unit's findings would be written in."""
    for number, one in enumerate(rounds()[: len(ACTS)]):
        chances = one.claims(RIGHT)
        for row in range(3):
            alone = believe(one.device, as_in(one.whole, log(one.device, ACTS[number], one.pool, one.units[row].found)))
            by_part = {suspect.part: suspect.modes for suspect in alone.suspects}
            modes = [chance for part in one.device.parts for chance in by_part[part].values()]
            assert modes == pytest.approx(list(chances[row, : len(modes)]), rel=1e-9, abs=1e-12)


# --- the table itself ---


def test_the_interval_ends_where_the_share_would_be_z_standard_errors_off() -> None:
    """Wilson's condition on the ends: (share - p)^2 = z^2 p (1 - p) / n."""
    low, high = wilson(0.2, 20, 1.6449)
    for end in (low, high):
        assert (0.2 - end) ** 2 == pytest.approx(1.6449**2 * end * (1 - end) / 20)
    assert low < 0.2 < high


def test_claims_that_repeat_one_another_count_once() -> None:
    """A unit whose claims are made before five moves tells no more: the same z, chi-square and interval."""
    draw = np.random.default_rng(1)
    once = [(chances, (draw.random((1, 40)) < chances).astype(float)) for chances in draw.random((300, 1, 40)) ** 4]
    five = [(np.tile(chances, (5, 1)), np.tile(facts, (5, 1))) for chances, facts in once]
    found, repeated = calibration(once), calibration(five)
    assert repeated.chi_square == pytest.approx(found.chi_square)
    assert list(repeated.z) == pytest.approx(list(found.z))
    assert list(repeated.count) == [5 * count for count in found.count]
    assert list(repeated.worth) == pytest.approx(list(found.worth))
    assert found.true[0] == 0.0, "the spread of a bin in which nothing is true must not be taken as zero"
    assert found.calibrated


def test_an_empty_bin_takes_no_part_and_too_few_units_are_refused() -> None:
    draw = np.random.default_rng(2)
    units = [(np.full((1, 20), 0.2), (draw.random((1, 20)) < 0.2).astype(float)) for _ in range(50)]
    found = calibration(units)
    assert found.bound == BOUNDS[0]
    assert found.calibrated
    assert str(found).endswith("over 1 bins, bound 10.8, 50 units: calibrated")
    with pytest.raises(ValueError, match="9 units are too few to tell their spread over 9 bins"):
        calibration(units[: len(EDGES) + 1])
