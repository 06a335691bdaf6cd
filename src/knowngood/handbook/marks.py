"""What do the bands, letters and digits on this resistor, capacitor or inductor say?"""

from __future__ import annotations

from dataclasses import dataclass

from knowngood.errors import RangeError
from knowngood.handbook import dielectrics, mark_codes
from knowngood.handbook.colour_bands import BandReading, read_bands
from knowngood.handbook.formula import formula
from knowngood.handbook.mark_codes import Reading


@formula
def resistor_mark(mark: str) -> tuple[Reading, ...]:
    """The resistance that the characters on a resistor (letters, digits) mean, one row for each way to read them.

    Which scheme a mark is in is not on the part: 10R is 10 ohm with R as the decimal point and 1.24 ohm as a position
    in E96. Measure it. On current-sense chips some makers write M or L for milliohm (from memory).

    Formula: R, E, K, M or G in the place of the decimal point; two or three digits and a count of zeros; or two digits
        for a position in E96 and a letter for the power of ten
    Args:
        mark: as printed: 4K7, 103, 1001, 68C (text)
    Gives:
        value: of the resistor (ohm)
        scheme: by which it is read (text)
        tolerance: by its letter (text)
        low: least that it may have (ohm)
        high: most that it may have (ohm)
        note: what is not sure about this reading (text)
    Source: IEC 60062:2016 (letter for decimal point: rule from memory); chip-resistor data sheets (confirmed)

    >>> [(one.value, one.scheme) for one in resistor_mark("68C")]
    [(49900.0, 'position in E96 and a multiplier letter')]
    """
    return tuple(mark_codes.resistor(mark))


@formula
def colour_bands(bands: tuple[str, ...]) -> tuple[BandReading, ...]:
    """The resistance that colour bands mean, one row for each end from which they can be read.

    The tolerance band is the one set apart or wider (common practice, no source). Some old military parts carry a
    failure rate as last band (from memory), which is not decoded.

    Formula: two digits (three with five or six bands), a power of ten, tolerance, temperature coefficient
    Args:
        bands: colours in order, with commas: black, brown, red, orange, yellow, green, blue, violet, grey, white,
            gold, silver, pink (text)
    Gives:
        resistance: of the resistor (ohm)
        tolerance: by its band (share)
        low: least that it may have (ohm)
        high: most that it may have (ohm)
        coefficient: of temperature (1/K)
        order: from which end it is read (text)
        note: what is not sure about this reading (text)
    Source: IEC 60062:2016 (confirmed; single colours from memory are named where they are met)
    Caution: A blackened or repainted resistor has no colours to trust: measure it, and look for what burnt it.

    >>> [one.resistance for one in colour_bands(("yellow", "violet", "red", "gold"))]
    [4700.0]
    >>> [one.resistance for one in colour_bands(("brown", "black", "black", "red", "brown"))]
    [10000.0, 120.0]
    """
    return tuple(read_bands(bands))


@formula
def capacitor_mark(mark: str) -> tuple[Reading, ...]:
    """The capacitance that a mark means, one row for each way to read it.

    Plain numbers are pF on ceramics and uF on electrolytics, and 220 may be 22 pF, 220 pF or 220 uF: the body tells,
    or a meter.

    Formula: p, n, u or m in the place of the decimal point; or two digits and a count of zeros, in pF
    Args:
        mark: as printed: 104, 4n7, 107, 2R2C (text)
    Gives:
        value: of the capacitor (F)
        scheme: by which it is read (text)
        tolerance: by its letter (text)
        low: least that it may have (F)
        high: most that it may have (F)
        note: what is not sure about this reading (text)
    Source: IEC 60062:2016 (letter for decimal point: rule from memory); EIA practice (confirmed; digits 8 and 9
        from memory)
    Caution: Discharge it before it is measured.

    >>> [one.value for one in capacitor_mark("104K")]
    [1e-07]
    """
    return tuple(mark_codes.capacitor(mark))


@formula
def inductor_mark(mark: str) -> tuple[Reading, ...]:
    """The inductance that a mark means, one row for each way to read it.

    Formula: R (uH) or N (nH) in the place of the decimal point; or two digits and a count of zeros, in uH
    Args:
        mark: as printed: 4R7, 101, 27N (text)
    Gives:
        value: of the inductor (H)
        scheme: by which it is read (text)
        tolerance: by its letter (text)
        low: least that it may have (H)
        high: most that it may have (H)
        note: what is not sure about this reading (text)
    Source: inductor makers' marking pages (confirmed); tolerance letters: IEC 60062:2016

    >>> [one.value for one in inductor_mark("101")]
    [0.0001]
    """
    return tuple(mark_codes.inductor(mark))


@formula
def dielectric(code: str) -> dielectrics.Dielectric:
    """What the code of a ceramic capacitor promises over temperature.

    It says nothing of what a d.c. voltage takes away: that stands in the maker's curve only (ceramic-bias).

    Formula: classes II and III: low end, high end, largest change; class I: figure x multiplier, tolerance
    Args:
        code: as printed: X7R, C0G, NP0 (text)
    Gives:
        kind: its class (text)
        low_temperature: from which it holds (degC)
        high_temperature: up to which it holds (degC)
        change_low: largest loss over the range (share)
        change_high: largest gain over the range (share)
        coefficient: of temperature (1/K)
        coefficient_spread: its tolerance, either way (1/K)
    Source: EIA RS-198 (ANSI/EIA-198); capacitor maker's catalogue; TI SLAA701B, table 1-16 (confirmed)

    >>> dielectric("X7R").high_temperature, dielectric("NP0").coefficient_spread
    (125.0, 3e-05)
    """
    return dielectrics.decode(code, "dielectric")


@dataclass(frozen=True)
class CaseSize:
    """A moulded chip tantalum."""

    length: float
    width: float
    height: float
    note: str | None = None


TANTALUM_CASES = {
    "A": (CaseSize(3.2e-3, 1.6e-3, 1.8e-3),),
    "B": (CaseSize(3.5e-3, 2.8e-3, 2.1e-3),),
    "C": (CaseSize(6.0e-3, 3.2e-3, 2.8e-3),),
    "D": (CaseSize(7.3e-3, 4.3e-3, 3.1e-3),),
    "E": (CaseSize(7.3e-3, 4.3e-3, 4.3e-3), CaseSize(7.3e-3, 4.3e-3, 4.4e-3, "in one sheet")),
}
"""Cases by their letter (tantalum capacitor data sheets, EIA metric code, confirmed)."""


@formula
def tantalum_case(case: str) -> tuple[CaseSize, ...]:
    """The size of a chip tantalum by the letter of its case.

    Formula: length - width - height in tenths of a millimetre: A 3216-18
    Args:
        case: its letter (one of A, B, C, D, E)
    Gives:
        length: of the body with its ends (m)
        width: of the body (m)
        height: of the body (m)
        note: where makers differ (text)
    Source: tantalum capacitor data sheets, EIA metric code (confirmed)

    >>> tantalum_case("D")[0].length
    0.0073
    """
    return TANTALUM_CASES[case]


POLARITY = {
    "chip-tantalum": ("the end with the bar is POSITIVE", "capacitor makers' notes (confirmed)"),
    "aluminium": (
        "the side with the stripe or dark segment is NEGATIVE",
        "from memory: check with a meter or the board",
    ),
}


@dataclass(frozen=True)
class Polarity:
    """Which end a mark names."""

    meaning: str
    known: str


@formula
def polarity_mark(body: str) -> Polarity:
    """Which end the bar or stripe of a polarised capacitor marks: tantalum and aluminium are opposite.

    Formula: chip tantalum: the bar is plus; aluminium: the stripe is minus
    Args:
        body: what it is (one of chip-tantalum, aluminium)
    Gives:
        meaning: of its mark (text)
        known: how well (text)
    Source: capacitor makers' notes (tantalum confirmed; aluminium from memory)
    Caution: The wrong way round it can burst or burn at power-on: eye protection, and limit the current.

    >>> polarity_mark("chip-tantalum").meaning
    'the end with the bar is POSITIVE'
    """
    return Polarity(*POLARITY[body])


VOLTAGE_LETTERS = dict(zip("eGJACDEVHT", (2.5, 4.0, 6.3, 10.0, 16.0, 20.0, 25.0, 35.0, 50.0, 50.0), strict=True))
"""V, from memory."""


@formula
def voltage_letter(letter: str) -> float:
    """The rated voltage that a letter on a chip tantalum usually means: from memory, check the maker's sheet.

    Never fit a lower rating because of it. A small e and a capital E differ.

    Formula: a table, from memory
    Args:
        letter: as printed (one of e, G, J, A, C, D, E, V, H, T)
    Gives:
        voltage: rated, from memory (V)
    Source: from memory; check the maker's sheet
    Caution: A tantalum over its voltage burns. Where the maker is not known, take the rail's voltage twice over.

    >>> voltage_letter("J")
    6.3
    """
    return VOLTAGE_LETTERS[letter]


@formula
def voltage_colour(colour: str) -> float:
    """The rated voltage that a colour on a bead tantalum or old electrolytic means: never decoded.

    Formula: none: two schemes contradict each other
    Args:
        colour: of its band, dot or body (text)
    Gives:
        voltage: never (V)
    Source: two published schemes that contradict each other
    Caution: Take the rated voltage from the rail it sits on, twice over for tantalum.

    >>> voltage_colour("blue")
    Traceback (most recent call last):
    knowngood.errors.RangeError: voltage-colour: blue is not decoded: two schemes in use contradict each other.
    """
    said = colour.strip().lower()
    raise RangeError(f"voltage-colour: {said} is not decoded: two schemes in use contradict each other.")
