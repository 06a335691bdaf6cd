"""``knowngood grade``, ``listing``, ``report`` and ``film`` as a person calls them."""

from __future__ import annotations

import json
import re
import sys
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree as xml

import pytest
from running import Run

from knowngood.cli import film_shapes as shapes
from knowngood.cli import suspects_picture
from knowngood.log import events as ev
from knowngood.proof.private import for_buyers, masked, without_serials

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture
def run(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """The same in an empty folder, with a hand-held device booked in as U1."""
    monkeypatch.chdir(tmp_path)
    assert run("unit", "new", "--map", "some-battery-device", "--paid", "EUR 9", "--past", "wet").exit_code == 0
    return run


def test_the_text_claims_what_was_shown_and_no_more(run: Run) -> None:
    run("log", "U1", "tried sound works", "saw back-cover scratched", "declared takes-pictures", "tried touch weak")
    text = run("listing", "U1").stdout
    assert re.search(r"^WHAT WORKS\n- Sound \(tried \d{4}-\d\d-\d\d\)\n\n", text, re.MULTILINE)
    assert "- Camera takes pictures: declared as not working\n" in text
    assert re.search(r"- Touch over the whole area: works only in part \(tried ", text)
    assert "- Charges: not tried\n" in text
    assert "- Back cover: scratched\n" in text
    assert "Known of its past: liquid got in\n" in text
    assert "EUR" not in text


def test_what_to_put_right_is_kept_apart_from_the_text(run: Run) -> None:
    run("log", "U1", "tried sound fails", "saw back-cover cracked", "graded unmarked -- looks fine to me")
    done = run("listing", "U1")
    assert "! Line 4 grades it 'unmarked', and that does not go with: " in done.stderr
    assert "cracked (line 3)" in done.stderr
    assert "! Sound: does not work" in done.stderr
    assert "Once it is pasted: knowngood listing U1 --at" in done.stderr
    assert "!" not in done.stdout
    found = json.loads(run("grade", "U1", "--json").stdout)["grade"]
    assert (found["grade"], found["by_facts"], found["given_by"]) == ("unmarked", "unproved", 4)
    said = run("grade", "U1").output
    assert "U1: unmarked" in said
    assert "graded by line 4: looks fine to me; by the facts: unproved" in " ".join(said.split())


def test_a_listing_that_is_logged_needs_no_override_of_the_declared_faults(run: Run) -> None:
    run("log", "U1", "declared sound")
    assert "no listing since says so" in run("release", "U1", "--ask").output
    done = run("listing", "U1", "--at", "EUR 40")
    assert done.exit_code == 0, done.output
    assert "Once it is pasted" not in done.stderr
    assert "declared as not working" not in run("release", "U1", "--ask").output
    assert "listed at EUR 40" in run("show", "U1").output
    assert "USD" in run("listing", "U1", "--at", "USD 40").stderr


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("report", "U1", "--pdf", "a.txt"), "The report is a PDF: 'a.txt' should end in .pdf."),
        (("report", "U1", "--pdf", "none/a.pdf"), "There is no folder 'none' for the report. Make it first."),
        (("report", "U9", "--pdf", "a.pdf"), "No unit 'U9'."),
        (("film", "U1"), "No line joins a film with this log."),
        (("film", "U1", "--vtt", "a.txt"), "The track is a VTT: 'a.txt' should end in .vtt."),
        (("film", "U1", "--length", "1:99"), "minutes and seconds go up to 59"),
        (("log", "U1", "clapped line 7 at 00:01:00 of a.mp4"), "U1 has no line 7 that holds"),
    ],
)
def test_what_is_wrong_is_said_and_nothing_is_written(run: Run, words: tuple[str, ...], message: str) -> None:
    done = run(*words)
    assert done.exit_code == 2
    assert message in done.stderr
    assert not list(Path().glob("a.*"))


def test_without_the_extra_the_report_says_what_to_install(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "typst", None)
    done = run("report", "U1", "--pdf", "a.pdf")
    assert done.exit_code == 2
    assert "pip install 'knowngood[paper]'" in done.stderr


@pytest.mark.parametrize(
    ("serial", "left"), [("KX100-4711", "…711"), ("KX100-88-00471199", "…1199"), ("AB12", "…2"), ("7", "…")]
)
def test_of_a_serial_number_no_more_than_a_third_is_left(serial: str, left: str) -> None:
    assert masked(serial) == left
    assert without_serials(f"read off: {serial.lower()}.", [serial]) == f"read off: {left}."


def test_the_longer_of_two_serials_is_masked_as_a_whole() -> None:
    assert without_serials("KX100-4711-B", ["KX100", "KX100-4711-B"]) == "…11-B"


@pytest.mark.parametrize(
    ("line", "shown"),
    [
        (
            "bought some-map for EUR 45 past dropped from house-clearance",
            "bought some-map for [price] past dropped from [name]",
        ),
        ("ordered fan new from northparts for EUR 8 -- from Paul", "ordered fan new from [name] for [price]"),
        ("graded marked -- paid EUR 8 for polish", "graded marked -- paid [price] for polish"),
        ("noted Paul rang", "noted [words]"),
    ],
)
def test_a_line_for_buyers(line: str, shown: str) -> None:
    assert for_buyers(ev.parse(line)) == shown


def drawn(rows: list[tuple[float | None, dict[str, float]]]) -> xml.Element:
    answer = shapes.FilmAnswer(
        **{"unit": "U1", "log_seq": 9, "film": None, "starts": "", "marks": [], "rate": 1.0, "worst": 0.0, "end": 0.0},
        **{"length_known": False, "chapters": [], "hidden": [], "vtt": None, "hide": None, "picture": "a.svg"},
        suspected=[
            shapes.SuspectedShape(seq=seq, line="x", known_good=good, suspects=of)
            for seq, (good, of) in enumerate(rows, start=1)
        ],
    )
    return xml.fromstring(suspects_picture.picture(answer, "A fan"))


def test_suspects_are_told_apart_without_colour_and_named_at_their_lines() -> None:
    svg = drawn(
        [(0.1, {"a-b": 0.9, "c": 0.3}), (None, {}), (0.2, {"a-b": 0.9, "c": 0.3}), (0.8, {"a-b": 0.0, "c": 0.2})]
    )
    paths = svg.findall(f"{SVG}path")
    assert [one.get("class") for one in paths] == ["good", "s0", "s1"]
    assert len({one.get("stroke-dasharray") for one in paths}) == 2  # none, and the dashes of the second suspect
    assert all(one.get("d", "").count("M") == 2 for one in paths)  # a gap where nothing is known
    words = [one.text for one in svg.findall(f"{SVG}text")]
    assert {"known good 80 %", "a b", "c 20 %"} <= set(words)
    assert "prefers-color-scheme: dark" in (svg.findtext(f"{SVG}style") or "")


def test_names_in_the_picture_lie_on_no_other() -> None:
    svg = drawn([(0.5, dict.fromkeys("abcdef", 0.5)), (0.5, dict.fromkeys("abcdef", 0.5))])
    names = [one for one in svg.findall(f"{SVG}text") if (one.text or "").endswith("50 %")]
    assert len(names) == 7
    heights = sorted(float(one.get("y", "0")) for one in names)
    assert all(low - high >= suspects_picture.NAME_HIGH - 0.2 for high, low in pairwise(heights))


def test_the_picture_alone_needs_no_film(run: Run) -> None:
    run("log", "U1", "tried sound fails")
    done = run("film", "U1", "--picture", "a.svg", "--json")
    assert done.exit_code == 0, done.output
    answer = json.loads(done.stdout)
    assert [one["seq"] for one in answer["suspected"]] == [1, 2]
    assert answer["film"] is None
    assert Path("a.svg").exists()
