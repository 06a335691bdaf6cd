"""Whole tables of marks against their published form in ``data/marks.json``, entry by entry, source on failure.

Statuses stand in the file; what is only remembered is not in it.
"""

from __future__ import annotations

import json
from itertools import product
from pathlib import Path
from typing import Any

import pytest

from knowngood.errors import RangeError
from knowngood.handbook.colour_bands import read_bands
from knowngood.handbook.marks import capacitor_mark, dielectric, inductor_mark, resistor_mark
from knowngood.handbook.preferred import decade, preferred_series

TABLES: dict[str, Any] = json.loads((Path(__file__).parent / "data" / "marks.json").read_text(encoding="utf-8"))
COLOURS = [one for one in TABLES["colours"]["bands"] if one["colour"] != "none"]
E96 = TABLES["positions in E96"]
TWO, ONE = TABLES["classes II and III"], TABLES["class I"]


def as_given(*bands: str) -> Any:
    return next(one for one in read_bands(bands) if one.order == "as given")


@pytest.mark.parametrize("band", COLOURS, ids=lambda one: str(one["colour"]))
def test_a_colour_means_what_the_standard_has_in_each_place(band: dict[str, Any]) -> None:
    colour, source = band["colour"], TABLES["colours"]["source"]
    if band["digit"] is None:
        with pytest.raises(RangeError, match="from neither end"):
            read_bands(("brown", colour, "red", "gold"))
    else:
        assert as_given("brown", colour, "black", "gold").resistance == 10 + band["digit"], source
    assert as_given("brown", "black", colour, "gold").resistance == pytest.approx(10 * band["multiplier"]), source
    if "tolerance" in band:
        found = as_given("brown", "black", "red", colour)
        assert found.tolerance == pytest.approx(band["tolerance"] / 100), source
        assert (f"older tables print {band['older']:g} %" in (found.note or "")) if "older" in band else not found.note
    if "coefficient" in band:
        found = as_given("red", "yellow", "orange", "red", "brown", colour)
        assert found.coefficient == pytest.approx(band["coefficient"] * 1e-6), source


def test_no_band_for_the_tolerance_is_20_per_cent() -> None:
    (published,) = (one for one in TABLES["colours"]["bands"] if one["colour"] == "none")
    assert as_given("yellow", "violet", "red").tolerance == published["tolerance"] / 100


@pytest.mark.parametrize("status", ["confirmed", "second-hand"])
def test_a_tolerance_letter_is_the_published_share_on_every_part(status: str) -> None:
    for letter, percent in TABLES["tolerance letters, per cent"][status].items():
        for found in (
            resistor_mark(f"4R7{letter}")[0],
            capacitor_mark(f"104{letter}")[0],
            inductor_mark(f"4R7{letter}")[0],
        ):
            assert found.low == pytest.approx(found.value * (1 - percent / 100)), letter
            assert found.high == pytest.approx(found.value * (1 + percent / 100)), letter
            assert (status in (found.tolerance or "")) == (status != "confirmed")


def test_below_10_pf_a_tolerance_letter_is_picofarads() -> None:
    for letter, picofarads in TABLES["tolerance letters below 10 pF"]["values"].items():
        found = capacitor_mark(f"4p7{letter}")[0]
        assert found.high == pytest.approx((4.7 + picofarads) * 1e-12)
        assert found.tolerance == f"{picofarads:g} pF"
        assert capacitor_mark(f"10p{letter}")[0].tolerance != found.tolerance


@pytest.mark.parametrize(("digits", "value"), E96["digits"].items())
def test_a_position_in_e96_and_each_letter(digits: str, value: int) -> None:
    for letter, multiplier in E96["letters"].items():
        readings = [one for one in resistor_mark(digits + letter) if one.scheme.startswith("position")]
        assert [one.value for one in readings] == [pytest.approx(value * multiplier)], (letter, E96["source"])


def test_positions_that_are_none_are_refused() -> None:
    for mark in ("00A", "97A", "99C"):
        with pytest.raises(RangeError, match="it would need 01 to 96"):
            resistor_mark(mark)


@pytest.mark.parametrize(("low", "high"), list(product(TWO["low"], TWO["high"])))
def test_every_code_of_classes_two_and_three(low: str, high: str) -> None:
    for letter, (least, most) in TWO["change"].items():
        found = dielectric(low + high + letter)
        assert (found.low_temperature, found.high_temperature) == (TWO["low"][low], TWO["high"][high]), TWO["source"]
        assert (found.change_low, found.change_high) == pytest.approx((least / 100, most / 100)), TWO["source"]


@pytest.mark.parametrize(("figure", "multiplier"), list(product(ONE["figure"], ONE["multiplier"])))
def test_every_code_of_class_one(figure: str, multiplier: str) -> None:
    for letter, spread in ONE["spread"].items():
        found = dielectric(figure + multiplier + letter)
        slope = ONE["figure"][figure] * ONE["multiplier"][multiplier]
        assert found.coefficient == pytest.approx(slope * 1e-6, abs=1e-12), ONE["source"]
        assert found.coefficient_spread == pytest.approx(spread * 1e-6), ONE["source"]


def test_every_other_character_of_a_dielectric_code_is_refused() -> None:
    """What no published table has, or what tables do not agree on, is never guessed."""
    characters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789"
    known = {low + high + last for low, high, last in product(TWO["low"], TWO["high"], TWO["change"])}
    known |= {low + high + last for low, high, last in product(ONE["figure"], ONE["multiplier"], ONE["spread"])}
    known |= {"NP0", "NPO", "COG"}
    for code in {"".join(one) for one in product(characters, repeat=3)} - known:
        with pytest.raises(RangeError):
            dielectric.function(code)


@pytest.mark.parametrize(("series", "values"), TABLES["series"]["values"].items())
def test_a_series_has_the_published_values(series: str, values: list[int]) -> None:
    assert list(preferred_series(series).values) == values, TABLES["series"]["source"]


def test_the_published_exceptions_to_rounding_and_gaps_between_series() -> None:
    table = TABLES["series"]
    for series, value, rounded in table["not by rounding"]:
        assert value in preferred_series(series).values
        assert rounded not in preferred_series(series).values
    assert {*decade(48)} < {*decade(96)} < {*decade(192)}
    assert {*decade(3)} < {*decade(6)} < {*decade(12)} < {*decade(24)}
    for series in (96, 192):
        missing = [10 * one for one in decade(24) if 10 * one not in decade(series)]
        assert missing == table[f"E24 missing from E{series}"], table["source"]
