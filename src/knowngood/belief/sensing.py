"""From an outcome to likelihood weights over what a test senses. All tables here: P(outcome | state), rows of states.

A level is sensed with the test's miss and false-alarm rates; a weak function is called by either neighbouring name
with the shares below (common practice, no source).
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from knowngood.handbook.quantities import parse_reading
from knowngood.handbook.readings import ReadingModel, rail_to_ground, rail_voltage
from knowngood.maps.device import AnyMode, Device, Function, Part, PartModes, RailToGround, RailVoltage, Test
from knowngood.maps.words import CONDITIONS, FINE, MISSING

Table = NDArray[np.float64]

WEAK_CALLED_WORKING = 0.10
WEAK_CALLED_FAILING = 0.15
"""How a person calls a weak function (common practice, no source)."""

WEAK_PASSES = 0.25
"""Share of weak functions that a two-word test calls ok (common practice, no source)."""

ODD_LOOKS = 0.02
"""Share of looks that note a condition the table of the kind does not list (common practice, no source)."""

ODD_MISSING = 0.05
"""How much rarer 'missing' is than another odd note: what is there is seldom taken to be absent (common practice)."""

GLANCE = 0.35
"""What a glance finds of that which a close look finds (common practice, no source)."""

LOOKS = tuple(CONDITIONS)
"""Outcomes of a look, 'fine' first."""


def tried_table(test: Test) -> Table:
    """P(works, weak, fails | none, weak, good), shape (3 levels, 3 outcomes)."""
    return np.array(
        [
            [test.miss / 2, test.miss / 2, 1 - test.miss],
            [WEAK_CALLED_WORKING, 1 - WEAK_CALLED_WORKING - WEAK_CALLED_FAILING, WEAK_CALLED_FAILING],
            [1 - test.false_alarm, test.false_alarm / 2, test.false_alarm / 2],
        ]
    )


def level_table(test: Test) -> Table:
    """P(ok, bad | none, weak, good), shape (3 levels, 2 outcomes)."""
    passing = [test.miss, test.miss + WEAK_PASSES * (1 - test.false_alarm - test.miss), 1 - test.false_alarm]
    return np.array([[chance, 1 - chance] for chance in passing])


def any_mode_table(test: Test) -> Table:
    """P(ok, bad | some mode is there, none is), shape (2, 2)."""
    return np.array([[test.miss, 1 - test.miss], [1 - test.false_alarm, test.false_alarm]])


def two_word_table(test: Test) -> Table:
    """The table of a test with two outcome words that senses a function's level or any of some modes."""
    return any_mode_table(test) if isinstance(test.senses, AnyMode) else level_table(test)


def part_table(test: Test, part: Part) -> Table:
    """P(ok, bad | state of the part), shape (states, 2). A mode that the test does not look for is as fine."""
    assert isinstance(test.senses, PartModes)
    chances = dict(test.senses.chances)
    bad = [test.false_alarm, *(chances.get(mode.name, test.false_alarm) for mode in part.modes)]
    return np.array([[1 - chance, chance] for chance in bad])


def outcome_table(device: Device, test: Test) -> Table:
    """P(outcome | row of what is sensed) of a test whose outcomes are words."""
    if isinstance(test.senses, PartModes):
        return part_table(test, device.parts[test.senses.part])
    return tried_table(test) if test.verb == "tried" else two_word_table(test)


def _odd_notes() -> Table:
    """Which condition is noted when it is one that the kind's table does not list, shape (conditions,)."""
    weights = np.array([0.0 if one == FINE else ODD_MISSING if one == MISSING else 1.0 for one in LOOKS])
    weights /= weights.sum()
    return weights


_ODD = _odd_notes()


def look_table(part: Part, look: str | None) -> Table:
    """P(condition | state of the part), shape (states, conditions in the order of LOOKS)."""
    quality = GLANCE if look == "glance" else 1.0
    rows = []
    for looks in (dict(part.looks), *(dict(mode.looks) for mode in part.modes)):
        row = np.array([quality * looks.get(condition, 0.0) for condition in LOOKS])
        row[0] = 1.0 - row[1:].sum()
        rows.append((1 - ODD_LOOKS) * row + ODD_LOOKS * _ODD)
    return np.array(rows)


@lru_cache(maxsize=512)
def reading_model(function: Function, *, to_ground: bool, high: bool) -> ReadingModel:
    """The model of a rail's readings: its voltage, or its resistance to ground."""
    if to_ground:
        assert function.to_ground is not None
        return rail_to_ground(function.to_ground, function.short_below)
    assert function.nominal is not None
    return rail_voltage(function.nominal, high=high)


def reading_states(test: Test, *, high: bool) -> tuple[str, ...]:
    """States that a reading test tells apart, in the order of the sensed levels."""
    if isinstance(test.senses, RailToGround):
        return ("short", "clear")
    return ("none", "weak", "good", "high") if high else ("none", "weak", "good")


def reading_likelihood(device: Device, test: Test, text: str, *, high: bool) -> Table:
    """Density of a reading as written in each of ``reading_states``, shape (states,)."""
    model = _model(device, test, high=high)
    by_state = model.likelihood(parse_reading(text).value)
    return np.array([by_state[state] for state in reading_states(test, high=high)])


def reading_table(device: Device, test: Test, *, high: bool) -> Table:
    """P(reading falls in each state's span | state), square, in the order of ``reading_states``."""
    states = reading_states(test, high=high)
    chances = _model(device, test, high=high).chances(states)
    return np.array([[chances[state][outcome] for outcome in states] for state in states])


def _model(device: Device, test: Test, *, high: bool) -> ReadingModel:
    assert isinstance(test.senses, (RailVoltage, RailToGround))
    function = device.functions[test.senses.function]
    return reading_model(function, to_ground=isinstance(test.senses, RailToGround), high=high)


def sample_reading(device: Device, test: Test, state: str, draw: np.random.Generator, *, high: bool) -> str:
    """A reading as a meter would show it when the rail is in ``state``; for rehearsal."""
    model = _model(device, test, high=high)
    span = model.spans[state]
    if draw.random() < span.overload:
        return "OL ohm"
    place = draw.uniform(span.low, span.high)
    if model.log:
        return f"{10.0 ** (place + draw.normal(0.0, 0.04)):.3g} ohm"
    shown = place + draw.normal(0.0, model.meter.standard_uncertainty(place))
    digits = max(0, -math.floor(math.log10(model.meter.resolution(place))))
    return f"{max(0.0, shown):.{digits}f} V"


def worst(part: Part, conditions: list[str]) -> str:
    """Of several conditions seen on a part, the one that speaks most for a fault; 'fine' only if there is no other."""
    table = look_table(part, None)
    weight = {condition: float(table[1:, index].max() / table[0, index]) for index, condition in enumerate(LOOKS)}
    found = [one for one in LOOKS if one in conditions and one != FINE]  # in a fixed order, where two weigh the same
    return max(found, key=lambda one: weight[one]) if found else FINE
