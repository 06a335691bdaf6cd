"""Readings on rails and contacts: what the meter cannot tell is indeterminate, and said so."""

from __future__ import annotations

import pytest

from knowngood.errors import RangeError
from knowngood.handbook.book import formulas
from knowngood.handbook.rails import (
    cable_drop,
    charge_zone,
    contact,
    contact_resistor,
    pd_decode,
    pd_offer,
    protector,
    rail_reading,
)
from knowngood.handbook.table import table


@pytest.mark.parametrize(
    ("volts", "error", "reading", "means"),
    [
        (0.20, 0.0, "indeterminate", "between no source and default USB"),
        (0.65, 0.0, "indeterminate", "between default USB and 1.5 A"),
        (1.20, 0.0, "indeterminate", "between 1.5 A and 3 A"),
        (0.60, 0.05, "indeterminate", "between default USB and 1.5 A"),
        (0.14, 0.05, "indeterminate", "between no source and default USB"),
        (0.94, 0.05, "1.5 A", "up to 1.5 A"),
        (0.03, 0.01, "no source", "nothing attached"),
        (2.50, 0.0, "indeterminate", "above 2.04 V (from memory)"),
    ],
)
def test_between_the_windows_of_a_contact_nothing_is_read(volts: float, error: float, reading: str, means: str) -> None:
    found = contact(volts, error)
    assert found.reading == reading
    assert found.means.startswith(means)


@pytest.mark.parametrize(
    ("rail", "volts", "error", "verdict"),
    [
        ("atx-5v", 4.74, 0.02, "indeterminate: nearer to the limit than the meter can tell"),
        ("atx-5v", 5.26, 0.02, "indeterminate: nearer to the limit than the meter can tell"),
        ("atx-5v", 4.72, 0.02, "low"),
        ("atx-minus-12v", -10.5, 0.0, "high"),
        ("atx-minus-12v", -11.9, 0.0, "in tolerance"),
        ("atx3-12v", 15.0, 0.0, "not low; no upper limit with a source"),
    ],
)
def test_a_reading_is_held_to_its_window_as_well_as_the_meter_can(
    rail: str, volts: float, error: float, verdict: str
) -> None:
    assert rail_reading(rail, volts, error).verdict == verdict


def test_what_is_from_memory_decides_nothing_about_a_cell() -> None:
    assert protector(4.30).voltage.startswith("indeterminate")
    assert charge_zone(-5.0).startswith("indeterminate")
    assert charge_zone(65.0).startswith("indeterminate")
    assert charge_zone(25.0) == "usual current and voltage"


def test_a_resistor_is_told_its_limits() -> None:
    assert contact_resistor("legacy-cable", 56e3).means == "within 44.8 to 67.2 kohm"
    assert contact_resistor("rd", 1e3).means == "it must be 4.59 to 5.61 kohm"
    assert contact_resistor("rp-to-5v", 56e3).means.startswith("500 mA")
    assert contact_resistor("rp-to-5v", 30e3).means == "between the windows, or beyond them all"


def test_words_and_offers_are_the_same_both_ways() -> None:
    for voltage, current in ((5.0, 3.0), (9.0, 2.22), (20.0, 5.0), (11.85, 0.37)):
        back = pd_decode(pd_offer(voltage, current).word)
        assert (back.voltage, back.current) == (pytest.approx(voltage), pytest.approx(current))


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: pd_decode("1912C"), "'1912C' is no word of 32 bits in hexadecimal; it is written as 0x0001912C"),
        (lambda: pd_decode("0x123456789"), "no word of 32 bits"),
        (lambda: pd_decode("0xC001912C"), "no fixed supply: bits 31 and 30 are 11 and not 00"),
        (lambda: pd_decode("0x4001912C"), "bits 31 and 30 are 01 and not 00"),
        (lambda: pd_decode("0x8001912C"), "bits 31 and 30 are 10 and not 00"),
        (lambda: pd_offer(5.02, 3.0), "5.02 V and 3 A do not go in steps of 50 mV and 10 mA"),
        (lambda: cable_drop(5.0, 3.0, 2.0), "3 A through 2 ohm would take more than the 5 V there are"),
    ],
)
def test_what_makes_no_sense_is_refused(call: object, message: str) -> None:
    with pytest.raises(RangeError) as raised:
        call()  # type: ignore[operator]
    assert message in str(raised.value)


@pytest.mark.parametrize(
    ("formula", "argument", "file", "column"),
    [
        ("rail-reading", "rail", "rails", "name"),
        ("alloy", "alloy", "solder_alloys", "alloy"),
        ("tip", "alloy", "solder_alloys", "alloy"),
        ("profile", "alloy", "solder_alloys", "alloy"),
        ("mixed-alloys", "old_alloy", "solder_alloys", "alloy"),
        ("floor-life", "level", "floor_life", "level"),
        ("bake", "level", "bake", "level"),
    ],
)
def test_the_choices_of_a_page_are_the_rows_of_its_table(formula: str, argument: str, file: str, column: str) -> None:
    choices = formulas()[formula].page.arguments[argument].choices
    assert list(choices) == list(dict.fromkeys(row[column] for row in table(file)))
