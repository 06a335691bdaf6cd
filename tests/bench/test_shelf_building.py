"""From the logs to a shelf problem: what a unit needs, what it gives, what serves as what."""

from __future__ import annotations

import pytest

from knowngood.bench import market, work
from knowngood.bench.shelf.building import Built, built, parts_of
from knowngood.bench.shelf.facts import facts
from knowngood.bench.shelf.planning import planned
from knowngood.bench.store import Store
from knowngood.handbook.quantities import Money
from knowngood.money.shelf.problem import Item, Need, Way

MAP = "ceiling-projector"
NAVIGATOR = "pocket-navigator"
NORTHPARTS = "supplier northparts posts for EUR 0 in 3 days"


def way(made: Built, unit: str, name: str) -> Way:
    return made.problem.way[unit, name]


def need(made: Built, unit: str, name: str) -> Need:
    return next(one for one in way(made, unit, "finish").needs if one.id == name)


def given(made: Built, unit: str, part: str) -> Item:
    return next(one for one in way(made, unit, "parts").gives if one.id == f"{unit}/{part}")


def test_a_part_at_fault_is_a_need_until_it_is_bought(store: Store, unit: str, donor: str) -> None:
    work.log_lines(store, unit, ["saw exhaust-fan missing"])
    made = built(facts(store))
    by = {one.id: one for one in need(made, unit, "exhaust-fan").alternatives}
    assert by["take"].takes == (f"{MAP}/exhaust-fan",)
    assert by["buy"].cost - by["take"].cost == 1700, "no supplier is named, so at the map's price"
    assert {one for way in made.problem.unit[donor].ways for one in way.needs} == set()
    assert given(made, donor, "exhaust-fan").serves == {f"{MAP}/exhaust-fan"}
    assert given(made, donor, "exhaust-fan").cost == 440, "what it brings as a part, less the fee"
    market.change(
        store, ["supplier northparts posts for EUR 6 in 3 days", f"offers northparts {MAP}/exhaust-fan new at EUR 8"]
    )
    assert "buy" not in {one.id for one in need(built(facts(store)), unit, "exhaust-fan").alternatives}
    work.log_lines(store, unit, ["ordered exhaust-fan new from northparts for EUR 8"])
    assert [one.id for one in need(built(facts(store)), unit, "exhaust-fan").alternatives] == ["bought already"]


def test_what_buyers_take_and_pay_counts(store: Store, unit: str, donor: str) -> None:
    before = way(built(facts(store)), unit, "as-is")
    market.change(store, [f"demand {MAP} as-is at most 1 at EUR 100", f"demand {MAP}/lamp-module at most 2 at EUR 25"])
    made = built(facts(store))
    after = way(made, unit, "as-is")
    assert (before.demands, after.demands) == ((), (f"as-is {MAP}",))
    assert after.value == round(100_00 * 0.88) - 14_00
    work.log_lines(store, unit, ["priced as-is at EUR 50"])
    assert way(built(facts(store)), unit, "as-is").value == 50_00 * 0.88 - 14_00, "the unit's own price goes first"
    [outlet] = given(made, donor, "lamp-module").outlets
    assert outlet.demand == f"loose {MAP}/lamp-module"
    assert outlet.value == round(given(made, donor, "lamp-module").chance * 25_00 * 0.88)


def test_what_is_kept_for_units_to_come_is_worth_the_chance_that_so_many_are_wanted(store: Store, unit: str) -> None:
    """With two to come that each want it with p: p at least once is 1 - (1 - p)^2, twice p^2."""
    market.change(store, [f"expects 2 of {MAP}"])
    known = facts(store)
    work.new_unit(store, MAP, "EUR 1")  # of no past
    p = next(one.p_blocks for one in facts(store).units[1].belief.suspects if one.part == "exhaust-fan")
    saved = 17_00 - 5_00
    assert built(known).problem.demand[f"kept {MAP}/exhaust-fan"].steps == (
        round(saved * (1 - (1 - p) ** 2)),
        round(saved * p**2),
    )


@pytest.mark.parametrize(
    ("place", "part", "serves"),
    [("B", "A", True), ("A", "B", False), ("A", "A", True), (None, "B", True), ("A", None, True)],
)
def test_a_part_serves_the_places_that_its_revision_fits(
    store: Store, place: str | None, part: str | None, serves: bool
) -> None:
    """An A also fits the place of a B, and no B that of an A; what nobody has read off may fit."""
    unit = work.new_unit(store, NAVIGATOR, "EUR 20")
    donor = work.new_unit(store, NAVIGATOR, "EUR 9", donor=True)
    work.log_lines(store, unit, [*([f"identified screen as {place}"] if place else []), "saw screen missing"])
    if part:
        work.log_lines(store, donor, [f"identified screen as {part}"])
    for _ in range(2):  # inside the donor, and once it lies on the shelf
        made = built(facts(store))
        [key] = next(one.takes for one in need(made, unit, "screen").alternatives if one.id == "take")
        assert parts_of(key) == ("screen",)
        item = next(one for name, one in made.problem.item.items() if name.startswith(f"{donor}/screen"))
        assert (key in item.serves) == serves
        if not any(one.id.startswith(f"{donor}/screen") for one in made.problem.items):
            work.log_lines(store, donor, ["harvested screen"])
    assert item.minutes == 0, "it is out already"


def test_a_married_group_is_one_item(store: Store, donor: str) -> None:
    groups = {frozenset(one.id.partition("/")[2].split("+")) for one in way(built(facts(store)), donor, "parts").gives}
    [bond] = [set(bond.parts) for bond in store.device(donor).married]
    assert [group for group in groups if group & bond] == [bond]


def test_the_plan_says_who_takes_what_from_whom(store: Store, unit: str, donor: str) -> None:
    work.log_lines(store, unit, ["saw exhaust-fan missing", "priced working at EUR 250"])
    work.log_lines(store, donor, ["harvested exhaust-fan"])
    going = {one.unit: one for one in planned(facts(store)).units}
    assert going[unit].plan.takes == {"exhaust-fan": donor}
    assert going[donor].gives == (("exhaust-fan", unit),)
    market.change(
        store, ["supplier northparts posts for EUR 0 in 3 days", f"offers northparts {MAP}/exhaust-fan new at EUR 1"]
    )
    [buy] = {one.unit: one for one in planned(facts(store)).units}[unit].plan.buys
    assert (buy.part, buy.condition, buy.supplier, buy.price) == ("exhaust-fan", "new", "northparts", Money("EUR", 100))
