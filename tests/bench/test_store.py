"""The store keeps what it was given, says where it is, and complains in sentences."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
from django.db import connections

from knowngood.bench import django_setup, work
from knowngood.bench import store as store_module
from knowngood.bench.django_setup import home_directory
from knowngood.bench.store import Store, utc_now
from knowngood.errors import LineError, MapError, NotFoundError, StoreError
from knowngood.log import events as ev
from knowngood.log.state import replay
from knowngood.maps.load import load

MAP = "ceiling-projector"


def test_a_unit_comes_back_as_it_was_stored(store: Store, unit: str) -> None:
    stored = store.append(
        unit, [ev.parse("saw exhaust-fan missing in 2 min -- odd"), ev.parse("tried stays-lit fails")]
    )
    again = store.lines(unit)
    assert again[1:] == stored
    assert [line.seq for line in again] == [1, 2, 3]
    assert str(again[0]).endswith("Z bought ceiling-projector for EUR 45 past dropped")
    assert {(line.bench_seq, line.map_hash, line.version) for line in again} == {(0, load(MAP).content_hash, "0.1.0")}


def test_ids_count_up_apart_for_units_and_donors(store: Store) -> None:
    ids = [work.new_unit(store, MAP, "EUR 1", donor=donor) for donor in (False, True, False)]
    ids += [work.new_unit(store, MAP, "EUR 1") for _ in range(9)]
    assert ids == ["U1", "D1", "U2", *(f"U{number}" for number in range(3, 12))]
    listed = store.units()
    assert [one.id for one in listed] == [*(f"U{number}" for number in range(1, 12)), "D1"]
    assert listed[-1].donor
    assert listed[0].map_name == MAP
    assert listed[0].lines == 1
    assert listed[0].first_time == listed[0].last_time


def test_the_map_stays_as_it_was_at_purchase(store: Store, tmp_path: Path) -> None:
    file = tmp_path / "mine.yaml"
    file.write_text(load(MAP).text, encoding="utf-8")
    unit = work.new_unit(store, str(file), "EUR 5")
    before = store.device(unit)
    file.write_text(before.text.replace("Lamp door", "Door of the lamp"), encoding="utf-8")
    later = work.new_unit(store, str(file), "EUR 5")
    assert store.device(unit) == before
    assert store.device(later).parts["lamp-door"].what == "Door of the lamp"
    assert store.lines(unit)[0].map_hash != store.lines(later)[0].map_hash


def test_a_map_whose_kinds_have_gone_says_whose_it_is(store: Store, unit: str, monkeypatch: pytest.MonkeyPatch) -> None:
    def gone(text: str, file: str) -> None:
        raise MapError([f"{file}:7:11: No kind 'enclosure'."])

    monkeypatch.setattr(store_module, "load_text", gone)
    with pytest.raises(MapError, match=r"'ceiling-projector' as stored .*\nU1 was bought by this map, and the kinds"):
        store.device(unit)


def test_each_line_knows_how_far_the_bench_log_was(store: Store, unit: str) -> None:
    work.bench_set(store, "rate-target", "EUR 30")
    assert store.append(unit, [ev.Noted(text="later")])[0].bench_seq == 1
    assert [str(line).split(" ", 2)[2] for line in store.bench_lines()] == ["set rate-target EUR 30"]


def test_an_unknown_unit_is_answered_with_those_there_are(store: Store, unit: str, donor: str) -> None:
    for ask in (store.lines, store.device, store.unit_id, lambda name: store.append(name, [ev.Noted(text="x")])):
        with pytest.raises(NotFoundError, match=r"^No unit 'U9'\. There are: U1, D1\.$"):
            ask("U9")
    with pytest.raises(NotFoundError, match=r"No unit '\?'"):
        store.unit_id("\udc80")
    assert store.unit_id(" d1") == "D1"


def test_on_a_full_bench_the_nearest_units_are_named(store: Store) -> None:
    for _ in range(13):
        work.new_unit(store, MAP, "EUR 1")
    with pytest.raises(NotFoundError, match=r"No unit 'u14'\. Similar: 'U"):
        store.unit_id("u14")


def test_an_unknown_unit_on_an_empty_bench(store: Store) -> None:
    with pytest.raises(NotFoundError, match="There are none yet"):
        store.lines("U1")


def test_writing_keeps_all_or_nothing(store: Store, unit: str) -> None:
    def halfway() -> None:
        with store.writing():
            store.append(unit, [ev.Noted(text="one")])
            work.new_unit(store, MAP, "EUR 5")
            raise KeyError

    with pytest.raises(KeyError):
        halfway()
    assert len(store.lines(unit)) == 1
    assert len(store.units()) == 1


def test_a_line_that_would_read_back_as_something_else_is_refused(store: Store, unit: str) -> None:
    with pytest.raises(LineError, match=r"'paid EUR 1 for tape in 3 min' would be read back as something else"):
        store.append(unit, [ev.Paid.model_construct(amount=work.parse_money("EUR 1"), what="tape in 3 min", note="")])
    for sign in ("\x1b", "\x00", "\x9b", "\udc80"):
        with pytest.raises(LineError, match=r"character 9 .* is not text"):
            store.append(unit, [ev.Noted(text=f"a {sign}")])
        with pytest.raises(LineError, match="is not text"):
            store.bench_append(f"set lacks {sign}")
    assert len(store.lines(unit)) == 1


def test_a_line_of_a_newer_version_is_named(store: Store, unit: str) -> None:
    store.append(unit, [ev.Noted(text="x")])
    with sqlite3.connect(store.place.shown) as raw:
        raw.execute("UPDATE bench_unitline SET text = 'foresaw 3 kg', version = '9.0' WHERE seq = 2")
    raw.close()
    with pytest.raises(LineError, match=r"^U1 line 2, written by knowngood 9\.0: 'foresaw' is not one of the verbs"):
        store.lines(unit)


def test_two_homes_in_one_process_do_not_mix(tmp_path: Path) -> None:
    with Store(tmp_path / "a") as first, Store(tmp_path / "b") as second, Store(tmp_path / "a") as again:
        work.new_unit(first, MAP, "EUR 5")
        assert [one.id for one in first.units()] == [one.id for one in again.units()] == ["U1"]
        assert second.units() == []


def test_a_closed_store_opens_again_when_asked(store: Store, unit: str) -> None:
    store.close()
    assert len(store.lines(unit)) == 1


def test_the_clock_can_be_set(tmp_path: Path) -> None:
    with Store(tmp_path, clock=lambda: "2025-01-02T03:04:05Z") as store:
        unit = work.new_unit(store, MAP, "EUR 5")
        assert store.lines(unit)[0].time == "2025-01-02T03:04:05Z"
    assert len(utc_now()) == 20


def test_the_database_is_set_up_to_lose_nothing(store: Store) -> None:
    with connections[store.place.alias].cursor() as cursor:
        found = {}
        for pragma in ("journal_mode", "synchronous", "foreign_keys", "busy_timeout"):
            cursor.execute(f"PRAGMA {pragma}")
            found[pragma] = cursor.fetchone()[0]
    assert found == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1, "busy_timeout": 30_000}


# ---- where it is ------------------------------------------------------------------------------------------------


def test_the_home_is_the_argument_else_the_variable_else_the_data_directory(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("KNOWNGOOD_HOME", str(tmp_path / "variable"))
    assert home_directory(tmp_path / "given" / "deep") == tmp_path / "given" / "deep"
    assert home_directory() == tmp_path / "variable"
    monkeypatch.delenv("KNOWNGOOD_HOME")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    assert home_directory() == tmp_path / "data" / "knowngood"
    monkeypatch.setenv("HOME", str(tmp_path / "person"))
    for unset in ("", "relative/is-ignored"):
        monkeypatch.setenv("XDG_DATA_HOME", unset)
        assert home_directory() == tmp_path / "person" / ".local" / "share" / "knowngood"


def test_a_home_that_cannot_be_made_says_so(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x", encoding="utf-8")
    for wrong in (tmp_path / "file", tmp_path / "file" / "below"):
        with pytest.raises(StoreError, match=r"The home '.*' cannot be created: .*KNOWNGOOD_HOME"):
            Store(wrong)


def test_a_database_url_wins_over_the_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("KNOWNGOOD_DATABASE_URL", f"sqlite:///{tmp_path / 'other.sqlite3'}")
    with Store(tmp_path / "home") as store:
        work.new_unit(store, MAP, "EUR 5")
    assert (tmp_path / "other.sqlite3").is_file()
    assert not (tmp_path / "home").exists()
    monkeypatch.delenv("KNOWNGOOD_DATABASE_URL")
    with Store(tmp_path / "home") as store:
        assert store.units() == []


@pytest.mark.parametrize(
    ("url", "message"),
    [
        ("sqlite://", "names no file"),
        ("nonsense://x", "KNOWNGOOD_DATABASE_URL is not understood"),
        ("just words", "KNOWNGOOD_DATABASE_URL is not understood"),
        ("sqlite:////no/such/directory/x.sqlite3", "unable to open database file. Nothing was stored. Its directory"),
    ],
)
def test_a_wrong_database_url(url: str, message: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("KNOWNGOOD_DATABASE_URL", url)
    with pytest.raises(StoreError, match=message):
        Store()


def test_a_file_that_is_no_database(tmp_path: Path) -> None:
    (tmp_path / "knowngood.sqlite3").write_text("a shopping list, longer than a header " * 40, encoding="utf-8")
    with pytest.raises(
        StoreError, match=r"knowngood\.sqlite3: file is not a database\. .*Something else has that name"
    ):
        Store(tmp_path)


def test_another_writer_that_does_not_end(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(django_setup, "SQLITE", {**django_setup.SQLITE, "timeout": 0.1})
    with Store(tmp_path) as store:
        unit = work.new_unit(store, MAP, "EUR 5")
        other = sqlite3.connect(store.place.shown, isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(StoreError, match=r"database is locked\. Nothing was stored\. Another command"):
            store.append(unit, [ev.Noted(text="x")])
        other.rollback()
        other.close()
        assert store.append(unit, [ev.Noted(text="x")])[0].seq == 2


# ---- migrations -------------------------------------------------------------------------------------------------


def test_an_empty_database_gets_its_tables_and_keeps_them(tmp_path: Path) -> None:
    (tmp_path / "knowngood.sqlite3").touch()
    for _ in range(2):
        with Store(tmp_path) as store, connections[store.place.alias].cursor() as cursor:
            cursor.execute("SELECT app, name FROM django_migrations")
            assert cursor.fetchall() == [("bench", "0001_logs"), ("bench", "0002_gists"), ("bench", "0003_gists_here")]


def test_the_migrations_say_all_that_the_models_say(store: Store) -> None:
    from django.core.management import call_command

    call_command("makemigrations", "bench", check=True, dry_run=True, verbosity=0)


def test_a_store_of_a_newer_version_is_left_alone(tmp_path: Path) -> None:
    with Store(tmp_path) as store:
        shown = store.place.shown
    with sqlite3.connect(shown) as raw:
        raw.execute("INSERT INTO django_migrations (app, name, applied) VALUES ('bench', '0999_later', '2030-01-01')")
    raw.close()
    with pytest.raises(StoreError, match=r"written by a newer knowngood \(it has '0999_later'\)"):
        Store(tmp_path)


def test_what_is_stored_replays(store: Store, unit: str) -> None:
    work.log_lines(store, unit, ["opened cover-off", "exhaust-fan missing"])
    assert replay(store.device(unit), store.lines(unit)).flags == ()
