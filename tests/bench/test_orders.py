"""Baskets from what is reserved, when to send them, what is ordered along, and what arrives."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from knowngood.bench import market, work
from knowngood.bench.shelf.facts import facts
from knowngood.bench.shelf.orders import Basket, arrive, orders, send
from knowngood.bench.store import Store
from knowngood.errors import LineError, NotFoundError
from knowngood.handbook.quantities import Money
from knowngood.log import events as ev

MAP = "ceiling-projector"


class Clock:
    """The first of December, and as many days more as it is told."""

    day = 1

    def __call__(self) -> str:
        return f"2026-12-{self.day:02d}T09:00:00Z"


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def shelf(tmp_path: Path, clock: Clock) -> Iterator[Store]:
    """Two units that want a part each, and two suppliers."""
    with Store(tmp_path / "home", clock=clock) as store:
        for unit in [work.new_unit(store, MAP, "EUR 30") for _ in range(2)]:
            work.log_lines(store, unit, ["planned finish"])
        market.change(
            store,
            [
                "supplier northparts posts for EUR 6 in 3 days",
                "supplier westparts posts for EUR 0 in 9 days",
                f"offers northparts {MAP}/exhaust-fan new at EUR 8.50",
                f"offers westparts {MAP}/exhaust-fan new at EUR 7",
                f"offers northparts {MAP}/lamp-module used at EUR 30",
            ],
        )
        yield store


def basket(store: Store, supplier: str = "northparts") -> Basket:
    return next(one for one in orders(store).baskets if one.supplier.name == supplier)


def test_a_basket_takes_the_suppliers_of_the_plan_else_the_cheapest(shelf: Store) -> None:
    work.log_lines(shelf, "U1", ["reserved exhaust-fan from new"])
    work.log_lines(shelf, "U2", ["reserved exhaust-fan from new", "reserved lamp-module from new"])
    shelf.bench_append("planned shelf after bench 5, U1 2, U2 2 buying U1/exhaust-fan new from northparts at EUR 8.50")
    found = orders(shelf)
    assert [(one.supplier.name, [want.unit for want in one.wants]) for one in found.baskets] == [
        ("northparts", ["U1"]),
        ("westparts", ["U2"]),
    ]
    assert found.nowhere == {"U2": ("lamp-module",)}, "one is offered used, and a new one is wanted"
    assert [one.payable for one in found.baskets] == [Money("EUR", 1450), Money("EUR", 700)]


def test_a_basket_waits_while_an_order_of_its_own_would_cost_more(shelf: Store, clock: Clock) -> None:
    """Postage 6, two wants in 30 days, 0.60 a day each: sqrt(2 x 6 / (2/30 x 0.60)) = 17.3 days. To wait 17 days
    costs 20.8 with two units, more than the postage: send. With a cheaper day it waits, until 17 days have gone."""
    work.log_lines(shelf, "U1", ["reserved lamp-module from used"])
    work.log_lines(shelf, "U2", ["reserved lamp-module from used"])
    dear = basket(shelf)
    assert dear.interval == pytest.approx(17.32, abs=0.01)
    assert (dear.waiting, dear.send) == (Money("EUR", 120), True)
    work.bench_set(shelf, "waiting-day", "0.06")
    cheap = basket(shelf)
    assert cheap.interval == pytest.approx(54.8, abs=0.1)
    assert cheap.send is True, "54.8 days at 0.12 come to more than the postage"
    work.bench_set(shelf, "waiting-day", "0.04")
    work.bench_set(shelf, "period", "3")
    waits = basket(shelf)
    assert (waits.interval, waits.send) == (pytest.approx(21.2, abs=0.1), False)
    clock.day = 23
    assert basket(shelf).age == pytest.approx(22.0)
    assert basket(shelf).send is True
    work.bench_set(shelf, "waiting-day", "0")
    assert basket(shelf).interval is None
    assert basket(shelf).send is True


def test_sending_books_parts_in_their_units_and_postage_on_the_shelf_at_once(shelf: Store) -> None:
    work.log_lines(shelf, "U1", ["reserved lamp-module from used"])
    lines, entry = send(shelf, "northparts", ["u2/exhaust-fan"])
    assert {unit: [ev.render(line.event) for line in stored] for unit, stored in lines.items()} == {
        "U1": ["ordered lamp-module used from northparts for EUR 30 due 2026-12-04"],
        "U2": ["ordered exhaust-fan new from northparts for EUR 8.50 due 2026-12-04"],
    }
    assert entry is not None
    assert entry.text == "paid EUR 6 for postage to northparts"
    assert [booking.amount for booking in market.market(shelf).bookings] == [Money("EUR", -600)]
    found = orders(shelf)
    assert found.baskets == ()
    assert [(unit, part) for unit, part, _ in found.coming] == [("U1", "lamp-module"), ("U2", "exhaust-fan")]
    work.log_lines(shelf, "U1", ["reserved exhaust-fan from new"])
    assert send(shelf, "westparts")[1] is None, "no postage, no booking"


@pytest.mark.parametrize(
    ("supplier", "along", "error", "message"),
    [
        ("nothparts", [], LineError, r"No supplier 'nothparts'\. Similar: 'northparts'"),
        ("westparts", [], LineError, r"Nothing is wanted from westparts\. What is: knowngood orders"),
        ("northparts", ["U2/exhaust-fen"], LineError, r"northparts offers no 'exhaust-fen' for ceiling-projector"),
        ("northparts", ["U7/exhaust-fan"], NotFoundError, r"No unit 'U7'"),
        ("northparts", ["U1/lamp-module"], LineError, r"'lamp-module' is on order from northparts already"),
    ],
)
def test_what_cannot_be_ordered_leaves_everything_as_it_was(
    shelf: Store, supplier: str, along: list[str], error: type[Exception], message: str
) -> None:
    work.log_lines(shelf, "U1", ["reserved lamp-module from used"])
    with pytest.raises(error, match=message):
        send(shelf, supplier, along)
    assert [ev.render(line.event) for line in shelf.lines("U1")][-1] == "reserved lamp-module from used"
    assert market.market(shelf).bookings == ()


def test_what_arrives_wakes_its_units_up(shelf: Store) -> None:
    work.log_lines(shelf, "U1", ["reserved lamp-module from used", "reserved exhaust-fan from new"])
    work.log_lines(shelf, "U2", ["reserved lamp-module from used"])
    send(shelf, "northparts")
    send(shelf, "westparts")
    [one] = arrive(shelf, "northparts", ["u1/lamp-module"])
    assert (one.unit, one.parts, one.still) == ("U1", ("lamp-module",), ("exhaust-fan",))
    assert [(one.unit, one.parts, one.still) for one in arrive(shelf, "northparts")] == [("U2", ("lamp-module",), ())]
    assert ev.render(shelf.lines("U2")[-1].event) == "arrived lamp-module"
    with pytest.raises(LineError, match=r"Nothing is on order from 'northparts'\. Similar: 'westparts'\."):
        arrive(shelf, "northparts")
    with pytest.raises(LineError, match=r"'U2/exhaust-fan' is not on order from westparts\. Similar: 'U1/exhaust-fan'"):
        arrive(shelf, "westparts", ["U1/exhaust-fan", "U2/exhaust-fan"])
    assert orders(shelf).coming[0][:2] == ("U1", "exhaust-fan")
    arrive(shelf, "westparts")
    with pytest.raises(LineError, match=r"Nothing is on order from 'westparts'\. Nothing is\."):
        arrive(shelf, "westparts")


def test_a_part_that_may_be_needed_is_ordered_along_where_that_is_cheaper(shelf: Store) -> None:
    """The lamp-module at 30 costs 15.50 if it is not needed; what is likely enough and cheap is worth its place."""
    market.change(shelf, [f"offers northparts {MAP}/remote-control used at EUR 0.50"])
    work.log_lines(shelf, "U1", ["reserved lamp-module from used"])
    work.bench_set(shelf, "handling", "0.10")
    [found] = orders(shelf, facts(shelf).units).baskets
    assert {(one.unit, one.offer.part) for one in found.maybes} == {("U1", "remote-control"), ("U2", "remote-control")}
    one = found.maybes[0]
    assert one.with_it == pytest.approx(0.50 * 0.5 + 0.10)
    assert one.without_it == pytest.approx(one.chance * (6.0 + 3 * 0.60))
    work.bench_set(shelf, "handling", "2")
    assert orders(shelf, facts(shelf).units).baskets[0].maybes == ()
