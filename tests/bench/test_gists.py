"""What is read of gists is what the logs say, and no gist that is not of its log as it stands is used."""

from __future__ import annotations

import random
import sqlite3
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress

import pytest

from knowngood.bench import gists, ledger, loose, market, record, references, reservations, work
from knowngood.bench.good_readings import read_when_good
from knowngood.bench.models import UnitLine
from knowngood.bench.passages import moves
from knowngood.bench.shelf import accepted
from knowngood.bench.stock import Logs, moves_about
from knowngood.bench.store import Store
from knowngood.errors import KnowngoodError, LineError
from knowngood.log import events as ev
from knowngood.log.state import replay

MAP = "ceiling-projector"
PARTS = ("exhaust-fan", "lamp-door", "main-board")


def busy(store: Store, seed: int) -> None:
    """A bench where parts went to and fro, were sold and came back, and lines were taken back."""
    goes_on(store, random.Random(seed), begun(store), 120)


def begun(store: Store) -> list[str]:
    loose.change(store, ["stocked 20 x resistor 4k7"])
    return [work.new_unit(store, MAP, f"EUR {price}", donor=price == 7) for price in (45, 31, 20, 7)]


def goes_on(store: Store, drawn: random.Random, units: list[str], count: int) -> None:
    for _ in range(count):
        unit, other, part = drawn.choice(units), drawn.choice(units), drawn.choice(PARTS)
        origin = drawn.choice((other, "new", "used", "back"))
        said = drawn.choice(
            (
                f"harvested {part}",
                f"fitted {part} from {origin}" + (" for EUR 8" if origin in ("new", "used") else ""),
                f"vended {part} for EUR 6",
                f"reserved {part} from {origin}",
                f"ordered {part} new from north for EUR 9",
                f"arrived {part}",
                "used 1 of S1",
                "read rail-12v 12.1 V",
                "sold working for EUR 90",
                "returned -- no light",
                "planned finish",
                "undid last",
                "paid EUR 3 for tape",
            )
        )
        try:
            if said == "undid last":
                work.undo(store, unit)
            else:
                store.append(unit, [ev.parse(said)])  # whatever it is: what does not fit is flagged
        except KnowngoodError:
            pass


@pytest.mark.parametrize("seed", range(6))
def test_gists_say_what_the_logs_say(store: Store, seed: int) -> None:
    busy(store, seed)
    logs = Logs(store)
    told = {unit: replay(*logs[unit]) for unit in store.names()}
    every = moves(logs)
    assert moves_about(store, store.names()) == every
    assert moves_about(store).shelf == every.shelf
    for unit in told:
        alone = moves_about(store, [unit], shelf=False)
        for found, whole in ((alone.taken, every.taken), (alone.unexplained, every.unexplained)):
            assert {key: one for key, one in found.items() if key[0] == unit} == {
                key: one for key, one in whole.items() if key[0] == unit
            }
    sums, books = ledger.sums_of(store).books, ledger.books_of(store).books
    bare = {unit: vars(one) | {"entries": ()} for unit, one in books.units.items()}
    assert {unit: vars(one) for unit, one in sums.units.items()} == bare
    assert (sums.held, sums.balance, sums.shelf.carried) == (books.held, books.balance, books.shelf.carried)
    here = {unit: log.state for unit, log in told.items() if log.state.exit is None}
    assert {one.unit: (one.planned, one.incoming) for one in accepted.glance(store)[0]} == {
        unit: (state.planned, state.incoming) for unit, state in here.items()
    }
    assert {unit: parts for unit, parts in gists.reservations(store) if parts} == {
        unit: state.incoming.reserved for unit, state in here.items() if state.incoming.reserved
    }
    good = [read_when_good(logs[unit][0], log).get("rail-12v") for unit, log in told.items()]
    counted = references.references(store, logs["U1"][0]).get("rail-12v")
    assert (counted.count if counted else 0) == sum(one is not None for one in good)
    sold = [line.event for log in told.values() for line in log.lines if isinstance(line.event, ev.Sold)]
    assert record.own_record(store, MAP, 0).sold == len(sold)


@pytest.mark.parametrize("seed", range(3))
def test_sums_that_follow_the_logs_are_those_made_from_scratch(store: Store, seed: int) -> None:
    drawn, memory = random.Random(seed), ledger.Memory()
    units = begun(store)
    with ThreadPoolExecutor(1) as other:  # a thread has a connection of its own
        for turn in range(25):
            act = (goes_on, store, drawn, units, drawn.choice((1, 1, 3, 12)))
            other.submit(*act).result() if drawn.random() < 0.5 else act[0](*act[1:])
            if turn % 8 == 3:
                units.append(work.new_unit(store, MAP, "EUR 12"))
                market.change(store, [f"demand {MAP}/lamp-door at most 9 at EUR {turn}", "paid EUR 2 for tape"])
            found, anew = ledger.sums_of(store, memory=memory).books, ledger.sums_of(store).books
            assert dict(found.units) == dict(anew.units)
            assert (found.shelf, found.held, found.balance) == (anew.shelf, anew.held, anew.balance)
        other.submit(store.close).result()


def test_only_accounts_that_parts_join_are_summed_again(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    memory, summed = ledger.Memory(), list[list[str]]()
    giver, taker, third = (work.new_unit(store, MAP, f"EUR {price}") for price in (45, 31, 20))
    whole = ledger.sums

    def watched(accounts: dict[str, object], *given: object, **more: object) -> object:
        summed.append([*accounts])
        return whole(accounts, *given, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(ledger, "sums", watched)
    for unit, line, again in (
        (third, "noted x", [giver, taker, third]),
        (giver, "harvested lamp-door", [giver]),
        (taker, f"fitted lamp-door from {giver}", [giver, taker]),
        (third, "noted y", [third]),
        (giver, "noted z", [giver, taker]),
        (taker, "undid 2", [giver, taker]),
        (giver, "noted u", [giver]),
    ):
        work.log_lines(store, unit, [line])
        ledger.sums_of(store, memory=memory)
        assert summed[-1] == again


def test_no_log_is_read_again_that_has_not_gone_on(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    busy(store, 3)
    gists.up_to_date(store)
    read: list[str] = []
    whole = Store.logs

    def watched(self: Store, units: list[str]) -> object:
        read.extend(units)
        return whole(self, units)

    monkeypatch.setattr(Store, "logs", watched)
    monkeypatch.setattr(Store, "lines", lambda self, unit: read.append(unit))
    moves_about(store, store.names())
    ledger.sums_of(store)
    references.references(store, store.device("U1"))
    reservations.reserved(store)
    loose.lots(store)
    assert read == []
    store.append("U2", [ev.Noted(text="one more")])
    moves_about(store)
    assert read == ["U2"]


def spoilt(store: Store, *statements: str) -> None:
    with sqlite3.connect(store.place.shown) as raw:
        for one in statements:
            raw.execute(one)
    raw.close()


WRONG = ("UPDATE bench_gist SET account = replace(account, '4500', '9900')", "DELETE FROM bench_passage")


def looks(store: Store) -> tuple[object, ...]:
    return ledger.sums_of(store).books.units["U1"].paid.minor, len(moves_about(store).shelf)


@pytest.mark.parametrize(
    "stale",
    [
        lambda store, patch: store.append("U1", [ev.Noted(text="later")]),
        lambda store, patch: spoilt(store, "UPDATE bench_gistsupto SET made_by = 'other code'", GIST_BY_OTHER),
        lambda store, patch: patch.setattr(gists, "made_by", lambda: "newer code"),
        lambda store, patch: spoilt(store, "DELETE FROM bench_gistsupto", GIST_BY_OTHER),
    ],
    ids=["the log went on", "made by other code", "the code is newer", "ended before all were read"],
)
def test_a_stale_gist_is_not_used(
    store: Store, unit: str, monkeypatch: pytest.MonkeyPatch, stale: Callable[[Store, pytest.MonkeyPatch], object]
) -> None:
    work.log_lines(store, unit, ["harvested lamp-door"])
    assert looks(store) == (4500, 1)
    spoilt(store, *WRONG)
    assert looks(store) == (9900, 0), "else this test would show nothing"
    stale(store, monkeypatch)
    assert looks(store) == (4500, 1)


GIST_BY_OTHER = "UPDATE bench_gist SET made_by = 'other code'"


def test_a_log_that_cannot_be_read_stops_only_who_asks_for_what_it_says(store: Store, unit: str) -> None:
    other = work.new_unit(store, MAP, "EUR 9")
    work.log_lines(store, other, ["harvested lamp-door", "noted x"])
    UnitLine.objects.using(store.place.alias).filter(unit_id=other, seq=3).update(text="foresaw 3 kg", version="9.0")
    gists.GistsUpTo.objects.using(store.place.alias).all().delete()
    assert reservations.reserved(store) == {}
    assert loose.lots(store) == {}
    for ask in (moves_about, ledger.sums_of):
        with pytest.raises(LineError, match=r"^U2 line 3, written by knowngood 9\.0"):
            ask(store)


def test_references_that_follow_the_logs_are_those_made_from_scratch(store: Store) -> None:
    drawn, units = random.Random(5), begun(store)
    for unit in units[:3]:
        store.append(unit, [ev.parse("read rail-12v 12.1 V"), ev.parse("sold working for EUR 90")])
    seen = set()
    with ThreadPoolExecutor(1) as other:  # a thread has a connection of its own
        for _ in range(25):
            line = ev.parse(drawn.choice(("read rail-12v 11.9 V", "returned -- no light", "sold working for EUR 80")))
            act = drawn.choice((work.undo, work.redo, lambda store, unit, line=line: store.append(unit, [line])))
            with suppress(KnowngoodError):
                work_ = (act, store, drawn.choice(units))
                other.submit(*work_).result() if drawn.random() < 0.5 else act(*work_[1:])
            for but_not in ("", *units):
                found = references.references(store, store.device("U1"), but_not=but_not)
                with store.writing():  # there nothing is remembered
                    assert found == references.references(store, store.device("U1"), but_not=but_not)
                seen.add(str(found))
        other.submit(store.close).result()
    assert len(seen) > 5, "else this test would show little"


def test_a_reading_that_was_rolled_back_is_not_remembered(store: Store, unit: str) -> None:
    device = store.device(unit)

    def rolled_back() -> None:
        with store.writing():
            store.append(unit, [ev.parse("read rail-12v 12.1 V"), ev.parse("sold working for EUR 90")])
            assert references.references(store, device)
            raise KnowngoodError("no")

    with pytest.raises(KnowngoodError, match="no"):
        rolled_back()
    store.append(unit, [ev.parse("noted x"), ev.parse("noted y")])  # with the keys that the others had
    assert references.references(store, device) == {}
