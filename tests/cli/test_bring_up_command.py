"""``bring-up`` as a person follows it: its lines are typed, a wrong answer ends it, the rest is said plainly."""

from __future__ import annotations

import pytest
from running import Run
from typer.testing import Result


@pytest.fixture
def run(run: Run) -> Run:
    """The same, with a navigator on the bench as U1, its board out and mended."""
    assert run("unit", "new", "--map", "pocket-navigator", "--paid", "EUR 12").exit_code == 0
    assert run("log", "U1", "opened board-out", "mended buck-3v3 new-coil").exit_code == 0
    return run


def words(done: Result) -> str:
    assert done.exit_code == 0, done.output
    assert all(len(line) <= 80 for line in done.output.splitlines())
    assert done.output.isascii()
    return " ".join(done.output.split())


def test_the_stages_on_paper(run: Run) -> None:
    text = words(run("bring-up", "U1"))
    assert "As it is now, with rear-off, leads-off, board-out open" in text
    assert "limited bench supply in the place of the pack, every other source off: at most 3.432 V" in text
    assert (
        "[ ] Read what the supply gives with power and nothing started. Expect: 500 uA to 8 mA > drew VALUE A" in text
    )
    assert "Then, with rear-off, leads-off open once all above is right, by the sheet: screwed board-out 3" in text
    assert text.count("First power since it came in") == 1, "a caution stands at the first line that it belongs to"
    run("log", "U1", "drew 3 mA at idle")
    assert "[x] draw at idle, line 4" in words(run("bring-up", "U1"))


def test_a_wrong_answer_says_stop_and_hands_over_to_the_plan(run: Run) -> None:
    run("log", "U1", "read rail-3v3-to-ground 210 ohm", "closed board-out", "plugged screen-plug")
    run("log", "U1", "tried starts fails on bench")
    text = words(run("bring-up", "U1"))
    assert "Stop here: line 7, tried starts fails on bench: 'works' is what was to come." in text
    assert "since the last right answer: line 5: closed board-out since the last right answer: line 6: plugged" in text
    assert "What next: knowngood next U1" in text


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ("drew 3 V at idle", "What a unit draws is read in A or W, and '3 V' is not."),
        ("drew 3 mA at sleeping", "No function 'sleeping' that is tried with power."),
        ("began drying for ever", "Write: began drying [for TIME]. For example: began drying for 24 h"),
    ],
)
def test_a_line_that_cannot_be_is_refused_with_what_would_be_right(run: Run, line: str, message: str) -> None:
    done = run("log", "U1", line)
    assert done.exit_code == 2
    assert message in " ".join(done.stderr.split())


def test_drying_takes_as_long_as_the_bench_has_set(run: Run) -> None:
    assert "drying-hours    24" in run("bench", "show").output
    run("bench", "set", "drying-hours", "36")
    assert "began drying for 36 h" in run("log", "U1", "began drying").output
    assert "began drying for 20 min" in run("log", "U1", "began drying for 20 min").output
    done = run("bench", "set", "drying-hours", "0")
    assert "'0' is not a whole number from 1 to 720" in " ".join(done.stderr.split())


def test_a_unit_that_has_left_is_refused(run: Run) -> None:
    run("log", "U1", "wiped unit by clear", "closed all", "sold as-is for EUR 40")
    done = run("bring-up", "U1")
    assert done.exit_code == 2
    assert "U1 was sold as it is: no move is left." in " ".join(done.stderr.split())
