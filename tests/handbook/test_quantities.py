"""Quantities and money as people write them: what is taken, what is refused and with which words, and round trips."""

from __future__ import annotations

import math
from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from knowngood.errors import QuantityError
from knowngood.handbook.quantities import (
    MINOR_DIGITS,
    Expected,
    Money,
    Reading,
    format_expected,
    format_minutes,
    format_quantity,
    minor_digits,
    money_of,
    parse_expected,
    parse_minutes,
    parse_money,
    parse_quantity,
    parse_reading,
    parse_share,
    percent,
    total,
    unit_of,
)

METER_UNITS = ("V", "ohm", "A", "W", "s", "Hz", "F")
CURRENCIES = ("EUR", "USD", "JPY", "KWD", "GBP")


# --- one value ---


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("4k7", "ohm", 4700.0),
        ("4K7", "ohm", 4700.0),
        ("4R7", "ohm", 4.7),
        ("10k", "ohm", 10e3),
        ("56K", "ohm", 56e3),
        ("47R", "ohm", 47.0),
        ("330u", "F", 330e-6),
        ("0R22", "ohm", 0.22),
        ("2M2", "ohm", 2.2e6),
        ("4k7 ohm", "ohm", 4700.0),
        ("100n", "F", 100e-9),
        ("2.2 µ", "H", 2.2e-6),
        ("4k7Ω", "ohm", 4700.0),
        ("4n7", "farad", 4.7e-9),
        ("4.7 kohm", "ohm", 4700.0),
        ("4,7 kΩ", "ohm", 4700.0),
        ("5Ω", "ohm", 5.0),
        ("5 ohms", "ohm", 5.0),
        ("330 uF", "farad", 330e-6),
        ("330 µF", "farad", 330e-6),
        ("12 Mohm", "ohm", 12e6),
        ("12 mohm", "ohm", 0.012),
        ("300 mm^3", "m^3", 300e-9),
        ("15 mm^2", "m^2", 15e-6),
        ("15 x 20 mm", "m^2", 300e-6),
        ("10 degC", "K", 10.0),
        ("18 °F", "K", 10.0),
        ("0.8 C/W", "K/W", 0.8),
        ("3 W/mK", "W/m/K", 3.0),
        ("3 W/(m K)", "W/m/K", 3.0),
        ("25 C", "degC", 25.0),
        ("77 °F", "degC", 25.0),
        ("1 CFM", "m^3/s", 4.71947443e-4),
        (" 5 V ", "V", 5.0),
        ("5", "V", 5.0),
        (".5 V", "V", 0.5),
        ("-0.2 V", "V", -0.2),
        ("+5 V", "V", 5.0),
        ("5e-3 V", "V", 0.005),
        ("8 mm", "mm", 8.0),
        ("15 %", "", 0.15),
        ("1.5 mm^2", "m^2", 1.5e-6),
        ("1.5 mm2", "m^2", 1.5e-6),
        ("0.2 mg/m3", "kg/m^3", 0.2e-6),
        ("15 cNm", "N m", 0.15),
        ("15 cN m", "N m", 0.15),
        ("12 mN m", "N m", 0.012),
        ("0.2 Nm", "N m", 0.2),
        ("1 kgfcm", "N m", 0.0980665),
        ("1 lbf in", "N m", 4.4482216152605 * 0.0254),
        ("10 R", "ohm", 10.0),
        ("2K", "ohm", 2e3),
        ("10 mil", "m", 254e-6),
        ("1 oz", "kg/m^2", 0.028349523125 / 0.09290304),
        ("AWG 36", "m", 0.127e-3),
        ("36 awg", "m", 0.127e-3),
        ("AWG 4/0", "m", 11.684e-3),
        ("15 %", "share", 0.15),
        ("250 ppm", "share", 250e-6),
    ],
)
def test_a_quantity_is_read_as_it_is_written(text: str, unit: str, value: float) -> None:
    assert parse_quantity(text, unit) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize("text", ["AWG 57", "AWG 5/0", "AWG 0/0", "99 AWG"])
def test_a_wire_gauge_that_is_none_is_refused(text: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse_quantity(text, "m")
    assert str(caught.value) == f"{text!r} is no wire gauge. They go from AWG 4/0 to AWG 56."


def test_a_wire_gauge_is_a_length_and_nothing_else() -> None:
    with pytest.raises(QuantityError, match="does not start with a number"):
        parse_quantity("AWG 36", "ohm")


def test_a_temperature_is_not_a_difference() -> None:
    assert parse_quantity("25 degC", "kelvin") == pytest.approx(298.15)
    assert parse_quantity("77 degF", "degC") == pytest.approx(25.0)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "'' does not start with a number. Write it as '12 ohm'."),
        ("about 5", "'about 5' does not start with a number. Write it as '12 ohm'."),
        ("nan", "'nan' does not start with a number. Write it as '12 ohm'."),
        ("5 V", "'5 V' is not in ohm or anything that converts to it."),
        ("5 Ohmm", "'5 Ohmm': the unit 'Ohmm' is not known. Write it as '12 ohm'."),
        ("1 000 ohm", "'1 000 ohm': the unit '000 ohm' is not known. Write it as '12 ohm'."),
        ("4k7 V", "'4k7 V' is not in ohm or anything that converts to it."),
        ("5 (", "'5 (': the unit '(' is not known. Write it as '12 ohm'."),
        ("5 **9**9**9 ohm", "'5 **9**9**9 ohm': the unit '**9**9**9 ohm' is not known. Write it as '12 ohm'."),
    ],
)
def test_a_quantity_that_is_none_is_refused_with_what_would_be_right(text: str, message: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse_quantity(text, "ohm")
    assert str(caught.value) == message


@pytest.mark.parametrize("text", ["1e999", "1e999 ohm", "1e308 kohm", "-1e999", "1e308 gigaohm"])
def test_a_number_too_large_is_refused(text: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse_quantity(text, "ohm")
    assert str(caught.value) == f"{text!r} is too large."


@given(st.text(max_size=12), st.sampled_from(["V", "ohm", "minute", ""]))
def test_no_text_is_a_traceback(text: str, unit: str) -> None:
    with suppress(QuantityError):
        assert math.isfinite(parse_quantity(text, unit))


# --- shares and minutes ---


@pytest.mark.parametrize(
    ("text", "share"), [("15 %", 0.15), ("15%", 0.15), ("0.15", 0.15), (0.15, 0.15), (1, 1.0), (0, 0.0)]
)
def test_a_share_is_written_in_percent_or_as_a_number(text: str | float, share: float) -> None:
    assert parse_share(text) == pytest.approx(share)


@pytest.mark.parametrize("text", ["1.01", "101 %", "-1 %", -0.1, 1.5, math.inf, math.nan])
def test_a_share_outside_zero_to_one_is_refused(text: str | float) -> None:
    with pytest.raises(QuantityError) as caught:
        parse_share(text)
    assert str(caught.value) == f"{text!r} is not a share. Write it between 0 % and 100 %."


@pytest.mark.parametrize(
    ("text", "minutes"),
    [("12 min", 12.0), ("2 h", 120.0), ("1.5 h", 90.0), ("90 s", 1.5), ("1 day", 1440.0), (12, 12.0)],
)
def test_minutes_are_read_from_any_time(text: str | float, minutes: float) -> None:
    assert parse_minutes(text) == pytest.approx(minutes)


def test_a_time_is_not_negative() -> None:
    with pytest.raises(QuantityError) as caught:
        parse_minutes("-3 min")
    assert str(caught.value) == "'-3 min' is a negative time."


@pytest.mark.parametrize(
    ("minutes", "words"),
    [
        (0, "0 min"),
        (0.5, "0.5 min"),
        (1.0, "1 min"),
        (12.4, "12 min"),
        (119, "119 min"),
        (119.6, "2 h 00 min"),
        (125, "2 h 05 min"),
    ],
)
def test_minutes_are_said_in_words(minutes: float, words: str) -> None:
    assert format_minutes(minutes) == words


# --- limits ---


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("5 V +/- 5 %", Expected(5.0, 4.75, 5.25, "V")),
        ("5 V +- 5 %", Expected(5.0, 4.75, 5.25, "V")),
        ("5 V ± 5%", Expected(5.0, 4.75, 5.25, "V")),
        ("5 V+/-500 mV", Expected(5.0, 4.5, 5.5, "V")),
        ("12 V +/- 0.5 V", Expected(12.0, 11.5, 12.5, "V")),
        ("0.5 to 3 ohm", Expected(1.75, 0.5, 3.0, "ohm")),
        ("500 mV to 2 V", Expected(1.25, 0.5, 2.0, "V")),
        ("3 V", Expected(3.0, 3.0, 3.0, "V")),
        ("-12 V +/- 25 %", Expected(-12.0, -15.0, -9.0, "V")),
    ],
)
def test_limits_are_read_as_they_are_written(text: str, expected: Expected) -> None:
    assert parse_expected(text) == expected


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("3 to 0.5 ohm", "'3 to 0.5 ohm' has its limits the wrong way round."),
        ("5 V +/- -1 V", "'5 V +/- -1 V' has its limits the wrong way round."),
        ("5 +/- 5 %", "'5' has no unit. Write it as '12 V'."),
        ("5 V +/- 5 A", "'5 A' is not in V or anything that converts to it."),
        ("5 V +/- 150 %", "'150 %' is not a share. Write it between 0 % and 100 %."),
        ("5 V to 3 ohm", "'5 V' is not in ohm or anything that converts to it."),
        ("1e308 V +/- 1e308 V", "'1e308 V +/- 1e308 V' is too large."),
        ("5 mm", "'5 mm': the unit 'mm' is not one that a meter here reads (V, ohm, A, W, s, degC, Hz, F)."),
    ],
)
def test_limits_that_are_none_are_refused_with_what_would_be_right(text: str, message: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse_expected(text)
    assert str(caught.value) == message


@given(st.floats(0.001, 1e6), st.floats(0.0, 1.0), st.sampled_from(METER_UNITS))
def test_the_nominal_lies_between_its_limits(nominal: float, share: float, unit: str) -> None:
    expected = parse_expected(f"{nominal!r} {unit} +/- {100 * share!r} %" if share <= 0.99 else f"{nominal!r} {unit}")
    assert expected.low <= expected.nominal <= expected.high
    assert expected.nominal == nominal
    assert expected.unit == unit


# --- readings and display ---


@pytest.mark.parametrize(
    ("text", "reading"),
    [
        ("0.03 V", Reading(0.03, "V", "0.03 V")),
        (" 47 mohm ", Reading(0.047, "ohm", "47 mohm")),
        ("1,5 V", Reading(1.5, "V", "1,5 V")),
        ("25 degC", Reading(25.0, "degC", "25 degC")),
        ("4.62", Reading(4.62, "", "4.62")),
        ("4,62", Reading(4.62, "", "4,62")),
        ("OL", Reading(math.inf, "", "OL")),
        ("OL ohm", Reading(math.inf, "ohm", "OL ohm")),
        ("ol kohm", Reading(math.inf, "ohm", "ol kohm")),
    ],
)
def test_a_reading_keeps_what_was_written(text: str, reading: Reading) -> None:
    assert parse_reading(text) == reading


@pytest.mark.parametrize("text", ["12 min", "5 parsec", "five V", "OL furlong", ""])
def test_a_reading_in_no_unit_of_a_meter_is_refused(text: str) -> None:
    with pytest.raises(QuantityError):
        parse_reading(text)


def test_a_prefix_in_place_of_the_point_is_read_off_a_meter_too() -> None:
    assert unit_of("4k7 ohm") == "ohm"
    assert parse_reading("4k7 ohm") == Reading(4700.0, "ohm", "4k7 ohm")
    assert parse_reading("2M2 Ω") == Reading(2.2e6, "ohm", "2M2 Ω")


@pytest.mark.parametrize("text", ["1e999 V", "1e999", "-1e999"])
def test_only_ol_is_an_overload(text: str) -> None:
    with pytest.raises(QuantityError):
        parse_reading(text)


@pytest.mark.parametrize(
    ("text", "unit"), [("mV", "V"), ("5 mV", "V"), ("5 kΩ", "ohm"), ("uF", "F"), ("5 MHz", "Hz"), ("degC", "degC")]
)
def test_the_unit_is_the_one_without_its_prefix(text: str, unit: str) -> None:
    assert unit_of(text) == unit


@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [
        (0.00033, "F", "330 uF"),
        (4700, "ohm", "4.7 kohm"),
        (1234567, "ohm", "1.235 Mohm"),
        (0.047, "ohm", "47 mohm"),
        (-0.012, "V", "-12 mV"),
        (999.96, "V", "1 kV"),
        (999950, "ohm", "1 Mohm"),
        (0.9995, "V", "0.9995 V"),
        (0, "V", "0 V"),
        (25, "degC", "25 degC"),
        (12, "", "12"),
        (1e-15, "F", "1e-15 F"),
        (math.inf, "ohm", "OL ohm"),
        (math.inf, "", "OL"),
    ],
)
def test_a_value_is_shown_with_prefix_and_four_digits(value: float, unit: str, shown: str) -> None:
    assert format_quantity(value, unit) == shown


@given(st.floats(1e-11, 9e11), st.sampled_from(METER_UNITS), st.booleans())
def test_what_is_shown_is_read_back_to_four_digits(value: float, unit: str, negative: bool) -> None:
    signed = -value if negative else value
    shown = format_quantity(signed, unit)
    assert parse_reading(shown).value == pytest.approx(signed, rel=6e-4)
    assert parse_reading(shown).unit == unit
    assert format_quantity(parse_reading(shown).value, unit) == shown


@given(st.floats(-1e6, 1e6), st.sampled_from(METER_UNITS))
def test_a_number_with_its_unit_is_read_exactly(value: float, unit: str) -> None:
    assert parse_reading(f"{value!r} {unit}").value == value


# --- money ---


@pytest.mark.parametrize(
    ("text", "money", "shown"),
    [
        ("EUR 14", Money("EUR", 1400), "EUR 14"),
        ("EUR 14.50", Money("EUR", 1450), "EUR 14.50"),
        ("EUR 14,5", Money("EUR", 1450), "EUR 14.50"),
        ("EUR14.5", Money("EUR", 1450), "EUR 14.50"),
        (" EUR 0.05 ", Money("EUR", 5), "EUR 0.05"),
        ("EUR -3.20", Money("EUR", -320), "EUR -3.20"),
        ("EUR -0.05", Money("EUR", -5), "EUR -0.05"),
        ("JPY 1200", Money("JPY", 1200), "JPY 1200"),
        ("KWD 1.234", Money("KWD", 1234), "KWD 1.234"),
        ("KWD 0.5", Money("KWD", 500), "KWD 0.500"),
    ],
)
def test_money_is_read_and_shown(text: str, money: Money, shown: str) -> None:
    assert parse_money(text) == money
    assert str(money) == shown


@pytest.mark.parametrize(
    "text", ["", "14", "5 EUR", "eur 5", "€ 5", "EUR", "EUR +5", "EUR 1.000,50", "EUR 1e3", "EURO 5"]
)
def test_what_is_no_money_is_refused_with_what_would_be_right(text: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse_money(text)
    assert str(caught.value) == f"{text!r} is not an amount of money. Write the currency's code first, as 'EUR 14.50'."


@pytest.mark.parametrize(
    ("text", "currency", "digits"), [("EUR 1.005", "EUR", 2), ("JPY 1.5", "JPY", 0), ("KWD 1.2345", "KWD", 3)]
)
def test_money_has_no_more_digits_than_its_currency(text: str, currency: str, digits: int) -> None:
    with pytest.raises(QuantityError) as caught:
        parse_money(text)
    assert str(caught.value) == f"{text!r} has more digits after the point than {currency} has ({digits})."


def test_currencies_with_other_digits_are_those_of_iso_4217() -> None:
    assert {minor_digits(one) for one in ("JPY", "KRW", "ISK", "CLP", "VND")} == {0}
    assert {minor_digits(one) for one in ("BHD", "KWD", "JOD", "TND", "OMR")} == {3}
    assert {minor_digits(one) for one in ("EUR", "USD", "GBP", "CHF")} == {2}
    assert set(MINOR_DIGITS.values()) == {0, 3}


@pytest.mark.parametrize(
    ("currency", "major", "minor"), [("EUR", 1.5, 150), ("JPY", 1.6, 2), ("KWD", 1.2346, 1235), ("EUR", -0.106, -11)]
)
def test_an_expectation_is_booked_to_the_last_digit_of_its_currency(currency: str, major: float, minor: int) -> None:
    assert money_of(currency, major) == Money(currency, minor)


AMOUNTS = st.integers(-(10**12), 10**12)


@given(AMOUNTS, st.sampled_from(CURRENCIES))
def test_money_that_is_shown_is_read_back(minor: int, currency: str) -> None:
    assert parse_money(str(Money(currency, minor))) == Money(currency, minor)


@given(AMOUNTS, AMOUNTS, st.sampled_from(CURRENCIES))
def test_money_adds_in_whole_minor_units(one: int, other: int, currency: str) -> None:
    left, right = Money(currency, one), Money(currency, other)
    assert left + right == Money(currency, one + other)
    assert left - right == left + -right
    for result in (left + right, left - right, -left, total([left, right], currency)):
        assert type(result.minor) is int
    assert (left < right) == (one < other)


def test_ten_cents_ten_times_is_one() -> None:
    """The sum that a float gets wrong."""
    assert total([parse_money("EUR 0.10")] * 10, "EUR") == parse_money("EUR 1")
    assert total([], "EUR") == Money("EUR", 0)


def test_large_sums_lose_no_cent() -> None:
    assert parse_money("EUR 90071992547409.93") + parse_money("EUR 0.01") == Money("EUR", 9007199254740994)


@pytest.mark.parametrize("other", [0.5, 1, "EUR 1", None])
def test_money_meets_no_bare_number(other: object) -> None:
    with pytest.raises((TypeError, AttributeError)):
        Money("EUR", 100) + other  # type: ignore[operator]
    with pytest.raises(TypeError):
        Money("EUR", 100) * other  # type: ignore[operator]


def test_two_currencies_do_not_add() -> None:
    with pytest.raises(QuantityError) as caught:
        Money("EUR", 100) + Money("USD", 100)
    assert str(caught.value) == "EUR 1 and USD 1: two currencies cannot be added. Book both in one."
    with pytest.raises(QuantityError):
        Money("EUR", 100) - Money("USD", 100)
    with pytest.raises(QuantityError):
        total([Money("USD", 1)], "EUR")


def test_major_units_are_for_expectations() -> None:
    assert (Money("EUR", 1450).major, Money("JPY", 12).major, Money("KWD", 1234).major) == (14.5, 12.0, 1.234)


# --- digits, limits and chances as shown ---


@pytest.mark.parametrize(
    ("text", "digit"),
    [
        *(
            ("4.62 V", 0.01),
            ("-4,62 V", 0.01),
            ("12 V", 1.0),
            ("330 mV", 1e-3),
            ("4k7 ohm", 100.0),
            ("0.050 kohm", 1.0),
        ),
        *(("1.5e3 ohm", 100.0), ("15E2 mV", 0.1), ("0.00 V", 0.0), ("OL ohm", 0.0), ("12", 1.0)),
    ],
)
def test_the_last_digit_as_written(text: str, digit: float) -> None:
    assert parse_reading(text).digit == pytest.approx(digit)


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("12 V +/- 5 %", "12 V +/- 5 %"),
        ("5 V +/- 2.5 %", "5 V +/- 2.5 %"),
        ("4.875 V to 5.125 V", "5 V +/- 2.5 %"),
        ("5 V +/- 0.06 %", "4.997 V to 5.003 V"),
        ("10 V +/- 30 %", "10 V +/- 30 %"),
        ("10 V +/- 30.1 %", "6.99 V to 13.01 V"),
        ("20 ohm to 1 kohm", "20 ohm to 1 kohm"),
        ("1 kohm +/- 0.2 kohm", "1 kohm +/- 20 %"),
        ("-1 V to 1 V", "-1 V to 1 V"),
        ("3.3 V", "3.3 V"),
    ],
)
def test_limits_are_shown_as_a_tolerance_where_it_is_plain(text: str, shown: str) -> None:
    assert format_expected(parse_expected(text)) == shown


@pytest.mark.parametrize(
    ("chance", "shown"),
    [
        *(
            (0.0, "< 0.1 %"),
            (0.00099, "< 0.1 %"),
            (0.001, "0.1 %"),
            (0.042, "4.2 %"),
            (0.0999, "10.0 %"),
            (0.1, "10 %"),
        ),
        *((0.38, "38 %"), (0.9699, "97 %"), (0.97, "97 % +"), (1.0, "97 % +")),
    ],
)
def test_a_chance_is_never_shown_as_none_or_certain(chance: float, shown: str) -> None:
    assert percent(chance) == shown


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        *(
            ("3 %", "V/V", 0.03),
            ("3 %", "pct", 3.0),
            ("2 kΩ m", "ohm m", 2e3),
            ("5 %", "share", 0.05),
            ("200 ppm", "", 2e-4),
            ("2 mm2", "m^2", 2e-6),
        ),
        *(("10 kΩ/m", "ohm/m", 1e4), ("12 cNm", "N m", 0.12), ("30 CFM", "m^3/s", 0.0141584)),
        *(("2 MV", "V", 2e6), ("2 min", "s", 120.0), ("2 kV/m", "V/m", 2e3), ("1 lbfin", "N m", 0.112985)),
    ],
)
def test_units_of_the_bench_are_converted(text: str, unit: str, value: float) -> None:
    assert parse_quantity(text, unit) == pytest.approx(value, rel=1e-5)
