"""Chapters and what is not to be published, read back by an independent library (webvtt-py 0.6.0).

The format: W3C, WebVTT: The Web Video Text Tracks Format, Candidate Recommendation of 4 April 2019 (from memory).
"""

from __future__ import annotations

import html
import json
from pathlib import Path
from typing import Any

import pytest
import webvtt
from typer.testing import CliRunner

from knowngood.cli import film_shapes as shapes
from knowngood.cli import vtt
from knowngood.cli.main import app

JOB = ("tried sound fails in 1 min", "opened lamp-out in 5 min", "saw lamp-door-tab broken-off in 1 min")


@pytest.fixture
def answer(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    """The answer of ``knowngood film`` on a job logged at one go, the clap ten minutes into the film."""
    monkeypatch.chdir(tmp_path)
    last = ("clapped line 4 at 00:10:00 of a.mp4", "hid 00:05:00 to 00:06:10.5 of a.mp4 -- a face --> mine & <yours>")
    for words in (
        ("unit", "new", "--map", "ceiling-projector", "--paid", "EUR 5"),
        ("log", "U1", *JOB, *last),
        ("film", "U1", "--vtt", "c.vtt", "--hide", "h.vtt", "--json"),
    ):
        done = CliRunner().invoke(app, list(words), env={"KNOWNGOOD_HOME": str(tmp_path / "home")})
        assert done.exit_code == 0, done.output
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def test_chapters_are_read_back_as_they_were_meant(answer: dict[str, Any]) -> None:
    track = webvtt.read("c.vtt")
    assert len(track) == len(answer["chapters"]) == 3
    for number, (cue, meant) in enumerate(zip(track, answer["chapters"], strict=True), start=1):
        assert cue.identifier == str(number)
        assert html.unescape(cue.text) == meant["title"]
        assert cue.start_in_seconds == int(meant["start"])
        assert cue.end_in_seconds == int(meant["end"])
    assert track[2].text == "Looking and measuring: lamp door tab broken off"
    assert (track[2].start, track[2].end) == ("00:09:00.000", "00:10:00.000")


def test_what_is_not_to_be_published_is_a_track_of_its_own(answer: dict[str, Any]) -> None:
    [cue] = webvtt.read("h.vtt")
    assert (cue.identifier, cue.start, cue.end) == ("line-6", "00:05:00.000", "00:06:10.500")
    assert cue.raw_text == "a face -> mine & <yours>"
    assert "NOTE Do not publish 00:05:00.000 to 00:06:10.500: a face -> mine" in Path("c.vtt").read_text("utf-8")
    assert answer["hidden"][0]["why"] == "a face --> mine & <yours>"


def test_signs_that_begin_a_mark_up_are_written_so_that_they_are_read_as_themselves() -> None:
    title = "Trying it: a <b> & c --> d"
    film = shapes.FilmAnswer(
        **{"unit": "U1", "log_seq": 1, "film": "a", "starts": "", "marks": [], "rate": 1.0, "worst": 0.0, "end": 9.0},
        length_known=True,
        chapters=[shapes.ChapterShape(title=title, start=0.0, end=3723.004, lines=[1])],
        hidden=[],
        suspected=[],
        vtt=None,
        hide=None,
        picture=None,
    )
    [cue] = webvtt.from_string(vtt.chapters(film))
    assert html.unescape(cue.text) == "Trying it: a <b> & c -> d"
    assert cue.end == "01:02:03.004"
