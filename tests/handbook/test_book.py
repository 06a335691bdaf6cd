"""The book asked with quantities as written, by subject, by formula and by words."""

from __future__ import annotations

import pytest

from knowngood.errors import KnowngoodError, NotFoundError, QuantityError, RangeError
from knowngood.handbook import book
from knowngood.handbook.book import ask, find, shown

CHARGED = {"capacitance": "330 uF", "voltage": "400 V"}


def test_a_subject_answers_with_every_formula_that_has_what_it_needs() -> None:
    found = ask("charge", {**CHARGED, "resistor": "2k2"})
    by_name = {one.formula.name: one for one in found.answers}
    assert {"energy", "discharge-time"} <= set(by_name)
    assert by_name["energy"].results[0][0].text() == "26.4 J"
    assumed = {one.name for one in by_name["discharge-time"].inputs if one.assumed}
    assert assumed == {"safe"}


def test_a_formula_that_does_not_hold_says_so_beside_those_that_do() -> None:
    found = ask("charge", {**CHARGED, "voltage": "24 V", "resistor": "2k2"})
    assert "energy" in [one.formula.name for one in found.answers]
    assert "discharge-time: it starts at 24 V, already below 60 V." in found.refused


@pytest.mark.parametrize(
    ("topic", "given", "error", "message"),
    [
        ("charge", {"safe": "3 V"}, QuantityError, "needs --"),
        ("charge", {"volts": "3"}, QuantityError, "charge has no --volts. It has --"),
        ("discharge-time", CHARGED, QuantityError, "discharge-time needs --resistor as well."),
        ("energy", {**CHARGED, "capacitance": "-1"}, RangeError, "energy: capacitance is -1 F; valid is above 0 to"),
        ("energy", {**CHARGED, "capacitance": "3 V"}, QuantityError, "'3 V' is not in F"),
        (
            "electrolytic-fits",
            {"old_voltage": "3 V"},
            QuantityError,
            "electrolytic-fits needs --old-capacitance, --new-capacitance, --new-voltage as well.",
        ),
        ("parts", {"old_esr": "1"}, QuantityError, "With --old-esr, electrolytic-fits needs --old-capacitance, --new-"),
        ("wire-size", {"wire_size": "1"}, QuantityError, "wire-size has no --wire-size. It has --"),
        ("fastener-term", {"undone": "maybe", "again": "no"}, QuantityError, "--undone is yes or no, not 'maybe'."),
        (
            "battery-transport",
            {"nominal": "11.1 V", "capacity": "5.2 Ah", "cells": "1.5"},
            QuantityError,
            "--cells is a whole number, not 1.5.",
        ),
        ("robust", {"readings": "1 mV, 2, 3 mV"}, QuantityError, "'1 mV, 2, 3 mV': write the unit with each of them"),
        ("robust", {"readings": "1 mV, 2, 3"}, QuantityError, "'1 mV, 2, 3': write the unit with each of them"),
        ("profile", {"alloy": "sac305", "log": "a,b\n\n1,2,3"}, QuantityError, "log, line 3: 3 columns; it is rows"),
        ("chrage", CHARGED, NotFoundError, "The book has no topic 'chrage'. It has "),
    ],
)
def test_a_wrong_question_says_what_would_be_right(
    topic: str, given: dict[str, str], error: type[KnowngoodError], message: str
) -> None:
    with pytest.raises(error) as raised:
        ask(topic, given)
    assert message in str(raised.value)


def test_a_choice_is_taken_in_any_case_where_only_one_is_meant() -> None:
    assert ask("preferred-series", {"series": "e6"}).answers[0].results[0][0].text() == "6"
    assert ask("voltage-letter", {"letter": "e"}).answers[0].results[0][0].text() == "2.5 V"
    assert ask("voltage-letter", {"letter": "E"}).answers[0].results[0][0].text() == "25 V"


def test_words_find_the_page() -> None:
    assert find("how long until the capacitor is safe")[0].name == "discharge-time"
    assert find("zzz") == find("what is this?") == []
    assert find("what wire replaces a burnt trace")[0].name == "jumper"
    assert find("is 4.62 V on a 5 V rail a fault or the meter")[0].name == "conformity"
    assert find("ogether") == []
    assert find("what does 68C on this resistor mean?")[0].name == "resistor-mark"
    assert find("how long will this electrolytic last at 65 degrees")[0].name == "electrolytic-life"


def test_a_word_may_be_one_of_several_or_in_a_name() -> None:
    assert find("gauges") == find("gauge") != []
    assert find("r") == find("A") == []
    assert find("Trace-Current?") == find("trace current")
    assert find("external")[0].name == "trace-current"
    assert [one.name for one in find("Jianghai")] == ["electrolytic-life", "ripple-heating"]


def test_an_answer_shows_what_was_given_assumed_and_found() -> None:
    found = ask("robust", {"readings": "1, 2, +3e0 mV"})
    (one,) = found.answers
    assert found.refused == ()
    assert [(value.name, value.text(), value.assumed) for value in one.inputs] == [
        ("readings", "1 mV, 2 mV, 3 mV", False)
    ]
    assert {value.name: value.text() for value in one.results[0]} == {
        "median": "2 mV",
        "mad": "1 mV",
        "scale": "1.483 mV",
        "iqr scale": "741.3 uV",
        "farthest": "1 mV",
        "modified z": "-0.6745",
        "outliers": "none",
    }
    (one,) = ask("robust", {"readings": "1, -2.5e-3, 3 uV"}).answers
    assert one.inputs[0].value == pytest.approx((1e-6, -2.5e-9, 3e-6))
    (one,) = ask("from-limits", {"low": "1 mV", "high": "3 mV"}).answers
    assert [(value.name, value.assumed) for value in one.inputs] == [("low", False), ("high", False), ("shape", True)]
    assert one.results[0][0].text() == "577.4 uV"
    (one,) = ask("fastener-term", {"undone": "yes", "again": "no"}).answers
    assert [value.text() for value in one.inputs] == ["yes", "no"]
    (one,) = ask("colour-bands", {"bands": "Brown, black ,RED"}).answers
    assert one.inputs[0].text() == "Brown, black, RED"
    assert len(one.results) == 2


def test_every_subject_says_what_it_answers() -> None:
    for name, module in book.subjects().items():
        assert (module.__doc__ or "").strip(), name
        assert book.of_subject(name), name


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (0.794, "s", "794 ms"),
        (7500.0, "s", "2.083 h"),
        (48 * 3600.0, "s", "48 h"),
        (312 * 3600.0, "s", "13 days"),
        (40000 * 3600.0, "s", "4.563 years (40000 h)"),
        (0.0125, "share", "1.25 %"),
        (-750e-6, "1/K", "-750 ppm/K"),
        (40.518e-6, "V/K", "40.52 uV/K"),
        (1.6e-6, "m^2", "1.6 mm^2"),
        (300e-9, "m^3", "300 mm^3"),
        (8.3956e-3, "m^3/s", "8.396 L/s"),
        (0.074, "K/W", "0.074 K/W"),
        (0.35, "N m", "35 cN m"),
        (1.2, "N m", "1.2 N m"),
        (5e-8, "kg/m^3", "0.05 mg/m^3"),
        (50e-6, "m^3", "0.05 l"),
        (True, "", "yes"),
        (1.3e-195, "V", "0 V"),
        (-0.04762, "share", "-4.762 %"),
        (4e-11, "share", "below 0.0001 %"),
        (-0.24, "V/m", "-240 uV/mm"),
        ("black", "", "black"),
        (False, "", "no"),
        (120.0, "s", "2 min"),
        (119.0, "s", "119 s"),
        (7200.0, "s", "2 h"),
        (432000.0, "s", "5 days"),
        (63115200.0, "s", "2 years (17532 h)"),
        (63000000.0, "s", "729.2 days"),
        (1e-5, "m^3", "0.01 l"),
        (9e-6, "m^3", "9000 mm^3"),
        (1.0, "m^3", "1 m^3"),
        (0.99, "m^2", "9.9e+05 mm^2"),
        (1.0, "m^2", "1 m^2"),
        (-1.0, "N m", "-1 N m"),
        (-0.5, "N m", "-50 cN m"),
        (0.0, "share", "0 %"),
        (1e-6, "share", "0.0001 %"),
        (1e-21, "V", "1e-21 V"),
        (3.0, "", "3"),
    ],
)
def test_values_are_shown_as_a_person_writes_them(value: float | str | bool, unit: str, text: str) -> None:
    assert shown(value, unit) == text


def test_a_range_is_shown_as_a_person_writes_it() -> None:
    pages = {one.name: one.page for one in book.formulas().values()}
    assert book.valid(pages["discharge-time"].arguments["resistor"]) == "above 0 to 1 Tohm"
    assert book.valid(pages["interface"].arguments["bond_line"]) == "above 0 to 20 mm"
    assert book.valid(pages["soak-time"].arguments["shows_every"]) == "above 0"
    assert book.valid(pages["floor-life"].arguments["level"]).startswith("one of 1, 2, 2a, 3")
    assert book.valid(pages["ntc-resistance"].arguments["temperature"]) == "-60 to 300 degC"
