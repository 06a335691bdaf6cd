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
