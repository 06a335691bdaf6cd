"""Heat and rework where they refuse, hang together, or say what they do not know."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from knowngood.errors import RangeError
from knowngood.handbook import book, heat, rework
from knowngood.handbook.book import ask


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda: heat.sink_needed(50.0, 40.0, 100.0, 1.0, 0.5),
            "no sink is enough for 50 W; a perfect one would carry at most 40 W",
        ),
        (lambda: heat.sink_needed(1.0, 90.0, 80.0, 1.0, 0.5), "would carry at most 0 W"),
        (lambda: heat.plate_convection(0.1, 20.0, 20.0), "plate and air have one temperature"),
        (lambda: heat.radiation(20.0, 20.0, 0.9, 0.1), "surface and surroundings have one temperature"),
        (lambda: heat.time_to_cool(90.0, 25.0, 180.0, 20.0), "from 90 degC towards 25 degC it never comes to 20 degC"),
        (lambda: heat.time_to_cool(90.0, 25.0, 180.0, 95.0), "it never comes to 95 degC"),
        (lambda: heat.time_constant(70.0, 70.0, 60.0, 20.0), "both readings are the same. Wait longer"),
        (
            lambda: heat.time_constant(70.0, 80.0, 60.0, 20.0),
            "time-constant: from 70 degC towards 20 degC it never comes",
        ),
        (lambda: heat.time_constant(70.0, 60.0, 60.0, 20.0, 65.0), "time-constant: from 60 degC towards 20 degC it"),
        (
            lambda: heat.time_to_cool(25.0, 25.0, 180.0, 25.0),
            "It must lie between the two, and above the air it cools in.",
        ),
        (lambda: heat.sink_needed(1.0, 90.0, 80.0, 0.0, 0.0), "a perfect one would carry nothing."),
        (lambda: heat.ambient_from_three(80.0, 70.0, 60.0), "80, 70, 60 degC do not settle"),
        (lambda: heat.ambient_from_three(80.0, 80.0, 80.0), "do not settle"),
        (lambda: rework.tip("SAC305", 200.0), "SAC305 is liquid above 220 degC; a tip of 200 degC melts nothing"),
        (lambda: rework.flux("XXL0"), "'XXL0' is no designator; it is RO, RE, OR or IN"),
        (lambda: rework.bake("5a", 1.5e-3), "no sourced figure for level 5a at 1.5 mm. Go by the part's data sheet"),
    ],
)
def test_what_makes_no_sense_is_refused(call: Callable[[], object], message: str) -> None:
    with pytest.raises(RangeError) as raised:
        call()
    assert message in str(raised.value)
    assert str(raised.value).partition(": ")[0] in book.formulas()


def test_a_plate_gives_off_what_its_resistance_says_and_radiates_its_part() -> None:
    plate = heat.plate_sink(0.1, 0.08, 70.0, 25.0, 0.9)
    assert plate.power == pytest.approx(plate.by_air + plate.by_radiation)
    assert heat.power_from_rise(45.0, plate.sink_ambient) == pytest.approx(plate.power)
    assert heat.plate_sink(0.1, 0.08, 70.0, 25.0, 0.9, 1).power == pytest.approx(plate.power / 2)
    assert heat.plate_sink(0.1, 0.08, 70.0, 25.0, 0.1).by_radiation == pytest.approx(plate.by_radiation / 9)


def test_three_readings_of_one_cooling_give_its_ambient_back() -> None:
    readings = [heat.cooled(90.0, 23.0, 150.0, 60.0 * number) for number in range(3)]
    assert heat.ambient_from_three(*readings) == pytest.approx(23.0)
    found = heat.time_constant(readings[0], readings[1], 60.0, 23.0, readings[2])
    assert found.time_constant == pytest.approx(150.0)
    assert found.wait == pytest.approx(60.0)


def test_a_joint_of_two_alloys_softens_at_the_lowest_that_can_form() -> None:
    assert rework.mixed_alloys("SAC305", "Sn63Pb37").melts_from == 183.0
    assert rework.mixed_alloys("Bi49Pb18Sn12In21", "SAC305").melts_from == 58.0
    assert "Clean all of it off" in rework.mixed_alloys("Sn63Pb37", "Sn42Bi58").why


def test_a_body_on_the_border_of_two_sizes_has_the_lower_peak() -> None:
    assert [one.peak for one in rework.body_peak("Pb-free", 2.5e-3, 2000e-9)] == [245.0]
    assert [one.peak for one in rework.body_peak("Pb-free", 1.6e-3, 350e-9)] == [250.0]
    for thickness, volume, peak in (
        (1.59, 5e3, 260.0),
        (2.49, 349.0, 260.0),
        (2.49, 1999.0, 250.0),
        (2.51, 349.0, 250.0),
    ):
        assert [one.peak for one in rework.body_peak("Pb-free", thickness * 1e-3, volume * 1e-9)] == [peak]


def test_classes_of_assemblies_say_what_they_mean_and_how_well_it_is_known() -> None:
    """IPC-A-610; J-STD-001."""
    found = [rework.acceptance_class(number) for number in "123"]
    assert [one.name for one in found] == ["general products", "dedicated service", "high performance"]
    assert [one.status for one in found] == ["confirmed", "second-hand", "second-hand"]
    assert [one.means for one in found] == [
        "it works; flaws in looks are accepted",
        "it goes on working, yet a stop is not critical",
        "it works on demand, a stop is not acceptable",
    ]
    assert rework.flux("inh1") == rework.flux("INH1")
    assert [rework.flux(one).base for one in ("ROL0", "REM1", "ORH0", "INL1")] == [
        "rosin",
        "resin",
        "organic",
        "inorganic",
    ]
    assert (rework.flux("REM1").activity, rework.flux("REM1").halide) == ("moderate", "with halide")
    assert (rework.flux("ORH0").activity, rework.flux("ORH0").halide) == ("high", "without halide")


def test_a_figure_from_memory_is_shown_with_these_words() -> None:
    memory, older = rework.body_peak("SnPb", 1.0e-3, 100e-9)
    assert memory.source == "J-STD-020D.1 table 4-1 (from memory)"
    assert memory.use == "shown only, never judged by"
    assert older.use == "may be judged by"
    assert rework.alloy("Sn99.3Cu0.7").source == "from memory"


def test_floor_life_is_used_up() -> None:
    assert rework.floor_life("3", 200 * 3600.0).verdict == "exceeded: bake it before soldering"
    assert rework.floor_life("3", 168 * 3600.0).verdict == "exceeded: bake it before soldering"
    assert rework.floor_life("3", 167 * 3600.0).verdict == "within"
    assert rework.floor_life("1", 1e8).verdict == "within"
    assert rework.floor_life("6").verdict == "bake it, then solder within the time on its label"


def test_a_part_that_lay_open_for_unknown_time_is_baked_as_a_soaked_one() -> None:
    assert [one.time for one in rework.bake("3", 1e-3)] == [one.time for one in rework.bake("3", 1e-3, 73 * 3600.0)]


def test_a_bake_adds_up_at_125_degrees_only_and_goes_by_the_thinner_row_up_to_its_edge() -> None:
    """J-STD-033, table 4-1: level 3 up to 1.4 mm 9, 33 and 312 h."""
    found = rework.bake("3", 1.4e-3, 73 * 3600.0, 87 * 3600.0)
    assert [(one.temperature, one.time / 3600.0, one.humidity, one.total) for one in found] == [
        (125.0, 9.0, "any", "96 h of 96 h"),
        (90.0, 33.0, "5 % RH or less", "does not count"),
        (40.0, 312.0, "5 % RH or less", "does not count"),
    ]
    assert rework.bake("3", 1e-3, baked=88 * 3600.0)[0].total == "97 h, over 96 h: only with the supplier's word"
    assert rework.bake("3", 1.41e-3)[0].time > found[0].time
    soaked, short = rework.bake("2a", 1e-3, 73 * 3600.0), rework.bake("2a", 1e-3, 72 * 3600.0)
    assert [one.time < other.time for one, other in zip(short, soaked, strict=True)] == [True] * 3


def test_an_open_part_has_its_condition_and_what_is_left() -> None:
    found = rework.floor_life("3", 100 * 3600.0)
    assert (found.life, found.condition, found.left) == ("168 h", "30 C / 60 % RH", 68 * 3600.0)
    assert (rework.floor_life("1").verdict, rework.floor_life("3").left) == (None, None)


@pytest.mark.parametrize(
    ("alloy", "degrees", "verdict"),
    [
        ("Sn63Pb37", 280.0, "as recommended, or below"),
        ("Sn63Pb37", 281.0, "within"),
        ("Sn63Pb37", 320.0, "within"),
        ("Sn63Pb37", 321.0, "over"),
        ("SAC305", 400.0, "no limit with a source"),
    ],
)
def test_a_tip_is_judged_on_tin_and_lead_only(alloy: str, degrees: float, verdict: str) -> None:
    """ESA PSS-01-738, 3.5.7."""
    found = rework.tip(alloy, degrees)
    assert found.verdict == verdict
    assert found.limit == ("none" if alloy == "SAC305" else "280 degC recommended, not above 320 degC")
    with pytest.raises(RangeError, match=f"{alloy} is liquid above"):
        rework.tip(alloy, rework.alloy(alloy).liquidus)


def test_what_alloys_make_is_said_with_the_way_out() -> None:
    found = rework.mixed_alloys("SAC305", "Sn63Pb37")
    assert found.why == "the solidus of Sn63Pb37, the lower of the two. Clean it off first if they differ."
    found = rework.mixed_alloys("Sn42Bi58", "Sn63Pb37")
    assert found.why == "bismuth meets lead: a ternary can form. Clean all of it off first."
    assert rework.alloy("SAC305").note == "Sn96.5Ag3Cu0.5"
    assert rework.alloy("Sn42Bi58").profile is None


@pytest.mark.parametrize(
    ("process", "revision", "own"),
    [
        ("Pb-free", "D", ["150 to 200 degC", "217 degC", "at most 30 s", "at most 480 s"]),
        ("SnPb", "D", ["100 to 150 degC", "183 degC", "at most 20 s", "at most 360 s"]),
        ("SnPb", "C", ["100 to 150 degC", "183 degC", "10 to 30 s", "at most 360 s"]),
    ],
)
def test_the_limits_of_a_profile_in_the_order_of_the_run(process: str, revision: str, own: list[str]) -> None:
    """J-STD-020D.1, table 5-2; J-STD-020C."""
    found = rework.profile_limits(process, revision)
    preheat, liquidus, near, cold = own
    assert [one.limit for one in found] == [
        *(preheat, "60 to 120 s", "at most 3 K/s", liquidus, "60 to 150 s", "at most 6 K/s", near, cold, "at most 3")
    ]
    assert found[6].source == ("J-STD-020C" if revision == "C" else "J-STD-020D.1 table 5-2")


def test_units_as_a_person_writes_them() -> None:
    found = ask("heat", {"bond_line": "50 um", "conductivity": "3 W/mK", "area": "15 x 15 mm", "power": "30 W"})
    assert [value.text() for value in found.answers[0].results[0]][2] == "2.222 K"
    found = ask("rework", {"level": "5A", "thickness": "1 mm", "exceeded": "3 days"})
    [baked] = [one for one in found.answers if one.formula.name == "bake"]
    assert [row[1].text() for row in baked.results] == ["10 h", "24 h", "10 days"]
