"""``map grow`` from the terminal: the diff, the way to accept it, both lines of a conflict, errors and exit codes."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from knowngood.cli.main import app

FIRST = ("met step lid-off in 4 min", "unscrewed lid-off 3 x M3x8", "met part side-fan")


@pytest.fixture(autouse=True)
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("KNOWNGOOD_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("COLUMNS", "120")
    run("unit", "new", "--map", "some-mains-device", "--paid", "EUR 20")
    run("log", "U1", *FIRST)


def run(*words: str, code: int = 0) -> str:
    done = CliRunner().invoke(app, words)
    assert done.exit_code == code, done.output
    return done.output


def test_a_map_grows_is_accepted_and_the_next_unit_starts_from_it() -> None:
    shown = run("map", "grow", "U1")
    assert "+  lid-off:  # U1, line 2" in shown
    assert "side-fan: fan, by its name only: --yes side-fan=fan" in shown
    assert "To accept it: knowngood map grow U1 --into FILE" in shown
    assert not Path("radio.yaml").exists()
    assert "Written to radio.yaml." in run("map", "grow", "U1", "--yes", "all", "--into", "radio.yaml")
    run("map", "check", "radio.yaml")
    run("unit", "new", "--map", "radio.yaml", "--paid", "EUR 20")
    assert "Nothing to grow: the log of U2 met nothing that its map lacks." in run("map", "grow", "U2")
    run("log", "U2", "saw side-fan dusty", "unscrewed lid-off 2 x M3x8")
    told = run("map", "grow", "U2")
    assert "fasteners of 'lid-off'\n     map radio:" in told
    assert ": 3 x M3x8\n     U2 line 3: 2 x M3x8 (unscrewed lid-off 2 x M3x8)" in told
    [conflict] = json.loads(run("map", "grow", "U2", "--json"))["conflicts"]
    assert (conflict["line"], conflict["map_says"]) == ("unscrewed lid-off 2 x M3x8", "3 x M3x8")


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("U9",), "No unit 'U9'."),
        (("U1", "--yes", "side-fan"), "'side-fan' is no yes. Say NAME=KIND"),
        (("U1", "--yes", "lid=fan"), "No part or plug 'lid' was met."),
        (("U1", "--into", "My Radio.yaml"), "Write it into 'my-radio.yaml'."),
        (("U1", "--into", "nowhere/radio.yaml"), "The map cannot be written to 'nowhere/radio.yaml'"),
        (("U1", "--into", "words.yaml"), "words.yaml:1:1:"),
    ],
)
def test_what_cannot_grow_says_why(words: tuple[str, ...], message: str) -> None:
    Path("words.yaml").write_text("just words\n", encoding="utf-8")
    assert message in run("map", "grow", *words, code=2)
    assert Path("words.yaml").read_text(encoding="utf-8") == "just words\n"
