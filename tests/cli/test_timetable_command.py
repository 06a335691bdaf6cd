"""The timetable: what to do, what rings, made anew when late."""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from running import Run, on
from typer.testing import Result

from knowngood.bench import questions, store, timetable
from knowngood.cli import shapes
from knowngood.cli.timetable_show import clock

START = datetime.fromisoformat("2026-03-02T14:00:00+00:00")
NEW = ("unit", "new", "--map", "some-battery-device", "--paid", "EUR 5")


@pytest.fixture
def at(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Run:
    """Runs a command so many minutes after the start, on a clock that reads UTC."""
    monkeypatch.setenv("TZ", "UTC")
    run = on(tmp_path / "home", COLUMNS="200")

    def call(minutes: float, *words: str) -> Result:
        time = (START + timedelta(minutes=minutes)).strftime("%Y-%m-%dT%H:%M:%SZ")
        for module in (questions, store, timetable):
            monkeypatch.setattr(module, "utc_now", lambda: time)
        monkeypatch.setattr(store.Store.__init__, "__kwdefaults__", {"clock": lambda: time})
        done = run(*words)
        assert done.exit_code == 0, done.output
        return done

    return call


def table(done: Result) -> shapes.TimetableAnswer:
    return shapes.TimetableAnswer.model_validate(json.loads(done.stdout))


def test_an_empty_bench_says_how_to_begin(at: Run) -> None:
    assert at(0, "timetable").output == "No unit is on the bench. Book one in: knowngood unit new\n"


def test_what_cures_rings_on_the_clock_is_late_after_it_and_the_plan_goes_from_now(at: Run) -> None:
    at(0, *NEW)
    at(
        0,
        "log",
        "U1",
        "asked seller",
        "mended frame glue-boss",
        "ordered pack new from northparts for EUR 8 due 2026-03-05",
    )
    first = table(at(60, "timetable", "--json"))
    assert [(one.unit, one.what, one.time, one.planned) for one in first.rings][-1:] == [
        ("U1", "frame cured", "2026-03-03T02:00:00+00:00", False)
    ]
    assert [(one.unit, one.part, one.due) for one in first.due] == [("U1", "pack", "2026-03-05")]
    said = at(60, "timetable").output
    assert "NOW 15:00, 40 min" in said
    assert "02:00 tomorrow  U1 frame cured" in said
    assert "U1  pack from northparts, 2026-03-05" in said
    late = table(at(14 * 60, "timetable", "--json"))
    assert [(one.unit, one.what, one.after) for one in late.rang] == [("U1", "frame cured", -120.0)]
    assert late.stretches[0].after == 0.0
    assert late.now == "2026-03-03T04:00:00Z"
    assert "U1  frame cured 2 h 00 min ago" in at(14 * 60, "timetable").output
    at(14 * 60, "log", "U1", "waited 1 min")
    assert table(at(14 * 60, "timetable", "--json")).rang == []


def test_each_stretch_says_its_caution_what_to_open_and_what_follows(at: Run) -> None:
    at(0, "unit", "new", "--map", "pocket-navigator", "--paid", "EUR 5", "--past", "wet")
    at(0, "log", "U1", "asked seller")
    assert table(at(0, "timetable", "--json")).stretches[0].kind == "open", "the pack comes off before it is washed"
    at(0, "log", "U1", "opened rear-off in 0 min", "unplugged pack-plug in 0 min")
    found = table(at(0, "timetable", "--json"))
    first = found.stretches[0]
    assert first.kind == "dry"
    assert first.alone == 24 * 60
    assert first.cautions
    said = " ".join(at(0, "timetable").output.split())
    assert f"now U1 {first.move} (25 min); then it dries 24 h 00 min ! {first.cautions[0]}" in said
    assert "14:25 tomorrow U1 dry, if started as above" in said
    assert "25 min no work for hands" in said
    assert "Proved: in no other order is less lost by waiting." in said


def test_units_that_have_left_are_in_no_timetable_and_those_put_off_say_so(at: Run) -> None:
    at(0, *NEW)
    at(0, *NEW)
    at(0, "log", "U2", "wiped unit by clear", "sold as-is for EUR 3")
    found = table(at(0, "timetable", "--json"))
    units = {one.unit for one in found.stretches} | {one.unit for one in found.idle}
    assert units == {"U1"}


def test_so_many_minutes_only(run: Run) -> None:
    done = run("timetable", "--minutes", "0")
    assert done.exit_code == 2
    assert "Invalid value for '--minutes'" in done.output


def test_a_time_is_told_with_its_day(monkeypatch: pytest.MonkeyPatch) -> None:
    assert clock("2026-03-02T16:40:00Z", "2026-03-02T14:00:00Z").endswith(":40")
    monkeypatch.setenv("TZ", "UTC")
    assert "on 2026-03-05" in clock("2026-03-05T12:00:00Z", "2026-03-02T12:00:00Z")
    assert "tomorrow" in clock("2026-03-03T12:00:00Z", "2026-03-02T12:00:00Z")
