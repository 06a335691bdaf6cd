"""Lines about whom the bench buys from and sells to, and the shelf's own money."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from knowngood.bench import market, work
from knowngood.bench.store import Store
from knowngood.errors import LineError
from knowngood.handbook.quantities import Money
from knowngood.log import events as ev

SOME = [
    "supplier northparts posts for EUR 6 in 3 days",
    "offers northparts ceiling-projector/exhaust-fan new at EUR 8",
    "demand ceiling-projector working at most 3 at EUR 190",
    "demand ceiling-projector/lamp-module at most 2 at EUR 25",
    "expects 2 of ceiling-projector",
    "paid EUR 6 for postage to northparts",
]


@pytest.mark.parametrize(
    "line",
    [
        *SOME,
        "supplier northparts posts for EUR 0 in 1 day -- they collect",
        "offers northparts ceiling-projector/exhaust-fan used at EUR 4.50 revision B",
        "demand ceiling-projector as-is at most 0",
        "got EUR 3 for cardboard",
        "undid 4",
    ],
)
def test_a_line_of_the_market_has_one_form(line: str) -> None:
    event = market.parse(line)
    assert ev.render(event) == line
    assert market.parse(ev.render(event)) == event
    assert market.parse(f" {line[0].upper()}{line[1:]}") == event


def test_every_line_of_the_page_on_logging_is_understood() -> None:
    page = Path("docs/logging.md").read_text(encoding="utf-8").partition("## Whom the bench buys from")[2]
    rows = [row.split("|")[1] for row in page.splitlines() if row.startswith("| `")]
    lines = [line for row in rows for line in re.findall(r"`([^`]+)`", row) if not line.startswith("planned shelf")]
    assert [ev.render(market.parse(line)) for line in lines] == lines
    assert {line.partition(" ")[0] for line in lines} == set(market.EVENTS) - {"undid", "redid"}


def test_a_later_line_on_the_same_thing_replaces_the_earlier_and_money_adds_up(store: Store) -> None:
    market.change(store, SOME)
    market.change(
        store,
        [
            "supplier northparts posts for EUR 7 in 2 days",
            "offers northparts ceiling-projector/exhaust-fan new at EUR 9",
            "offers northparts ceiling-projector/exhaust-fan used at EUR 3",
            "demand ceiling-projector working at most 1",
            "expects 0 of ceiling-projector",
            "paid EUR 6 for postage to northparts",
            "got EUR 2 for cardboard",
        ],
    )
    now = market.market(store)
    assert {name: (one.price.minor, one.days) for name, one in now.suppliers.items()} == {"northparts": (700, 2)}
    assert [(one.condition, one.price.minor) for one in now.offers] == [("new", 900), ("used", 300)]
    assert [(one.part or one.how, one.most, one.price) for one in now.demands] == [
        ("lamp-module", 2, Money("EUR", 2500)),
        ("working", 1, None),
    ]
    assert now.expects == {"ceiling-projector": 0}
    assert [booking.amount.minor for booking in now.bookings] == [-600, -600, 200]
    assert market.market(store, up_to=6).suppliers["northparts"].price == Money("EUR", 600)


def test_an_undo_brings_the_line_before_it_back(store: Store) -> None:
    market.change(store, [*SOME, "supplier northparts posts for EUR 7 in 2 days", "undid 7", "undid 6"])
    now = market.market(store)
    assert now.suppliers["northparts"].days == 3
    assert now.bookings == ()
    market.change(store, ["redid 6"])
    assert [booking.amount.minor for booking in market.market(store).bookings] == [-600]


def test_in_another_currency_older_amounts_are_flagged_and_do_not_count(store: Store) -> None:
    market.change(store, SOME)
    work.bench_set(store, "currency", "USD")
    now = market.market(store)
    assert (now.suppliers, now.offers, now.bookings) == ({}, (), ())
    assert now.expects == {"ceiling-projector": 2}
    assert [flag.seq for flag in now.flags] == [1, 2, 3, 4, 6]
    assert now.flags[0].message == "EUR 6 is not in USD, the bench's currency now."


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ("suplier x posts for EUR 6 in 3 days", r"'suplier' is not one of the verbs\. Similar: 'supplier'\."),
        ("supplier x", r"Write: supplier NAME posts for MONEY in NUMBER days\. For example: supplier northparts"),
        ("supplier x posts for EUR 6 in 900 days", r"days: Input should be less than or equal to 366\."),
        ("supplier x posts for EUR -6 in 3 days", "EUR -6 is below zero"),
        ("supplier x posts for USD 6 in 3 days", "USD 6 is not in EUR, the bench's currency"),
        ("supplier x posts for EUR 6.005 in 3 days", r"more digits after the point than EUR has \(2\)"),
        (
            "offers nothparts ceiling-projector/exhaust-fan new at EUR 8",
            r"no supplier 'nothparts'\. Similar: 'northparts'\. A new one: supplier NAME posts for MONEY",
        ),
        (
            "offers northparts ceiling-projector/exhaust-fen new at EUR 8",
            r"ceiling-projector has no part 'exhaust-fen'\. Similar: 'exhaust-fan'",
        ),
        ("offers northparts celing-projector/exhaust-fan new at EUR 8", r"no map 'celing-projector'\. Similar:"),
        ("offers northparts ceiling-projector/exhaust-fan at EUR 8", r"Write: offers SUPPLIER MAP/PART new\|used"),
        ("demand ceiling-projector/exhaust-fan at most 2", r"or: demand MAP/PART at most NUMBER at MONEY"),
        ("demand ceiling-projector/exhaust-fen at most 2 at EUR 3", r"has no part 'exhaust-fen'"),
        ("demand celing-projector working at most 2", r"no map 'celing-projector'\. Similar:"),
        (
            "offers northparts pocket-navigator/screen used at EUR 8 revision Q",
            r"no revision 'Q'\. There are: 'A', 'B'",
        ),
        (
            "offers northparts ceiling-projector/exhaust-fan new at EUR 8 revision B",
            r"no revision 'B'\. The map names none of 'exhaust-fan'",
        ),
        ("expects some of ceiling-projector", "Write: expects NUMBER of MAP. For example: expects 2 of"),
        ("expects 2 of celing-projector", "no map 'celing-projector'"),
        ("undid 9", "line 9 of the bench's log is none about the market that holds"),
        ("redid 1", "line 1 of the bench's log was not undone"),
        ("undid 1", r"'undid 1': line 2 would mean nothing\. There is no supplier 'northparts' now\."),
    ],
)
def test_one_wrong_line_and_nothing_is_stored(store: Store, wrong: str, message: str) -> None:
    market.change(store, SOME)
    with pytest.raises(LineError, match=message):
        market.change(store, [wrong])
    with pytest.raises(LineError, match=rf"^Line 2 of 2: .*{message}.* Nothing was stored\.$"):
        market.change(store, ["expects 5 of ceiling-projector", wrong])
    assert [entry.text for entry in store.bench_lines()] == SOME
