"""Where other parts for a unit could come from."""

from __future__ import annotations

from knowngood.bench import work
from knowngood.bench.store import Store
from knowngood.bench.supply import supply


def test_a_part_on_the_shelf_and_one_that_a_donor_still_holds_are_to_be_had(
    store: Store, unit: str, donor: str
) -> None:
    work.log_lines(store, donor, ["harvested lamp-door-tab"])
    found = supply(store, store.device(unit), unit)
    assert [(one.origin, one.price) for one in found.loose["lamp-door-tab"]] == [(donor, 4.0)]
    (held,) = found.donors
    assert held.unit == donor
    assert "lamp-door-tab" not in held.states
    assert 0.9 < held.states["exhaust-fan"][0] < 1.0


def test_a_unit_gives_its_parts_once_it_is_planned_for_them_and_not_what_another_is_to_get(
    store: Store, unit: str
) -> None:
    other, third = (work.new_unit(store, "ceiling-projector", "EUR 9") for _ in range(2))
    assert supply(store, store.device(unit), unit).donors == ()
    work.log_lines(store, other, ["planned parts"])
    work.log_lines(store, third, [f"reserved lamp-module from {other}"])
    (held,) = supply(store, store.device(unit), unit).donors
    assert "lamp-module" not in held.states
    assert "exhaust-fan" in held.states
    (theirs,) = supply(store, store.device(third), third).donors
    assert "lamp-module" in theirs.states


def test_what_is_reserved_in_small_letters_is_kept_back_and_what_a_parted_unit_had_reserved_is_not(
    store: Store, unit: str, donor: str
) -> None:
    other = work.new_unit(store, "ceiling-projector", "EUR 9")
    work.log_lines(store, other, [f"reserved exhaust-fan from {donor.lower()}"])
    (held,) = supply(store, store.device(unit), unit).donors
    assert "exhaust-fan" not in held.states
    work.log_lines(store, other, ["parted worth EUR 20"])
    held = next(one for one in supply(store, store.device(unit), unit).donors if one.unit == donor)
    assert "exhaust-fan" in held.states
