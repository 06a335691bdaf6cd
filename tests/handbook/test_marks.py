"""Marks that can be read in more ways than one, marks that are refused, and values made from stock."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from knowngood.errors import RangeError
from knowngood.handbook.book import ask
from knowngood.handbook.marks import (
    capacitor_mark,
    colour_bands,
    dielectric,
    inductor_mark,
    polarity_mark,
    resistor_mark,
    voltage_letter,
)
from knowngood.handbook.preferred import (
    capacitor_from_stock,
    decade,
    preferred_capacitance,
    preferred_resistance,
    rank,
    resistor_from_stock,
)


@pytest.mark.parametrize(
    ("mark", "values"),
    [
        ("10R", [10.0, 1.24]),
        ("47E", [47.0, 3.01e6]),
        ("47R", [47.0, 3.01]),
        ("01R", [1.0]),
        ("472K", [4700.0, 472e3]),
        ("103M", [10e3, 103e6]),
        ("0R22", [0.22]),
        ("4R7J", [4.7]),
        ("68c", [49.9e3]),
        (" 4 k 7 ", [4700.0]),
        ("0000", [0.0]),
    ],
)
def test_a_resistor_has_every_reading_that_its_mark_allows(mark: str, values: list[float]) -> None:
    assert [one.value for one in resistor_mark(mark)] == pytest.approx(values)


@pytest.mark.parametrize(
    ("mark", "values"),
    [
        ("220", [22e-12, 220e-12, 220e-6]),
        ("47", [47e-12, 47e-6]),
        ("1000", [1e-9, 1e-3]),
        ("2R2", [2.2e-12, 2.2e-6]),
        (".47", [0.47e-6]),
        ("4.7", [4.7e-12, 4.7e-6]),
        ("4N7", [4.7e-9]),
        ("2µ2", [2.2e-6]),
        ("104P", [100e-9, 104e-12]),
        ("478", [0.47e-12]),
        ("104", [100e-9]),
    ],
)
def test_a_capacitor_has_every_reading_that_its_mark_allows(mark: str, values: list[float]) -> None:
    assert [one.value for one in capacitor_mark(mark)] == pytest.approx(values)


@pytest.mark.parametrize(("mark", "values"), [("270N", [270e-9, 27e-6]), ("101K", [100e-6]), ("22NJ", [22e-9])])
def test_an_inductor_has_every_reading_that_its_mark_allows(mark: str, values: list[float]) -> None:
    assert [one.value for one in inductor_mark(mark)] == pytest.approx(values)


@pytest.mark.parametrize(
    ("asked", "note"),
    [
        (lambda: resistor_mark("10R")[1].note, "letter R is second-hand"),
        (lambda: resistor_mark("12S")[0].note, "letter S is second-hand"),
        (lambda: resistor_mark("4m7")[0].note, "a small m would be milliohm, from memory: look again"),
        (
            lambda: resistor_mark("47G")[0].note,
            "as a position in E96 it is not decoded: makers do not agree on the letter G",
        ),
        (lambda: resistor_mark("472K")[1].note, "no preferred value, so unlikely"),
        (lambda: resistor_mark("472K")[0].note, None),
        (lambda: capacitor_mark("229")[0].note, "last digits 8 and 9 are from memory"),
        (lambda: capacitor_mark("47")[0].note, "common practice, no source"),
        (lambda: capacitor_mark("2R2")[1].note, "from memory"),
        (lambda: capacitor_mark("104Z")[0].tolerance, "-20 to +80 % (from memory)"),
        (lambda: inductor_mark("101N")[0].tolerance, "30 % (from memory)"),
        (
            lambda: colour_bands(("black", "yellow", "violet", "red", "brown"))[0].note,
            "begins with 0, which is unusual",
        ),
        (
            lambda: colour_bands(("brown", "black", "pink"))[0].note,
            "pink is from memory; no band for the tolerance: 20 %",
        ),
        (
            lambda: colour_bands(("brown", "black", "red", "grey"))[0].note,
            "this tolerance is from memory; tolerance by the",
        ),
        (
            lambda: colour_bands(("brown", "black", "black", "red", "brown", "blue"))[0].note,
            "this temperature coefficient is from memory",
        ),
        (lambda: polarity_mark("aluminium").known, "from memory: check with a meter or the board"),
    ],
)
def test_what_is_not_sure_is_said_at_the_reading(asked: Any, note: str | None) -> None:
    found = asked()
    assert found == note or (note and (found or "").startswith(note))


PRACTICE = "common practice, no source"


@pytest.mark.parametrize(
    ("formula", "mark", "readings"),
    [
        (
            resistor_mark,
            "4m7J",
            [("M is the decimal point", "5 %", "a small m would be milliohm, from memory: look again")],
        ),
        (
            resistor_mark,
            "472K",
            [
                ("two digits and a count of zeros", "10 %", None),
                ("K is the decimal point", None, "no preferred value, so unlikely"),
            ],
        ),
        (
            resistor_mark,
            "10R",
            [
                ("R is the decimal point", None, None),
                ("position in E96 and a multiplier letter", "1 %", "letter R is second-hand"),
            ],
        ),
        (resistor_mark, "1001", [("three digits and a count of zeros", None, None)]),
        (resistor_mark, "000", [("jumper", None, None)]),
        (capacitor_mark, "4p7C", [("p is the decimal point", "0.25 pF", None)]),
        (
            capacitor_mark,
            "2R2D",
            [
                ("R is the decimal point, pF: ceramic or film", "0.5 pF", "from memory"),
                ("R is the decimal point, uF: electrolytic or film", "0.5 %", "from memory"),
            ],
        ),
        (
            capacitor_mark,
            "220J",
            [
                ("two digits and a count of zeros, pF", "5 %", None),
                ("as it stands, pF: ceramic or film", "5 %", PRACTICE),
                ("as it stands, uF: electrolytic or film", "5 %", PRACTICE),
            ],
        ),
        (capacitor_mark, "229", [("two digits, 9 for x0.1", None, "last digits 8 and 9 are from memory")]),
        (capacitor_mark, ".47M", [("as it stands, uF: electrolytic or film", "20 % (second-hand)", PRACTICE)]),
        (inductor_mark, "4R7M", [("R is the decimal point, uH", "20 % (second-hand)", None)]),
        (inductor_mark, "22N", [("N is the decimal point, nH", None, None)]),
        (inductor_mark, "101K", [("two digits and a count of zeros, uH", "10 %", None)]),
    ],
)
def test_a_reading_says_its_scheme_its_tolerance_and_what_speaks_against_it(
    formula: Any, mark: str, readings: list[tuple[str, str | None, str | None]]
) -> None:
    assert [(one.scheme, one.tolerance, one.note) for one in formula(mark)] == readings


def test_limits_of_bands_and_of_small_capacitors() -> None:
    found = colour_bands(("yellow", "violet", "red", "gold"))[0]
    assert (found.low, found.high) == pytest.approx((4465.0, 4935.0))
    assert capacitor_mark("4p7C")[0].low == pytest.approx(4.45e-12)
    assert capacitor_mark("p33D")[0].low == 0.0
    assert capacitor_mark("478")[0].scheme == "two digits, 8 for x0.01"
    assert capacitor_mark("100J")[0].scheme == "two digits and a count of zeros, pF"


def test_six_bands_end_in_a_temperature_coefficient_and_never_in_gold() -> None:
    six = ("brown", "black", "black", "red", "brown", "red")
    assert [one.coefficient for one in colour_bands(six)] == pytest.approx([50e-6])
    with pytest.raises(RangeError, match="can be read from neither end"):
        colour_bands((*six[:5], "gold"))


def test_uneven_tolerances_lie_as_the_letter_has_them() -> None:
    found = capacitor_mark("104Z")[0]
    assert (found.low, found.high) == pytest.approx((80e-9, 180e-9))


def test_bands_that_read_the_same_both_ways_are_one_reading_and_one_black_band_a_jumper() -> None:
    assert len(colour_bands(("brown", "black", "brown"))) == 1
    assert (colour_bands(("black",))[0].resistance, colour_bands(("black",))[0].order) == (0.0, "jumper")
    assert [one.order for one in colour_bands(("gold", "red", "purple", "yellow"))] == ["from the other end"]
    assert voltage_letter("e") == 2.5


@pytest.mark.parametrize(
    ("formula", "argument", "message"),
    [
        (resistor_mark, "X7R", "resistor-mark: 'X7R' is not decoded: no scheme has such a mark. Measure it."),
        (resistor_mark, "00G", "not decoded: makers do not agree on the letter G"),
        (resistor_mark, "", "resistor-mark: '' is not decoded"),
        (resistor_mark, "R", "resistor-mark: 'R' is not decoded"),
        (capacitor_mark, "X7R", "(a code like X7R is a dielectric: ask with --code)"),
        (capacitor_mark, "000", "capacitor-mark: '000' is not decoded"),
        (inductor_mark, "68C", "inductor-mark: '68C' is not decoded: no scheme has such a mark. Measure it."),
        (colour_bands, ("red", "mauve", "red"), "'mauve' is no colour of a band. There are black, brown, "),
        (colour_bands, ("red", "red"), "2 bands; a resistor has 3 to 6, or one black band as a jumper."),
        (colour_bands, ("red",) * 7, "7 bands; a resistor has 3 to 6"),
        (colour_bands, ("red",), "1 bands; a resistor has 3 to 6"),
        (colour_bands, ("gold", "red", "gold"), "gold, red, gold can be read from neither end."),
        (colour_bands, ("black", "black", "black"), "can be read from neither end"),
        (colour_bands, ("white", "red", "red", "red", "white"), "can be read from neither end"),
        (dielectric, "X7", "dielectric: 'X7' is no dielectric code; it has three characters, as X7R or C0G."),
    ],
)
def test_a_mark_that_is_none_is_refused_with_the_reason(formula: Any, argument: Any, message: str) -> None:
    with pytest.raises(RangeError) as raised:
        formula(argument)
    assert message in str(raised.value)
    assert str(raised.value).startswith(f"{formula.name}: ")


def test_a_mark_of_an_unknown_part_is_read_as_each_kind() -> None:
    found = ask("marks", {"mark": "1001"})
    assert [one.formula.name for one in found.answers] == ["resistor-mark"]
    assert [one.partition(":")[0] for one in found.refused] == ["capacitor-mark", "inductor-mark"]
    found = ask("marks", {"mark": "4R7"})
    assert [one.formula.name for one in found.answers] == ["resistor-mark", "capacitor-mark", "inductor-mark"]


# --- preferred values and stock ---


@given(st.floats(1e-12, 1e11), st.sampled_from([3, 6, 12, 24, 48, 96, 192]))
def test_no_made_value_is_nearer(value: float, count: int) -> None:
    found = preferred_resistance(value, f"E{count}") if value > 1e-11 else preferred_capacitance(value, f"E{count}")
    made = [float(f"{one}e{power}") for one in decade(count) for power in range(-15, 13)]
    assert abs(found.nearest - value) == pytest.approx(min(abs(one - value) for one in made), rel=1e-9, abs=1e-30)
    assert found.below <= value * (1 + 1e-9)
    assert found.above >= value * (1 - 1e-9)
    assert found.error == pytest.approx(found.nearest / value - 1.0)


def test_how_usual_a_value_is() -> None:
    assert [rank(one) for one in (4.7e-9, 104.0, 472.0, 0.0)] == [0, 1, 2, 2]


def test_one_part_that_fits_comes_before_two_that_fit_better() -> None:
    found = resistor_from_stock(3125.0, (1e3, 2.2e3, 3e3, 6.2e3), 0.05)
    assert [(one.value, one.parts, one.how) for one in found[:2]] == [
        (3000.0, (3000.0,), "one part"),
        (3100.0, (6200.0, 6200.0), "in parallel"),
    ]
    assert found[0].error == pytest.approx(-0.04)
    assert [one.fits for one in found] == [True, True, True]


def test_a_part_at_the_edge_of_its_tolerance_fits() -> None:
    for have, tolerance, fits in ((105.0, 0.05, True), (105.01, 0.05, False), (100.0, 0.0, True)):
        assert resistor_from_stock(100.0, (have,), tolerance)[0].fits is fits


def test_what_does_not_fit_comes_last_the_nearest_first() -> None:
    found = capacitor_from_stock(100e-6, (10e-6, 47e-6), 0.05)
    assert [(one.how, one.fits) for one in found] == [
        ("in parallel", False),
        ("one part", False),
        ("in series", False),
    ]
    assert found[0].value == pytest.approx(94e-6)
    assert found[2].value == pytest.approx(23.5e-6)
