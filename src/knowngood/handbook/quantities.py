"""Quantities and money as people write them: "5 V +/- 5 %", "4k7", "12 min", "EUR 14", "15 %", "OL".

Units are pint's, imported on first use because building its registry takes longer than most commands.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from knowngood.errors import QuantityError
from knowngood.handbook import gauge

if TYPE_CHECKING:
    from collections.abc import Iterable

OVERLOAD = "OL"
"""What a meter shows when the value is above its range; a reading like any other."""

MINOR_DIGITS = {
    **dict.fromkeys(
        [
            "BIF",
            "CLP",
            "DJF",
            "GNF",
            "ISK",
            "JPY",
            "KMF",
            "KRW",
            "PYG",
            "RWF",
            "UGX",
            "VND",
            "VUV",
            "XAF",
            "XOF",
            "XPF",
        ],
        0,
    ),
    **dict.fromkeys(["BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"], 3),
}
"""Digits after the point, ISO 4217:2015, list one (from memory); every currency not named here has two."""

_RKM = re.compile(r"^(\d+)([RkKMGmunp])(\d+)(?:\s*([^\d\s]\S*))?$")
_RKM_PREFIX = {"R": "", "k": "k", "K": "k", "M": "M", "G": "G", "m": "m", "u": "u", "n": "n", "p": "p", "µ": "u"}
TOLERANCE = re.compile(r"\s*(?:\+/-|\+-|±)\s*")
"""What stands between a value and its tolerance."""
_NUMBER = re.compile(r"^[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?")
_MONEY = re.compile(r"^(?P<code>[A-Z]{3})\s*(?P<sign>-?)(?P<amount>\d+(?:[.,]\d+)?)$")
_SI_PREFIXES = (
    (1e12, "T"),
    (1e9, "G"),
    (1e6, "M"),
    (1e3, "k"),
    (1.0, ""),
    (1e-3, "m"),
    (1e-6, "u"),
    (1e-9, "n"),
    (1e-12, "p"),
)


@dataclass(frozen=True, order=True)
class Money:
    """A booked amount: whole minor units and an ISO 4217 code. Never a float."""

    currency: str
    minor: int

    def __post_init__(self) -> None:
        if type(self.minor) is not int:
            raise TypeError(f"{self.currency} {self.minor!r}: money is whole minor units, and never a float.")

    def __str__(self) -> str:
        whole, _, part = plain(self).partition(".")
        return f"{self.currency} {whole}" + (f".{part}" if part.strip("0") else "")

    def __add__(self, other: Money) -> Money:
        self._same_currency(other)
        return Money(self.currency, self.minor + other.minor)

    def __sub__(self, other: Money) -> Money:
        self._same_currency(other)
        return Money(self.currency, self.minor - other.minor)

    def __neg__(self) -> Money:
        return Money(self.currency, -self.minor)

    @property
    def major(self) -> float:
        """The amount in whole units, for expectations only."""
        return self.minor / float(10 ** minor_digits(self.currency))

    def _same_currency(self, other: Money) -> None:
        if self.currency != other.currency:
            raise QuantityError(f"{self} and {other}: two currencies cannot be added. Book both in one.")


def plain(amount: Money) -> str:
    """The amount alone in whole units, exactly, with a point and all digits of its currency: "-3.20", "1200"."""
    digits = minor_digits(amount.currency)
    whole, part = divmod(abs(amount.minor), 10**digits)
    return f"{'-' if amount.minor < 0 else ''}{whole}" + (f".{part:0{digits}d}" if digits else "")


def minor_digits(currency: str) -> int:
    """Digits after the point of a currency (ISO 4217)."""
    return MINOR_DIGITS.get(currency, 2)


def money_of(currency: str, major: float) -> Money:
    """The amount nearest to so many whole units, for an expectation that is to be booked."""
    return Money(currency, round(major * 10 ** minor_digits(currency)))


def parse_money(text: str) -> Money:
    """Money from "EUR 14" or "EUR 14.50". Raises QuantityError, also for more digits than the currency has."""
    match = _MONEY.match(text.strip())
    if match is None:
        raise QuantityError(f"{text!r} is not an amount of money. Write the currency's code first, as 'EUR 14.50'.")
    whole, _, part = match["amount"].replace(",", ".").partition(".")
    digits = minor_digits(match["code"])
    if len(part) > digits:
        raise QuantityError(f"{text!r} has more digits after the point than {match['code']} has ({digits}).")
    minor = int(whole) * 10**digits + int(part.ljust(digits, "0") or 0)
    return Money(match["code"], -minor if match["sign"] else minor)


def total(amounts: Iterable[Money], currency: str) -> Money:
    """The sum of booked amounts, zero of ``currency`` if there are none."""
    minor, nothing = 0, Money(currency, 0)
    for amount in amounts:
        if amount.currency != currency:
            return nothing + amount  # which says what is wrong
        minor += amount.minor
    return Money(currency, minor)


@dataclass(frozen=True)
class Expected:
    """A value with limits, in ``unit``: low <= nominal <= high."""

    nominal: float
    low: float
    high: float
    unit: str
    rests_on: str = field(default="", compare=False)
    """The call of a formula of the handbook that gave it, as written; "" where a person wrote the value."""


@dataclass(frozen=True)
class Reading:
    """A number read off an instrument, as written; ``value`` is infinite when the display shows overload."""

    value: float
    unit: str
    text: str

    @property
    def digit(self) -> float:
        """Size of the last digit as written, in ``unit``: 10 mV for "4.62 V". 0 for overload and for zero.

        A zero is written short whatever the meter shows, so that it says nothing of what was left out.
        """
        number = _NUMBER.match(_with_point(self.text, self.unit))
        if number is None or self.value == 0 or math.isinf(self.value):
            return 0.0
        mantissa, _, exponent = number[0].replace(",", ".").lower().partition("e")
        last = 10.0 ** (int(exponent or 0) - len(mantissa.partition(".")[2]))
        return last * abs(self.value / float(number[0].replace(",", ".")))


@lru_cache(maxsize=1)
def _registry() -> Any:
    import pint

    registry: Any = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
    registry.define("percent_of_whole = 0.01 = pct")
    registry.define("share = 1")
    registry.define("CFM = foot ** 3 / minute")
    return registry


@lru_cache(maxsize=4096)
def parse_quantity(text: str, unit: str) -> float:
    """The value of ``text`` in ``unit``: "4k7" in ohm is 4700.0, "330 uF" in farad 0.00033.

    A bare number is taken to be in ``unit``; "AWG 30" is the diameter of a wire. Raises QuantityError with what would
    be right.
    """
    if unit == "m" and (wire := _wire(text)) is not None:
        return wire
    if unit == "m^2" and (sides := _SIDES.match(text.strip())):
        return parse_quantity(sides[1] + sides[3], "m") * parse_quantity(sides[2] + sides[3], "m")
    written = _with_point(text.strip(), unit)
    number = _NUMBER.match(written)
    if number is None:
        raise QuantityError(f"{text!r} does not start with a number. Write it as '12 {unit}'.")
    value = float(number[0].replace(",", "."))
    rest = _heat_unit(written[number.end() :].strip(), unit)
    if rest and rest != unit:
        scale = _usual_scale(rest, unit)
        value = value * scale if scale is not None else _converted(text, value, rest, unit)
    if not math.isfinite(value):
        raise QuantityError(f"{text!r} is too large.")
    return value


def _wire(text: str) -> float | None:
    """The diameter of a wire gauge as written, in m; None for what is none."""
    try:
        return gauge.read(text)
    except ValueError as error:
        raise QuantityError(str(error)) from None


def _with_point(text: str, unit: str = "") -> str:
    """The same, with a point where a prefix stands in its place: "4k7" in ohm is "4.7 kohm"."""
    rkm = _RKM.match(text)
    return f"{rkm[1]}.{rkm[3]} {_RKM_PREFIX[rkm[2]]}{rkm[4] or unit}" if rkm else text


def _converted(text: str, value: float, written: str, unit: str) -> float:
    """A value in a unit as written, in ``unit``."""
    import pint

    written_unit = "pct" if written == "%" else _SHORT_POWER.sub(r"^\1", written.replace("Ω", "ohm"))
    written_unit = _SHORT_TORQUE.sub(r" \g<0>", written_unit)
    try:
        return float(_registry().Quantity(value, written_unit).to(unit).magnitude)
    except pint.DimensionalityError:
        raise QuantityError(f"{text!r} is not in {unit} or anything that converts to it.") from None
    except Exception:
        raise QuantityError(f"{text!r}: the unit {written!r} is not known. Write it as '12 {unit}'.") from None


_SHORT_POWER = re.compile(r"(?<=[a-z])([23])\b")
"""Of "mm2" and "mg/m3"."""

_SHORT_TORQUE = re.compile(r"(?<=N)m$|(?<=kgf)cm$|(?<=lbf)in$")
"""Of "cNm"."""

_SIDES = re.compile(r"^([\d.,]+)\s*[x×]\s*([\d.,]+)\s*([a-z]*m)$")
"""An area by its sides: "15 x 20 mm"."""

_DEGREES = re.compile(r"(?:deg|°)?([CF])\b")


def _heat_unit(written: str, unit: str) -> str:
    """A unit as written, its degrees made plain: "C" is degC; where ``unit`` has kelvin, degrees are a difference.

    Left to pint, a rise of "10 degC" would be 283.15 K.
    """
    if unit == "degC":
        return _DEGREES.sub(r"deg\1", written)
    if "K" in unit:
        plain = _DEGREES.sub(lambda found: "K" if found[1] == "C" else "delta_degF", written)
        return re.sub(r"/\(?m[ *]?K\)?$", "/m/K", plain)
    return written


_PREFIXES = {"G": 1e9, "M": 1e6, "k": 1e3, "m": 1e-3, "u": 1e-6, "n": 1e-9, "p": 1e-12}
TRADE_UNITS = {("mil", "m"): 25.4e-6, ("oz", "kg/m^2"): 0.028349523125 / 0.09290304}
"""What a board maker writes, in plain units: a thousandth of an inch; of copper foil, an ounce to the square foot."""

_OF_PARTS = ("ohm", "F", "farad", "H", "henry")
"""Of these a person writes the prefix alone: "10k", "100n"."""

_TIMES = {"min": 1.0, "h": 60.0, "s": 1.0 / 60.0}


def _usual_scale(written: str, unit: str) -> float | None:
    """What a unit as written is in ``unit``, for those that maps are full of; None leaves it to pint, which is slow."""
    if unit == "minute":
        return _TIMES.get(written)
    if unit in ("", "share"):
        return {"%": 0.01, "ppm": 1e-6}.get(written)
    if (written, unit) == ("g", "kg"):
        return 1e-3
    if (written, unit) in TRADE_UNITS:
        return TRADE_UNITS[written, unit]
    if unit in _OF_PARTS and written in _RKM_PREFIX:
        return _PREFIXES.get(_RKM_PREFIX[written], 1.0)
    same = len(written) == len(unit) + 1 and written[1:] == unit and "^" not in unit
    return _PREFIXES.get(written[0]) if same else None


def parse_share(text: str | float) -> float:
    """A probability from "15 %", "0.15" or 0.15. Raises QuantityError outside 0 to 1."""
    value = float(text) if isinstance(text, (int, float)) else parse_quantity(text, "")
    if not 0.0 <= value <= 1.0:
        raise QuantityError(f"{text!r} is not a share. Write it between 0 % and 100 %.")
    return value


def parse_minutes(text: str | float) -> float:
    """Minutes from "12 min", "2 h" or 12. Raises QuantityError for a negative time."""
    value = float(text) if isinstance(text, (int, float)) else parse_quantity(text, "minute")
    if value < 0:
        raise QuantityError(f"{text!r} is a negative time.")
    return value


def parse_expected(text: str) -> Expected:
    """Limits from "5 V +/- 5 %", "12 V +/- 0.6 V", "0.5 to 3 ohm" or "3 V" (then with no width)."""
    bounds = re.split(r"\s+to\s+", text)
    if len(bounds) == 2:
        unit = unit_of(bounds[1])
        low, high = (parse_quantity(bound, unit) for bound in bounds)
        return _ordered(text, Expected((low + high) / 2, low, high, unit))
    nominal_text, *tolerance = TOLERANCE.split(text)
    unit = unit_of(nominal_text)
    nominal = parse_quantity(nominal_text, unit)
    width = tolerance_width(tolerance[0], nominal, unit) if tolerance else 0.0
    return _ordered(text, Expected(nominal, nominal - width, nominal + width, unit))


def tolerance_width(text: str, nominal: float, unit: str) -> float:
    """How far limits are from ``nominal``, in its unit, by a tolerance from "5 %" or "0.6 V"."""
    return abs(nominal) * parse_share(text) if text.endswith("%") else parse_quantity(text, unit)


def format_expected(expected: Expected) -> str:
    """Limits as ``parse_expected`` reads them: "12 V +/- 5 %" where the share is plain, else "20 ohm to 1 kohm"."""
    low, nominal, high, unit = expected.low, expected.nominal, expected.high, expected.unit
    if low == high:
        return format_quantity(nominal, unit)
    share = 100.0 * (high - low) / (2.0 * nominal) if nominal > 0 else math.inf
    if share <= _TOLERANCE_UP_TO and math.isclose(share, round(share, 1), rel_tol=1e-6):
        return f"{format_quantity(nominal, unit)} +/- {round(share, 1):g} %"
    return f"{format_quantity(low, unit)} to {format_quantity(high, unit)}"


_TOLERANCE_UP_TO = 30.0
"""Percent from which on limits are shown as a range and not as a tolerance."""


def _ordered(text: str, expected: Expected) -> Expected:
    if not expected.low <= expected.nominal <= expected.high:
        raise QuantityError(f"{text!r} has its limits the wrong way round.")
    if math.isinf(expected.high - expected.low):
        raise QuantityError(f"{text!r} is too large.")
    return expected


@lru_cache(maxsize=4096)
def unit_of(text: str) -> str:
    """The base unit (no prefix) that a written quantity is in: "mV" gives "V", "4k7 ohm" "ohm"."""
    written = _with_point(text.strip())
    number = _NUMBER.match(written)
    rest = (written[number.end() :].strip() if number else written).replace("Ω", "ohm")
    for base in ("V", "ohm", "A", "W", "s", "degC", "Hz", "F"):
        if rest == base or (len(rest) > len(base) and rest[1:] == base and rest[0] in "GMkmunp"):
            return base
    if not rest:
        raise QuantityError(f"{text!r} has no unit. Write it as '12 V'.")
    raise QuantityError(
        f"{text!r}: the unit {rest!r} is not one that a meter here reads (V, ohm, A, W, s, degC, Hz, F)."
    )


def parse_reading(text: str) -> Reading:
    """A reading from "0.03 V" or "OL ohm" ("OL" alone leaves the unit open: "")."""
    written = text.strip()
    if written.upper().startswith(OVERLOAD):
        rest = written[len(OVERLOAD) :].strip()
        return Reading(math.inf, unit_of("0 " + rest) if rest else "", written)
    unit = unit_of(written) if not is_bare(written) else ""
    return Reading(parse_quantity(written, unit), unit, written)


def is_bare(text: str) -> bool:
    """Whether it is a number without a unit."""
    number = _NUMBER.match(text)
    return number is not None and number.end() == len(text)


def format_quantity(value: float, unit: str) -> str:
    """A value with an SI prefix and four significant digits: 0.00033 F is "330 uF", infinity "OL"."""
    if math.isinf(value):
        return f"{OVERLOAD} {unit}".strip()
    if value == 0 or unit in ("degC", ""):
        return f"{value:.4g} {unit}".strip()
    for scale, prefix in _SI_PREFIXES:
        if abs(value) >= scale * 0.9995:
            return f"{value / scale:.4g} {prefix}{unit}"
    return f"{value:.4g} {unit}"


def format_minutes(minutes: float) -> str:
    """Hands-on time in words: "0.5 min", "12 min", "2 h 05 min"."""
    if minutes < 10 and minutes != int(minutes):
        return f"{minutes:.1f} min"
    whole = round(minutes)
    return f"{whole} min" if whole < 120 else f"{whole // 60} h {whole % 60:02d} min"


NEAR_CERTAIN = 0.97
"""From here on a chance is shown as "97 % +": no map knows everything, and numbers are for computing."""


def percent(chance: float) -> str:
    """A chance as a person reads it, never 0 % or 100 %: "< 0.1 %", "4.2 %", "38 %", "97 % +"."""
    if chance >= NEAR_CERTAIN:
        return f"{NEAR_CERTAIN:.0%} +".replace("%", " %")
    if chance < 0.001:
        return "< 0.1 %"
    return f"{chance:.1%}".replace("%", " %") if chance < 0.1 else f"{chance:.0%}".replace("%", " %")
