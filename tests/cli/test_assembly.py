"""``way``, ``reassembly`` and ``before-power`` from the command line: on paper, and refused plainly."""

from __future__ import annotations

import pytest
from running import Run
from typer.testing import Result

from knowngood.cli import shapes


@pytest.fixture
def run(run: Run) -> Run:
    """The same, with a projector booked in as U1."""
    assert run("unit", "new", "--map", "ceiling-projector", "--paid", "EUR 45").exit_code == 0
    return run


def sheet(done: Result) -> str:
    """What was printed, which fits 80 columns and is plain text."""
    assert done.exit_code == 0, done.output
    assert all(len(line) <= 80 for line in done.output.splitlines())
    assert done.output.isascii()
    return " ".join(done.output.split())


def test_the_way_in_on_paper(run: Run) -> None:
    run("log", "U1", "tried lamp-lights fails")
    text = sheet(run("way", "U1", "green-flex-socket", "--most", "3"))
    assert text.startswith("WAY to green-flex-socket (behind cover-off) 10 min of hands, 55 min until open")
    assert "out 2 x M3x12 (cross-head, rear) ! 2 odd ones of 'rear' among 7 x M3x8" in text
    assert "pull keypad-ribbon: mark it before you pull it" in text
    assert "nothing more than" in text
    assert "worth less (--most)" in text
    assert "Nothing has to be opened for it." in sheet(run("way", "U1", "lamp-door"))
    assert "HELD Nobody has measured the capacitor" in sheet(run("way", "U1", "engine-out"))


def test_the_way_back_on_paper_can_be_logged_line_by_line(run: Run) -> None:
    run("log", "U1", "opened board-up -- photo 7", "unplugged exhaust-fan-plug", "removed exhaust-fan")
    done = run("reassembly", "U1")
    text = sheet(done)
    assert "Up to closing board-up, with main-board, lamp-duct line 2: photo 7" in text
    assert "cover-off (step 2): 9 out (the map's figure), 0 in: 7 x M3x8 still out, 2 x M3x12 still out" in text
    assert text.count("torque: at most 0.61 N m") == 1  # the same for all of one thread
    lines = [line.split("> ", 1)[1].strip() for line in done.output.splitlines() if line.startswith("    > ")]
    answer = shapes.ReassemblyAnswer.model_validate_json(run("reassembly", "U1", "--json").stdout)
    assert lines == [line.log for block in answer.blocks for line in block.lines]
    assert run("log", "U1", *lines).exit_code == 0
    assert run("reassembly", "U1").output.strip() == "Nothing of U1 is open, unplugged, out or uncounted."


def test_a_screw_left_over_is_told_with_its_figures(run: Run) -> None:
    run("log", "U1", "opened cover-off", "unscrewed cover-off 7 M3x8", "screwed cover-off 6 M3x8", "closed all")
    assert "cover-off (step 2): 9 out, 8 in: 1 x M3x8 still out" in sheet(run("reassembly", "U1"))


def test_the_list_before_power_on_paper_shrinks_as_it_is_ticked(run: Run) -> None:
    run("log", "U1", "opened engine-out", "plugged keypad-ribbon", "plugged ballast-feed-lead")
    text = sheet(run("before-power", "U1"))
    assert "open: board-up, cover-off, engine-out, lamp-out" in text
    assert "> found keypad-ribbon.seated right" in text
    assert "Held by a hard rule: " in text
    assert "With the power: ! Live mains inside." in text
    assert "> found keypad-ribbon.seated right" in text
    run("log", "U1", "found keypad-ribbon.seated right", "checked shaken")
    shorter = sheet(run("before-power", "U1"))
    assert "keypad-ribbon.seated" not in shorter
    assert "shaken" not in shorter
    run("log", "U1", "past wet", "closed all")
    assert "NO POWER YET Power on a wet board" in sheet(run("before-power", "U1"))
    assert "loudspeaker-lead behind lamp-out, cover-off: sound shows it" in sheet(run("before-power", "U1"))


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (
            ("way", "U1", "lens-uot"),
            "There is no access step, part or test 'lens-uot' on this map. Similar: 'lens-out'",
        ),
        (("way", "U9", "lens-out"), "U9"),
        (("reassembly", "U9"), "U9"),
        (("before-power", "U9"), "U9"),
    ],
)
def test_what_is_not_there_is_refused_plainly(run: Run, words: tuple[str, ...], message: str) -> None:
    done = run(*words)
    assert done.exit_code == 2
    assert message in done.stderr


@pytest.mark.parametrize("words", [("way", "U1", "lens-out"), ("reassembly", "U1"), ("before-power", "U1")])
def test_a_unit_that_has_left_is_refused(run: Run, words: tuple[str, ...]) -> None:
    run("log", "U1", "wiped unit by clear", "sold as-is for EUR 60")
    done = run(*words)
    assert done.exit_code == 2
    assert "U1 was sold as it is: no move is left." in done.stderr
