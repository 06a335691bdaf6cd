"""The bench's settings: plain lines ``set KEY VALUE`` in the bench's own log, over defaults written here."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import cast, get_args

from knowngood.bench.store import BenchEntry
from knowngood.errors import LineError, QuantityError
from knowngood.handbook.quantities import Money, parse_money, parse_share
from knowngood.handbook.readings import DEFAULT_METER, DEFAULT_RANGES, Meter, Range, parse_ranges, written_ranges
from knowngood.log.events.release import RuleSet
from knowngood.maps.shape import nearest, similar


@dataclass(frozen=True)
class BenchSettings:
    """What the bench is set to. Amounts are in ``currency``; shares are between 0 and 1."""

    currency: str
    rate_target: Money
    rate_floor: Money
    fee_share: float
    carriage: Money
    inward: Money
    bid_margin: Money
    bid_loss: float
    return_share: float
    hours: int
    period: int
    waiting_day: Money
    kept_share: float
    handling: Money
    warranty: int
    drying_hours: int
    decimal_sign: str
    lacks: tuple[str, ...]
    meter_volts: tuple[Range, ...]
    meter_ohms: tuple[Range, ...]
    meter_diode: tuple[Range, ...]
    meter_display: int
    safety_rules: str

    @property
    def meter(self) -> Meter:
        return Meter(self.meter_volts, self.meter_ohms, self.meter_diode, DEFAULT_METER.amps, self.meter_display)


@dataclass(frozen=True)
class Setting:
    """One setting: what it means, its default as typed, and how a value is read (second argument: the currency)."""

    says: str
    default: str
    read: Callable[[str, str], object]


def _currency(text: str, _: str) -> str:
    if not re.fullmatch(r"[A-Z]{3}", text.upper()):
        raise QuantityError(f"{text!r} is not a currency. Write its three letters (ISO 4217), as 'EUR'.")
    return text.upper()


def _money(text: str, currency: str) -> Money:
    amount = parse_money(text if text[:1].isalpha() else f"{currency} {text}")
    if amount.currency != currency:
        raise QuantityError(f"{amount} is not in {currency}, the bench's currency. Convert it, or set that first.")
    if amount.minor < 0:
        raise QuantityError(f"{amount} is negative. Write it as '{currency} {-amount.major:g}'.")
    return amount


def _share(text: str, _: str) -> float:
    return parse_share(text)


def _decimal_sign(text: str, _: str) -> str:
    signs = {".": ".", ",": ",", "point": ".", "comma": ","}
    if text not in signs:
        raise QuantityError(f"{text!r} is not a decimal sign. Write '.' or ','.")
    return signs[text]


def _tools(text: str, _: str) -> tuple[str, ...]:
    if text.strip().lower() == "none":
        return ()
    return tuple(dict.fromkeys(tool for one in text.lower().split(",") if (tool := " ".join(one.split()))))


def _rules(text: str, _: str) -> str:
    if text.lower() not in RULE_SETS:
        raise QuantityError(f"{text!r} is no rule set here. Write 'german', 'british' or 'none'.")
    return text.lower()


def _whole(low: int, high: int) -> Callable[[str, str], int]:
    def read(text: str, _: str) -> int:
        try:
            value = int(text)
        except ValueError:
            value = low - 1
        if not low <= value <= high:
            raise QuantityError(f"{text!r} is not a whole number from {low} to {high}.")
        return value

    return read


def _ranges(unit: str) -> Callable[[str, str], tuple[Range, ...]]:
    return lambda text, _: parse_ranges(text, unit)


RULE_SETS = (*get_args(RuleSet), "none")
"""Rule sets that the handbook has limits of. Where there is none, the bench's own is to be said."""

SETTINGS: dict[str, Setting] = {
    "currency": Setting("the currency everything is booked in", "EUR", _currency),
    "rate-target": Setting("what an hour ought to bring, for bids", "24", _money),
    "rate-floor": Setting("the least an hour must bring, for finishing what is open", "12", _money),
    "fee-share": Setting("share of a sale that the market place keeps", "12 %", _share),
    "carriage": Setting("sending one sold unit", "14", _money),
    "inward": Setting("getting one bought unit here", "8", _money),
    "bid-margin": Setting("what a bought unit is to leave on average, its hours at the target rate paid", "0", _money),
    "bid-loss": Setting("bearable chance that a bought unit brings less than it cost", "30 %", _share),
    "return-share": Setting("share of sold units that come back", "4 %", _share),
    "hours": Setting("hands-on hours in the period that a plan of the shelf is for", "40", _whole(0, 10_000)),
    "period": Setting("days in that period", "30", _whole(1, 366)),
    "waiting-day": Setting(
        "what a unit that waits for a part costs a day: it falls in price and takes room", "0.60", _money
    ),
    "kept-share": Setting("share of its price that a bought part is still worth if it is not needed", "50 %", _share),
    "handling": Setting("to send such a part back, or to put it away", "0.50", _money),
    "warranty": Setting("days in which a unit sold as working may come back", "90", _whole(0, 3650)),
    "drying-hours": Setting("hours that a washed unit dries before it may get power", "24", _whole(1, 720)),
    "decimal-sign": Setting("between whole and part, as numbers are shown", ".", _decimal_sign),
    "lacks": Setting("tools that are not here, with commas between them", "none", _tools),
    "meter-volts": Setting(
        "the meter's ranges of direct voltage: full scale, percent of reading + counts of the last digit",
        DEFAULT_RANGES["V"],
        _ranges("V"),
    ),
    "meter-ohms": Setting("the same of resistance", DEFAULT_RANGES["ohm"], _ranges("ohm")),
    "meter-diode": Setting("the same of diode mode", DEFAULT_RANGES["diode"], _ranges("V")),
    "meter-display": Setting("the highest count the meter shows", "6000", _whole(999, 10**9)),
    "safety-rules": Setting("the rules of the safety test after repair: german, british, none", "none", _rules),
}
"""Every setting by key. The defaults are common practice, no source; amounts are in the bench's currency."""

RANGES_IN = {"meter-volts": "V", "meter-ohms": "ohm", "meter-diode": "V"}
"""The settings that are ranges of the meter, with their unit."""


def read_settings(lines: Iterable[BenchEntry]) -> BenchSettings:
    """The settings after the given lines of the bench's log; up to some line of it, those that held then.

    With another currency the amounts set before no longer hold, and their defaults count until they are set again.
    """
    typed: dict[str, str] = {}
    for line in lines:
        verb, _, rest = line.text.partition(" ")
        key, _, value = rest.partition(" ")
        # A key of a newer version means nothing here, and must not keep anyone from working.
        if verb == "set" and key in SETTINGS:
            if key == "currency" and value != typed.get(key, SETTINGS[key].default):
                typed = {one: text for one, text in typed.items() if SETTINGS[one].read is not _money}
            typed[key] = value
    return _settings(typed)


def _settings(typed: dict[str, str]) -> BenchSettings:
    currency = typed.get("currency", SETTINGS["currency"].default)
    values = {
        key.replace("-", "_"): setting.read(typed.get(key, setting.default), currency)
        for key, setting in SETTINGS.items()
    }
    return BenchSettings(**values)  # type: ignore[arg-type]  # each reader gives its field's type


def setting_line(key: str, value: str, settings: BenchSettings) -> str:
    """The line that sets a key, in its canonical form. Raises LineError that names the nearest key or what is right."""
    name = key.strip().lower().replace("_", "-").replace(" ", "-")
    if name not in SETTINGS:
        raise LineError(f"No setting '{key}'. {similar(name, SETTINGS)}", nearest(name, SETTINGS))
    if not value.strip():
        raise LineError(f"'{name}' ({SETTINGS[name].says}) needs a value. It is {shown(settings, name)} now.")
    try:
        read = SETTINGS[name].read(" ".join(value.split()), settings.currency)
    except QuantityError as error:
        raise LineError(f"{name}: {error}") from None
    return f"set {name} {_typed(name, read)}"


def shown(settings: BenchSettings, key: str) -> str:
    """The value of a setting as it is typed."""
    return _typed(key, getattr(settings, key.replace("-", "_")))


def _typed(key: str, value: object) -> str:
    if key in RANGES_IN:
        return written_ranges(cast("tuple[Range, ...]", value), RANGES_IN[key])
    if isinstance(value, tuple):
        return ", ".join(value) or "none"
    if isinstance(value, float) and SETTINGS[key].read is _share:
        return f"{100 * value:.10g} %"
    return str(value)
