"""How units and parts go, and how a unit comes back: cells, mains, data, money, cause, and what is believed then."""

from __future__ import annotations

import re

import pytest

from knowngood.bench import donors, questions, work
from knowngood.bench.going import CELL_OUT, LAMP_OUT, MAINS_OUT, going_remarks
from knowngood.bench.intake import intake_of
from knowngood.bench.ledger import books_of
from knowngood.bench.record import own_record
from knowngood.bench.release import release_of, safety_test_of
from knowngood.bench.store import Store
from knowngood.errors import LineError
from knowngood.money.ledger.yields import yields

SOLD = ("wiped unit by clear", "sold as-is for EUR 60")


@pytest.fixture
def navigator(store: Store) -> str:
    return work.new_unit(store, "pocket-navigator", "EUR 10")


def refused(store: Store, unit: str, line: str) -> str:
    before = store.lines(unit)
    with pytest.raises(LineError) as held:
        work.log_lines(store, unit, [line])
    assert store.lines(unit) == before
    return str(held.value)


def remarks(store: Store, unit: str, *lines: str) -> list[str]:
    return going_remarks(store, unit, work.log_lines(store, unit, lines))


# --- cells, mains, data ---


def test_a_hurt_cell_is_not_dispatched_until_a_line_says_how(store: Store, navigator: str) -> None:
    work.log_lines(store, navigator, ["saw cell-pack swollen", *SOLD])
    said = refused(store, navigator, "dispatched with redpost")
    assert "'cell-pack' was seen swollen, and a damaged lithium cell never flies" in said
    assert "overrode damaged-cell -- WHO takes it, and how it is packed" in said
    work.log_lines(
        store, navigator, ["overrode damaged-cell -- licensed carrier, P908 box", "dispatched with redpost for EUR 90"]
    )


def test_a_release_warns_of_a_hurt_cell_and_names_the_rules_of_a_whole_one(store: Store, navigator: str) -> None:
    whole = release_of(store, navigator, "as-is")[0]
    assert "UN 3481" in whole.notes[0]
    assert "damaged-cell" not in {one.matter for one in whole.warnings}
    work.log_lines(store, navigator, ["saw cell-pack punctured"])
    assert "damaged-cell" in {one.matter for one in release_of(store, navigator, "as-is")[0].warnings}
    work.log_lines(store, navigator, ["removed cell-pack"])
    out = release_of(store, navigator, "as-is")[0]
    assert "damaged-cell" not in {one.matter for one in out.warnings}
    assert not any("UN 3481" in note for note in out.notes)


def test_a_cell_is_never_thrown_away(store: Store, navigator: str) -> None:
    work.log_lines(store, navigator, ["wiped unit by destroy"])
    assert "'cell-pack' holds a lithium cell, which burns in household waste" in refused(
        store, navigator, "scrapped unit"
    )
    work.log_lines(store, navigator, ["harvested cell-pack"])
    said = refused(store, navigator, "scrapped cell-pack")
    assert "tape its contacts and log 'disposed cell-pack to PLACE'" in said
    assert remarks(store, navigator, "disposed cell-pack to town take-back point") == [CELL_OUT]
    assert questions.terms_for(store, store.device(navigator)).stock == {}, "it left the shelf"
    work.log_lines(store, navigator, ["scrapped unit"])


def test_a_hurt_cell_is_not_sold_and_goes_in_no_carcass(store: Store, navigator: str) -> None:
    work.log_lines(store, navigator, ["wiped unit by destroy", "saw cell-pack swollen"])
    assert "was seen swollen" in refused(store, navigator, "disposed unit to works yard")
    work.log_lines(store, navigator, ["harvested cell-pack"])
    assert "was seen swollen" in refused(store, navigator, "vended cell-pack for EUR 3")
    assert "What would be right: disposed cell-pack to PLACE" in refused(store, navigator, "vended cell-pack for EUR 3")


def test_what_runs_on_mains_or_holds_mercury_has_its_own_way_out(store: Store, unit: str) -> None:
    work.log_lines(store, unit, ["wiped unit by clear"])
    assert remarks(store, unit, "disposed unit to works yard") == [MAINS_OUT, LAMP_OUT]
    assert work.replayed(store, unit)[1].state.exit == "scrapped"


def test_only_what_is_out_is_disposed(store: Store, unit: str) -> None:
    said = refused(store, unit, "disposed exhaust-fan to works yard")
    assert "'exhaust-fan' is still in the unit. Log 'removed exhaust-fan' first" in said
    work.log_lines(store, unit, ["fitted exhaust-fan from new for EUR 8", "disposed exhaust-fan to works yard"])
    assert not work.replayed(store, unit)[1].flags


@pytest.mark.parametrize("line", ["disposed config-store to works yard", "vended config-store for EUR 3"])
def test_the_old_part_keeps_its_data_when_a_new_one_is_in(store: Store, unit: str, line: str) -> None:
    work.log_lines(store, unit, ["harvested config-store", "fitted config-store from new"])
    assert "'config-store'" in (said := refused(store, unit, line))
    assert "may hold data of whoever had it" in said
    work.log_lines(store, unit, ["wiped config-store by destroy", line])


def test_no_carcass_is_disposed_with_data_on_it(store: Store, unit: str) -> None:
    assert "may hold data of whoever had it" in refused(store, unit, "disposed unit to works yard")


def test_a_sale_with_a_cell_in_it_says_the_rules_of_the_carrier(store: Store, navigator: str) -> None:
    [said] = remarks(store, navigator, *SOLD)
    assert said.endswith("(cell-pack).")
    assert "49 CFR 173.185(c)" in said


def test_it_is_dispatched_once(store: Store, unit: str) -> None:
    work.log_lines(store, unit, [*SOLD, "dispatched with redpost"])
    assert "It was dispatched already (line 4)." in refused(store, unit, "dispatched with redpost")


# --- coming back ---


def test_a_unit_that_comes_back_is_unknown_again(store: Store, unit: str) -> None:
    said = remarks(
        store,
        unit,
        *("recorded serial KX1", "tried lamp-lights works", "unplugged exhaust-fan-plug", "plugged exhaust-fan-plug"),
        *("inspected visual passed", "checked account-lock none", *SOLD, "returned -- no picture after a week"),
    )
    assert "it begins at intake, not at power" in said[0]
    assert "KX1 (unit)" in said[1]
    assert "exhaust-fan-plug" in said[2]
    found, _ = intake_of(store, unit)
    assert (found.back, found.intake.began, found.intake.ended) == ("no picture after a week", 10, None)
    assert {one.how for one in found.chart} == {"not tried"}
    assert safety_test_of(store, unit)[0].verdict == "void"
    assert {one.matter for one in release_of(store, unit, "as-is")[0].stops} == {"data"}, "its buyer used it"
    state = work.replayed(store, unit)[1].state
    assert (state.exit, state.proven, state.leaving.lock) == (None, frozenset(), None)
    assert "intake" not in refused(store, unit, "returned -- again")
    work.log_lines(store, unit, ["recorded serial KX2"])
    assert intake_of(store, unit)[0].intake.differs == (
        "Serial of 'unit' is KX2, and was KX1 when it was sold: is it the same one?",
    )


def test_a_part_that_was_new_holds_data_of_the_buyer_who_sent_it_back(store: Store, unit: str) -> None:
    work.log_lines(store, unit, ["fitted config-store from new", "sold as-is for EUR 60", "returned -- dead"])
    assert "'config-store'" in refused(store, unit, "sold as-is for EUR 60")
    work.log_lines(store, unit, ["fitted config-store from new", "sold as-is for EUR 60"])


def test_what_was_shown_before_a_sale_is_no_news_after_it_and_a_known_fault_stays(store: Store) -> None:
    unit = work.new_unit(store, "some-battery-device", "EUR 10")
    device = store.device(unit)
    tried = [test.id for test in device.tests.values() if test.verb == "tried"]
    work.log_lines(store, unit, ["saw display cracked close", *(f"tried {one} works" for one in tried), *SOLD])
    sold = donors.belief(store, unit)
    work.log_lines(store, unit, ["returned -- dead"])
    back = donors.belief(store, unit)
    before = {one.part: one.p_bad for one in sold.suspects}
    for one in back.suspects:
        fresh = device.parts[one.part].base
        drawn = before[one.part] + (1.0 - before[one.part]) * fresh  # no fault mends itself
        assert one.p_bad == pytest.approx(drawn, abs=2e-3), one.part
    work.log_lines(store, unit, [f"tried {tried[0]} fails"])
    assert questions.belief_of(store, unit)[0].known_good < back.known_good
    assert questions.advice_for(store, unit)[0].ranked, "its log is open again"


def test_the_money_of_a_return_is_in_the_books_and_its_cause_is_counted(store: Store, unit: str) -> None:
    work.log_lines(store, unit, [*SOLD, "dispatched with redpost for EUR 7", "returned -- noisy", "refunded EUR 60"])
    books = books_of(store).books
    account = books.units[unit]
    assert (str(account.balance), account.settled, account.sold) == ("EUR -52", False, 1)
    assert account.causes == ("not known yet",)
    work.log_lines(store, unit, ["cause exhaust fan bearing", "wiped unit by clear", "sold as-is for EUR 50"])
    books = books_of(store).books
    [row] = yields(books.units.values(), "cause", "EUR")
    assert (row.name, row.sold, row.returned, str(row.profit)) == ("exhaust-fan bearing", 2, 1, "EUR -2")
    with pytest.raises(LineError, match=re.escape("'exhaust-fan' has no fault mode 'dead'.")):
        work.log_lines(store, unit, ["caused by exhaust-fan dead"])
    with pytest.raises(LineError, match="No part 'exhaust-fam'"):
        work.log_lines(store, unit, ["caused by exhaust-fam bearing"])
    work.log_lines(store, unit, ["cause unknown"])
    assert books_of(store).books.units[unit].causes == ("unknown",)


def test_the_own_record_counts_sales_whose_warranty_is_over(tmp_path, unit: str) -> None:  # type: ignore[no-untyped-def]
    now = ["2026-01-01T09:00:00Z"]
    store = Store(tmp_path / "dated", clock=lambda: now[0])
    device = [work.new_unit(store, "some-battery-device", "EUR 5") for _ in range(3)]
    assert own_record(store, "some-battery-device", 30).of_a_lot is None
    for one in device[:2]:
        work.log_lines(store, one, ["wiped unit by clear", "sold working for EUR 60"])
    now[0] = "2026-01-10T09:00:00Z"
    work.log_lines(store, device[0], ["returned -- dead"])
    assert own_record(store, "some-battery-device", 30).sold == 0, "the other one may still come back"
    now[0] = "2026-01-31T09:00:00Z"
    work.log_lines(store, device[2], ["wiped unit by clear", "sold working for EUR 60"])
    found = own_record(store, "some-battery-device", 30)
    assert (found.sold, found.returned) == (2, 1)
    assert found.of_a_lot is not None
    assert found.of_a_lot.low < 50 < found.of_a_lot.high
    assert own_record(store, "ceiling-projector", 30).sold == 0
