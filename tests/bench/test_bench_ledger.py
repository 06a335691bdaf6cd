"""The books of a bench from its logs, and what it expected beside what came."""

from __future__ import annotations

import pytest

from knowngood.bench import forecast, work
from knowngood.bench.forecast import gone, hindsight
from knowngood.bench.ledger import books_of
from knowngood.bench.store import Store
from knowngood.errors import ContradictionError, LineError
from knowngood.log import events as ev
from knowngood.maps import load
from knowngood.money.ledger.books import Books

MAP = "ceiling-projector"


def kept(store: Store) -> Books:
    found = books_of(store).books
    assert found.settled - found.in_units - found.in_parts + found.own == found.balance
    return found


def balances(store: Store) -> list[str]:
    found = kept(store)
    return [str(one.balance) for one in (*found.units.values(), found.shelf)]


def test_a_share_goes_where_the_part_goes_and_falls_back_with_an_undo(store: Store, unit: str, donor: str) -> None:
    """The donor prices of the map sum to EUR 262: of EUR 20 the lens with 18 of them has 137.4 cents."""
    assert balances(store) == ["EUR -45", "EUR -20", "EUR 0"]
    work.log_lines(store, donor, ["harvested projection-lens"])
    shelf = kept(store).in_parts
    assert shelf.minor == 137
    work.log_lines(store, unit, ["fitted projection-lens from D1 for EUR 18"])
    assert kept(store).units[unit].carried == -shelf
    assert str(kept(store).in_parts) == "EUR 0"
    work.undo(store, unit)
    assert kept(store).in_parts == shelf
    work.undo(store, donor)
    assert balances(store) == ["EUR -45", "EUR -20", "EUR 0"]


def test_a_part_sold_by_itself_or_scrapped_comes_back_to_the_account_of_its_unit(store: Store, donor: str) -> None:
    work.log_lines(
        store, donor, ["harvested projection-lens", "harvested main-board", "vended projection-lens for EUR 18"]
    )
    assert str(kept(store).balance) == "EUR -2"
    work.log_lines(store, donor, ["scrapped main-board", "scrapped unit"])
    assert balances(store) == ["EUR -2", "EUR 0"]
    assert kept(store).units[donor].settled


@pytest.mark.parametrize("line", ["vended main-board for EUR 3", "scrapped main-board"])
def test_only_what_lies_on_the_shelf_is_sold_or_thrown_away(store: Store, unit: str, donor: str, line: str) -> None:
    with pytest.raises(
        LineError, match=r"no 'main-board' of D1 is on the shelf. From D1: nothing. Log 'harvested main"
    ):
        work.log_lines(store, donor, [line])
    work.log_lines(store, donor, ["harvested main-board", line])
    with pytest.raises(LineError, match="is on the shelf"):
        work.log_lines(store, donor, [line])
    work.undo(store, donor)
    work.log_lines(store, unit, ["fitted main-board from D1"])
    with pytest.raises(LineError, match="is on the shelf"):
        work.redo(store, donor)
    work.undo(store, unit)
    work.redo(store, donor)
    work.log_lines(store, donor, ["undid 2"])
    flags = work.replayed(store, donor)[1].flags
    assert [flag.seq for flag in flags] == [3]
    assert "No 'main-board' that left this unit is there to be" in flags[0].message


def test_what_loose_parts_bring_counts_as_it_was_when_the_first_one_left(store: Store) -> None:
    part, other = list(load("some-mains-device").parts)[:2]
    store.bench_append(f"demand some-mains-device/{part} at most 2 at EUR 6")
    store.bench_append(f"demand some-mains-device/{other} at most 2 at EUR 2 -- few ask")
    unit = work.new_unit(store, "some-mains-device", "EUR 8")
    work.log_lines(store, unit, [f"harvested {part}"])
    store.bench_append(f"demand some-mains-device/{other} at most 2 at EUR 66")
    assert str(kept(store).in_parts) == "EUR 6"


def test_the_own_money_of_the_shelf_is_what_its_lines_say_that_hold(store: Store) -> None:
    for text in ("paid EUR 6 for postage in 5 min", "got EUR 2 for metal", "paid EUR 9 for nothing", "undid 3"):
        store.bench_append(text)
    found = kept(store)
    assert (str(found.own), found.shelf.minutes) == ("EUR -4", 5.0)


def test_units_in_another_currency_have_books_of_their_own(store: Store, unit: str) -> None:
    work.bench_set(store, "currency", "USD")
    other = work.new_unit(store, MAP, "USD 30")
    assert list(kept(store).units) == [other]
    assert books_of(store).others == {"EUR": (unit,)}
    assert list(books_of(store, "eur").books.units) == [unit]
    with pytest.raises(LineError, match=r"Nothing is booked in CHF. There are: 'EUR', 'USD'"):
        books_of(store, "CHF")


def test_a_unit_says_where_it_came_from(store: Store) -> None:
    unit = work.new_unit(store, MAP, "EUR 5", ["dropped"], source="House  Clearance")
    assert ev.render(store.lines(unit)[0].event) == f"bought {MAP} for EUR 5 past dropped from house-clearance"
    with pytest.raises(LineError, match=r"'a/b' is no name of a source: letters, digits, hyphens"):
        work.new_unit(store, MAP, "EUR 5", source="a/b")


def test_the_forecast_leaves_the_purchase_out_and_stands_beside_what_came(store: Store) -> None:
    """EUR 60 less 9 of fees and carriage, and 30 minutes at EUR 12 an hour, is EUR 45 after the purchase."""
    device = load("some-battery-device")
    shown = [f"tried {name} works in 0 min" for name in device.wanted]
    sold = work.new_unit(store, device.id, "EUR 10")
    work.log_lines(
        store, sold, [*shown, "worked 30 min", "sold working for EUR 60", "paid EUR 9 for fees and carriage"]
    )
    parted = work.new_unit(store, device.id, "EUR 10")
    work.log_lines(store, parted, ["parted worth EUR 20", "worked 10 min"])
    work.new_unit(store, device.id, "EUR 10")
    one, two = hindsight(store, gone(books_of(store).books.units.values()))
    assert one.forecast is not None
    assert two.forecast is not None
    assert one.forecast.came.net.value == pytest.approx(60 - 9 - 6)
    assert (one.forecast.came.valued, one.forecast.came.costs_booked) == (False, True)
    assert one.forecast.at_hands_on.value > one.forecast.at_purchase.value, "all was shown to work by then"
    assert two.forecast.came.net.value == pytest.approx(20 * 0.88 - 2)
    assert (two.forecast.came.valued, two.forecast.came.costs_booked) == (True, False)
    assert two.forecast.at_purchase == one.forecast.at_purchase
    assert {claim.settled.how for claim in one.claims} == {"shown"}
    assert all(0 < claim.believed < 0.5 for claim in one.claims)
    assert two.claims == ()


def test_a_unit_of_which_nothing_can_be_said_is_named_and_the_others_are_told(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    for _ in range(2):
        work.log_lines(store, work.new_unit(store, "some-battery-device", "EUR 10"), ["sold as-is for EUR 3"])
    right = forecast.advise

    def first_contradicts(*given: object, **named: object) -> object:
        monkeypatch.setattr(forecast, "advise", right)
        raise ContradictionError("These lines cannot all be true.", [1])

    monkeypatch.setattr(forecast, "advise", first_contradicts)
    one, two = hindsight(store, gone(books_of(store).books.units.values()))
    assert (one.unit, one.forecast, one.refused) == ("U1", None, "These lines cannot all be true.")
    assert two.forecast is not None
    assert two.refused == ""
