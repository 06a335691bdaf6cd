"""What holds a unit here before it goes, and what of that a line may override."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from knowngood.log import events as ev
from knowngood.log.state import Line, replay
from knowngood.maps import load
from knowngood.proof.known import Proof
from knowngood.proof.release import Release, release, wiping_of_a_part
from knowngood.proof.safety_test import Instrument, safety_test

PROJECTOR = load("ceiling-projector")
BATTERY = load("some-battery-device")
FLUXA = Instrument("fluxa", date(2026, 3, 1), 0.05, 12)
SAFE = (
    *("stated cord none", "stated metal earthed", "inspected visual passed"),
    "measured protective-earth 0.1 ohm by fluxa under german",
    "measured insulation 20 Mohm by fluxa at 500 V against 1 Mohm under german",
    "measured protective-current 0.6 mA by fluxa under german",
    "inspected function passed",
)
WIPED, UNLOCKED = "wiped config-store by clear verified first start", "checked account-lock none"
PROVED = Proof(0.9, (), (), ())


def told(*texts: str, how="working", device=PROJECTOR, proof: Proof | str = PROVED) -> Release:  # type: ignore[no-untyped-def]
    lines = [Line(seq, "2026-06-01T10:00:00Z", ev.parse(text)) for seq, text in enumerate(texts, start=1)]
    log = replay(device, lines)
    assert not log.flags
    return release(device, log, safety_test(device, log, [FLUXA]), proof, how)


def matters(*texts: str, **given: object) -> list[str]:
    found = told(*texts, **given)  # type: ignore[arg-type]
    return [one.matter for one in (*found.stops, *found.warnings)]


def test_what_was_wiped_tested_and_proved_may_go() -> None:
    assert told(*SAFE, WIPED, UNLOCKED).free


def test_without_wiping_and_without_a_test_it_is_held_and_nothing_overrides_that() -> None:
    overrides = [f"overrode {one} -- why" for one in ("not-proved", "open-steps", "declared-faults", "account-lock")]
    found = told(*overrides)
    assert [one.matter for one in found.stops] == ["data", "safety-test"]
    assert not found.warnings
    assert "only by the unit's own reset, or the unit is lost" in found.stops[0].right
    assert matters(*SAFE, UNLOCKED) == ["data"]
    assert matters(WIPED, UNLOCKED) == ["safety-test"]
    assert matters(*SAFE, WIPED, UNLOCKED, "opened cover-off", "closed all") == ["safety-test"]


def test_as_it_is_it_needs_its_data_removed_only() -> None:
    assert matters(UNLOCKED, how="as-is") == ["data"]
    found = told(UNLOCKED, WIPED, how="as-is")
    assert found.free
    assert "It goes without a safety test" in found.notes[0]


def test_a_unit_without_mains_needs_no_safety_test() -> None:
    assert told("wiped storage by purge verified by reading", UNLOCKED, device=BATTERY).free


@pytest.mark.parametrize(
    ("lines", "done"),
    [
        (["removed config-store"], True),
        (["harvested main-board"], True),
        (["saw config-store missing"], True),
        (["fitted config-store from new"], True),
        (["fitted config-store from used"], False),
        ([WIPED, "fitted config-store from D1"], False),
        (["wiped unit by clear", "fitted config-store from D1"], False),
        (["wiped main-board by destroy"], True),
        (["wiped exhaust-fan by destroy"], False),
        (["removed config-store", "fitted config-store from back"], False),
        ([WIPED, "removed config-store", "fitted config-store from back"], True),
    ],
)
def test_a_part_that_holds_data_is_wiped_out_or_new(lines: list[str], done: bool) -> None:
    [place] = told(*lines).places
    assert (place.part, place.done) == ("config-store", done)


def test_where_a_map_says_only_that_data_is_there_the_whole_unit_is_wiped() -> None:
    parts = {name: replace(part, stores_data=False) for name, part in BATTERY.parts.items()}
    device = replace(BATTERY, parts=parts)
    assert matters(UNLOCKED, device=device) == ["data"]
    assert told("wiped unit by clear", UNLOCKED, device=device).free
    assert told(UNLOCKED, device=replace(device, stores_data=False)).free


def test_a_part_that_leaves_alone_takes_no_data_along() -> None:
    def stop(part: str, *texts: str) -> bool:
        log = replay(PROJECTOR, [Line(seq, "", ev.parse(text)) for seq, text in enumerate(texts, start=1)])
        return wiping_of_a_part(PROJECTOR, log.state, part) is not None

    assert stop("config-store", "harvested config-store")
    assert stop("main-board", "harvested main-board")
    assert not stop("main-board", "harvested main-board", WIPED)
    assert not stop("projection-lens", "harvested projection-lens")


@pytest.mark.parametrize(
    ("before", "proof", "matter", "said"),
    [
        (["opened cover-off"], PROVED, "open-steps", "it is open: cover-off"),
        ([], "These lines cannot all be true.", "not-proved", "nothing is proved: These lines cannot all be true"),
        (["declared usb-media"], PROVED, "declared-faults", "declared as not working: usb-media; no listing since"),
        (["checked account-lock locked"], PROVED, "account-lock", "it may be stolen"),
    ],
)
def test_a_warning_is_overridden_by_a_line_that_then_stands_beside_it(
    before: list[str], proof: Proof | str, matter: str, said: str
) -> None:
    [warning] = [one for one in told(*before, proof=proof).warnings if one.matter == matter]
    assert said in warning.says
    found = told(*before, f"overrode {matter} -- why not", proof=proof)
    assert matter not in [one.matter for one in found.warnings]
    [overridden] = found.overridden
    assert said in overridden
    assert overridden.endswith(f"overrode {matter} -- why not)")


def test_a_listing_names_the_faults_that_were_declared_by_then() -> None:
    assert "declared-faults" not in matters("declared usb-media", "listed at EUR 90")
    assert "declared-faults" not in matters("declared usb-media", "listed unit", "mended exhaust-fan clean")
    later = told("declared usb-media", "listed unit", "declared sound").warnings
    assert [one.says for one in later if one.matter == "declared-faults"] == [
        "declared as not working: sound; no listing since says so"
    ]
    assert "declared-faults" in matters("declared usb-media", "listed unit", "received unit")


def test_an_override_is_for_the_unit_as_it_was() -> None:
    override = "overrode account-lock -- its owner answers on Monday"
    assert "account-lock" not in matters(override)
    assert "account-lock" in matters(override, "mended exhaust-fan clean")


def test_removal_that_was_not_verified_is_said_by_the_terms_of_the_standard() -> None:
    notes = told("wiped config-store by clear").notes
    assert "NIST SP 800-88 Rev. 2, 4.5.1" in notes[0]
    assert "overwriting flash is unreliable" in notes[1]
    assert told("wiped config-store by purge with erase command verified by reading").notes == ()
