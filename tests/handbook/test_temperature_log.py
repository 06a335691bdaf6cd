"""A temperature log against its profile: good ones, bad ones, and what a log cannot tell is said."""

from __future__ import annotations

import random
from dataclasses import astuple
from itertools import pairwise

import pytest

from knowngood.errors import QuantityError, RangeError
from knowngood.handbook import book
from knowngood.handbook.rework.judgement import Finding
from knowngood.handbook.rework.profile import profile, run_of
from knowngood.handbook.rework.slopes import steepest

Corners = list[tuple[float, float]]
Log = tuple[tuple[float, float], ...]

GOOD: Corners = [(0, 24), (90, 150), (180, 200), (205, 217), (235, 242), (245, 244), (255, 242), (275, 217), (340, 60)]
"""By hand: soak 90 s; 217 degC from 205 to 275 s; peak 244; mean rise (244 - 200) / 65 s; fall 157 K in 65 s."""


def log(corners: Corners, step: float = 1.0, noise: float = 0.0) -> Log:
    """Samples of straight lines between corners, with normal noise of a fixed seed."""
    draw = random.Random(5)
    found, time = [], corners[0][0]
    while time <= corners[-1][0]:
        (t0, d0), (t1, d1) = next((a, b) for a, b in pairwise(corners) if a[0] <= time <= b[0])
        found.append((time, d0 + (d1 - d0) * (time - t0) / (t1 - t0) + draw.gauss(0.0, noise)))
        time += step
    return tuple(found)


def findings(samples: Log, alloy: str = "SAC305", **more: object) -> dict[str, Finding]:
    found = profile(samples, alloy, **more)  # type: ignore[arg-type]
    assert all(isinstance(words, str) and words for one in found for words in astuple(one))
    return {one.what: one for one in found}


def test_a_good_log_is_within_everything_by_hand() -> None:
    found = profile(log(GOOD), "SAC305", thickness=1.2e-3, volume=300e-9)
    assert [(one.what, one.value, one.limit, one.verdict) for one in found] == [
        ("run", "none outside", "all within", "within what is judged"),
        ("log", "341 samples, one in 1 s", "slopes over 10 s", "common practice"),
        ("soak 150 to 200 degC", "90 s", "60 to 120 s", "within"),
        ("mean rise from preheat", "0.68 K/s", "at most 3 K/s", "within"),
        ("mean rise from liquidus", "0.68 K/s", "at most 3 K/s", "within"),
        ("steepest rise", "0.83 +/- 0.00 K/s", "at most 3 K/s", "within"),
        ("mean fall to liquidus", "0.90 K/s", "at most 6 K/s", "within"),
        ("steepest fall", "2.42 +/- 0.00 K/s", "at most 6 K/s", "within"),
        ("time above 217 degC", "70 s", "60 to 150 s", "within"),
        ("peak, solder", "244.0 degC", "220 degC or more", "within"),
        ("peak, package", "244.0 degC", "at most 260 degC", "within"),
        ("at 255 degC or more", "0 s", "at most 30 s", "within"),
        ("25 degC to peak", "244 s", "at most 480 s", "within"),
    ]


@pytest.mark.parametrize(
    ("peak", "more", "verdict"),
    [
        (260.0, {"body_limit": 260.0}, "within"),
        (260.2, {"body_limit": 260.0}, "over"),
        (220.0, {"alloy": "Sn63Pb37", "thickness": 3e-3, "volume": 100e-9}, "within"),
        (220.2, {"alloy": "Sn63Pb37", "thickness": 3e-3, "volume": 100e-9}, "indeterminate: sizes from memory only"),
        (235.0, {"alloy": "Sn63Pb37", "thickness": 3e-3, "volume": 100e-9}, "indeterminate: sizes from memory only"),
        (235.2, {"alloy": "Sn63Pb37", "thickness": 3e-3, "volume": 100e-9}, "over"),
    ],
)
def test_a_peak_at_its_limit_is_within(peak: float, more: dict[str, object], verdict: str) -> None:
    corners: Corners = [(0, 25), (90, 150), (180, 180), (240, peak), (250, peak), (300, 60)]
    assert findings(log(corners), **{"alloy": "SAC305", **more})["peak, package"].verdict == verdict  # type: ignore[arg-type]


@pytest.mark.parametrize(("peak", "found"), [(220.0, "within"), (219.9, "short: SAC305 did not melt")])
def test_solder_has_melted_at_its_liquidus(peak: float, found: str) -> None:
    corners: Corners = [(0, 25), (90, 150), (180, 180), (240, peak), (250, peak), (300, 60)]
    assert findings(log(corners))["peak, solder"].verdict == found


@pytest.mark.parametrize(
    ("what", "seconds", "verdict"),
    [
        *(("soak", 59, "short"), ("soak", 60, "within"), ("soak", 120, "within"), ("soak", 121, "over")),
        *(("above", 59, "short"), ("above", 60, "within"), ("above", 150, "within"), ("above", 151, "over")),
        *(("cold", 480, "within"), ("cold", 481, "over"), ("near", 30, "within"), ("near", 31, "over")),
    ],
)
def test_a_time_at_its_limit_is_within(what: str, seconds: float, verdict: str) -> None:
    """J-STD-020D.1, table 5-2: soak 60 to 120 s, 60 to 150 s above 217 degC, 480 s to the peak, 30 s near the peak."""
    soak, above, cold = (
        seconds if what == one else usual for one, usual in (("soak", 90), ("above", 80), ("cold", 300))
    )
    near = seconds if what == "near" else 10
    first, peak = 10, 10 + cold
    melted = peak - above / 2
    high: Corners = [(peak - near / 2, 255), (peak, 256), (peak + near / 2, 255)]
    if what == "above":
        high = [(peak, 244)]
    corners: Corners = [(0, 24), (first, 25), (melted - 20 - soak, 150), (melted - 20, 200), (melted, 217)]
    found = findings(
        log([*corners, *high, (peak + above / 2, 217), (peak + above / 2 + 80, 60)], 0.5), body_limit=260.0
    )
    name = {"soak": "soak 150 to 200 degC", "above": "time above 217 degC", "cold": "25 degC to peak"}.get(
        what, "at 255 degC or more"
    )
    assert (found[name].value, found[name].verdict) == (f"{seconds} s", verdict)


def test_a_gap_that_only_touches_a_stretch_hides_nothing_of_it() -> None:
    for begin, end in ((180, 190), (80, 90)):
        found = findings(tuple(one for one in log(GOOD) if not begin < one[0] < end))
        assert found["gaps"] == Finding(
            "gaps", f"1, longest 10 s at {begin} s", "at most 5 s", "not covered: what happened in them"
        )
        assert found["soak 150 to 200 degC"].verdict == "within"
    found = findings(tuple(one for one in log(GOOD) if not (120 < one[0] < 130 or 150 < one[0] < 162)))
    assert found["gaps"].value == "2, longest 12 s at 150 s"


def test_the_first_line_counts_what_is_outside_and_what_is_open() -> None:
    found = findings(log(GOOD))
    assert found["run"] == Finding("run", "none outside, 1 open", "all within", "open")
    hot: Corners = [(0, 25), (90, 150), (100, 200), (140, 265), (180, 217), (220, 60)]
    assert findings(log(hot), body_limit=260.0)["run"] == Finding("run", "2 outside", "all within", "not to profile")


@pytest.mark.parametrize(
    ("step", "height", "alone"), [(1.0, 254.1, False), (1.0, 254.3, True), (0.5, 251.0, False), (0.5, 251.2, True)]
)
def test_a_sample_stands_alone_that_no_allowed_slope_explains(step: float, height: float, alone: bool) -> None:
    """243.2 degC a second later (243.1 half a second), 5 K, and 6 K/s: up to 254.2 degC (251.1)."""
    spiked = tuple((t, height if t == 240 else degrees) for t, degrees in log(GOOD, step))
    verdict = findings(spiked, body_limit=250.0)["peak, package"].verdict
    assert verdict == ("indeterminate: one sample alone is so high" if alone else "over")


def test_a_peak_beside_a_gap_may_have_been_higher() -> None:
    low: Corners = [(0, 25), (90, 150), (180, 200), (220, 210), (300, 60)]
    for begin, end in ((210, 220), (220, 230)):
        found = findings(tuple(one for one in log(low) if not begin < one[0] < end))
        assert found["peak, solder"].verdict == f"indeterminate: gap {begin} to {end} s"
    found = findings(tuple(one for one in log(low) if not 100 < one[0] < 110))
    assert found["peak, solder"].verdict == "short: SAC305 did not melt"


@pytest.mark.parametrize(
    ("first", "verdict"),
    [
        *((25.0, "within"), (26.0, "within from 26 degC on"), (149.0, "within from 149 degC on")),
        (150.0, "indeterminate: log begins hot"),
    ],
)
def test_a_run_from_cold_begins_cold(first: float, verdict: str) -> None:
    found = findings(log([(0, first), (90, 151), *GOOD[2:]]))
    assert found["25 degC to peak"].verdict == verdict


def test_a_slope_has_three_standard_errors() -> None:
    """Whole degrees: 3 x (1 K / sqrt(12)) / sqrt(110 s^2)."""
    found = findings(log([(0, 20), (100, 220), (200, 20)]))
    assert found["steepest rise"].value == "2.00 +/- 0.08 K/s"


@pytest.mark.parametrize(("length", "gaps"), [(5.0, False), (5.5, True)])
def test_a_gap_is_longer_than_half_a_span(length: float, gaps: bool) -> None:
    samples = tuple(one for one in log(GOOD, step=0.5) if not 215 < one[0] < 215 + length)
    assert ("gaps" in findings(samples)) == gaps


def test_a_run_keeps_what_a_picture_of_it_needs() -> None:
    samples = tuple(one for one in log(GOOD, step=0.5) if not 215 < one[0] < 222)
    run = run_of(samples, "SAC305", span=12.0)
    assert (run.samples, run.span, run.gaps) == (samples, 12.0, ((215.0, 222.0),))
    assert (run.limits.alloy, run.limits.liquidus, run.limits.reset) == ("SAC305", 217.0, 150.0)
    (cycle,) = run.cycles
    assert (cycle.peak, cycle.soak, cycle.above) == ((245.0, 244.0), (90.0, 180.0), ((205.0, 275.0),))
    assert cycle.whole
    assert run.findings == profile(samples, "SAC305", span=12.0)


def test_a_gap_while_it_cools_leaves_the_fall_open() -> None:
    found = findings(tuple(one for one in log(GOOD) if not 260 < one[0] < 270))
    assert found["mean fall to liquidus"].verdict == "indeterminate: gap 260 to 270 s"
    assert found["steepest fall"].verdict == "indeterminate: gap 260 to 270 s"
    assert found["mean rise from liquidus"].verdict == "within"
    found = findings(tuple(one for one in log(GOOD) if not 120 < one[0] < 130))
    assert found["soak 150 to 200 degC"].verdict == "indeterminate: gap 120 to 130 s"
    assert found["time above 217 degC"].verdict == "within"


@pytest.mark.parametrize(
    ("corners", "what", "value", "verdict"),
    [
        ([(0, 25), (90, 150), (100, 200), (205, 217), (245, 244), (275, 217), (340, 60)], "soak", "10 s", "short"),
        ([(0, 25), (90, 150), (290, 200), (315, 217), (355, 244), (385, 217), (450, 60)], "soak", "200 s", "over"),
        ([(0, 25), (90, 150), (180, 200), (190, 240), (260, 240), (290, 60)], "steepest rise", "4.00", "over, at"),
        ([(0, 25), (90, 150), (180, 200), (200, 240), (260, 240), (284, 48)], "steepest fall", "8.00", "over, at"),
        (
            [(0, 25), (90, 150), (180, 200), (200, 217), (210, 230), (220, 217), (250, 60)],
            "time above",
            "20 s",
            "short",
        ),
        (
            [(0, 25), (90, 150), (180, 200), (200, 217), (210, 230), (380, 217), (420, 60)],
            "time above",
            "180 s",
            "over",
        ),
        ([(0, 25), (90, 150), (180, 200), (220, 265), (260, 217), (300, 60)], "peak, package", "265.0", "over"),
        ([(0, 25), (90, 150), (180, 200), (220, 259), (260, 257), (300, 60)], "at 255 degC", "43 s", "over"),
        ([(0, 25), (300, 150), (400, 200), (500, 244), (530, 217), (580, 60)], "25 degC to peak", "500 s", "over"),
        (
            [(0, 25), (90, 150), (180, 200), (220, 210), (300, 60)],
            "peak, solder",
            "210.0",
            "short: SAC305 did not melt",
        ),
        ([(0, 25), (90, 150), (180, 200), (220, 210), (300, 60)], "time above", "0 s", "short: never reached"),
    ],
)
def test_a_bad_log_is_found_bad_where_it_is(corners: Corners, what: str, value: str, verdict: str) -> None:
    found = findings(log(corners), thickness=1.2e-3, volume=300e-9)
    (one,) = (one for name, one in found.items() if name.startswith(what))
    assert one.value.startswith(value)
    assert one.verdict.startswith(verdict)
    assert found["run"].verdict == "not to profile"


@pytest.mark.parametrize(
    ("samples", "message"),
    [
        (log(GOOD)[:12], "the log has 12 samples; 20 or more are needed"),
        ((*log(GOOD)[:40], (39.0, 80.0), *log(GOOD)[40:]), "sample 41 of the log is at 39 s, as the one before it"),
        ((*log(GOOD), (0.0, 25.0)), "sample 342 of the log is at 0 s, after one at 340 s. Sort it by time"),
        ((*log(GOOD), (341.0, 1370.0)), "sample 342 of the log is 1370 degC; valid is -60 to 500 degC"),
        (log(GOOD, step=5.0), "a sample every 5 s; a slope over 10 s needs one every 2.5 s or more"),
    ],
)
def test_a_log_that_cannot_be_judged_is_an_error(samples: Log, message: str) -> None:
    with pytest.raises(RangeError, match=f"profile: .*{message}"):
        profile(samples, "SAC305")


def test_a_slow_log_can_be_judged_over_a_longer_span() -> None:
    assert findings(log(GOOD, step=5.0), span=20.0)["steepest fall"].value.startswith("2.42")


def test_a_gap_leaves_open_what_it_may_hide_and_nothing_else() -> None:
    holed = tuple(one for one in log(GOOD) if not 215 < one[0] < 230)
    found = findings(holed, thickness=1.2e-3, volume=300e-9)
    assert found["gaps"].value == "1, longest 15 s at 215 s"
    hidden = {what for what, one in found.items() if one.verdict == "indeterminate: gap 215 to 230 s"}
    assert hidden == {
        "mean rise from preheat",
        "mean rise from liquidus",
        "steepest rise",
        "time above 217 degC",
        "peak, package",
        "at 255 degC or more",
    }
    assert found["run"].verdict == "open"
    assert found["soak 150 to 200 degC"].verdict == "within"
    assert "gaps" not in findings(log(GOOD))


def test_what_is_over_in_spite_of_a_gap_stays_over() -> None:
    hot = log([(0, 25), (90, 150), (180, 200), (190, 240), (220, 265), (260, 217), (300, 60)])
    found = findings(tuple(one for one in hot if not 200 < one[0] < 210), body_limit=260.0)
    assert found["peak, package"].verdict == "over"
    assert found["steepest rise"].verdict.startswith("over")


def test_noise_near_a_limit_is_indeterminate_and_far_from_it_is_not() -> None:
    """A rise of 2.9 K/s for 20 s: over ten seconds of eleven samples with 2 K of noise its error is 2 / sqrt(110)."""
    corners: Corners = [(0, 25), (90, 150), (180, 190), (200, 248), (260, 217), (330, 60)]
    assert findings(log(corners))["steepest rise"].verdict == "within"
    noisy = findings(log(corners, noise=2.0))
    assert noisy["steepest rise"].verdict.startswith("indeterminate: noise")
    assert findings(log(GOOD, noise=2.0))["steepest rise"].verdict == "within"


def test_the_error_of_a_slope_is_that_of_a_fitted_line() -> None:
    """x 0 to 4, y 1.0 3.1 4.9 7.2 8.8: b 1.9700, u 0.055076 (least squares worked by hand)."""
    line = steepest([(0.0, 1.0), (1.0, 3.1), (2.0, 4.9), (3.0, 7.2), (4.0, 8.8)], 0.0, 4.0, 4.0, ())
    assert line is not None
    assert (line.rate, line.error) == (pytest.approx(1.97), pytest.approx(0.055076, rel=1e-4))


def test_a_log_to_the_degree_has_the_error_of_its_last_digit() -> None:
    """Equal steps fit a line exactly, yet a digit of 1 K leaves 1 / sqrt(12) on each sample."""
    for digit, step in ((1.0, 3.0), (0.5, 2.5), (0.25, 2.75), (0.1, 2.9), (0.0, 2.95123)):
        line = steepest([(float(t), step * t) for t in range(11)], 0.0, 10.0, 10.0, ())
        assert line is not None
        assert line.rate == pytest.approx(step)
        assert line.error == pytest.approx(digit / 12**0.5 / 110**0.5, abs=1e-9)
        assert (line.begin, line.end, line.middle, line.level) == (0.0, 10.0, 5.0, pytest.approx(5.0 * step))


def test_a_line_covers_four_fifths_of_its_span_and_no_gap() -> None:
    points = [(float(t), -6.0 * t if t < 3 else -12.0 - 0.5 * t) for t in range(11)]

    def fall(log: list[tuple[float, float]], *gaps: tuple[float, float]) -> tuple[float, float] | None:
        line = steepest(log, 0.0, 10.0, 10.0, gaps, sign=-1.0)
        return None if line is None else (line.begin, line.end)

    assert fall(points[:9]) == (0.0, 8.0)
    assert fall(points[:8]) is None
    assert fall(points, (-10.0, 0.0), (10.0, 20.0)) == (0.0, 10.0)
    assert fall(points, (-10.0, 0.5)) == (1.0, 10.0)
    assert fall(points, (9.5, 20.0)) is None
    assert fall([(t + 1e4, y) for t, y in points]) is None
    assert fall([(10.0 * t, y) for t, y in points]) is None


def test_a_run_is_the_same_at_any_time_of_day() -> None:
    early, late = log(GOOD, noise=0.3), tuple((time + 4096.0, degrees) for time, degrees in log(GOOD, noise=0.3))
    assert [(one.what, one.value) for one in profile(late, "SAC305")] == [
        (one.what, one.value) for one in profile(early, "SAC305")
    ]


def test_a_dip_in_the_preheat_ends_no_cycle() -> None:
    dip: Corners = [(0, 24), (60, 155), (80, 145), (100, 152), (180, 200), *GOOD[3:]]
    found = findings(log(dip))
    assert found["steepest fall"].value.startswith("2.42")
    assert found["soak 150 to 200 degC"].value == "122 s"


def test_two_heatings_are_two_cycles_and_a_dip_is_one() -> None:
    again = log(GOOD + [(340 + time, degrees) for time, degrees in GOOD[1:]])
    found = findings(again)
    assert found["reflow cycles"] == Finding("reflow cycles", "2", "at most 3", "within")
    assert found["cycle 2: time above 217 degC"].value == "70 s"
    assert found["cycle 2: 25 degC to peak"].verdict == "within from 60 degC on"
    dip: Corners = [(0, 25), (90, 150), (180, 200), (205, 225), (215, 210), (235, 242), (275, 217), (340, 60)]
    found = findings(log(dip))
    assert "reflow cycles" not in found
    dips = Finding("dips below it", "2 times above, 9 s below between", "none", "times above are added up")
    assert found["dips below it"] == dips
    begin, mid, back = 180 + 25 * 17 / 25, 205 + 10 * 8 / 15, 215 + 20 * 7 / 32
    assert found["time above 217 degC"].value == f"{(mid - begin) + (275 - back):.0f} s"


def test_four_heatings_are_one_too_many() -> None:
    many = [(cycle * 340 + time, degrees) for cycle in range(4) for time, degrees in GOOD[bool(cycle) :]]
    assert findings(log(many, step=2.0))["reflow cycles"].verdict == "over"


def test_a_log_that_ends_too_soon_says_so() -> None:
    found = findings(log([*GOOD[:7], (260, 235)]))
    assert found["time above 217 degC"].verdict == "indeterminate: log ends above it"
    found = findings(log([*GOOD[:8], (285, 193)]))
    assert found["steepest fall"].verdict == "within, but the log ends at 193 degC"
    found = findings(log(GOOD)[230:])
    assert found["time above 217 degC"].verdict == "indeterminate: log begins above it"
    found = findings(log(GOOD)[150:])
    soak = "soak 150 to 200 degC"
    assert found[soak] == Finding(soak, "none", "60 to 120 s", "not covered: log begins above it")
    cold = findings(log([(0, 25), (90, 140), (180, 60)]))
    assert cold[soak] == Finding(soak, "none", "60 to 120 s", "not covered: never rose through it")
    name = "time above 217 degC"
    assert cold[name] == Finding(name, "0 s", "60 to 150 s", "short: never reached")
    assert cold["steepest rise"] == Finding(
        "steepest rise", "none", "at most 3 K/s", "not covered: no stretch of it long enough"
    )
    assert found["25 degC to peak"].verdict == "indeterminate: log begins hot"


def test_a_peak_of_one_sample_is_no_peak() -> None:
    spiked = tuple((time, 290.0 if time == 240.0 else degrees) for time, degrees in log(GOOD))
    found = findings(spiked, body_limit=260.0)
    assert found["peak, package"].verdict == "indeterminate: one sample alone is so high"


def test_two_samples_that_high_are_a_peak() -> None:
    high = {239.0: 285.0, 240.0: 290.0}
    found = findings(tuple((time, high.get(time, degrees)) for time, degrees in log(GOOD)), body_limit=260.0)
    assert found["peak, package"].verdict == "over"


def test_the_package_is_judged_only_by_what_has_a_source() -> None:
    found = findings(log(GOOD))
    assert found["peak, package"].verdict == "not covered: give --thickness and --volume, or --body-limit"
    lead: Corners = [(0, 24), (60, 100), (150, 150), (180, 183), (215, 228), (250, 183), (300, 60)]
    found = findings(log(lead), "Sn63Pb37", thickness=1.2e-3, volume=300e-9)
    assert found["peak, package"].verdict == "indeterminate: sizes from memory only"
    found = findings(log(lead), "Sn63Pb37", thickness=1.2e-3, volume=300e-9, revision="C")
    assert found["peak, package"] == Finding("peak, package", "228.0 degC", "at most 240 degC", "within")
    found = findings(log(GOOD), thickness=1.2e-3, volume=300e-9, revision="C")
    assert found["peak, package"] == Finding("peak, package", "244.0 degC", "at most 260 degC", "within")
    found = findings(log(GOOD), "Sn99.3Cu0.7")
    assert found["peak, solder"].verdict == "liquidus from memory: not judged"


def test_a_low_melting_alloy_has_no_profile_but_its_slopes_and_its_melting() -> None:
    low: Corners = [(0, 25), (60, 100), (120, 130), (150, 165), (200, 100), (230, 60)]
    found = findings(log(low), "Sn42Bi58")
    assert found["peak, solder"].verdict == "within"
    assert found["soak"] == Finding("soak", "not judged", "none", "no preheat with a source for Sn42Bi58")
    assert found["steepest rise"].limit == "at most 3 K/s"
    assert found["steepest fall"].limit == "at most 6 K/s"
    assert found["time above 138 degC"].verdict == "no limit with a source"


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"thickness": 1e-3}, "Give --volume as well"),
        ({"volume": 1e-7}, "Give --thickness as well"),
        ({"alloy": "Sn42Bi58", "thickness": 1e-3, "volume": 1e-7}, "J-STD-020 has no body peak for Sn42Bi58"),
    ],
)
def test_half_a_package_is_no_package(given: dict[str, object], message: str) -> None:
    with pytest.raises(RangeError, match=message):
        run_of(log(GOOD), **{"alloy": "SAC305", **given})  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("time,temperature\n0,25\n1,OL\n", "log, line 3: 'OL' does not start with a number"),
        ("0,25,24\n", "log, line 1: 3 columns; it is rows of s, degC"),
        ("0,x\n1,25\n", "log, line 1: 'x' does not start with a number"),
    ],
)
def test_a_file_that_is_no_log_says_in_which_line(text: str, message: str) -> None:
    with pytest.raises(QuantityError) as raised:
        book.ask("profile", {"log": text, "alloy": "SAC305"})
    assert message in str(raised.value)


@pytest.mark.parametrize("form", ["t s,T degC\n{0},{1}\n", "{0};{1}\n", "{0}\t{1}\n", "{0} s,{1} degC\n"])
def test_a_log_may_be_written_as_loggers_do(form: str) -> None:
    head, _, row = form.rpartition("\n")[0].rpartition("\n")
    comma = ";" in row
    lines = [row.format(time, f"{degrees:.3f}".replace(".", "," if comma else ".")) for time, degrees in log(GOOD)]
    found = book.ask("profile", {"log": "\n".join([*([head] if head else []), *lines]), "alloy": "sac305"})
    values = {row[0].value: row[1].value for row in found.answers[0].results}
    assert values["time above 217 degC"] == "70 s"
