"""``knowngood book`` from the command line: found, answered, and refused in words."""

from __future__ import annotations

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
