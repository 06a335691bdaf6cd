"""From a number on a meter to how likely each state of a rail makes it, and where its true value probably lies.

Method: JCGM 100:2008 (GUM). A meter's accuracy statement and a tolerance are limits of a rectangular distribution
(4.3.7: standard uncertainty a / sqrt(3)), a display's resolution one of full width (F.2.2.1: d / sqrt(12)); what is
independent adds in quadrature (5.1.2).

The true value in a state is uniform between the state's limits, and each limit is blurred by a normal error with the
standard uncertainty of a reading made there, so that the density of a state sums to one exactly. A share of all
readings are slips and misprobes, spread evenly over what the meter can show. A sign is left out: probes get swapped,
and a map writes a negative rail without it.
"""

from __future__ import annotations

import math
import re
import statistics
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Literal

from knowngood.errors import QuantityError
from knowngood.handbook.quantities import Expected, format_quantity, parse_quantity, unit_of

Measured = Literal["V", "ohm", "diode", "A"]
"""What a meter can be switched to: direct voltage, resistance, forward drop of a junction (in volts), current."""

SLIP = 0.01
"""Share of readings that are slips of the hand or pen (common practice, no source), so no reading proves anything."""

MOST_WORTH = 1e6
"""No reading moves the odds of two states by more: where a state is so narrow that it would, slips get more share."""

OVERLOAD_OF_SLIPS = {"V": 0.001, "ohm": 0.5, "diode": 0.5, "A": 0.001}
"""Share of slips that show overload: a probe that does not touch shows it as a resistance or a junction (common
practice, no source)."""

OVERLOAD_OF_CLEAR_RAIL = 0.05
"""Share of healthy rails whose resistance to ground is above the meter's range (common practice, no source)."""

NONE_BELOW = 0.1
"""A rail counts as absent below this share of its nominal voltage (common practice, no source)."""

HIGH_UP_TO = 2.5
"""A rail that is too high is at most this multiple of its nominal voltage (common practice, no source)."""

PULSING = "pulsing"
"""A rail whose supply starts into a short again and again."""

PULSES_UP_TO = 0.3
"""What a meter shows of pulses is at most this share of the nominal voltage (common practice, no source)."""

OHMS_RANGE = (0.05, 40e6)
"""Resistance that an ordinary hand meter can show, in ohm (common practice, no source)."""

LOG_SPREAD = 0.04
"""Standard uncertainty of a resistance in circuit, in decades: contact and parallel paths (common practice)."""

DIODE_SHORT = 0.05
"""In diode mode a rail counts as shorted below this, in volts: 1 mA through less than 50 ohm (common practice)."""

DIODE_RANGE = (DIODE_SHORT, 3.0)
"""Forward drop that an ordinary hand meter can tell from a short and from overload, in volts (common practice)."""

DIODE_SPREAD = 0.02
"""Standard uncertainty of a forward drop, in volts: 2 mV for each kelvin, and test currents that differ (common
practice, no source)."""

OPEN = "open"
"""What overload of a resistance or a junction is called: nothing is there to conduct, or the probe does not touch."""

MAD_SCALE = 1.482602218505602
"""Median absolute deviation to standard deviation of a normal: 1 / Phi^-1(3/4) (NIST/SEMATECH e-Handbook 1.3.5.17)."""

ENOUGH = 3
"""Known-good units from which on what they read enters the expected value; with fewer it is only shown beside."""

MAP_COUNTS_AS = 5
"""The map's tolerance weighs as much as this many known-good units (common practice, no source)."""

OUTSIDE = 3.5
"""Modified z-score beyond which a value is none of its group (Iglewicz and Hoaglin 1993, from memory)."""


# ---- the meter ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Range:
    """One range of a meter, up to ``full``: accurate to ``percent`` of reading plus ``counts`` of the last digit."""

    full: float
    percent: float
    counts: int

    def limit(self, value: float, digit: float) -> float:
        """The accuracy limit at ``value``, same unit, of a display whose last digit is ``digit``."""
        return abs(value) * self.percent / 100.0 + self.counts * digit


@dataclass(frozen=True)
class Meter:
    """A hand meter: its ranges by what it is switched to, smallest first, and the highest count of its display."""

    volts: tuple[Range, ...]
    ohms: tuple[Range, ...]
    diode: tuple[Range, ...]
    amps: tuple[Range, ...]
    display: int

    def ranges(self, measured: Measured) -> tuple[Range, ...]:
        return {"V": self.volts, "ohm": self.ohms, "diode": self.diode, "A": self.amps}[measured]

    def top(self, measured: Measured) -> float:
        """The highest value it can show; above it shows overload."""
        return self.ranges(measured)[-1].full

    def range_for(self, measured: Measured, value: float) -> Range:
        """The smallest range that can show ``value``, or the largest there is."""
        ranges = self.ranges(measured)
        return next((one for one in ranges if abs(value) <= one.full), ranges[-1])

    def digit(self, measured: Measured, value: float) -> float:
        """Size of the last digit at ``value``, in the same unit: the least power of ten that the display can count."""
        steps = math.log10(self.range_for(measured, value).full / self.display)
        return float(10.0 ** math.ceil(round(steps, 9)))

    def limit(self, measured: Measured, value: float) -> float:
        """The accuracy limit at ``value``, same unit: percent of reading plus counts."""
        return self.range_for(measured, value).limit(value, self.digit(measured, value))

    def standard_uncertainty(self, measured: Measured, value: float) -> float:
        """Standard uncertainty at ``value``, same unit: accuracy limit / sqrt(3) with resolution / sqrt(12)."""
        return math.hypot(self.limit(measured, value) / math.sqrt(3.0), _rounded(self.digit(measured, value)))


def _rounded(digit: float) -> float:
    """Standard uncertainty of a value rounded to ``digit``."""
    return digit / math.sqrt(12.0)


_RANGE = re.compile(r"(?P<full>\S+ ?\S*?) (?P<percent>\d+(?:[.,]\d+)?) ?% ?\+ ?(?P<counts>\d+)")


def parse_ranges(text: str, unit: str) -> tuple[Range, ...]:
    """Ranges from "6 V 0.5 % + 3, 60 V 0.5 % + 3": full scale, percent of reading, counts. Raises QuantityError."""
    example = f"as '6 {unit} 0.5 % + 3, 60 {unit} 0.8 % + 5': full scale, percent of reading + counts of each range"
    ranges: list[Range] = []
    for piece in re.split(r"[,;] +", " ".join(text.split())):
        match = _RANGE.fullmatch(piece)
        if match is None or unit_of(match["full"]) != unit:
            raise QuantityError(f"{piece!r} is no range of a meter in {unit}. Write it {example}.")
        one = Range(
            parse_quantity(match["full"], unit), float(match["percent"].replace(",", ".")), int(match["counts"])
        )
        if one.full <= (ranges[-1].full if ranges else 0.0):
            raise QuantityError(f"{piece!r}: ranges go upwards from above zero. Write them {example}.")
        if one.percent > 20 or one.counts > 1000:
            raise QuantityError(f"{piece!r}: no meter is that inaccurate (at most 20 % and 1000 counts).")
        ranges.append(one)
    return tuple(ranges)


def written_ranges(ranges: Iterable[Range], unit: str) -> str:
    """Ranges as ``parse_ranges`` reads them."""
    return ", ".join(f"{format_quantity(one.full, unit)} {one.percent:.10g} % + {one.counts}" for one in ranges)


DEFAULT_RANGES = {
    "V": "6 V 0.5 % + 3, 60 V 0.5 % + 3, 600 V 0.5 % + 3",
    "ohm": "600 ohm 1 % + 5, 6 kohm 1 % + 3, 60 kohm 1 % + 3, 600 kohm 1 % + 3, 6 Mohm 1 % + 3, 40 Mohm 2 % + 5",
    "diode": "3 V 1 % + 3",
    "A": "6 A 1.5 % + 5, 10 A 1.5 % + 5",
}
"""Ranges of an ordinary hand meter of 6000 counts (common practice, no source)."""

DEFAULT_METER = Meter(
    volts=parse_ranges(DEFAULT_RANGES["V"], "V"),
    ohms=parse_ranges(DEFAULT_RANGES["ohm"], "ohm"),
    diode=parse_ranges(DEFAULT_RANGES["diode"], "V"),
    amps=parse_ranges(DEFAULT_RANGES["A"], "A"),
    display=6000,
)
"""An ordinary hand meter (common practice, no source)."""


# ---- conformity ---------------------------------------------------------------------------------------------------


def conformance(value: float, uncertainty: float, low: float, high: float) -> float:
    """Chance that the true value lies between two limits, nothing else known (JCGM 106:2012, clause 7).

    Phi((high - y) / u) - Phi((low - y) / u); one-sided with an infinite limit.
    """
    return _normal_cdf((high - value) / uncertainty) - _normal_cdf((low - value) / uncertainty)


def guarded(limits: Expected, uncertainty: float, *, share: float = 1.0, coverage: float = 2.0) -> tuple[float, float]:
    """The limits drawn in by a guard band w = share x U, U = coverage x u (JCGM 106:2012, clause 8, from memory).

    With a negative ``share`` they are drawn out: what lies beyond those is rejected with as much certainty.
    """
    band = share * coverage * uncertainty
    return limits.low + band, limits.high - band


Conformity = Literal["inside", "outside", "cannot be told"]
"""Words for a value held to its limits: between the guarded ones, beyond them on the far side, or too near to one."""


def conformity_of(
    value: float, uncertainty: float, limits: Expected, *, share: float = 1.0, coverage: float = 2.0
) -> Conformity:
    """The verdict on a value with a guard band on both sides of each limit; see ``guarded``."""
    accept = guarded(limits, uncertainty, share=share, coverage=coverage)
    reject = guarded(limits, uncertainty, share=-share, coverage=coverage)
    if accept[0] <= value <= accept[1]:
        return "inside"
    return "cannot be told" if reject[0] <= value <= reject[1] else "outside"


# ---- what known-good units read -----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Reference:
    """What known-good units read: median, median absolute deviation (same unit), and how many units."""

    median: float
    mad: float
    count: int

    @property
    def enough(self) -> bool:
        return self.count >= ENOUGH

    @property
    def spread(self) -> float:
        """Standard deviation of one more unit: 1.4826 MAD, with the median's own error (pi / 2 n of it, squared)."""
        return MAD_SCALE * self.mad * math.sqrt(1.0 + math.pi / (2.0 * self.count))

    def fits(self, value: float, uncertainty: float) -> bool:
        """Whether a reading with this standard uncertainty could be one more of them."""
        return abs(value - self.median) <= OUTSIDE * math.hypot(self.spread, uncertainty)


def reference(values: Iterable[float]) -> Reference:
    """Median and MAD of at least one value, each from a unit of its own."""
    given = list(values)
    median = statistics.median(given)
    return Reference(median, statistics.median(abs(one - median) for one in given), len(given))


# ---- states -------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Span:
    """Where the true value lies in one state, and the chance that the meter shows overload instead of a number."""

    low: float
    high: float
    overload: float = 0.0


@dataclass(frozen=True)
class Zone:
    """What a true value between two limits is called: absent, shorted, low, in tolerance, high."""

    name: str
    low: float
    high: float


@dataclass(frozen=True)
class ReadingModel:
    """Spans by state on one scale: the unit, or decades of it with ``log``. ``healthy`` is the state of a good rail.

    ``spread`` is the standard uncertainty that is not the meter's, on the scale. Where at least ``ENOUGH`` known-good
    units were read, they share the healthy state with the map's limits, in proportion to their number.
    """

    measured: Measured
    spans: dict[str, Span]
    healthy: str
    zones: tuple[Zone, ...]
    log: bool = False
    spread: float = 0.0
    meter: Meter = DEFAULT_METER
    reference: Reference | None = None

    @property
    def low(self) -> float:
        """The low end of the scale."""
        return math.log10(OHMS_RANGE[0]) if self.log else 0.0

    @property
    def high(self) -> float:
        """The high end of the scale: above it the meter shows overload."""
        top = self.meter.top(self.measured)
        return math.log10(top) if self.log else top

    @cached_property
    def slip(self) -> float:
        """Share of slips: ``SLIP``, or as much as keeps every reading's worth below ``MOST_WORTH``."""
        highest = 0.0
        for state, span in self.spans.items():
            narrowest = self._blur(span.low, 0.0) * math.sqrt(2 * math.pi)
            weight, middle, deviation = self._known(state)
            flat = 1.0 / (narrowest if _narrow(span.low, span.high) else span.high - span.low)
            folded = 1.0 + math.exp(-2.0 * ((middle - self.low) / deviation) ** 2)
            known = folded / (deviation * math.sqrt(2 * math.pi))
            highest = max(highest, (1 - span.overload) * ((1 - weight) * flat + weight * known))
        odds = highest * (self.high - self.low) / (self._slips_shown * (MOST_WORTH - 1))
        return max(SLIP, odds / (1 + odds))

    def is_overload(self, value: float) -> bool:
        """Whether a reading is overload. A number that the meter could not have shown says the same."""
        return abs(value) > self.meter.top(self.measured)

    def likelihood(self, value: float, digit: float = 0.0) -> dict[str, float]:
        """Density (or, for overload, probability) of a reading of ``value`` in each state; infinite is overload.

        ``digit`` is the last digit as written, where a person wrote fewer than the meter showed.
        """
        slip = self.slips(value)
        if self.is_overload(value):
            return {state: (1 - self.slip) * self._over(state) + slip for state in self.spans}
        place = self._place(value)
        rounding = self._rounding(value, digit)
        return {
            state: (1 - self.slip) * (1 - span.overload) * self._density(state, place, rounding) + slip
            for state, span in self.spans.items()
        }

    def slips(self, value: float) -> float:
        """What slips alone have in that density (or probability), the same in every state."""
        if self.is_overload(value):
            return self.slip * OVERLOAD_OF_SLIPS[self.measured]
        return self.slip * self._slips_shown / (self.high - self.low)

    def chances(self, outcomes: tuple[str, ...]) -> dict[str, dict[str, float]]:
        """For each state, the chance that the reading lies in the span of each outcome. Each row sums to one.

        Between two spans the border is half-way; overload counts to the highest one.
        """
        ordered = sorted(outcomes, key=lambda outcome: self.spans[outcome].low)
        inner = [(self.spans[left].high + self.spans[right].low) / 2 for left, right in pairwise(ordered)]
        borders = [self.low, *(min(max(border, self.low), self.high) for border in inner), self.high]
        result: dict[str, dict[str, float]] = {}
        for state, span in self.spans.items():
            below = [self._below(state, border) for border in borders]
            row: dict[str, float] = {}
            for index, outcome in enumerate(ordered):
                inside = (1 - span.overload) * (below[index + 1] - below[index])
                slips = self._slips_shown * (borders[index + 1] - borders[index]) / (self.high - self.low)
                row[outcome] = (1 - self.slip) * inside + self.slip * slips
            row[ordered[-1]] += (1 - self.slip) * self._over(state) + self.slip * (1 - self._slips_shown)
            result[state] = row
        return result

    def uncertainty(self, value: float, digit: float = 0.0) -> float:
        """Standard uncertainty of a reading, in its unit: meter, digits left out, and what is not the meter's."""
        other = self.spread * (math.log(10.0) * abs(value) if self.log else 1.0)
        meant = self._left_out(value, digit)
        return math.hypot(self.meter.standard_uncertainty(self.measured, value), meant, other)

    def falls(self, value: float, digit: float = 0.0) -> dict[str, float]:
        """Chance of each zone by the reading alone: ``conformance`` of each, less the slips. Sums to 1 - ``slip``.

        Overload of a resistance or a junction is a word of its own, 'open'; of a voltage it is 'high'.
        """
        if self.is_overload(value):
            return {self.zones[-1].name if self.measured == "V" else OPEN: 1 - self.slip}
        u = self.uncertainty(value, digit)
        lows = [-math.inf, *(zone.low for zone in self.zones[1:])]
        return {
            zone.name: (1 - self.slip) * conformance(abs(value), u, low, zone.high)
            for zone, low in zip(self.zones, lows, strict=True)
        }

    # ---- inside ---------------------------------------------------------------------------------------------------

    @property
    def _slips_shown(self) -> float:
        """Share of slips that show a number."""
        return 1.0 - OVERLOAD_OF_SLIPS[self.measured]

    def _over(self, state: str) -> float:
        """Chance that the meter shows overload in a state, slips aside."""
        overload = self.spans[state].overload
        return overload + (1 - overload) * (1 - self._below(state, self.high))

    def _place(self, value: float) -> float:
        return max(math.log10(max(abs(value), 1e-300)), self.low) if self.log else abs(value)

    def _left_out(self, value: float, digit: float) -> float:
        return _rounded(digit) if digit > self.meter.digit(self.measured, value) else 0.0

    def _rounding(self, value: float, digit: float) -> float:
        """Standard uncertainty on the scale of digits that a person left out."""
        left_out = self._left_out(value, digit)
        return left_out / (math.log(10.0) * 10.0 ** self._place(value)) if self.log else left_out

    def _blur(self, place: float, rounding: float) -> float:
        """Standard uncertainty on the scale of a reading made at ``place``."""
        at = 10.0**place if self.log else place
        of_meter = self.meter.standard_uncertainty(self.measured, at)
        return math.hypot(of_meter / (math.log(10.0) * at) if self.log else of_meter, self.spread, rounding)

    def _known(self, state: str) -> tuple[float, float, float]:
        """Weight, middle and standard deviation, on the scale, of what known-good units add to a state."""
        if self.reference is None or not self.reference.enough or state != self.healthy:
            return 0.0, 0.0, 1.0
        middle = self._place(self.reference.median)
        spread = self.reference.spread / (math.log(10.0) * 10.0**middle) if self.log else self.reference.spread
        weight = self.reference.count / (self.reference.count + MAP_COUNTS_AS)
        return weight, middle, math.hypot(spread, self._blur(middle, 0.0))

    def _density(self, state: str, place: float, rounding: float) -> float:
        """Density at a place of the scale. What errors throw off its low end is folded back."""
        span = self.spans[state]
        low, high = self._blur(span.low, rounding), self._blur(span.high, rounding)
        weight, middle, deviation = self._known(state)
        deviation = math.hypot(deviation, rounding)
        flat = known = 0.0
        for x in (place, 2 * self.low - place):
            flat += _blurred_density(x, span.low, span.high, low, high)
            known += math.exp(-0.5 * ((x - middle) / deviation) ** 2) / (deviation * math.sqrt(2 * math.pi))
        return (1 - weight) * max(0.0, flat) + weight * known

    def _below(self, state: str, place: float) -> float:
        """Chance of a reading below a place of the scale: the integral of ``_density`` from the low end."""
        span = self.spans[state]
        low, high = self._blur(span.low, 0.0), self._blur(span.high, 0.0)
        weight, middle, deviation = self._known(state)
        mirrored = 2 * self.low - place
        flat = _blurred_cdf(place, span.low, span.high, low, high) - _blurred_cdf(
            mirrored, span.low, span.high, low, high
        )
        known = _normal_cdf((place - middle) / deviation) - _normal_cdf((mirrored - middle) / deviation)
        return min(1.0, max(0.0, (1 - weight) * flat + weight * known))


def rail_voltage(
    nominal: Expected,
    *,
    high: bool,
    pulsing: bool = False,
    drift: float = 0.0,
    meter: Meter = DEFAULT_METER,
    reference: Reference | None = None,
) -> ReadingModel:
    """Model of a rail's voltage: none, weak, good; if ``high``, high; if ``pulsing``, the mean of pulses. Volts.

    ``drift`` is the share of the nominal by which the limits of a healthy rail may have moved, rectangular.
    """
    absent = NONE_BELOW * nominal.nominal
    spans = {"none": Span(0.0, absent), "weak": Span(absent, nominal.low), "good": Span(nominal.low, nominal.high)}
    if high:
        spans["high"] = Span(nominal.high, HIGH_UP_TO * nominal.nominal)
    if pulsing:
        spans[PULSING] = Span(0.0, PULSES_UP_TO * nominal.nominal)
    zones = (
        Zone("absent", 0.0, absent),
        Zone("low", absent, nominal.low),
        Zone("in tolerance", nominal.low, nominal.high),
        Zone("high", nominal.high, math.inf),
    )
    spread = drift * nominal.nominal / math.sqrt(3.0)
    return ReadingModel("V", spans, "good", zones, spread=spread, meter=meter, reference=reference)


def rail_to_ground(
    clear: Expected, short_below: float, meter: Meter = DEFAULT_METER, reference: Reference | None = None
) -> ReadingModel:
    """Model of a rail's resistance to ground with power off: short or clear. Decades of an ohm."""
    spans = {
        "short": Span(math.log10(OHMS_RANGE[0]), math.log10(short_below)),
        "clear": Span(math.log10(clear.low), math.log10(clear.high), OVERLOAD_OF_CLEAR_RAIL),
    }
    zones = _zones_to_ground(clear, short_below)
    return ReadingModel("ohm", spans, "clear", zones, True, LOG_SPREAD, meter, reference)


def rail_diode(clear: Expected, meter: Meter = DEFAULT_METER, reference: Reference | None = None) -> ReadingModel:
    """Model of a rail to ground in diode mode with power off: short or clear. Volts of forward drop."""
    spans = {"short": Span(0.0, DIODE_SHORT), "clear": Span(clear.low, clear.high, OVERLOAD_OF_CLEAR_RAIL)}
    zones = _zones_to_ground(clear, DIODE_SHORT)
    return ReadingModel("diode", spans, "clear", zones, False, DIODE_SPREAD, meter, reference)


def _zones_to_ground(clear: Expected, short_below: float) -> tuple[Zone, ...]:
    return (
        Zone("shorted", 0.0, short_below),
        Zone("low", short_below, clear.low),
        Zone("in tolerance", clear.low, clear.high),
        Zone("high", clear.high, math.inf),
    )


def _normal_cdf(z: float) -> float:
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


def _narrow(low: float, high: float) -> bool:
    return high - low < 1e-12 * max(1.0, abs(high))


def _blurred_density(x: float, low: float, high: float, at_low: float, at_high: float) -> float:
    """Density at x of a value uniform on [low, high], its ends blurred by a normal of these standard deviations."""
    if _narrow(low, high):
        z = (x - low) / at_low
        return math.exp(-0.5 * z * z) / (at_low * math.sqrt(2 * math.pi))
    return (_normal_cdf((x - low) / at_low) - _normal_cdf((x - high) / at_high)) / (high - low)


def _blurred_cdf(x: float, low: float, high: float, at_low: float, at_high: float) -> float:
    """Integral of ``_blurred_density`` up to x."""
    if _narrow(low, high):
        return _normal_cdf((x - low) / at_low)

    def up_to(z: float) -> float:
        return z * _normal_cdf(z) + math.exp(-0.5 * z * z) / math.sqrt(2 * math.pi)

    return (at_low * up_to((x - low) / at_low) - at_high * up_to((x - high) / at_high)) / (high - low)
