"""A plan of the shelf that was accepted: what it writes, what makes it stale, what in it cannot be kept."""

from __future__ import annotations

import pytest

from knowngood.bench import market, work
from knowngood.bench.shelf import accepted
from knowngood.bench.shelf.accepted import Buy, UnitPlan, accept, differences, glance, standing
from knowngood.bench.store import Store
from knowngood.errors import LineError
from knowngood.handbook.quantities import Money
from knowngood.log import events as ev

MAP = "ceiling-projector"
FAN = Buy("U1", "exhaust-fan", "new", "northparts", Money("EUR", 850))


@pytest.fixture
def shelf(store: Store, unit: str, donor: str) -> Store:
    """Two units and a donor."""
    work.new_unit(store, MAP, "EUR 30")
    market.change(store, ["supplier northparts posts for EUR 6 in 3 days"])
    return store


PLAN = (
    UnitPlan("U1", "finish", {"exhaust-fan": "new", "lamp-module": "D1"}, (FAN,)),
    UnitPlan("U2", "as-is", {}),
    UnitPlan("D1", "parts", {}),
)


def after(store: Store) -> dict[str, int]:
    bench = max((entry.seq for entry in store.bench_lines()), default=0)
    return {"bench": bench, **{one.id: one.lines for one in store.units()}}


def texts(store: Store, unit: str) -> list[str]:
    return [ev.render(line.event) for line in store.lines(unit)[1:]]


def test_an_accepted_plan_is_lines_of_the_units_and_one_of_the_bench(shelf: Store) -> None:
    _, entry = accept(shelf, PLAN, after(shelf))
    assert texts(shelf, "U1") == ["planned finish", "reserved exhaust-fan from new", "reserved lamp-module from D1"]
    assert (texts(shelf, "U2"), texts(shelf, "D1")) == (["planned as-is"], ["planned parts"])
    line = "planned shelf after bench 1, U1 1, U2 1, D1 1 buying U1/exhaust-fan new from northparts at EUR 8.50"
    assert entry.text == line
    assert ev.render(accepted.parse(line)) == line
    assert accepted.parse(line).buying == (FAN,)
    stands = standing(shelf)
    assert stands is not None
    assert (stands.seq, stands.stale) == (2, False)
    assert accept(shelf, PLAN, after(shelf))[0] == {"U1": [], "U2": [], "D1": []}, "it says nothing twice"


def test_another_plan_lets_go_before_it_takes(shelf: Store) -> None:
    accept(shelf, PLAN, after(shelf))
    swapped = (
        UnitPlan("U1", "wait", {}),
        UnitPlan("U2", "finish", {"lamp-module": "D1"}),
        UnitPlan("D1", "parts", {}),
    )
    assert [(one.unit, one.way, dict(one.parts)) for one in differences(shelf, swapped)] == [
        ("U1", ("finish", "wait"), {"exhaust-fan": ("new", None), "lamp-module": ("D1", None)}),
        ("U2", ("as-is", "finish"), {"lamp-module": (None, "D1")}),
    ]
    accept(shelf, swapped, after(shelf))
    assert texts(shelf, "U1")[3:] == ["released exhaust-fan", "released lamp-module", "planned wait"]
    assert texts(shelf, "U2")[1:] == ["planned finish", "reserved lamp-module from D1"]
    assert differences(shelf, swapped) == []


@pytest.mark.parametrize(
    ("plan", "message"),
    [
        (
            [UnitPlan("U1", "finish", {"lamp-module": "D1"}), UnitPlan("U2", "finish", {"lamp-module": "D1"})],
            "'lamp-module' of D1 cannot go to U1 and to U2",
        ),
        (
            [UnitPlan("U1", "as-is", {}), UnitPlan("U2", "finish", {"lamp-modul": "D1"})],
            "'lamp-modul' for U2 is neither in D1 nor on the shelf from it",
        ),
        ([UnitPlan("U1", "as-is", {}), UnitPlan("U2", "finish", {"lamp-modul": "new"})], "No part 'lamp-modul'"),
    ],
)
def test_a_plan_that_cannot_be_kept_is_not_stored_at_all(shelf: Store, plan: list[UnitPlan], message: str) -> None:
    before = after(shelf)
    with pytest.raises(LineError, match=message):
        accept(shelf, plan, before)
    assert after(shelf) == before
    assert standing(shelf) is None


@pytest.mark.parametrize("changed", ["U2", "the bench"])
def test_a_plan_that_was_made_before_the_last_line_is_not_accepted(shelf: Store, changed: str) -> None:
    before = after(shelf)
    if changed == "U2":
        work.log_lines(shelf, "U2", ["saw exhaust-fan missing"])
    else:
        work.bench_set(shelf, "rate-floor", "15")
    with pytest.raises(LineError, match=f"{changed.split()[-1]} got a line since this plan was made. Make it again"):
        accept(shelf, PLAN, before)


@pytest.mark.parametrize(
    ("name", "lines", "stale"),
    [
        ("U1", ["saw lens-flange cracked"], ["5 saw lens-flange cracked"]),
        ("U1", ["noted smells", "worked 5 min", "ordered exhaust-fan new from northparts for EUR 8.50"], []),
        ("U1", ["ordered exhaust-fan new from northparts for EUR 8.50", "fitted exhaust-fan from new"], []),
        ("U1", ["fitted exhaust-fan from used"], ["5 fitted exhaust-fan from used"]),
        ("D1", ["harvested lamp-module", "harvested exhaust-fan"], []),
        ("U2", ["harvested exhaust-fan"], ["3 harvested exhaust-fan"]),
        ("U2", ["wiped unit by clear", "sold as-is for EUR 60"], []),
        ("U2", ["parted worth EUR 60"], ["3 parted worth EUR 60"]),
        ("D1", ["parted worth EUR 60"], []),
        ("U2", ["priced as-is at EUR 90"], ["3 priced as-is at EUR 90"]),
    ],
)
def test_a_finding_makes_it_stale_and_carrying_it_out_does_not(
    shelf: Store, name: str, lines: list[str], stale: list[str]
) -> None:
    accept(shelf, PLAN, after(shelf))
    work.log_lines(shelf, name, lines)
    stands = standing(shelf)
    assert stands is not None
    assert stands.changed == ({name: tuple(stale)} if stale else {})
    assert stands.stale == bool(stale)


def test_new_units_settings_and_what_is_taken_back_make_it_stale_too(shelf: Store) -> None:
    work.log_lines(shelf, "U2", ["saw exhaust-fan missing"])
    accept(shelf, PLAN, after(shelf))
    market.change(shelf, ["paid EUR 6 for postage"])
    assert standing(shelf).stale is False  # type: ignore[union-attr]
    work.log_lines(shelf, "U2", ["undid 2"])
    work.bench_set(shelf, "hours", "20")
    market.change(shelf, ["supplier northparts posts for EUR 9 in 3 days"])
    work.new_unit(shelf, MAP, "EUR 12")
    stands = standing(shelf)
    assert stands is not None
    assert stands.changed == {
        "bench": ("4 set hours 20", "5 supplier northparts posts for EUR 9 in 3 days"),
        "U2": ("4 undid 2",),
    }
    assert stands.new == ("U3",)


def test_units_that_had_left_before_are_not_new_until_they_come_back(shelf: Store) -> None:
    gone = work.new_unit(shelf, MAP, "EUR 12")
    shelf.append(gone, [ev.parse("parted worth EUR 6"), ev.parse("scrapped unit")])
    accept(shelf, PLAN, {log: seq for log, seq in after(shelf).items() if log != gone})
    assert standing(shelf).stale is False  # type: ignore[union-attr]
    shelf.append(gone, [ev.Undid(line=3), ev.Undid(line=2)])
    assert standing(shelf).new == (gone,)  # type: ignore[union-attr]


def test_what_cannot_be_kept_is_said(shelf: Store) -> None:
    accept(shelf, PLAN, after(shelf))
    assert glance(shelf)[1] == []
    work.log_lines(shelf, "D1", ["planned as-is"])
    assert glance(shelf)[1] == ["D1 is to be sold as it is, and its 'lamp-module' is reserved for U1."]
    shelf.append("U2", [ev.Reserved(part="lamp-module", origin="D1")])  # as two phones may do at one moment
    assert glance(shelf)[1][0] == "'lamp-module' of D1 is reserved for U1 and U2."
    work.log_lines(shelf, "D1", ["wiped unit by clear", "sold as-is for EUR 20"])
    rows, conflicts = glance(shelf)
    assert [row.unit for row in rows] == ["U1", "U2"]
    gone = "'lamp-module' of D1 is reserved for U1 and is gone: neither in D1 nor on the shelf."
    assert conflicts == ["'lamp-module' of D1 is reserved for U1 and U2.", gone]
