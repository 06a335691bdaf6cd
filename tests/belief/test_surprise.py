"""Which lines can hardly be true together, against their chances summed over every course of events."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace
from itertools import combinations

import devices as dv
import numpy as np
import pytest
from hypothesis import assume, given
from test_oracle import Case, cases, drawn, evidence_only, jointly, possible

from knowngood.belief import sensing
from knowngood.belief.believe import Belief, believe
from knowngood.belief.evidence import Weight
from knowngood.belief.explanations import explain
from knowngood.belief.surprise import LEVEL, Surprise, surprise
from knowngood.belief.verdict import verdict
from knowngood.errors import ContradictionError
from knowngood.handbook.quantities import parse_reading
from knowngood.log import events as ev
from knowngood.maps.device import Device, PartModes, RailVoltage
from knowngood.maps.load import load

LOW = 0.2
"""A level that drawn logs often pass."""


@drawn(40)
@given(cases(parts=4, functions=3, most=2**6))
def test_the_smallest_set_is_found_and_it_is_the_most_surprising_of_its_size(case: Case) -> None:
    """Up to five lines the search leaves out no set."""
    jointly(case)
    belief = possible(case)
    weights = belief.weights
    found = surprise(belief, LOW)
    alone = max((by_itself(belief, weight) for weight in weights), default=0.0)
    if alone > LOW:
        assert found is not None
        assert len(found.lines) == 1
        assert found.log10 == pytest.approx(alone, rel=1e-9)
        return
    chances = {n: log_chance(case, weights[n].lines) for n in range(len(weights))}
    sizes = {
        chosen: sum(chances[n] for n in chosen) - log_chance(case, (line for n in chosen for line in weights[n].lines))
        for count in range(2, len(weights) + 1)
        for chosen in combinations(range(len(weights)), count)
    }
    assume(all(abs(size - LOW) > 1e-9 for size in sizes.values()))
    above = [(len(chosen), -size) for chosen, size in sizes.items() if size > LOW]
    if not above:
        assert found is None
        return
    assert found is not None
    count, size = min(above)
    chosen = tuple(n for n, one in enumerate(weights) if one.lines[-1] in found.lines)
    assert len(chosen) == len(found.lines) == count
    assert found.log10 == pytest.approx(-size, rel=1e-9, abs=1e-9)
    assert sizes[chosen] == pytest.approx(found.log10, rel=1e-9, abs=1e-9)
    assert found.texts == tuple(weights[n].text for n in chosen)


def log_chance(case: Case, lines: Iterable[int]) -> float:
    """log10 of the chance of some lines, those of evidence that are not among them left out."""
    kept = set(lines)
    unused = {place for place in evidence_only(case.events) if place + 1 not in kept}
    blank = ev.Noted(text="left out")
    events = tuple(blank if place in unused else event for place, event in enumerate(case.events))
    return math.log10(jointly(replace(case, events=events)).total)


def by_itself(belief: Belief, weight: Weight) -> float:
    """How surprising it is that a reading is no slip, from where it could come from without one."""
    read = [item for item in belief.story.evidence if item.seq in weight.lines and hasattr(item, "test")]
    made = [one for one in read if one.test.verb == "read"]
    if not made:
        return 0.0
    prior = belief.network.posteriors()[weight.variable][0]
    models = [sensing.reading_model(belief.device, one.test, seq=one.seq) for one in made]
    slips = np.mean([model.slips(parse_reading(one.outcome).value) for model, one in zip(models, made, strict=True)])
    meant = float(prior @ (weight.values - slips)) / float(prior @ weight.values)
    return math.inf if meant < 1e-9 else math.log10((1.0 - float(np.mean([model.slip for model in models]))) / meant)


# ---- at the bench ---------------------------------------------------------------------------------------------------

PROJECTOR = load("ceiling-projector")
WORKING = ("tried standby-light works", "tried fans-turn works", "tried picture works")


def told(*lines: str, on: Device = PROJECTOR) -> Surprise | None:
    return surprise(believe(on, dv.log(on, lines)))


def test_a_slip_of_the_pen_is_found() -> None:
    """12.1 V typed as 121 V. Measured again, and right, it is settled."""
    assert told(*WORKING, "read rail-12v 12.1 V") is None
    slip = told(*WORKING, "read rail-12v 121 V")
    assert slip is not None
    assert (slip.lines, slip.recheck, slip.log10) == ((4,), 4, math.inf)
    assert str(slip) == (
        "This line can hardly be true: line 4: read rail-12v 121 V. Nothing that this map knows reads so there. "
        "Recheck it; a slip of the hand or pen is taken back with 'undid 4'."
    )
    assert told(*WORKING, "read rail-12v 121 V", "read rail-12v 12.1 V") is None


def test_a_lost_prefix_is_found_by_the_lines_it_does_not_fit() -> None:
    """12 V written as 12 mV: a dead rail is nothing strange by itself, but fans and picture need it."""
    slip = told("tried sound works", *WORKING, "read rail-12v 0.012 V", "saw lamp-door fine")
    assert slip is not None
    assert 5 in slip.lines
    assert slip.recheck == 5
    assert slip.log10 > LEVEL
    assert str(slip).startswith("These lines can hardly all be true: line ")
    assert "; line 5: read rail-12v 0.012 V. Recheck line 5 first; " in str(slip)
    assert told("read rail-12v 0.012 V") is None


def test_what_was_mended_in_between_is_no_surprise() -> None:
    broken, working = "tried lamp-lights fails", "tried lamp-lights works"
    assert told("tried lamp-ticks works", broken, "fitted lamp-module from new", working) is None


def wheel(minutes: float = 1.0, **errors: float) -> Device:
    """A wheel on a shaft: two tests of the shaft's level and two of the wheel's, with these errors."""
    changes = {"miss": 0.0001, "false_alarm": 0.0001, **errors}
    tests = [dv.tried(f"{of}.{n}", of, **changes) for of in ("turns", "rolls") for n in ("a", "b")]
    tests = [replace(one, minutes=minutes) if one.id == "rolls.a" else one for one in tests]
    return dv.device(
        [dv.part("shaft", base=0.3), dv.part("wheel", base=0.3)],
        [dv.function("turns", "shaft"), dv.function("rolls", "turns", "wheel", wanted=True)],
        tests,
    )


def test_the_line_that_fits_none_of_the_others_is_rechecked_first() -> None:
    """Every pair with the odd line is as surprising; leaving out another line leaves the odd one."""
    lines = ("tried turns.a fails", "tried turns.b works", "tried rolls.a works", "tried rolls.b works")
    for order in (lines, lines[::-1]):
        found = told(*order, on=wheel())
        assert found is not None
        assert len(found.lines) == 2
        assert found.recheck == order.index("tried turns.a fails") + 1


@pytest.mark.parametrize(("minutes", "recheck"), [(0.5, 2), (3.0, 1)])
def test_of_lines_that_fit_as_badly_the_quickest_is_rechecked(minutes: float, recheck: int) -> None:
    found = told("tried turns.a fails", "tried rolls.a works", on=wheel(minutes))
    assert found is not None
    assert (found.lines, found.recheck) == ((1, 2), recheck)


@pytest.mark.parametrize(("minutes", "recheck"), [(0.5, 2), (3.0, 1)])
def test_a_contradiction_says_what_to_recheck(minutes: float, recheck: int) -> None:
    """Two lines that exclude each other, and then a third that takes one's side."""
    sure = wheel(minutes, miss=0.0, false_alarm=0.0)
    lines = ["tried turns.a fails", "tried rolls.a works"]
    with pytest.raises(ContradictionError) as caught:
        believe(sure, dv.log(sure, lines))
    assert (caught.value.lines, caught.value.recheck) == ([1, 2], recheck)
    assert str(caught.value) == (
        "These lines cannot all be true on this map: line 1: tried turns.a fails; line 2: tried rolls.a works. "
        f"Recheck line {recheck} first; a slip of the hand or pen is taken back with 'undid {recheck}'."
    )
    with pytest.raises(ContradictionError) as caught:
        believe(sure, dv.log(sure, [*lines, "tried rolls.b works"]))
    assert caught.value.recheck == 1


def test_a_line_that_cannot_be_true_by_itself_is_named_alone() -> None:
    ohms = dv.found("ohms", PartModes("lamp", ()), false_alarm=0.0)
    device = dv.device([dv.part("lamp")], [dv.function("light", "lamp", wanted=True)], [ohms])
    with pytest.raises(ContradictionError) as caught:
        believe(device, dv.log(device, ["found ohms bad", "saw lamp fine"]))
    assert (caught.value.lines, caught.value.recheck) == ([1], 1)
    assert str(caught.value).startswith(
        "This line cannot be true on this map: line 1: found ohms bad. Recheck it; a slip"
    )


def test_no_lines_are_no_surprise() -> None:
    assert told() is None
    assert told("tried sound works") is None


def test_a_surprising_log_is_still_answered() -> None:
    belief = believe(PROJECTOR, dv.log(PROJECTOR, [*WORKING, "read rail-12v 121 V"]))
    assert surprise(belief) is not None
    assert explain(belief)[0].faults == ()
    assert sum(belief.suspects[0].modes.values()) == pytest.approx(belief.suspects[0].p_bad)


@pytest.mark.parametrize(("text", "slip"), [("12.1 V", False), ("0 V", False), ("25 V", False), ("121 V", True)])
def test_a_reading_says_by_itself_whether_only_a_slip_makes_it(text: str, slip: bool) -> None:
    test = PROJECTOR.tests["rail-12v"]
    assert isinstance(test.senses, RailVoltage)
    assert verdict(PROJECTOR, test, text).slip == slip
