"""Copper, charge, measuring, shorts and uncertainty: what is refused and why, and what an independent way confirms."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from scipy import stats

from knowngood.errors import QuantityError, RangeError
from knowngood.handbook import book
from knowngood.handbook.copper import jumper, sheet_resistance, trace_width
from knowngood.handbook.shorts import short_in_plane, short_on_trace
from knowngood.handbook.uncertainty import conformity, robust, tolerance_stack

LINE = {"places": (0.0, 0.01), "drops": (2e-3, 1e-3), "flat": 0.0}
PLANE: dict[str, Any] = {"x": (0.0, 0.01), "y": (0.0, 0.0), "drops": (0.0, 1e-4), "current": 1.0}


@pytest.mark.parametrize(
    ("name", "given", "message"),
    [
        ("via-resistance", {"hole": 1e-4, "plating": 6e-5, "depth": 1e-3}, "valid is up to half the hole"),
        ("trace-current", {"width": 0.01, "rise": 90.0, "thickness": 1e-4}, "A external; the fit holds up to 35 A"),
        ("trace-width", {"current": 20.0, "rise": 9.0, "layer": "internal"}, "20 A internal; the fit holds up to 17.5"),
        ("trace-width", {"current": 30.0, "rise": 1.0}, "the fit holds up to 10.16 mm"),
        ("trace-rise", {"width": 1e-4, "current": 9.0}, "by more than 100 K, up to which the fit holds"),
        ("jumper", {"width": 1.0, "thickness": 1e-3}, "thicker than AWG 4/0; use a bar or several"),
        ("discharge-time", {"capacitance": 1e-6, "resistor": 1e6, "voltage": 9.0}, "9 V, already below 60 V"),
        ("bleed-resistor", {"capacitance": 1e-6, "voltage": 60.0, "time": 1.0}, "60 V, not above 60 V"),
        ("burden", {"current": 1.0, "ammeter": 10.0, "supply": 5.0}, "10 V of 5 V; so much current cannot flow"),
        ("two-wire", {"reading": 0.1, "leads": 0.2}, "reading is 0.1 ohm; valid is at least the leads, 0.2 ohm"),
        ("led-resistor", {"supply": 3.0, "forward": 3.2, "current": 0.01}, "valid is below the supply, 3 V"),
        ("short-on-trace", {**LINE, "drops": (1e-3, 1e-3)}, "do not fall clearly along the trace"),
        ("short-on-trace", {**LINE, "uncertainty": 1e-3}, "do not fall clearly along the trace"),
        ("plane-drop", {"current": 1.0, "near": 0.02, "far": 0.01}, "far is 0.01 m; valid is at least near"),
        ("short-in-plane", {**PLANE, "y": (0.0,)}, "2 x, 1 y and 2 drops; as many of each"),
        ("short-in-plane", {**PLANE, "x": (0.0, 0.0)}, "two readings are at the same place; take their mean"),
        ("short-in-plane", {**PLANE, "feed_x": 0.1}, "the feed has two coordinates"),
        ("short-in-plane", {**PLANE, "feed_x": 0.0, "feed_y": 0.0}, "a reading is where the current enters"),
        ("from-limits", {"low": 2.0, "high": 1.0}, "low is 2; valid is up to high, 1"),
        ("conformity", {"reading": 1.0, "uncertainty": 0.1}, "it has no limit; give low, high or both"),
        ("conformity", {"reading": 1.0, "uncertainty": 0.1, "low": 2.0, "high": 2.0}, "valid is below high, 2"),
        ("mean-of", {"readings": (1.0,)}, "1 readings; valid is 2 or more"),
        ("robust", {"readings": (1.0, 2.0)}, "2 readings; valid is 3 or more"),
        ("grubbs", {"readings": (1.0, 2.0)}, "2 readings; valid is 3 or more"),
        ("grubbs", {"readings": (1.0, 1.0, 1.0)}, "all readings are equal; none can be an outlier"),
        ("correlation", {"readings": (1.0, 2.0, 3.0), "others": (1.0, 2.0)}, "3 values against 2; as many of each"),
        ("correlation", {"readings": (1.0, 2.0, 3.0), "others": (1.0, 1.0, 1.0)}, "one of the two does not vary"),
        ("combine", {"uncertainties": (1.0, 2.0), "sensitivities": (1.0,)}, "1 sensitivities for 2 uncertainties"),
        ("combine", {"uncertainties": (1.0, 2.0), "correlations": ()}, "0 correlations; 2 inputs have 1 pairs"),
        ("combine", {"uncertainties": (1.0,) * 3, "correlations": (-1.0,) * 3}, "cannot hold together"),
        ("effective-degrees", {"uncertainties": (1.0,), "degrees": (1.0, 2.0)}, "2 degrees for 1 uncertainties"),
        ("effective-degrees", {"uncertainties": (0.0,), "degrees": (1.0,)}, "all uncertainties are 0"),
        ("tolerance-stack", {"limits": (1.0,) * 9}, "9 limits; valid is up to 8"),
        ("straight-line", {"x": (1.0, 1.0, 1.0), "y": (1.0, 2.0, 3.0)}, "all x are equal; a line needs two places"),
        ("straight-line", {"x": (1.0, 2.0), "y": (1.0, 2.0)}, "2 readings; valid is 3 or more"),
    ],
)
def test_what_cannot_be_answered_is_refused_with_the_reason(name: str, given: dict[str, Any], message: str) -> None:
    with pytest.raises(RangeError) as raised:
        book.formulas()[name](**given)
    assert str(raised.value).startswith(f"{name}: ")
    assert message in str(raised.value)


def test_a_unit_after_the_last_holds_for_all_and_a_mix_is_refused() -> None:
    (found,) = book.ask("resistors-together", {"resistors": "1, 2.2, 4.7 kohm"}).answers
    assert found.inputs[0].value == (1e3, 2.2e3, 4.7e3)
    with pytest.raises(QuantityError, match="write the unit with each of them, or once after the last"):
        book.ask("resistors-together", {"resistors": "1 kohm, 2.2, 4.7"})


def test_any_one_unit_is_kept_and_two_are_refused() -> None:
    (found,) = book.ask("mean-of", {"readings": "10.1 mV, 9.9 mV"}).answers
    assert found.results[0][0].text() == "10 mV"
    assert book.ask("mean-of", {"readings": "3, 5"}).answers[0].results[0][0].text() == "4"
    given = {"reading": "5 V", "uncertainty": "10 mV", "low": "4.75"}
    assert book.ask("conformity", given).answers[0].results[0][2].text() == "4.77 V"
    with pytest.raises(QuantityError, match=r"conformity: 5 V and 1 ohm are in different units; all are in one\."):
        book.ask("conformity", {**given, "low": "1 ohm"})


def test_a_jumper_that_goes_a_longer_way_is_thicker_in_the_same_measure() -> None:
    by = {one.by: one for one in jumper(1e-3, length=0.03, wire_length=0.12)}
    assert by["resistance"].diameter == pytest.approx(2.0 * by["cross-section"].diameter)
    taken = by["resistance"]
    assert taken.resistance is not None
    assert taken.of_trace is not None
    assert 0.75 * taken.of_trace < taken.resistance <= taken.of_trace


def test_a_jumper_says_what_melts_its_wire_and_how_thick_is_too_thick() -> None:
    """Preece: 10244 d^1.5 A, d in inches: of AWG 30, 0.01003 inch, 10.3 A. 1 oz of copper 1 mm wide is AWG 31.4."""
    (found,) = jumper(1e-3)
    assert (found.take, found.resistance, found.of_trace) == ("AWG 31", None, None)
    assert found.melts == pytest.approx(10244 * (0.127 / 25.4 * 92 ** (5 / 39)) ** 1.5, rel=1e-6)
    (thick,) = jumper(1e-3, thickness=70e-6, length=0.1)
    assert thick.of_trace == pytest.approx(1.724138e-8 * 0.1 / 70e-9, rel=1e-4)
    assert [one.take for one in jumper(67e-3, thickness=1e-3)] == ["AWG 2/0"]
    with pytest.raises(RangeError, match=r"jumper: by cross-section it takes 35.7 mm, thicker than AWG 4/0"):
        jumper(1.0, thickness=1e-3)


def test_a_trace_is_within_its_fit_at_the_very_limit() -> None:
    assert trace_width(17.5, 100.0, thickness=1e-3, layer="internal") > 0.0
    with pytest.raises(RangeError, match=r"it would be \d\d.* mm; the fit holds up to 10\.16 mm"):
        trace_width(35.0, 10.0)


def test_a_value_between_the_guarded_and_the_plain_limits_cannot_be_told() -> None:
    said = [conformity(one, 0.01, low=4.75, high=5.25).verdict for one in (4.72, 4.74, 4.76, 5.0, 5.24, 5.26, 5.28)]
    unsure = "cannot be told"
    assert said == ["outside", unsure, unsure, "inside", unsure, unsure, "outside"]


def test_half_a_guard_band_is_drawn_in_and_out_by_half_at_its_own_risk() -> None:
    """w = 0.5 x 2 x 10 mV; 1 - Phi(1) = 0.158655."""
    found = conformity(4.765, 0.01, low=4.75, share=0.5)
    assert (found.verdict, found.accept_from, found.accept_to) == ("inside", pytest.approx(4.76), None)
    assert found.risk == pytest.approx(0.158655, rel=1e-5)
    said = [conformity(one, 0.01, low=4.75, share=0.5).verdict for one in (4.755, 4.745, 4.735)]
    assert said == ["cannot be told", "cannot be told", "outside"]


def test_where_most_readings_are_equal_there_is_no_spread_to_judge_by() -> None:
    found = robust((5.0, 5.0, 5.0, 9.0))
    assert (found.modified_z, found.outliers) == (None, ())


def test_a_stack_of_unequal_limits_covers_what_it_says() -> None:
    limits = (1.0, 0.5, 0.2, 0.01)
    drawn = np.random.default_rng(7).uniform(-1.0, 1.0, (200_000, 4)) @ np.array(limits)
    assert np.mean(np.abs(drawn) <= tolerance_stack(limits, 0.9)) == pytest.approx(0.9, abs=0.003)


def test_the_interval_of_a_short_on_a_trace_holds_it_as_often_as_it_says() -> None:
    draw = np.random.default_rng(3)
    x = np.array([0.0, 0.01, 0.02, 0.03])
    inside = 0
    for _ in range(400):
        drops = 12.4e-3 - 0.24 * x + draw.normal(0.0, 2e-5, 4)
        found = short_on_trace(tuple(x), tuple(drops), 2.8e-3 + draw.normal(0.0, 2e-5))
        inside += abs(found.place - 0.04) <= (found.half_width or 0.0)
    assert 0.92 <= inside / 400 <= 0.98


@pytest.mark.parametrize("uncertainty", [None, 2e-5])
def test_the_uncertainty_of_a_short_on_a_trace_is_that_of_an_independent_line(uncertainty: float | None) -> None:
    """numpy.polyfit for line and covariance, the law of propagation by hand, Student's t of scipy.stats."""
    x, drops, flat = (0.0, 0.01, 0.02, 0.03), (12.41e-3, 9.98e-3, 7.63e-3, 5.2e-3), 2.8e-3
    (b, a), cov = np.polyfit(x, drops, 1, cov=True)
    each = math.sqrt(sum((y - a - b * at) ** 2 for at, y in zip(x, drops, strict=True)) / 2)
    factor = stats.t.ppf(0.975, 2)
    if uncertainty is not None:
        cov, each, factor = cov * (uncertainty / each) ** 2, uncertainty, stats.norm.ppf(0.975)
    place = (flat - a) / b
    standard = math.sqrt(cov[1, 1] + place**2 * cov[0, 0] + 2 * place * cov[0, 1] + each**2) / abs(b)
    found = short_on_trace(x, drops, flat, uncertainty)
    assert (found.place, found.slope) == pytest.approx((place, b))
    assert (found.standard, found.half_width) == pytest.approx((standard, factor * standard), rel=1e-5)


def test_two_readings_and_no_meter_give_a_place_alone() -> None:
    found = short_on_trace((0.0, 0.01), (2e-3, 1e-3), 0.5e-3)
    assert (found.place, found.standard, found.half_width) == (pytest.approx(0.015), None, None)
    assert found.hint == "read a third place, or give the meter's uncertainty, for how sure"


@pytest.mark.parametrize(
    ("flat", "hint"),
    [
        *((1.5e-3, "it lies between"), (0.5e-3, "look there"), (2.5e-3, "look there")),
        *((-5e-3, "it is further from the readings"), (5e-3, "it is further from the readings")),
    ],
)
def test_a_short_on_a_trace_says_what_to_do_next(flat: float, hint: str) -> None:
    found = short_on_trace((0.01, 0.02), (2e-3, 1e-3), flat, uncertainty=1e-6)
    assert found.hint.startswith(hint)


SHORT = np.array([0.031, 0.022])
PROBED = np.array([(0.01, 0.01), (0.06, 0.01), (0.06, 0.05), (0.01, 0.05), (0.035, 0.03)])


def probed(points: np.ndarray[Any, Any], noise: float = 0.0, seed: int = 0) -> dict[str, Any]:
    """What a meter would read at points of a plane with 2 A into the short."""
    strength = 2.0 * sheet_resistance(35e-6) / (2.0 * math.pi)
    drops = 1e-3 + strength * np.log(np.hypot(*(points - SHORT).T))
    drops = drops + np.random.default_rng(seed).normal(0.0, noise, len(points))
    return {"x": tuple(points[:, 0]), "y": tuple(points[:, 1]), "drops": tuple(drops), "current": 2.0}


def test_a_short_in_a_plane_is_found_from_five_readings() -> None:
    (found,) = short_in_plane(**probed(PROBED))
    assert (found.x, found.y) == pytest.approx(tuple(SHORT), abs=1e-6)


def test_four_readings_on_one_circle_leave_two_places() -> None:
    first, second = short_in_plane(**probed(PROBED[:4]))
    assert (first.x, first.y) == pytest.approx(tuple(SHORT), abs=1e-6)
    middle = PROBED[:4].mean(axis=0)
    near, far = (np.hypot(one.x - middle[0], one.y - middle[1]) for one in (first, second))
    assert near * far == pytest.approx(np.hypot(*(PROBED[0] - middle)) ** 2, rel=1e-4)
    assert first.hint == "it fits in several places; read one more off the circle"


def test_two_places_near_to_each_other_are_still_two() -> None:
    found = short_in_plane(**probed(np.array([(-0.028, 0.005), (0.032, 0.005), (0.002, 0.057)])))
    assert len(found) == 2
    assert math.hypot(found[0].x - found[1].x, found[0].y - found[1].y) < 0.02
    assert min(math.hypot(one.x - SHORT[0], one.y - SHORT[1]) for one in found) < 1e-6


def test_the_circle_around_a_short_in_a_plane_holds_it_as_often_as_it_says() -> None:
    inside = 0
    for seed in range(40):
        found = short_in_plane(**probed(PROBED, 2e-6, seed), uncertainty=2e-6)[0]
        inside += math.hypot(found.x - SHORT[0], found.y - SHORT[1]) <= (found.radius or 0.0)
    assert inside >= 34


@pytest.mark.parametrize("uncertainty", [None, 3e-6])
def test_the_uncertainty_of_a_short_in_a_plane_is_that_of_its_gradient(uncertainty: float | None) -> None:
    """Covariance u^2 (J'J)^-1 with the gradient of ln r in closed form; the worse axis is its larger eigenvalue."""
    points = np.vstack([PROBED, [(0.02, 0.045)]])
    given = probed(points, 2e-6, 4)
    (found,) = short_in_plane(**given, uncertainty=uncertainty)
    strength = 2.0 * sheet_resistance(35e-6) / (2.0 * math.pi)
    away = np.array([found.x, found.y]) - points
    gradient = strength * away / np.sum(away**2, axis=1, keepdims=True)
    gradient -= gradient.mean(axis=0)
    off = np.array(given["drops"]) - strength * np.log(np.hypot(*away.T))
    off -= off.mean()
    assert gradient.T @ off == pytest.approx([0.0, 0.0], abs=1e-9)
    each, factor = (math.sqrt(off @ off / 3), stats.t.ppf(0.975, 3))
    if uncertainty is not None:
        each, factor = uncertainty, stats.norm.ppf(0.975)
    standard = each * math.sqrt(np.linalg.eigvalsh(np.linalg.inv(gradient.T @ gradient))[-1])
    assert found.misfit == pytest.approx(math.sqrt(off @ off / 6), rel=1e-6)
    assert (found.standard, found.radius) == pytest.approx((standard, factor * standard), rel=1e-4)
    assert found.hint == "look there, and read once more around it"


def test_two_readings_leave_a_circle_and_equal_ones_a_line() -> None:
    """Distances in the ratio e^(V / strength): 4 to 1 on the line of both is at a fifth, and a third beyond."""
    given = {"x": (0.0, 0.01), "y": (0.02, 0.02), "current": 1.5}
    strength = 1.5 * sheet_resistance(35e-6) / (2.0 * math.pi)
    inner, outer = short_in_plane(**given, drops=(0.0, strength * math.log(4.0)))
    assert (inner.x, inner.y, outer.x, outer.y) == pytest.approx((0.002, 0.02, -0.01 / 3, 0.02))
    assert {inner.hint, outer.hint} == {"two readings leave a circle; read a third point beside their line"}
    (middle,) = short_in_plane(**given, drops=(1e-3, 1e-3))
    assert (middle.x, middle.y, middle.standard, middle.misfit) == (pytest.approx(0.005), 0.02, None, None)
    for ratio in (math.log(1.5), 900.0 / strength):
        assert len(short_in_plane(**given, drops=(0.0, strength * ratio))) == 2


def test_where_the_current_enters_is_taken_into_account() -> None:
    feed = np.array([-0.01, 0.03])
    given = probed(PROBED)
    strength = 2.0 * sheet_resistance(35e-6) / (2.0 * math.pi)
    given["drops"] = tuple(np.array(given["drops"]) - strength * np.log(np.hypot(*(PROBED - feed).T)))
    (found,) = short_in_plane(**given, feed_x=-0.01, feed_y=0.03)
    assert (found.x, found.y) == pytest.approx(tuple(SHORT), abs=1e-6)
    assert all((one.misfit or 0.0) > 5e-6 for one in short_in_plane(**given))


def test_without_a_spread_or_a_meter_a_place_in_a_plane_has_no_uncertainty() -> None:
    assert {one.standard for one in short_in_plane(**probed(PROBED[:3]))} == {None}
    (told,) = short_in_plane(**probed(PROBED[[0, 1, 2, 4]]))
    assert (told.standard, told.hint) == (None, "read five places, or give the meter's uncertainty, for how sure")
    (close,) = short_in_plane(**probed(0.1 * PROBED), uncertainty=2e-6)
    assert close.hint == "these readings hardly tell; read nearer to it"
