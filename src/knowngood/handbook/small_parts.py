"""A loose small part as a person writes it ("resistor 10 ohm 1 % 0805"), and may one stand in for another?"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace

from knowngood.errors import QuantityError, RangeError
from knowngood.handbook import dielectrics
from knowngood.handbook.quantities import format_quantity, parse_quantity
from knowngood.handbook.replacing import Finding, Verdict, alike, as_stable, at_least, at_most, same, verdict

UNITS = {"resistor": "ohm", "capacitor": "F", "inductor": "H"}
"""The kinds of small parts, with the unit of their value."""

WITHIN = {"resistor": 0.05, "capacitor": 0.20, "inductor": 0.20}
"""How far off a value still fits, of a resistor if its tolerance is not known (common practice, no source)."""

_KIND_WORDS = {"cap": "capacitor", "coil": "inductor", "choke": "inductor", "jumper": "resistor"}
_MAKES = {
    "resistor": ("film", "fusible", "flameproof", "wound", "metal-strip"),
    "capacitor": ("electrolytic", "ceramic", "tantalum", "polymer", "film"),
    "inductor": ("shielded",),
}
"""Words for how a part is made."""

_NUMBER = r"\d+(?:[.,]\d+)?"
_VALUE = re.compile(
    rf"(?<!\S)(?:{_NUMBER} ?[GMKkmunpµ]?(?:ohms?|Ω|F|H)|\d*[RKkMGmunpµ]\d+|{_NUMBER} ?[RKkMGmunpµ])(?!\S)"
)
_TOLERANCE = re.compile(rf"(?<!\S)(?:\+/-|±)? ?({_NUMBER}) ?%(?!\S)")
_VOLTAGE = re.compile(rf"(?<!\S){_NUMBER} ?k?V(?!\S)")
_POWER = re.compile(r"(?<!\S)(?:\d/\d+ ?W|\d{1,2}(?:[.,]\d+)? ?W|\d+ W|\d+ ?mW)(?!\S)")
"""Three digits with a W behind them are a mark with a tolerance letter."""

DIELECTRIC = re.compile(r"^(?:[A-Z]\d[A-Z]|NP0|NPO|COG)$")
"""What a code of a ceramic dielectric looks like."""


@dataclass(frozen=True)
class Ratings:
    """What is written of a part besides its value; None for what is not."""

    tolerance: float | None = None
    voltage: float | None = None
    power: float | None = None

    def text(self) -> str:
        return " ".join(
            [
                *([f"{100.0 * self.tolerance:.10g} %"] if self.tolerance is not None else []),
                *([format_quantity(self.voltage, "V")] if self.voltage is not None else []),
                *([format_quantity(self.power, "W")] if self.power is not None else []),
            ]
        )


@dataclass(frozen=True)
class SmallPart:
    """A resistor, capacitor or inductor as far as it is known. ``value`` in ohm, F or H."""

    kind: str
    value: float
    ratings: Ratings = Ratings()
    words: str = ""
    """Size, dielectric, how it is made, as written."""

    @property
    def unit(self) -> str:
        return UNITS[self.kind]

    @property
    def dielectric(self) -> str | None:
        return next((word for word in self.words.upper().split() if DIELECTRIC.match(word)), None)

    @property
    def make(self) -> str | None:
        said = [word for word in self.words.lower().split() if word in _MAKES[self.kind]]
        return said[0] if said else "ceramic" if self.kind == "capacitor" and self.dielectric else None

    def text(self) -> str:
        """As ``read`` reads it: "resistor 10 ohm 1 % 0805"."""
        words = (self.kind, format_quantity(self.value, self.unit), self.ratings.text(), self.words)
        return " ".join(word for word in words if word)


def read(text: str) -> SmallPart:
    """A part as written: kind, value with its unit, and what else is known, in any order.

    Raises QuantityError with what is missing.
    """
    ratings, rest = ratings_in(" ".join(text.split()))
    kind, make, rest = named(rest)
    found = _VALUE.search(rest)
    if found is None:
        raise QuantityError(f"'{text.strip()}' has no value. Write it with its unit, as 'resistor 10 ohm 1 % 0805'.")
    kind = kind or _kind_by_unit(found[0])
    if not kind:
        raise QuantityError(f"'{text.strip()}': {' or '.join(UNITS)}? Write which first.")
    value = value_of(found[0], UNITS[kind])
    words = " ".join([*make.split(), *rest[: found.start()].split(), *rest[found.end() :].split()])
    made = SmallPart(kind, value, ratings, words)
    if _VALUE.search(words):
        raise QuantityError(f"'{text.strip()}' has two values: {found[0]} and '{words}'. Write one part at a time.")
    return made


def ratings_in(text: str) -> tuple[Ratings, str]:
    """The ratings that a text has, and the text without them. Raises QuantityError for one that no part has."""
    found: dict[str, float] = {}
    for name, pattern in (("tolerance", _TOLERANCE), ("voltage", _VOLTAGE), ("power", _POWER)):
        if match := pattern.search(text):
            text = " ".join((text[: match.start()] + text[match.end() :]).split())
            found[name] = _rating(name, match)
            low, high, unit = _VALID[name]
            if not low < found[name] <= high:
                raise QuantityError(
                    f"'{match[0].strip()}' is no {name} of a part; it is above {low:g} to {high:g} {unit}."
                )
    return Ratings(**found), text


_VALID = {"tolerance": (0.0, 0.5, "as a share"), "voltage": (0.0, 1e5, "V"), "power": (0.0, 1e4, "W")}
"""As resistor-fits takes them."""


def _rating(name: str, match: re.Match[str]) -> float:
    if name == "tolerance":
        return round(float(match[1].replace(",", ".")) / 100.0, 12)
    if "/" in match[0]:
        top, _, below = match[0].rstrip(" W").partition("/")
        return float(top) / float(below) if float(below) else 0.0
    return parse_quantity(match[0], "V" if name == "voltage" else "W")


def printed_value(text: str) -> tuple[str, float, str] | None:
    """Kind, value and the rest of a text in which a value stands with its unit ("220uF 105"); None where none does.

    F and H behind a bare number are tolerance letters of a mark, and no units.
    """
    found = re.search(
        rf"(?<!\S){_NUMBER} ?(?:[pnuµ]F|[nuµm]H|[kKM]?(?:ohms?|Ω))(?!\S)|(?<!\S)\d+[.,]\d+ ?[kKM](?!\S)", text
    )
    if found is None:
        return None
    kind = _kind_by_unit(found[0])
    rest = " ".join((text[: found.start()] + text[found.end() :]).split())
    return kind, value_of(found[0], UNITS[kind]), rest


def value_of(text: str, unit: str) -> float:
    """A value with unit or prefix as on parts: "10 ohm", "R47", "4k7". Raises QuantityError; also for five digits."""
    written = re.sub(r"^R", "0R", text.replace("ohms", "ohm").replace("µ", "u"))
    written = re.sub(r"(?<=[\d ])K", "k", written)
    value = parse_quantity(written, unit)
    if value < 0.0 or (value == 0.0 and unit != "ohm"):
        raise QuantityError(f"'{text}' is no value of a part.")
    if not math.isclose(parse_quantity(format_quantity(value, unit), unit), value, rel_tol=1e-9):
        raise QuantityError(f"'{text}' has more than four digits; no part is made to that. Write it with four.")
    return parse_quantity(format_quantity(value, unit), unit)


def named(text: str) -> tuple[str, str, str]:
    """The kind and the construction that words of a text name ("" for none), and the other words."""
    kind = make = ""
    rest = []
    for word in text.split():
        plain = word.lower().removesuffix("s")
        one = _KIND_WORDS.get(plain, plain)
        if not kind and one in UNITS:
            kind = one
        elif not make and any(word.lower() in makes for makes in _MAKES.values()):
            make = word.lower()
        else:
            rest.append(word)
    kinds = [kind] if kind else [one for one, makes in _MAKES.items() if make in makes]
    return (kinds[0] if len(kinds) == 1 else ""), make, " ".join(rest)


def _kind_by_unit(text: str) -> str:
    """The kind that a unit or prefix tells; "" where two kinds have it ("100n")."""
    units = {"ohm": "resistor", "ohms": "resistor", "Ω": "resistor", "F": "capacitor", "H": "inductor"}
    written = next((kind for unit, kind in units.items() if text.endswith(unit)), "")
    return written or ("resistor" if re.search("[RkKMG]", text) else "")


def compared(old: SmallPart, new: SmallPart) -> Verdict:
    """Whether one may replace the other, by the rules of resistor-fits, ceramic-fits and electrolytic-fits, as far as
    both are known."""
    had, has = old.ratings, new.ratings
    findings = [alike("value", old.value, new.value, old.unit, within(old))]
    if old.kind == "resistor":
        findings += [
            at_most("tolerance", had.tolerance, has.tolerance, "share"),
            at_least("power", had.power, has.power, "W"),
        ]
    if old.kind != "inductor":
        findings.append(at_least("voltage", had.voltage, has.voltage, "V"))
    findings.append(same("construction", old.make, new.make))
    if old.kind == "capacitor" and "ceramic" in (old.make, new.make):
        findings.append(_dielectric(old.dielectric, new.dielectric))
    return verdict(*findings)


def within(old: SmallPart) -> float:
    """How far off, as a share, a value may be: a resistor's own tolerance where it is known."""
    known = old.ratings.tolerance if old.kind == "resistor" else None
    return WITHIN[old.kind] if known is None else known


def _dielectric(old: str | None, new: str | None) -> Finding:
    if old is None or new is None:
        return Finding("dielectric", compared=False)
    try:
        return as_stable(dielectrics.decode(old, "ceramic-fits"), dielectrics.decode(new, "ceramic-fits"))
    except RangeError:  # what is never decoded cannot be compared
        return Finding("dielectric", compared=False)


def unsaid(part: SmallPart) -> tuple[str, ...]:
    """What a replacement has to meet and is not known of a part."""
    size = () if re.search(r"\d{4}|\dx\d", part.words) else ("size",)
    more = ("current", "winding resistance") if part.kind == "inductor" else ()
    return (*compared(part, part).not_compared, *more, *size)


def but_value(old: SmallPart, new: SmallPart) -> tuple[str, ...]:
    """What speaks against a part in the place of another, their values apart."""
    return compared(replace(old, value=new.value), new).against
