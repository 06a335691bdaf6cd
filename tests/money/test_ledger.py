"""Every unit of money is in exactly one place, whatever was logged, and no amount is a float."""

from __future__ import annotations

from collections import Counter, defaultdict, deque
from collections.abc import Callable
from dataclasses import fields, is_dataclass
from types import ModuleType
from typing import get_type_hints

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from knowngood.bench.passages import Moves, StockPart, moves
from knowngood.errors import QuantityError
from knowngood.handbook.quantities import Money
from knowngood.log import events as ev
from knowngood.log import incoming, state
from knowngood.log.state import Line, replay
from knowngood.maps import load
from knowngood.money.expectation import Expectation
from knowngood.money.ledger import books as ledger_books
from knowngood.money.ledger import yields as ledger_yields
from knowngood.money.ledger.books import Books, UnitLog, books
from knowngood.money.ledger.shares import spread, worths
from knowngood.money.ledger.yields import BY, yields

DEVICE = load("ceiling-projector")
PARTS = ("lamp-door", "exhaust-fan", "main-board")
UNITS = ("U1", "U2", "D1")
WORTH = worths(DEVICE, {}, "EUR")


def kept(logs: dict[str, list[Line]], own: list[Line]) -> tuple[Books, Moves]:
    moved = moves({unit: (DEVICE, lines) for unit, lines in logs.items()})
    given_ = [UnitLog(unit, replay(DEVICE, lines), WORTH) for unit, lines in logs.items()]
    return books(given_, moved, "EUR", own=own), moved


def line(seq: int, text: str) -> Line:
    return Line(seq, f"2030-01-01T00:00:{seq:02d}Z", ev.parse(text))


# --- shares ---


@given(st.integers(-(10**9), 10**9), st.dictionaries(st.text(max_size=3), st.integers(0, 10**6), max_size=40))
def test_shares_sum_to_the_amount_and_are_within_one_of_what_is_due(amount: int, worth: dict[str, int]) -> None:
    shares, whole = spread(amount, worth), sum(worth.values())
    assert sum(shares.values()) == (amount if whole else 0)
    for name, share in shares.items():
        assert abs(share * whole - amount * worth[name]) < whole


def test_the_largest_remainders_get_what_is_left() -> None:
    """100 minor units over 1, 1 and 1, and over quotas of 14.7, 31.4 and 53.9: by hand."""
    assert spread(100, {"a": 1, "b": 1, "c": 1}) == {"a": 34, "b": 33, "c": 33}
    assert spread(100, {"a": 147, "b": 314, "c": 539}) == {"a": 15, "b": 31, "c": 54}


def test_what_a_part_brings_by_itself_stands_in_for_a_price_that_the_map_lacks() -> None:
    plain = load("some-mains-device")
    part = next(iter(plain.parts))
    loose = {f"some-mains-device/{part}": Money("EUR", 700), "ceiling-projector/lamp-door": Money("EUR", 900)}
    assert {name: worth for name, worth in worths(plain, loose, "EUR").items() if worth} == {part: 700}
    assert worths(DEVICE, loose, "EUR")["lamp-door"] == 400
    assert not any(worths(plain, loose, "USD").values())


# --- conservation ---

MONEY = st.integers(0, 99999).map(lambda minor: str(Money("EUR", minor)))
ANY_PART = st.sampled_from(PARTS)
LINES = st.one_of(
    st.builds("paid {} for this".format, MONEY),
    st.builds("got {} for that".format, MONEY),
    st.builds("harvested {}".format, ANY_PART),
    st.builds("harvested {}".format, ANY_PART),
    st.builds("removed {}".format, ANY_PART),
    st.builds("fitted {} from {}".format, ANY_PART, st.sampled_from([*UNITS, "new", "used", "back"])),
    st.builds("fitted {} from {} for {}".format, ANY_PART, st.sampled_from([*UNITS, "new", "used"]), MONEY),
    st.builds("ordered {} new from north for {}".format, ANY_PART, MONEY),
    st.builds("arrived {}".format, ANY_PART),
    st.builds("released {}".format, ANY_PART),
    st.builds("vended {} for {}".format, ANY_PART, MONEY),
    st.builds("scrapped {}".format, st.sampled_from([*PARTS, "unit"])),
    st.builds("disposed {} to works yard".format, st.sampled_from([*PARTS, "unit"])),
    st.just("returned -- no picture"),
    st.builds("refunded {}".format, MONEY),
    st.builds("dispatched with redpost for {}".format, MONEY),
    st.builds("mended top-cover bend-back for {}".format, MONEY),
    st.builds("sold working for {}".format, MONEY),
    st.builds("parted worth {}".format, MONEY),
    st.builds("undid {}".format, st.integers(2, 12)),
    st.builds("redid {}".format, st.integers(2, 12)),
)


def cash(event: ev.Event) -> int:
    """What a line moves in cash, by its verb alone."""
    match event:
        case ev.Bought(price=price) | ev.Ordered(price=price):
            return -price.minor
        case ev.Fitted(origin="new" | "used", price=Money() as price) | ev.Mended(price=Money() as price):
            return -price.minor
        case ev.Sold(price=price) | ev.Vended(price=price):
            return price.minor
        case ev.Paid(amount=amount) | ev.Refunded(amount=amount):
            return -amount.minor
        case ev.Dispatched(price=Money() as price):
            return -price.minor
        case ev.Got(amount=amount):
            return amount.minor
        case _:
            return 0


@settings(max_examples=100)
@given(st.lists(st.tuples(st.sampled_from(UNITS), LINES), max_size=40), st.lists(st.sampled_from([-5, 7]), max_size=3))
def test_the_books_close_to_the_cent_whatever_was_logged(said: list[tuple[str, str]], bench: list[int]) -> None:
    logs = {
        unit: [line(1, f"bought ceiling-projector for EUR {price}")]
        for unit, price in zip(UNITS, (45, 31, 20), strict=True)
    }
    for unit, text in said:
        logs[unit].append(line(len(logs[unit]) + 1, text))
    own = [line(n, f"{'paid' if minor < 0 else 'got'} EUR 0.0{abs(minor)} for x") for n, minor in enumerate(bench, 1)]
    found, moved = kept(logs, own)
    moved_cash = sum(cash(one.event) for lines in logs.values() for one in replay(DEVICE, lines).lines) + sum(bench)
    assert found.balance.minor == moved_cash
    assert sum(one.amount.minor for one in found.entries if one.kind == "cash") == moved_cash
    assert sum(one.amount.minor for one in found.entries if one.kind == "transfer") == 0
    assert -found.shelf.carried.minor == found.in_parts.minor
    assert found.settled - found.in_units - found.in_parts + found.own == found.balance
    used = [(one.unit, one.seq) for one in (*moved.shelf, *moved.taken.values())]
    assert max(Counter(used).values(), default=1) == 1, "a part was used twice"
    for by in BY:
        rows = yields(found.units.values(), by, "EUR")
        assert sum(row.profit.minor for row in rows) == found.settled.minor
        assert sum(row.open_money.minor for row in rows) == found.in_units.minor
        assert sum(row.units + row.open_units for row in rows) == len(UNITS)


@settings(max_examples=100)
@given(st.data())
def test_each_piece_of_money_is_where_its_part_went(data: st.DataObject) -> None:
    """Against a bench that is played forward, part by part, with a heap of coins lying on each."""
    logs: dict[str, list[Line]] = {}
    on_part: dict[tuple[str, str], int] = {}
    rest: dict[str, int] = defaultdict(int)
    shelf: dict[tuple[str, str], deque[int]] = defaultdict(deque)
    clock = 0

    def say(unit: str, text: str) -> None:
        nonlocal clock
        clock += 1
        lines = logs.setdefault(unit, [])
        lines.append(Line(len(lines) + 1, f"2030-01-01T00:{clock // 60:02d}:{clock % 60:02d}Z", ev.parse(text)))

    for unit in UNITS:
        price = data.draw(st.integers(0, 9999))
        say(unit, f"bought ceiling-projector for {Money('EUR', price)}")
        shares = spread(price, WORTH)
        for part in PARTS:
            on_part[unit, part] = shares[part]
            price -= shares[part]
        rest[unit] = price
    for _ in range(data.draw(st.integers(0, 25))):
        unit, part = data.draw(st.sampled_from(UNITS)), data.draw(ANY_PART)
        full = [one for one in UNITS if shelf[one, part]]
        act = data.draw(st.sampled_from(["harvest", "new", "fit", "vend", "scrap", "out and back", "back"]))
        if act == "harvest" and (unit, part) in on_part:
            say(unit, f"harvested {part}")
            shelf[unit, part].append(on_part.pop((unit, part)))
        elif act == "new":
            price = data.draw(st.integers(1, 999))
            say(unit, f"fitted {part} from new for {Money('EUR', price)}")
            rest[unit] += on_part.pop((unit, part), 0)
            on_part[unit, part] = price
        elif act == "fit" and full and (source := data.draw(st.sampled_from(full))) != unit:
            say(unit, f"fitted {part} from {source}")
            rest[unit] += on_part.pop((unit, part), 0)
            on_part[unit, part] = shelf[source, part].popleft()
        elif act == "out and back" and (unit, part) in on_part:
            say(unit, f"removed {part}")
            say(unit, f"fitted {part} from back")
        elif act == "back" and (unit, part) not in on_part:  # out of the shelf again; if it is elsewhere, from nowhere
            say(unit, f"fitted {part} from back")
            on_part[unit, part] = shelf[unit, part].popleft() if shelf[unit, part] else 0
        elif act in ("vend", "scrap") and shelf[unit, part]:
            say(unit, f"vended {part} for EUR 0" if act == "vend" else f"scrapped {part}")
            rest[unit] += shelf[unit, part].popleft()
    found, _ = kept(logs, [])
    for unit in UNITS:
        lies_in_it = rest[unit] + sum(on_part.get((unit, part), 0) for part in PARTS)
        assert -found.units[unit].balance.minor == lies_in_it
    assert found.in_parts.minor == sum(sum(heap) for heap in shelf.values())


def test_parts_that_the_logs_pass_round_in_a_circle_carry_nothing() -> None:
    """It cannot be, but undoing and logging again can make it so."""
    logs = {
        "U1": ["bought ceiling-projector for EUR 45", "fitted lamp-door from U2", "harvested lamp-door"],
        "U2": ["bought ceiling-projector for EUR 31", "fitted lamp-door from U1", "harvested lamp-door"],
    }
    found, _ = kept({unit: [line(n, text) for n, text in enumerate(said, 1)] for unit, said in logs.items()}, [])
    assert [str(one.balance) for one in found.units.values()] == ["EUR -45", "EUR -31"]


def test_what_went_back_in_and_nobody_knows_from_where_takes_nothing_along_twice() -> None:
    said = (
        "bought ceiling-projector for EUR 45",
        "harvested lamp-door",
        "fitted lamp-door from back",
        "harvested lamp-door",
    )
    lines = [line(n, text) for n, text in enumerate(said, 1)]
    left = [StockPart("lamp-door", "", "U1", seq, "", "") for seq in (2, 4)]
    log = UnitLog("U1", replay(DEVICE, lines), WORTH)
    found = books([log], Moves(tuple(left), {}, {}), "EUR")
    assert [one.amount.minor for one in found.held] == [spread(4500, WORTH)["lamp-door"], 0]


def test_a_part_that_was_ordered_takes_its_price_along_and_a_valuation_moves_nothing() -> None:
    said = [
        "bought ceiling-projector for EUR 45",
        "ordered exhaust-fan new from north for EUR 8",
        "arrived exhaust-fan",
        "fitted exhaust-fan from new",
        "harvested exhaust-fan",
        "parted worth EUR 60",
    ]
    found, _ = kept({"U1": [line(n, text) for n, text in enumerate(said, 1)]}, [])
    assert [(one.kind, str(one.amount)) for one in found.units["U1"].entries] == [
        ("cash", "EUR -45"),
        ("cash", "EUR -8"),
        ("transfer", "EUR 8"),
        ("valuation", "EUR 60"),
    ]
    assert str(found.in_parts) == "EUR 8"
    assert not found.units["U1"].settled


def test_a_line_in_another_currency_is_named() -> None:
    with pytest.raises(QuantityError, match=r"Line 2 of U1 books USD -3 \(tape\), but this money is in EUR"):
        kept({"U1": [line(1, "bought ceiling-projector for EUR 45"), line(2, "paid USD 3 for tape")]}, [])


# --- no float is ever booked ---


def money_fields(kind: type) -> list[str]:
    return [name for name, hint in get_type_hints(kind).items() if "Money" in str(hint)]


EVENTS_WITH_MONEY = [event for event in ev.EVENTS.values() if money_fields(event)]


def test_money_is_whole_minor_units() -> None:
    for minor in (1.5, 2.0, True, "3"):
        with pytest.raises(TypeError, match="money is whole minor units, and never a float"):
            Money("EUR", minor)  # type: ignore[arg-type]


@pytest.mark.parametrize("event", EVENTS_WITH_MONEY)
def test_no_event_takes_an_amount_that_is_not_money(event: type[ev.Event]) -> None:
    right = ev.parse(event.example)
    values = {name: getattr(right, name) for name in event.model_fields}
    for name in money_fields(event):
        for wrong in (8.0, 8, Expectation("EUR", 8.0)):
            with pytest.raises(ValidationError):
                event(**{**values, name: wrong})


def test_every_event_about_money_is_among_those() -> None:
    named = {name for name in ev.EVENTS if "MONEY" in ev.EVENTS[name].form}
    assert {event.model_fields["verb"].default for event in EVENTS_WITH_MONEY} == named


TIMES = {"minutes", "minutes_assumed", "minutes_logged", "open_minutes", "waited"}
"""What is counted in floats and is no amount."""


@pytest.mark.parametrize("module", [state, incoming, ledger_books, ledger_yields], ids=lambda module: module.__name__)
def test_nothing_that_is_booked_or_summed_has_a_float_but_time(module: ModuleType) -> None:
    for name, kind in vars(module).items():
        if isinstance(kind, type) and is_dataclass(kind) and kind.__module__ == module.__name__:
            hints: Callable[[type], dict[str, object]] = get_type_hints
            floats = {one.name for one in fields(kind) if hints(kind)[one.name] is float}
            assert floats <= TIMES, name


def test_an_expectation_becomes_an_amount_in_one_way_only() -> None:
    about = Expectation("EUR", 12.3456)
    assert not isinstance(about, Money)
    assert about.payable_at_most() == Money("EUR", 1234)
    with pytest.raises(AttributeError):
        Money("EUR", 5) + about  # type: ignore[operator]
