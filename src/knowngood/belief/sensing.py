"""From an outcome to likelihood weights over what a test senses. All tables here: P(outcome | state), rows of states.

A level is sensed with the test's miss and false-alarm rates; a weak function is called by either neighbouring name
with the shares below (common practice, no source).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from knowngood.handbook.quantities import OVERLOAD, parse_reading
from knowngood.handbook.readings import (
    DEFAULT_METER,
    OVERLOAD_OF_SLIPS,
    PULSING,
    Meter,
    ReadingModel,
    Reference,
    rail_diode,
    rail_to_ground,
    rail_voltage,
)
from knowngood.maps.device import AnyMode, Device, Function, Mode, Part, PartModes, RailToGround, RailVoltage, Test
from knowngood.maps.words import CONDITIONS, FINE, HARMLESS, MISSING

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

DEGREES = {"slight": (0.6, 0.25), "clear": (0.3, 0.5), "severe": (0.1, 0.25)}
"""Share of each degree among the conditions that a part shows without a fault, and those that a fault brings about
(common practice, no source)."""

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
    """P(condition | state of the part), shape (states, conditions in the order of LOOKS).

    A fault takes no mark away: a sign of harm that a part with no fault may show, one with a fault shows at least as
    often, if it is there at all.
    """
    quality = GLANCE if look == "glance" else 1.0
    marks = {condition: share for condition, share in part.looks if condition not in (*HARMLESS, MISSING)}
    rows = []
    for looks in (dict(part.looks), *(_marked(mode, marks) for mode in part.modes)):
        row = np.array([quality * looks.get(condition, 0.0) for condition in LOOKS])
        row[0] = 1.0 - row[1:].sum()
        rows.append((1 - ODD_LOOKS) * row + ODD_LOOKS * _ODD)
    return np.array(rows)


def _marked(mode: Mode, marks: Mapping[str, float]) -> dict[str, float]:
    """The looks of a mode with at least these marks; what it adds to them gives way, so that nothing is noted as often
    as before."""
    looks = dict(mode.looks)
    if mode.name == MISSING or all(looks.get(one, 0.0) >= share for one, share in marks.items()):
        return looks
    more = {one: max(0.0, share - marks.get(one, 0.0)) for one, share in looks.items()}
    left = max(0.0, sum(looks.values()) - sum(marks.values()))
    kept = left / sum(more.values()) if left else 0.0
    return {one: marks.get(one, 0.0) + kept * more.get(one, 0.0) for one in (*looks, *marks)}


def degree_factor(degree: str | None) -> float:
    """By what the degree of a condition multiplies the odds of a fault."""
    fine, faulty = DEGREES[degree] if degree else (1.0, 1.0)
    return faulty / fine


def look_weights(part: Part, condition: str, look: str | None, degree: str | None) -> Table:
    """P(condition, and its degree if one was noted | state of the part), shape (states,).

    What a part would show anyway is of the degrees that such marks have without a fault, what its fault adds of those
    that they have with one. So a slight mark is weak evidence for a fault, and none against one.
    """
    weights: Table = look_table(part, look)[:, LOOKS.index(condition)]
    if degree is not None and condition != FINE:
        fine, faulty = DEGREES[degree]
        anyway = np.minimum(weights, weights[0])
        weights = fine * anyway + faulty * (weights - anyway)
    return weights


@dataclass(frozen=True)
class Measuring:
    """What readings are judged by: the meter of the bench, and what the same tests read on known-good units."""

    meter: Meter = DEFAULT_METER
    """The meter now."""
    meters: Mapping[int, Meter] = field(default_factory=dict)
    """The meter at the time of a line, by its sequence number; where none is given, the meter now."""
    references: Mapping[str, Reference] = field(default_factory=dict)
    """By test."""

    def meter_at(self, seq: int | None) -> Meter:
        return self.meter if seq is None else self.meters.get(seq, self.meter)


BY_THE_MAP = Measuring()
"""An ordinary meter, and no known-good unit to compare with."""


@lru_cache(maxsize=512)
def _reading_model(
    function: Function,
    sensed: RailVoltage | RailToGround,
    high: bool,
    pulsing: bool,
    meter: Meter,
    reference: Reference | None,
) -> ReadingModel:
    if isinstance(sensed, RailVoltage):
        assert function.nominal is not None
        return rail_voltage(
            function.nominal, high=high, pulsing=pulsing, drift=function.drift, meter=meter, reference=reference
        )
    if sensed.diode:
        assert function.diode is not None
        return rail_diode(function.diode, meter, reference)
    assert function.to_ground is not None
    return rail_to_ground(function.to_ground, function.short_below, meter, reference)


def reading_model(
    device: Device, test: Test, *, measuring: Measuring = BY_THE_MAP, seq: int | None = None, high: bool = False
) -> ReadingModel:
    """The model of a test's readings: a rail's voltage, its resistance to ground, or its forward drop.

    ``seq`` is the line that the reading stands in; None asks about a reading that could be made now. With ``high`` a
    voltage may be too high even where no fault on the map drives it up.
    """
    assert isinstance(test.senses, (RailVoltage, RailToGround))
    states = (*reading_states(device, test), *(["high"] if high else []))
    return _reading_model(
        device.functions[test.senses.function],
        test.senses,
        "high" in states,
        PULSING in states,
        measuring.meter_at(seq),
        measuring.references.get(test.id),
    )


def reading_states(device: Device, test: Test) -> tuple[str, ...]:
    """States that a reading test can sense, in the order of the rows of its tables."""
    assert isinstance(test.senses, (RailVoltage, RailToGround))
    if isinstance(test.senses, RailToGround):
        return ("short", "clear")
    rail = test.senses.function
    high, pulsing = device.can_be_high(rail), device.can_pulse(rail)
    return ("none", "weak", "good", *(["high"] if high else []), *([PULSING] if pulsing else []))


def reading_outcomes(device: Device, test: Test) -> tuple[str, ...]:
    """States in whose span a reading can be said to fall: pulses look like a rail that is absent, or low."""
    return tuple(state for state in reading_states(device, test) if state != PULSING)


def reading_likelihood(
    device: Device,
    test: Test,
    text: str,
    *,
    measuring: Measuring = BY_THE_MAP,
    seq: int | None = None,
) -> Table:
    """Density of a reading as written in each of ``reading_states``, shape (states,)."""
    model = reading_model(device, test, measuring=measuring, seq=seq)
    read = parse_reading(text)
    by_state = model.likelihood(read.value, read.digit)
    return np.array([by_state[state] for state in reading_states(device, test)])


def slip(
    device: Device,
    test: Test,
    text: str,
    *,
    measuring: Measuring = BY_THE_MAP,
    seq: int | None = None,
) -> tuple[float, float]:
    """The share of readings that are slips, and their part in ``reading_likelihood``, the same in every state."""
    model = reading_model(device, test, measuring=measuring, seq=seq)
    return model.slip, model.slips(parse_reading(text).value)


def reading_table(device: Device, test: Test, *, measuring: Measuring = BY_THE_MAP) -> Table:
    """P(reading falls in the span of each of ``reading_outcomes`` | each of ``reading_states``)."""
    outcomes = reading_outcomes(device, test)
    chances = reading_model(device, test, measuring=measuring).chances(outcomes)
    return np.array([[chances[state][outcome] for outcome in outcomes] for state in reading_states(device, test)])


def sample_reading(device: Device, test: Test, state: str, draw: np.random.Generator) -> str:
    """A reading as an ordinary meter would show it when the rail is in ``state``, slips included; for rehearsal."""
    model = reading_model(device, test)
    assert isinstance(test.senses, (RailVoltage, RailToGround))
    span, unit = model.spans[state], test.senses.unit
    if draw.random() < model.slip:
        if draw.random() < OVERLOAD_OF_SLIPS[model.measured]:
            return f"{OVERLOAD} {unit}"
        place = draw.uniform(model.low, model.high)
    elif draw.random() < span.overload:
        return f"{OVERLOAD} {unit}"
    else:
        place = draw.uniform(span.low, span.high)
    true = 10.0 ** (place + draw.normal(0.0, model.spread)) if model.log else place + draw.normal(0.0, model.spread)
    value = abs(true + draw.normal(0.0, model.meter.standard_uncertainty(model.measured, true)))
    if model.is_overload(value):
        return f"{OVERLOAD} {unit}"
    digit = model.meter.digit(model.measured, value)
    return f"{round(value / digit) * digit:.{max(0, -math.floor(math.log10(digit)))}f} {unit}"


def worst(part: Part, conditions: list[str]) -> str:
    """Of several conditions seen on a part, the one that speaks most for a fault; 'fine' only if there is no other."""
    table = look_table(part, None)
    weight = {condition: float(table[1:, index].max() / table[0, index]) for index, condition in enumerate(LOOKS)}
    found = [one for one in LOOKS if one in conditions and one != FINE]  # in a fixed order, where two weigh the same
    return max(found, key=lambda one: weight[one]) if found else FINE
