"""What is held back as it is logged: readings by no known tester, and sales that hand on data or an untested unit."""

from __future__ import annotations

import pytest

from knowngood.bench import instruments, work
from knowngood.bench.release import release_of, remarks, safety_test_of
from knowngood.bench.store import Store, utc_now
from knowngood.errors import LineError
from knowngood.log import events as ev

EARTH = "measured protective-earth 0.1 ohm by fluxa"
SAFE = (
    *("stated cord none", "stated metal earthed", "inspected visual passed", EARTH),
    "measured insulation 20 Mohm by fluxa at 500 V against 1 Mohm",
    "measured protective-current 0.6 mA by fluxa",
    "inspected function passed",
)


@pytest.fixture
def tester(store: Store) -> None:
    instruments.add(store, "Fluxa", utc_now()[:10], "5 %")
    work.bench_set(store, "safety-rules", "german")


@pytest.mark.usefixtures("tester")
def test_a_unit_tested_and_wiped_is_sold_and_then_has_nothing_to_release(store: Store, unit: str) -> None:
    added = work.log_lines(store, unit, SAFE)
    assert ev.render(added[3].event) == f"{EARTH} under german", "the rules are stored with every reading"
    assert remarks(store, unit, added)[-1].startswith("Safety test: pass")
    assert safety_test_of(store, unit, "British")[0].verdict == "incomplete"
    work.log_lines(store, unit, ["wiped unit by clear", "checked account-lock none", "sold working for EUR 200"])
    with pytest.raises(LineError, match="U1 was sold working: there is nothing to release"):
        release_of(store, unit, "working")


@pytest.mark.usefixtures("tester")
def test_a_sale_says_the_same_as_release_and_nothing_is_stored(store: Store, unit: str) -> None:
    before = store.lines(unit)
    with pytest.raises(LineError) as held:
        work.log_lines(store, unit, ["sold working for EUR 200"])
    for stop in release_of(store, unit, "working")[0].stops:
        assert f"{stop.says[1:]}. What would be right: {stop.right}." in str(held.value)
    assert store.lines(unit) == before
    work.log_lines(store, unit, ["wiped unit by clear", "sold as-is for EUR 20"])


@pytest.mark.usefixtures("tester")
def test_a_sale_that_was_undone_is_held_back_if_the_test_is_void_by_then(store: Store, unit: str) -> None:
    work.log_lines(store, unit, [*SAFE, "wiped unit by clear", "sold working for EUR 200"])
    work.undo(store, unit)
    work.log_lines(store, unit, ["opened cover-off", "closed all"])
    with pytest.raises(LineError, match=r"its safety test after repair is void: line 12 \(opened cover-off\)"):
        work.log_lines(store, unit, ["redid 10"])


@pytest.mark.parametrize("line", ["vended main-board for EUR 3", "scrapped main-board", "scrapped unit"])
def test_no_data_leaves_with_a_part_or_a_carcass(store: Store, donor: str, line: str) -> None:
    if line != "scrapped unit":
        work.log_lines(store, donor, ["harvested main-board"])
    with pytest.raises(LineError, match=r"'config-store' \(.*\) may hold data of whoever had it"):
        work.log_lines(store, donor, [line])
    work.log_lines(store, donor, ["wiped config-store by destroy", line])


def test_a_reading_needs_an_instrument_and_a_rule_set(store: Store, unit: str) -> None:
    work.log_lines(store, unit, ["inspected visual passed"])
    with pytest.raises(LineError, match=r"the bench's log knows no instrument 'fluxa'. There are none yet. Add it"):
        work.log_lines(store, unit, [EARTH])
    instruments.add(store, "fluxa", "2026-03-01", "5 %", 6)
    assert store.bench_lines()[-1].text == "instrument fluxa calibrated 2026-03-01 uncertainty 5 % every 6 months"
    with pytest.raises(LineError, match=r"no instrument 'fluxo'\. Similar: 'fluxa'"):
        work.log_lines(store, unit, [EARTH.replace("fluxa", "fluxo")])
    with pytest.raises(LineError, match=r"by which rules\? Limits differ by up to 10 times and are never mixed"):
        work.log_lines(store, unit, [EARTH])
    work.log_lines(store, unit, [f"{EARTH} under british"])
    with pytest.raises(LineError, match=r"safety-rules: 'french' is no rule set here\. Write 'german', 'british'"):
        work.bench_set(store, "safety-rules", "french")
    with pytest.raises(LineError, match="No rules 'french' here"):
        safety_test_of(store, unit, "french")


@pytest.mark.parametrize(
    ("name", "day", "uncertainty", "months", "message"),
    [
        ("a/b", "2026-03-01", "5 %", 12, "'a/b' is no name of an instrument"),
        ("fluxa", "1.3.2026", "5 %", 12, "'1.3.2026' is not a day. Write it as 2026-03-01."),
        ("fluxa", "2026-03-01", "lots", 12, "The uncertainty of fluxa: "),
        ("fluxa", "2026-03-01", "60 %", 12, "An uncertainty of 60 % of the reading can show nothing to pass."),
        ("fluxa", "2026-03-01", "5 %", 0, "Every 0 months: from one calibration to the next are 1 to 120."),
    ],
)
def test_an_instrument_is_taken_down_whole_or_not(
    name: str, day: str, uncertainty: str, months: int, message: str
) -> None:
    with pytest.raises(LineError) as wrong:
        instruments.line(name, day, uncertainty, months)
    assert message in str(wrong.value)
