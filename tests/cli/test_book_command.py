"""``knowngood book`` from the command line: found, answered, and refused in words."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree as xml

import pytest
from typer.testing import CliRunner

from knowngood.cli.main import app


def said(*words: str, code: int = 0) -> str:
    done = CliRunner().invoke(app, ["book", *words])
    assert done.exit_code == code, done.output
    return done.output


def test_an_answer_shows_result_formula_inputs_source_and_caution() -> None:
    text = said("charge", "--capacitance", "330 uF", "--voltage=400 V", "--resistor", "2k2")
    for part in ("1.377 s", "t = R C ln(V0 / V1)", "resistor 2.2 kohm", "safe 60 V (assumed)", "IEC 62368-1:2018"):
        assert part in text
    assert text.count("! Measure it") == 1


def test_the_book_lists_its_subjects_and_a_subject_what_it_takes() -> None:
    assert "charge" in said()
    assert "--capacitance" in said("charge")
    assert "discharge-time" in said("how", "long", "until", "safe")


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("charge", "--voltage"), "--voltage has no value"),
        (("charge", "--voltage", "3 V", "--voltage", "4 V"), "--voltage stands twice"),
        (("--voltage", "3 V"), "Name a topic before the values"),
        (("zzz",), "Nothing in the book has the words 'zzz'"),
    ],
)
def test_a_question_that_cannot_be_asked_says_why(words: tuple[str, ...], message: str) -> None:
    assert message in said(*words, code=2)


def test_of_several_rows_the_first_says_what_a_figure_means_and_a_text_stands_after_its_name() -> None:
    text = said("jumper", "--width", "1 mm", "--current", "1 A")
    assert text.count("take: AWG") == 2
    assert text.count("diameter: that the measure asks for") == 1
    assert "hint: look there" in said(
        "shorts", "--places", "0, 10, 20 mm", "--drops", "2.9, 2.0, 1.1 mV", "--flat", "0.2 mV", "--uncertainty", "2 uV"
    )


RUN = [(0, 25), (90, 150), (180, 200), (205, 217), (235, 242), (245, 266), (255, 242), (275, 217), (340, 60)]


@pytest.fixture
def measured(tmp_path: Path) -> Path:
    """A log that is too hot, with a gap while it cools."""
    file = tmp_path / "run.csv"
    lines = [
        f"{time},{low + (high - low) * (time - begin) / (end - begin):.1f}"
        for (begin, low), (end, high) in pairwise(RUN)
        for time in range(begin, end)
        if not 280 <= time < 290
    ]
    file.write_text("\ufefftime s,temperature degC\n" + "\n".join(lines), encoding="utf-8")
    return file


def test_a_temperature_log_is_judged_and_drawn(measured: Path, tmp_path: Path) -> None:
    drawn = tmp_path / "run.svg"
    asked = ("profile", "--log", str(measured), "--alloy", "sac305", "--body-limit", "260 C", "--picture", str(drawn))
    text = said(*asked)
    assert f"Picture: {drawn}" in " ".join(text.split())
    assert "at most 260 degC" in " ".join(text.split())
    root = xml.fromstring(drawn.read_text(encoding="utf-8"))
    words = [one.text or "" for one in root.iter() if one.tag.endswith("text")]
    for part in ("Temperature log, SAC305: 1 outside", "266.0", "peak, package", "most for the package, 260 degC"):
        assert any(part in one for one in words), part
    lines = [one for one in root.iter() if one.tag.endswith("polyline")]
    assert len(lines) == 2, "the curve is broken at the gap"
    assert sum(len(one.attrib["points"].split()) for one in lines) == 330
    assert len([one for one in root.iter() if one.tag.endswith("circle")]) == 1


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (
            ("energy", "--capacitance", "1 uF", "--voltage", "9 V"),
            "No picture was drawn: there is none of what was asked.",
        ),
        (("charge",), "Only profile has one."),
        ((), "Only profile has one."),
    ],
)
def test_a_formula_without_a_picture_draws_none_and_says_so(
    words: tuple[str, ...], message: str, tmp_path: Path
) -> None:
    drawn = tmp_path / "none.svg"
    assert message in " ".join(said(*words, "--picture", str(drawn), code=2).split())
    assert not drawn.exists()


def test_a_picture_is_an_svg_in_a_folder_that_is_there(measured: Path) -> None:
    asked = ("profile", "--log", str(measured), "--alloy", "SAC305", "--picture")
    assert "The picture is an SVG: 'run.png' should end in .svg." in said(*asked, "run.png", code=2)
    assert "There is no folder 'nowhere' for the picture." in said(*asked, "nowhere/run.svg", code=2)


def test_many_rows_are_a_table_and_what_is_the_same_in_all_stands_once() -> None:
    text = said("bake", "--level", "3", "--thickness", "1.2 mm")
    assert text.count("J-STD-033 table 4-1") == 1
    assert [line.split()[:2] for line in text.splitlines()[2:5]] == [["125", "degC"], ["90", "degC"], ["40", "degC"]]
