"""The safety test after repair, judged from lines of a log."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from knowngood.log import events as ev
from knowngood.log.state import Flag, Line, Replay, replay
from knowngood.maps import load
from knowngood.proof.safety_test import Instrument, SafetyStep, safety_test

CLASS_1 = load("ceiling-projector")
CLASS_2 = replace(CLASS_1, protection_class="II")
CLASS_3 = load("some-battery-device")
FLUXA = Instrument("fluxa", date(2026, 3, 1), 0.05, 12)
DAY = "2026-06-01T10:00:00Z"

STATED = ("stated cord detachable 2 m 1 mm2", "stated metal earthed")
EARTH = "measured protective-earth 0.2 ohm by fluxa under german"
INSULATION = "measured insulation 20 Mohm by fluxa at 500 V against 1 Mohm under german"
CURRENT = "measured protective-current 0.6 mA by fluxa under german"
PASSED = (*STATED, "inspected visual passed", EARTH, INSULATION, CURRENT, "inspected function passed")


def told(*texts: str, device=CLASS_1, day: str = DAY) -> Replay:  # type: ignore[no-untyped-def]
    return replay(device, [Line(seq, day, ev.parse(text)) for seq, text in enumerate(texts, start=1)])


def verdict(*texts: str, device=CLASS_1, day: str = DAY) -> tuple[str, str]:  # type: ignore[no-untyped-def]
    found = safety_test(device, told(*texts, device=device, day=day), [FLUXA])
    return found.verdict, found.why


def step(name: str, *texts: str, device=CLASS_1) -> SafetyStep:  # type: ignore[no-untyped-def]
    found = safety_test(device, told(*texts, device=device), [FLUXA])
    return next(one for one in found.steps if one.step == name)


def changed(old: str, new: str) -> tuple[str, ...]:
    assert any(old in line for line in PASSED)
    return tuple(line.replace(old, new) for line in PASSED)


def test_all_steps_of_class_1_passed() -> None:
    assert verdict(*PASSED)[0] == "pass"
    found = safety_test(CLASS_1, told(*PASSED), [FLUXA])
    order = [one.step for one in found.steps]
    assert order == ["visual", "protective-earth", "insulation", "protective-current", "touch-current", "function"]
    assert all("licensed practice" in one.caution for one in found.steps)


@pytest.mark.parametrize("left_out", range(len(PASSED)))
def test_no_step_and_no_fact_can_be_left_out(left_out: int) -> None:
    assert verdict(*(line for number, line in enumerate(PASSED) if number != left_out))[0] == "incomplete"


@pytest.mark.parametrize(
    ("old", "new", "outcome", "why"),
    [
        ("0.2 ohm", "0.4 ohm", "fail", "do not power it, do not sell it, mark it"),
        ("0.2 ohm", "OL", "fail", "protective-earth OL"),
        ("0.2 ohm", "0.29 ohm", "incomplete", "the error of the meter reaches over the limit"),
        ("20 Mohm", "0.5 Mohm", "fail", "insulation 0.5 Mohm"),
        ("20 Mohm", "OL", "pass", ""),
        (" against 1 Mohm", "", "incomplete", "this limit is from memory; take it from your copy of the rules"),
        ("0.6 mA", "3.8 mA", "fail", "protective-current 3.8 mA"),
        ("0.6 mA", "0.6 mA by fluxa against 0.5 mA under german --", "fail", "protective-current 0.6 mA"),
        ("function passed", "function failed", "fail", "line 7 says so"),
        ("visual passed", "visual failed", "fail", "line 3 says so"),
        ("metal earthed", "metal both", "incomplete", "touch-current: not measured yet"),
        ("2 m 1 mm2", "6 m 1 mm2", "incomplete", "its limit here holds for a cord up to 5 m"),
    ],
)
def test_what_a_line_says_decides(old: str, new: str, outcome: str, why: str) -> None:
    lines = changed(old, new)
    if "--" in new:
        lines = tuple(line.partition(" --")[0] for line in lines)
    found, said = verdict(*lines)
    assert found == outcome
    assert why in said


def test_every_reading_counts_and_a_bad_one_is_not_covered_by_a_better_one() -> None:
    bad = EARTH.replace("0.2", "0.5")
    assert verdict(*PASSED[:3], bad, EARTH, *PASSED[4:])[0] == "fail"
    assert verdict(*PASSED[:3], bad, *PASSED[2:])[0] == "pass", "another look begins another test"


def test_a_reading_by_an_instrument_out_of_calibration_does_not_count() -> None:
    outcome, why = verdict(*PASSED, day="2027-03-01T08:00:00Z")
    assert (outcome, "fluxa was out of calibration, due 2027-03-01" in why) == ("incomplete", True)
    assert verdict(*PASSED, day="2027-02-28T23:00:00Z")[0] == "pass"
    outcome, why = verdict(*PASSED, day="2026-02-28T08:00:00Z")
    assert (outcome, "no calibration of fluxa is on the bench's log for 2026-02-28" in why) == ("incomplete", True)


def test_the_calibration_that_held_on_the_day_is_the_one_that_counts() -> None:
    later = Instrument("fluxa", date(2026, 7, 1), 0.5, 12)
    assert safety_test(CLASS_1, told(*PASSED), [FLUXA, later]).verdict == "pass"
    corrected = Instrument("fluxa", date(2026, 3, 1), 0.4, 12)
    assert "reaches over" in safety_test(CLASS_1, told(*changed("0.2 ohm", "0.25 ohm")), [FLUXA, corrected]).why


def test_a_month_that_is_shorter_ends_a_calibration_on_its_last_day() -> None:
    assert Instrument("x", date(2024, 2, 29), 0.05, 12).due == date(2025, 2, 28)
    assert Instrument("x", date(2026, 11, 30), 0.05, 3).due == date(2027, 2, 28)


def test_rule_sets_are_never_mixed() -> None:
    found = safety_test(CLASS_1, told(*PASSED), [FLUXA], "british")
    assert (found.verdict, found.rules) == ("incomplete", "british")
    assert "taken by the german rules, and rule sets are never mixed" in found.why
    british = tuple(line.replace("german", "british").replace("0.2 ohm", "0.12 ohm") for line in PASSED)
    assert verdict(*british)[0] == "pass"
    assert verdict(*(line.replace("0.12 ohm", "0.2 ohm") for line in british))[0] == "fail"


@pytest.mark.parametrize(
    "line",
    [
        "opened cover-off",
        "met step shield-off behind cover-off",
        "mended mains-inlet replace",
        "fitted supply-fuse from new",
        "removed top-cover",
        "dried unit",
        "received unit",
        "harvested supply-primary",
    ],
)
def test_the_case_opened_or_mains_touched_makes_it_void(line: str) -> None:
    found = safety_test(CLASS_1, told(*PASSED, line), [FLUXA])
    assert found.verdict == "void"
    assert f"line 8 ({line}) came after the test" in found.why


@pytest.mark.parametrize(
    "line", ["fitted remote-control from new", "saw top-cover scratched", "tried picture works", "worked 5 min"]
)
def test_what_touches_neither_leaves_it_valid(line: str) -> None:
    assert verdict(*PASSED, line)[0] == "pass"


def test_a_void_test_is_begun_again_by_a_look() -> None:
    again = ("opened cover-off", "closed all", *PASSED[2:])
    assert verdict(*PASSED, *again[:2])[0] == "void"
    assert verdict(*PASSED, *again)[0] == "pass"


def test_class_2_is_not_asked_for_an_earth() -> None:
    lines = (
        "stated metal unearthed",
        "inspected visual passed",
        INSULATION.replace("1 Mohm", "2 Mohm"),
        "measured touch-current 0.1 mA by fluxa under german",
        "inspected function passed",
    )
    assert verdict(*lines, device=CLASS_2)[0] == "pass"
    assert verdict(*(line.replace("0.1 mA", "0.6 mA") for line in lines), device=CLASS_2)[0] == "fail"
    assert step("protective-earth", *lines, device=CLASS_2).status == "not asked for"
    bare = ("stated metal none", "inspected visual passed", "inspected function passed")
    assert verdict(*bare, device=CLASS_2)[0] == "pass"
    assert "look into your copy" in step("insulation", *bare, device=CLASS_2).why


def test_class_3_has_no_mains_and_says_which_part_does_not_apply() -> None:
    lines = ("inspected visual passed", "inspected supply passed", "inspected function passed")
    found = safety_test(CLASS_3, told(*lines, device=CLASS_3), [])
    assert (found.verdict, found.needed) == ("pass", False)
    without = {one.step: one.why for one in found.steps if one.status == "not asked for"}
    assert set(without) == {"insulation", "protective-earth", "protective-current", "touch-current"}
    assert "no mains is on it" in without["touch-current"]


def test_a_class_that_nobody_said_is_asked_for_and_the_one_found_goes_before_the_maps() -> None:
    unknown = replace(CLASS_1, protection_class="none")
    found = safety_test(unknown, told(device=unknown), [])
    assert (found.verdict, found.asked[0], found.needed) == ("incomplete", "stated class I (or II, III)", True)
    said = told("inspected visual passed", "inspected function passed", device=unknown)
    assert said.flags == (
        Flag(2, "Of which protection class is it? The map does not say: log 'stated class I' (or II, III) first."),
    )
    seen = safety_test(CLASS_1, told("stated class II"), [])
    assert (seen.protection, seen.claimed) == ("II", "I")


@pytest.mark.parametrize(
    ("lines", "message"),
    [
        (
            ["opened cover-off", "inspected visual passed"],
            "is open, and the safety test is made last, with all covers on",
        ),
        (["inspected visual failed", EARTH], "The look at it failed (line 1): it is not measured and not powered."),
        (["inspected visual passed", CURRENT], "puts mains on the unit, and before that comes protective-earth."),
        (["inspected visual passed", EARTH, "inspected function passed"], "and before that comes insulation."),
        (["stated class II", "inspected visual passed", EARTH], "Class II does not rely on an earth"),
        (["inspected visual passed", "measured insulation 9 Mohm by fluxa"], "At which voltage?"),
    ],
)
def test_a_step_out_of_turn_is_refused(lines: list[str], message: str) -> None:
    [flag] = told(*lines).flags
    assert flag.seq == len(lines)
    assert message in flag.message
