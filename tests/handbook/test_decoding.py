"""What a mark may mean, all schemes together, and a loose part as written. The schemes: test_marks, tests/published."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from knowngood.errors import QuantityError
from knowngood.handbook import parts
from knowngood.handbook.decoding import decode, rules
from knowngood.handbook.small_parts import Ratings, SmallPart, compared, read, unsaid


def meanings(mark: str, kind: str = "", make: str = "") -> list[str]:
    return [one.part.text() for one in decode(mark, kind, make).meanings]


def test_a_mark_is_read_by_every_scheme_and_a_kind_leaves_only_its_own() -> None:
    assert meanings("104") == ["resistor 100 kohm", "capacitor 100 nF", "inductor 100 mH"]
    assert meanings("104", "capacitor", "ceramic") == ["capacitor 100 nF ceramic"]
    assert decode("104", "capacitor").meanings[0].sure == "the only reading"
    assert [one.sure for one in decode("10R", "resistor").meanings] == ["usual value", "rarer value"]
    assert meanings("resistor 10R", "capacitor") == meanings("10R", "resistor")  # the eye goes before the map


def test_what_is_printed_beside_the_mark_is_taken_as_printed() -> None:
    [one] = decode("104 X7R 50V").meanings
    assert one.part == SmallPart("capacitor", 100e-9, Ratings(voltage=50.0), "X7R")
    assert meanings("220uF 25V electrolytic") == ["capacitor 220 uF 25 V electrolytic"]
    assert meanings("4,7k") == ["resistor 4.7 kohm"]
    assert meanings("1/4W 4k7 5%", "resistor") == ["resistor 4.7 kohm 5 % 250 mW"]
    [watt] = decode("103W", "resistor").meanings  # W is a tolerance letter here, and no power
    assert watt.part.ratings == Ratings(tolerance=0.0005)
    assert decode("10uF", "resistor").refused == (
        "'10uF' is the value of one capacitor, and the map has a resistor here. Look again.",
    )


def test_bands_are_read_from_both_ends_with_their_tolerance_and_caution() -> None:
    found = decode("brown,black,black,red,brown")
    assert [one.part.text() for one in found.meanings] == ["resistor 10 kohm 1 %", "resistor 120 ohm 1 %"]
    assert found.cautions[0].startswith("A blackened or repainted resistor has no colours to trust")


def test_the_nearest_made_value_is_named() -> None:
    [one] = decode("7R7", "resistor").meanings
    assert (one.sure, one.nearest, one.series) == ("unlikely value", 7.5, "E24")
    [jumper] = decode("0", "resistor").meanings
    assert jumper.nearest is None


@pytest.mark.parametrize(
    ("mark", "kind", "reason"),
    [
        ("P4H", "", "of the multiplier digit 4 one catalogue has"),
        ("blue", "", "blue is not decoded: two schemes in use contradict each other"),
        ("red,red", "capacitor", "red,red is not decoded: two schemes"),
        ("frog", "inductor", "'frog' is not decoded: no scheme has such a mark"),
        ("10R 0 V", "", "'0 V' is no voltage of a part"),
        ("resistor", "", "'resistor' names no value and has no code"),
        ("T3.15A", "fuse", "What is printed on a fuse is its rating"),
    ],
)
def test_what_is_not_decoded_says_why(mark: str, kind: str, reason: str) -> None:
    found = decode(mark, kind)
    assert found.meanings == ()
    assert any(reason in one for one in found.refused)


def test_codes_without_a_value_are_told() -> None:
    assert decode("X7R").codes[0].startswith("X7R, as dielectric: kind class II or III, low temperature -55 degC")
    assert [one.partition(" (")[0] for one in decode("D").codes] == [
        "D, as tantalum case: length 7.3 mm, width 4.3 mm, height 3.1 mm",
        "D, as voltage letter: voltage 20 V",
    ]
    assert "from memory" in decode("D").codes[1]


def test_each_kind_has_its_rule() -> None:
    assert [one.page for one in rules("capacitor")] == ["ceramic-fits", "electrolytic-fits"]
    assert [one.page for one in rules("capacitor", "electrolytic")] == ["electrolytic-fits"]
    assert [one.page for kind in ("resistor", "inductor", "fuse") for one in rules(kind)] == [
        "resistor-fits",
        "inductor",
        "fuse-fits",
    ]


# ---- a loose part as written ----


@pytest.mark.parametrize(
    ("typed", "canonical"),
    [
        ("resistor 10 ohm 1 % 0805", "resistor 10 ohm 1 % 0805"),
        ("0805 10R 1% resistors", "resistor 10 ohm 1 % 0805"),
        ("4K7 film 1/4 W", "resistor 4.7 kohm 250 mW film"),
        ("R47 ±5%", "resistor 470 mohm 5 %"),
        ("cap 100n 50V X7R", "capacitor 100 nF 50 V X7R"),
        ("25 V 220µF electrolytic", "capacitor 220 uF 25 V electrolytic"),
        ("10 uH shielded", "inductor 10 uH shielded"),
        ("resistor 0 ohm", "resistor 0 ohm"),
    ],
)
def test_a_part_is_written_in_one_form(typed: str, canonical: str) -> None:
    assert read(typed).text() == canonical
    assert read(canonical) == read(typed)


@pytest.mark.parametrize(
    ("typed", "message"),
    [
        ("resistor 10 0805", "has no value. Write it with its unit"),
        ("100n", "resistor or capacitor or inductor. Write which first"),
        ("resistor 10 uF", "is not in ohm"),
        ("resistor 10 ohm 1/0 W", "'1/0 W' is no power of a part; it is above 0 to 10000 W"),
        ("resistor 10 ohm 60 %", "'60 %' is no tolerance of a part; it is above 0 to 0.5 as a share"),
        ("capacitor 0 F", "'0 F' is no value of a part"),
        ("resistor 12345 ohm", "has more than four digits"),
        ("resistor 10 ohm 22 ohm", "has two values: 10 ohm and '22 ohm'"),
    ],
)
def test_a_part_that_is_not_understood_is_refused(typed: str, message: str) -> None:
    with pytest.raises(QuantityError) as wrong:
        read(typed)
    assert message in str(wrong.value).replace("?", ".")


RATED = st.sampled_from([0.1, 0.25, 0.5, 1.0, 2.0])
SHARES = st.sampled_from([0.01, 0.02, 0.05])


@given(RATED, RATED, SHARES, SHARES, RATED, RATED, st.floats(0.9, 1.1))
def test_the_short_comparison_says_what_the_page_says(
    old_power: float,
    new_power: float,
    old_share: float,
    new_share: float,
    old_volts: float,
    new_volts: float,
    off: float,
) -> None:
    page = parts.resistor_fits(100.0, 100.0 * off, old_power, new_power, old_share, new_share, old_volts, new_volts)
    short = compared(
        SmallPart("resistor", 100.0, Ratings(old_share, old_volts, old_power)),
        SmallPart("resistor", 100.0 * off, Ratings(new_share, new_volts, new_power)),
    )
    assert (short.verdict, len(short.against)) == (page.verdict, len(page.against))


def test_what_is_unknown_of_a_part_is_said() -> None:
    assert unsaid(read("resistor 10 ohm")) == ("tolerance", "power", "voltage", "construction", "size")
    assert unsaid(read("capacitor 100 nF 50 V X7R 0603")) == ()
    assert compared(read("cap 1 uF X7R 25 V"), read("cap 1 uF Y5V 16 V")).against == (
        "voltage 16 V, below 25 V",
        "its temperature range is narrower and it changes more",
    )
