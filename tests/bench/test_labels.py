"""What stands on labels."""

from __future__ import annotations

import pytest

from knowngood.bench import labels, loose, work
from knowngood.bench.store import Store
from knowngood.errors import NotFoundError

MAP = "ceiling-projector"


def test_a_unit_s_label_has_its_number_past_place_and_the_cautions_that_hold(store: Store, unit: str) -> None:
    work.log_lines(store, unit, ["past wet", "put unit in shelf 2"])
    made = labels.label(store, " u1 ")
    assert (made.number, made.code) == ("U1", "knowngood:U1")
    assert made.what == "Ceiling projector, three panels, discharge lamp"
    assert made.notes == ("past: dropped, wet", "shelf 2")
    assert made.cautions == ("WET: no power", "may hold a charge")
    stores = [part.id for part in store.device(unit).parts.values() if "stored-charge" in part.hazards]
    work.log_lines(store, unit, ["dried unit", *(f"removed {part}" for part in stores)])
    assert labels.label(store, "U1").cautions == ()


def test_a_charge_that_was_let_off_is_no_caution(store: Store, unit: str) -> None:
    assert labels.label(store, "U1/ballast").cautions == ("may hold a charge",)
    work.log_lines(store, unit, ["discharged ballast 3 V", "harvested ballast"])
    assert labels.label(store, "U1/ballast").cautions == ()


def test_a_part_s_label_tells_origin_proof_and_place(store: Store, unit: str, donor: str) -> None:
    work.log_lines(store, donor, ["identified main-board as B", "harvested exhaust-fan in drawer 3"])
    made = labels.label(store, "d1/Exhaust Fan")
    assert (made.number, made.name, made.what) == ("D1", "exhaust-fan", "Exhaust fan")
    assert made.code == "knowngood:D1/exhaust-fan"
    assert made.notes == ("not tested", "drawer 3")
    assert labels.label(store, "D1/main-board").notes[0] == "revision B"
    work.log_lines(store, unit, ["fitted exhaust-fan from D1", "tried fans-turn works", "saw exhaust-fan bent"])
    assert labels.label(store, "U1/exhaust-fan").notes == ("from D1 by U1", "seen bent", "not tested")
    work.log_lines(store, unit, ["undid 4", "harvested exhaust-fan"])
    assert labels.label(store, "U1/exhaust-fan").notes[-1] == "shown by: tried fans-turn works"


def test_married_parts_have_one_mark_and_those_of_other_units_another(store: Store, unit: str, donor: str) -> None:
    store_, engine = (labels.label(store, f"U1/{part}").pair for part in ("config-store", "optical-engine"))
    of_donor = labels.label(store, "D1/config-store").pair
    assert store_
    assert engine
    assert of_donor
    assert (store_.words, store_.shape) == (engine.words, engine.shape) == ("U1 pair A: triangle", "triangle")
    assert store_.others == "only with its optical-engine"
    assert (of_donor.words, of_donor.shape) == ("D1 pair A: diamond", "diamond")
    assert labels.label(store, "U1/lamp-door").pair is None
    work.log_lines(store, donor, ["harvested config-store"])
    work.log_lines(store, unit, ["fitted config-store from D1"])
    assert labels.label(store, "U1/config-store").pair == of_donor, "it stays the other engine's"
    work.log_lines(store, unit, ["fitted config-store from new"])
    assert labels.label(store, "U1/config-store").pair is None


def test_a_tray_a_lot_and_a_place_have_labels(store: Store, unit: str, donor: str) -> None:
    tray = labels.label(store, "U1/cover off")
    assert (tray.number, tray.name, tray.code) == ("U1", "cover-off", "knowngood:U1/cover-off")
    assert tray.notes == ("7 x M3 8 mm cross-head", "2 x M3 12 mm cross-head rear")
    loose.change(store, ["25 x resistor 10 ohm in Drawer 3 -- from an old lab"])
    lot = labels.label(store, "s1")
    assert (lot.number, lot.what, lot.code) == ("S1", "resistor 10 ohm", "knowngood:S1")
    assert (lot.notes[0][:6], lot.notes[1:]) == ("25 on ", ("Drawer 3", "from an old lab"))
    work.log_lines(store, donor, ["harvested lamp-door in drawer 3", "put unit in drawer 3"])
    place = labels.label(store, "DRAWER 3")
    assert (place.number, place.code) == ("drawer 3", "knowngood:in/drawer 3")
    assert sorted(place.notes) == ["D1", "D1/lamp-door", "S1"]


@pytest.mark.parametrize(
    ("asked", "message"),
    [
        (
            "U7",
            r"No unit, lot or place 'U7'\. There are: 'D1', 'U1'\. A part is named with its unit",
        ),
        ("lamp-door", "No unit, lot or place 'lamp-door'"),
        ("U1/lamp-dor", "U1 has no part and no access step 'lamp-dor'. Similar: 'lamp-door'"),
    ],
)
def test_what_cannot_be_labelled_is_refused_with_the_nearest(
    store: Store, unit: str, donor: str, asked: str, message: str
) -> None:
    with pytest.raises(NotFoundError, match=message):
        labels.label(store, asked)
