"""What a reading says to a safety limit, and that a weak limit says nothing; refusals of the subjects beside it."""

from __future__ import annotations

from typing import Any

import pytest

from knowngood.errors import RangeError
from knowngood.handbook import book, cells, exposure, safety
from knowngood.handbook.limits import UNPROVED, judged, limits

WEAK = [row for row in limits().values() if not row.decides]


@pytest.mark.parametrize("row", WEAK, ids=lambda row: row.id)
def test_a_limit_that_is_not_confirmed_shows_its_status_and_gives_no_verdict(row: Any) -> None:
    found = judged(row.id, 0.0, 0.0, row.unit)
    assert found.verdict == f"none: this limit is {row.status}; take it from your copy of the rules"
    assert found.display is None
    assert f"({row.status})" in found.limit


def test_the_ends_of_insulation_and_other_chemistries_are_left_to_the_standard() -> None:
    readings = [
        safety.insulation_test(insulation=ohms, protection=which) for ohms in (0.0, 1e9) for which in ("I", "III")
    ]
    assert {row.verdict.partition(":")[0] for rows in readings for row in rows} == {"none"}
    assert [len(rows) for rows in readings] == [2, 1, 2, 1]
    heated = safety.insulation_test(insulation=0.5e6, protection="I", heater=True)
    assert heated[0].limit == "at least 0.3 Mohm (from memory)"
    assert safety.insulation_test(insulation=5e5, protection="I")[0].limit == "at least 1.0 Mohm (from memory)"
    assert safety.insulation_test(insulation=5e5, protection="II", heater=True)[0].limit.startswith("at least 2.0 Mohm")
    for chemistry in ("high-4.40", "iron-phosphate"):
        assert cells.cell_voltage(cell=4.3, chemistry=chemistry).state.startswith("no verdict")
    assert cells.cell_voltage(cell=2.0, chemistry="iron-phosphate").state.startswith("no verdict")
    assert cells.cell_voltage(cell=2.0, chemistry="high-4.40").state == "below its end of discharge"
    assert cells.cell_voltage(cell=4.0, chemistry="high-4.35").charge_limit == "at most 4.35 V (from memory)"


def test_each_class_has_its_tests_in_order() -> None:
    """DIN VDE 0701-0702 limit tables (order)."""
    steps = {which: [one.step for one in safety.plan_of_tests(which)] for which in ("I", "II", "III")}
    look = "look: case, cord, plug, marks, the class claimed and the class found"
    record = "record: unit, class, rule set and edition, instrument and its check date, cord, readings, name, date"
    touch = "touch current: on metal that is not earthed"
    earth = "earth path: the cord moved along its full length"
    assert steps["I"][:3] == [look, earth, "insulation to earth: 500 V d.c."]
    assert steps["I"][3:] == ["protective-conductor current", touch, "function", record]
    assert steps["II"] == [look, "insulation to touchable metal: 500 V d.c.", touch, "function", record]
    selv = "supply: it is a proper SELV source"
    assert steps["III"] == [look, selv, "insulation: where the rules ask", "function", record]
    path = safety.plan_of_tests("I")[1]
    assert path.german == "at most 0.3 ohm, cord up to 5 m and 1.5 mm^2"
    assert (path.british or "").endswith(" and the cord's protective conductor")
    assert {one.german for one in safety.plan_of_tests("III") if one.step in (look, selv, "function", record)} == {None}


def test_a_current_at_the_edge_of_a_zone_is_in_it() -> None:
    said = {mA: [one.says for one in safety.body_current(current=mA * 1e-3)] for mA in (0.5, 0.51, 5.0, 5.01)}
    assert said[0.5][0] == "up to 0.5 mA, zone AC-1: usually no reaction"
    assert said[0.51][0] == "above 0.5 mA, the upper edge of zone AC-1: it is felt"
    rest = " about 5 mA (older edition 10 mA), below which long exposure usually harms nobody"
    assert (said[5.0][1], said[5.01][1]) == (f"up to{rest}", f"above{rest}")
    assert safety.live_part(live=50.0)[0].says == "to be de-energised before work: 50 V to ground or more"
    assert safety.live_part(live=49.9)[0].says.startswith("below 50 V: to be de-energised as well where a burn")
    assert safety.live_part(live=1.0)[1].says == (
        "energy source class 1 (ES1) ends at 60 V d.c., 30 V r.m.s., 42.4 V peak"
    )


def test_the_british_limit_of_an_earth_path_names_what_the_cord_adds() -> None:
    (_, british) = safety.earth_path(earth=0.1, cord=5.8, section=1e-6)
    assert british.limit == "at most 0.2 ohm: 0.1 ohm and 0.1 ohm of the cord"


def test_a_lower_limit_is_drawn_up_by_the_error_of_the_meter() -> None:
    said = [judged("cell.v_end", volts, 0.1, "V").verdict for volts in (2.8, 2.7, 2.5, 2.2)]
    assert said == ["pass", UNPROVED, UNPROVED, "FAIL"]
    assert judged("cell.v_end", 2.8, 0.1, "V").display == pytest.approx(2.5 / 0.9)


@pytest.mark.parametrize(
    ("nanometres", "blink"),
    [
        (405, "weak at 405 nm (from memory)"),
        (450, "protects in class 2 only"),
        (650, "protects in class 2 only"),
        (780, "none: the eye hardly sees it"),
    ],
)
def test_blinking_protects_from_a_weak_visible_beam_at_most(nanometres: int, blink: str) -> None:
    assert exposure.laser_class(power=2e-3, wavelength=nanometres * 1e-9).blink == blink


def test_what_to_do_with_a_cell_goes_by_its_state() -> None:
    for volts, chemistry, do in (
        (4.3, "cobalt-or-nmc", "Do not charge it. Overcharged"),
        (3.7, "cobalt-or-nmc", "Judge capacity and swelling apart; below 3.0 V it wants charging"),
        (2.4, "cobalt-or-nmc", "Do not just charge it. From memory: below about 2.0 V"),
        (4.3, "high-4.40", "Go by the label or the data sheet of this cell."),
    ):
        assert cells.cell_voltage(cell=volts, chemistry=chemistry).do.startswith(do)


def test_a_damaged_battery_does_not_fly_whatever_its_size() -> None:
    """49 CFR 173.185(f); PHMSA interpretation 24-0050."""
    by_air, by_ground = cells.battery_transport(nominal=3.7, capacity=1.0, damaged=True)
    assert by_air.verdict == "FORBIDDEN by air"
    assert by_air.source.startswith("Lion Technology, Signs of a Damaged or Defective Lithium Battery")
    assert by_ground.verdict == "only in special packing by ground"
    assert by_ground.limit.startswith("49 CFR 173.185(f); ADR/IMDG SP 376, P908/LP904 (packing numbers from memory)")
    assert by_ground.source == "PHMSA interpretation 24-0050 (2 Jul 2024)"
    assert {one.rules for one in (by_air, by_ground)} == {"damaged, defective or recalled"}
    assert {one.energy for one in (by_air, by_ground)} == {None}


@pytest.mark.parametrize(
    ("milliwatts", "nanometres", "which", "because"),
    [
        (0.39, 650, "1", "up to about 0.39 mW at 650 nm"),
        (0.39, 651, "1 or 2: treat it as 2", "up to 1 mW, visible"),
        (1.0, 650, "2", "up to 1 mW, visible"),
        (5.0, 700, "3R", "up to 5 mW, visible"),
        (5.01, 700, "3B", "above 5 mW, up to 500 mW"),
        (500.0, 405, "3B", "above 5 mW, up to 500 mW"),
        (500.1, 780, "4", "above 500 mW, the limit of class 3B"),
        (0.1, 780, "3B or lower: treat it as 3B", "the class 1 limit at this wavelength is not known here"),
    ],
)
def test_a_laser_is_of_the_class_up_to_whose_limit_it_comes(
    milliwatts: float, nanometres: float, which: str, because: str
) -> None:
    found = exposure.laser_class(power=milliwatts * 1e-3, wavelength=nanometres * 1e-9)
    assert (found.laser_class, found.because) == (which, because)


@pytest.mark.parametrize("subject", ["safety", "cells", "exposure"])
def test_every_safety_page_defers_to_local_rules_and_licensed_practice(subject: str) -> None:
    for one in book.of_subject(subject):
        words = one.page.caution.lower()
        assert "local" in words, one.name
        assert "licensed" in words, one.name


@pytest.mark.parametrize(
    ("topic", "given", "message"),
    [
        ("published-limits", {"topic": "cells", "words": "steam"}, "no limit of cells has the words 'steam'"),
        ("earth-path", {"earth": "1", "cord": "1 m", "protection": "III"}, "class III does not rely on an earth"),
        (
            "earth-path",
            {"earth": "1", "cord": "1 m", "protection": "II"},
            "only. Measure insulation and touch current.",
        ),
        (
            "tightening-torque",
            {"thread": "M3"},
            "no figure for M3 of strength unknown into metal. Name a property class",
        ),
        ("tightening-torque", {"thread": "M4", "into": "plastic"}, "into plastic. Ask screw-into-plastic."),
        ("reliability-shown", {"trials": "3", "failures": "4"}, "4 failures in 3 trials"),
        ("returns-by-record", {"sold": "3", "returned": "4", "units": "1"}, "4 returned of 3 sold"),
        ("arrhenius", {"activation": "0.3", "hot": "20", "cold": "30"}, "cold is 30 degC, above hot, 20 degC"),
        (
            "likeliest-part",
            {"parts": "2 x capacitor"},
            "'capacitor' is more than one of the parts; name one of capacitor,",
        ),
        ("failure-modes", {"part": "gearbox"}, "'gearbox' is none of the parts; name one of capacitor,"),
    ],
)
def test_what_does_not_hold_together_is_refused_with_what_would_be_right(
    topic: str, given: dict[str, str], message: str
) -> None:
    with pytest.raises(RangeError) as raised:
        book.ask(topic, given)
    assert message in str(raised.value)
    assert str(raised.value).startswith(f"{topic}: ")
