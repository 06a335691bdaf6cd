"""Marks of letters and digits on resistors, capacitors and inductors: every reading that the schemes allow.

A mark says neither which scheme it is in nor which kind of part it is on, so each scheme is tried and each that fits
gives a reading. Readings of usual values come first.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from knowngood.errors import RangeError
from knowngood.handbook.preferred import decade, is_of, rank


@dataclass(frozen=True)
class Reading:
    """What a mark says, read by one scheme."""

    value: float
    scheme: str
    tolerance: str | None = None
    low: float | None = None
    high: float | None = None
    note: str | None = None
    """What speaks against this reading, or how well its scheme is known."""


PERCENT = {"P": 0.02, "W": 0.05, "B": 0.1, "C": 0.25, "D": 0.5, "F": 1.0, "G": 2.0, "H": 3.0, "J": 5.0, "K": 10.0}
"""Tolerance letters, per cent (IEC 60062:2016, confirmed)."""

PERCENT_UNSURE = {"M": 20.0, "E": 0.005, "L": 0.01, "N": 30.0}
"""More of them: M second-hand, the others from memory."""

UNEVEN = {"S": (-20.0, 50.0), "Z": (-20.0, 80.0), "Q": (-10.0, 30.0), "T": (-10.0, 50.0)}
"""Tolerance letters that are not symmetrical, per cent (IEC 60062:2016, from memory)."""

SMALL = {"B": 0.1e-12, "C": 0.25e-12, "D": 0.5e-12, "F": 1e-12, "G": 2e-12}
"""Tolerance letters of capacitors below 10 pF, F (IEC 60062:2016, confirmed)."""

POSITION = {"Z": -3, "Y": -2, "R": -2, "X": -1, "S": -1, "A": 0, "B": 1, "H": 1, "C": 2, "D": 3, "E": 4, "F": 5}
"""Power of ten of the letter after a position in E96 (IEC 60062:2016, formerly EIA-96; R, S and H second-hand)."""

POSITION_NOTES = {
    "R": "letter R is second-hand",
    "S": "letter S is second-hand",
    "H": "letter H is second-hand and some sheets make it ten million, not ten: measure it",
}

NOT_AGREED = "makers do not agree on the letter G (some sheets print a million)"

_LETTERS = "".join([*PERCENT, *PERCENT_UNSURE, *UNEVEN])
_POWER = {"R": 0, "E": 0, "K": 3, "M": 6, "G": 9, "p": -12, "n": -9, "u": -6, "m": -3}


def resistor(mark: str) -> list[Reading]:
    """Resistances in ohm. Raises RangeError where no scheme fits, with what each said."""
    text = mark.strip().upper().replace(" ", "")
    if text in ("0", "000", "0000"):
        return [Reading(0.0, "jumper")]
    found: list[Reading] = []
    reasons: list[str] = []
    if point := _letter_point(text, "REKMG"):
        letter = point["letter"]
        note = "a small m would be milliohm, from memory: look again" if letter == "M" and "m" in mark else None
        found.append(_toleranced(_valued(point, _POWER[letter]), f"{letter} is the decimal point", point["end"], note))
    if zeros := re.match(rf"^(\d{{2,3}})(\d)([{_LETTERS}])?$", text):
        value = float(f"{zeros[1]}e{zeros[2]}")
        if value > 0:
            found.append(_toleranced(value, f"{_WORDS[len(zeros[1])]} and a count of zeros", zeros[3]))
    if position := re.match(r"^(\d\d)([A-Z])$", text):
        reasons = _position(position[1], position[2], found)
    if not found:
        raise _undecoded("resistor-mark", mark, "", reasons)
    return _sorted(found, reasons)


_WORDS = {2: "two digits", 3: "three digits"}


def _position(digits: str, letter: str, found: list[Reading]) -> list[str]:
    """Adds the reading as a position in E96; returns why there is none."""
    number = int(digits)
    if letter == "G":
        return [f"as a position in E96 it is not decoded: {NOT_AGREED}"]
    if letter not in POSITION:
        return []
    if not 1 <= number <= 96:
        return [f"as a position in E96 it would need 01 to 96, not {digits}"]
    value = float(f"{decade(96)[number - 1]}e{POSITION[letter]}")
    scheme = "position in E96 and a multiplier letter"
    found.append(Reading(value, scheme, "1 %", 0.99 * value, 1.01 * value, POSITION_NOTES.get(letter)))
    return []


_PLAIN = "common practice, no source"


def capacitor(mark: str) -> list[Reading]:
    """Capacitances in farad. Raises RangeError where no scheme fits."""
    text = _without_micro(mark)
    found: list[Reading] = []
    if point := _letter_point(re.sub(r"^\d*[PNU]", lambda start: start[0].lower(), text), "pnum"):
        scheme = f"{point['letter']} is the decimal point"
        found.append(_toleranced(_valued(point, _POWER[point["letter"]]), scheme, point["end"], small=True))
    if point := _letter_point(text, "R"):
        found += _two_bodies(_valued(point, 0), "R is the decimal point", point["end"], "from memory")
    if point := re.match(rf"^(?P<whole>\d*)\.(?P<part>\d+)(?P<end>[{_LETTERS}])?$", text):
        found += _two_bodies(_valued(point, 0), "as it stands", point["end"], _PLAIN)
    if zeros := re.match(rf"^(\d\d)(\d)([{_LETTERS}])?$", text):
        power = {"8": -2, "9": -1}.get(zeros[2], int(zeros[2]))
        note = "last digits 8 and 9 are from memory" if power < 0 else None
        scheme = "two digits and a count of zeros, pF" if power >= 0 else f"two digits, {zeros[2]} for x{10.0**power:g}"
        value = float(f"{zeros[1]}e{power - 12}")
        found.append(_toleranced(value, scheme, zeros[3], note, small=True))
    plain = re.match(rf"^(\d{{1,2}}|\d+0)([{_LETTERS}])?$", text)
    if plain and is_of(float(plain[1]), 24):
        found += _two_bodies(float(plain[1]), "as it stands", plain[2], _PLAIN)
    found = [one for one in found if one.value > 0]
    if not found:
        hint = " (a code like X7R is a dielectric: ask with --code)" if re.match(r"^[A-Z]\d[A-Z]$", text) else ""
        raise _undecoded("capacitor-mark", mark, hint, [])
    return _sorted(found, [])


def _two_bodies(number: float, scheme: str, letter: str | None, status: str) -> list[Reading]:
    """A number without a scheme: pF on a ceramic, uF on an electrolytic or film capacitor; below 1 only the latter."""
    micro = _toleranced(float(f"{number!r}e-6"), f"{scheme}, uF: electrolytic or film", letter, status)
    if number < 1.0:
        return [micro]
    return [_toleranced(float(f"{number!r}e-12"), f"{scheme}, pF: ceramic or film", letter, status, small=True), micro]


def inductor(mark: str) -> list[Reading]:
    """Inductances in henry. Raises RangeError where no scheme fits."""
    text = mark.strip().upper().replace(" ", "")
    found: list[Reading] = []
    if point := _letter_point(text, "RN"):
        power, unit = {"R": (-6, "uH"), "N": (-9, "nH")}[point["letter"]]
        scheme = f"{point['letter']} is the decimal point, {unit}"
        found.append(_toleranced(_valued(point, power), scheme, point["end"]))
    if zeros := re.match(rf"^(\d\d)(\d)([{_LETTERS}])?$", text):
        value = float(f"{zeros[1]}e{int(zeros[2]) - 6}")
        found.append(_toleranced(value, "two digits and a count of zeros, uH", zeros[3]))
    found = [one for one in found if one.value > 0]
    if not found:
        raise _undecoded("inductor-mark", mark, "", [])
    return _sorted(found, [])


def _without_micro(mark: str) -> str:
    """Upper case but for m, which is a thousandth; every sign for micro is u."""
    text = mark.strip().replace(" ", "").replace("µ", "u").replace("μ", "u")
    return "".join(one if one == "m" else one.upper() for one in text)


def _letter_point(text: str, letters: str) -> re.Match[str] | None:
    """A value with a letter in the place of the decimal point, a tolerance letter behind it perhaps.

    A needless zero in front (01R) is not in this scheme.
    """
    found = re.match(
        rf"^(?P<whole>0|[1-9]\d{{0,3}}|)(?P<letter>[{letters}])(?P<part>\d{{0,3}})(?P<end>[{_LETTERS}])?$", text
    )
    return found if found and (found["whole"] or found["part"]) else None


def _valued(point: re.Match[str], power: int) -> float:
    return float(f"{point['whole'] or 0}.{point['part'] or 0}e{power}")


def _toleranced(
    value: float, scheme: str, letter: str | None, note: str | None = None, *, small: bool = False
) -> Reading:
    """A reading with the limits of its tolerance letter; ``small``: of a capacitor, below 10 pF in pF."""
    if not letter:
        return Reading(value, scheme, note=note)
    if small and value < 10e-12 and letter in SMALL:
        width = SMALL[letter]
        return Reading(value, scheme, f"{width * 1e12:g} pF", max(0.0, value - width), value + width, note)
    if letter in UNEVEN:
        low, high = UNEVEN[letter]
        words = f"{low:g} to {high:+g} % (from memory)"
    else:
        high = (PERCENT | PERCENT_UNSURE)[letter]
        low, words = -high, f"{high:g} %"
        if letter in PERCENT_UNSURE:
            words += " (second-hand)" if letter == "M" else " (from memory)"
    return Reading(value, scheme, words, value * (1.0 + low / 100.0), value * (1.0 + high / 100.0), note)


def _sorted(found: list[Reading], reasons: list[str]) -> list[Reading]:
    """Usual values first, those of no series with a word that they are none."""
    noted = []
    for one in found:
        notes = [one.note, *reasons, "no preferred value, so unlikely" if rank(one.value) == 2 else None]
        said = "; ".join(note for note in notes if note) or None
        noted.append(Reading(one.value, one.scheme, one.tolerance, one.low, one.high, said))
    return sorted(noted, key=lambda one: rank(one.value))


def _undecoded(name: str, mark: str, hint: str, reasons: list[str]) -> RangeError:
    why = f": {'; '.join(reasons)}" if reasons else f": no scheme has such a mark{hint}"
    return RangeError(f"{name}: {mark.strip()!r} is not decoded{why}. Measure it.")
