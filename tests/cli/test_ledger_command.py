"""The ledger as a person or a spreadsheet reads it."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest
from leaving import SAFE, TESTER, WIPED
from running import Run, on

from knowngood.cli import shapes


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Run:
    """A bench on which U1 was sold with a part of D1 in it, and U2 is still here. No test leaves it changed."""
    call = on(tmp_path_factory.mktemp("bench"))

    new = ("unit", "new", "--map", "ceiling-projector", "--paid")
    call(*new, "EUR 45", "--past", "dropped", "--from", "Flea Market")
    call(*new, "EUR 31.50", "--past", "wet")
    call(*new, "EUR 20", "--donor", "--from", "flea-market")
    call("log", "D1", "harvested projection-lens", "parted worth EUR 60")
    call("log", "U1", "fitted projection-lens from D1 for EUR 18", "paid EUR 3 for =1+1", "worked 90 min")
    call(*TESTER)
    call("log", "U1", *SAFE, WIPED, "sold working for EUR 215")
    return call


def test_the_shelf_closes_to_the_cent_in_words(bench: Run) -> None:
    said = bench("ledger").output
    assert "in EUR 215 less out EUR 99.50" in said
    assert "EUR 115.50" in said
    rows = {line.split()[0]: line.split() for line in said.splitlines() if line[:2] in ("U1", "U2", "D1", "sh")}
    assert rows["U1"][1:5] == ["48", "215", "-1.37", "165.63"]
    assert rows["D1"][1:5] == ["20", "0", "1.37", "-18.63"]
    assert "no unit" not in said


def test_the_ledger_of_one_unit_tells_cash_from_what_a_part_carries_and_was_thought_worth(bench: Run) -> None:
    said = " ".join(bench("ledger", "u1").output.split())
    assert "3 EUR -3 =1+1" in said
    assert "2 projection-lens from D1: thought worth EUR 18" in said
    assert "2 EUR -1.37 projection-lens from D1, with its share of what was paid" in said
    assert "out EUR 48 in EUR 215 by parts EUR -1.37 profit EUR 165.63" in said
    assert "an hour" in said
    assert "log 'scrapped unit' in D1" in " ".join(bench("ledger", "D1").output.split())


def test_the_decimal_sign_of_the_bench_is_shown_and_not_written(bench: Run, tmp_path: Path) -> None:
    bench("bench", "set", "decimal-sign", ",")
    file = tmp_path / "all.csv"
    assert "EUR 115,50" in bench("ledger", "--csv", str(file)).output
    bench("bench", "set", "decimal-sign", ".")
    rows = list(csv.DictReader(file.read_text(encoding="utf-8-sig").splitlines()))
    assert rows[0] | {"date": ""} == {
        "account": "U1",
        "log": "U1",
        "line": "1",
        "date": "",
        "map": "ceiling-projector",
        "what": "purchase",
        "kind": "cash",
        "currency": "EUR",
        "amount": "-45.00",
        "minor": "-4500",
    }
    booked = [row for row in rows if row["kind"] != "valuation"]
    assert sum(int(row["minor"]) for row in booked) == 11550
    assert sum(int(row["minor"]) for row in rows if row["kind"] == "transfer") == 0
    assert [row["what"] for row in rows if "1+1" in row["what"]] == ["'=1+1"], "a spreadsheet would compute it"
    assert file.read_bytes().startswith(b"\xef\xbb\xbfaccount,log,line")


def test_the_csv_of_one_unit_has_its_bookings_alone(bench: Run, tmp_path: Path) -> None:
    file = tmp_path / "one.csv"
    bench("ledger", "D1", "--csv", str(file))
    rows = list(csv.DictReader(file.read_text(encoding="utf-8-sig").splitlines()))
    assert [row["kind"] for row in rows] == ["cash", "transfer", "valuation"]


def test_what_an_hour_brought_is_told_by_source_and_adds_up(bench: Run) -> None:
    found = shapes.ShelfLedger.model_validate_json(bench("ledger", "--by", "source", "--json").stdout)
    assert [(row.name, row.units, row.profit, row.open_units, row.open_money) for row in found.rows] == [
        ("flea-market", 1, "EUR 165.63", 1, "EUR 18.63"),
        ("not said", 0, "EUR 0", 1, "EUR 31.50"),
    ]
    per_hour = found.rows[0].per_hour
    assert per_hour is not None
    assert per_hour.low is None, "one unit says nothing of the spread"
    assert (found.settled, found.in_units, found.balance) == ("EUR 165.63", "EUR 50.13", "EUR 115.50")
    assert "(one unit)" in bench("ledger", "--by", "past").output


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("--by", "sauce"), "No 'sauce' to put units together by. Similar: 'source'"),
        (("U1", "--by", "map"), "--by and --currency are of all units together. Leave the unit out."),
        (("U1", "--currency", "EUR"), "Leave the unit out."),
        (("--currency", "USD"), "Nothing is booked in USD. There are: 'EUR'."),
        (("--csv", "/no/such/folder/x.csv"), "The ledger cannot be written to '/no/such/folder/x.csv'"),
        (("U9",), "No unit 'U9'."),
    ],
)
def test_what_cannot_be_told_says_why(bench: Run, words: tuple[str, ...], message: str) -> None:
    done = bench("ledger", *words)
    assert done.exit_code == 2
    assert message in done.stderr
    assert "Traceback" not in done.output


def test_forecast_and_truth_say_that_few_units_say_little(tmp_path: Path) -> None:
    bench = on(tmp_path)
    bench("unit", "new", "--map", "some-battery-device", "--paid", "EUR 10")
    bench("unit", "new", "--map", "some-battery-device", "--paid", "EUR 10")
    bench("log", "U1", WIPED, "sold as-is for EUR 15")
    found = json.loads(bench("ledger", "U1", "--forecast", "--json").stdout)["hindsight"]
    assert found["warning"] == "1 unit has left the bench: that says little yet."
    assert found["brier"] is None
    assert found["less_at_purchase"]["low"] is None
    said = " ".join(bench("ledger", "U1", "--forecast").output.split())
    assert "no fee or carriage booked after the sale" in said
    assert "that says little yet" in said
    assert "No unit has left the bench yet." in bench("ledger", "U2", "--forecast").output
