"""Which temperature does this thermistor, platinum sensor or thermocouple say, and what should it read?"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from knowngood.errors import RangeError
from knowngood.handbook.formula import formula

ICE = 273.15
"""0 degC in K."""


@dataclass(frozen=True)
class BetaResistance:
    """A thermistor's resistance by its B."""

    resistance: float
    within: bool


@dataclass(frozen=True)
class BetaTemperature:
    """A thermistor's temperature by its B."""

    temperature: float
    within: bool


@formula
def ntc_resistance(
    temperature: float, at_25: float, beta: float, beta_from: float = 25.0, beta_to: float = 50.0
) -> BetaResistance:
    """What an NTC thermistor should read at a temperature, by its B.

    B holds between the two temperatures that define it only; outside, one 10 kohm sensor is off by 2 K at 100 degC.
    With three points of the maker's table ask ntc-by-points.

    Formula: R = R25 exp(B (1 / T - 1 / 298.15)), T in K
    Args:
        temperature: of the sensor (degC, -60 to 300)
        at_25: its resistance at 25 degC (ohm, above 0 to 1e9)
        beta: its B (K, 500 to 10000)
        beta_from: lower temperature that B is defined by (degC, -60 to 300)
        beta_to: upper temperature that B is defined by (degC, -60 to 300)
    Gives:
        resistance: of the sensor (ohm)
        within: the temperatures that define B, where it can be relied on (yes or no)
    Source: NTC data sheets (confirmed)

    >>> round(ntc_resistance(45.0, 10e3, 3380.0).resistance, 2)
    4903.4
    """
    resistance = at_25 * math.exp(beta * (1.0 / (temperature + ICE) - 1.0 / 298.15))
    return BetaResistance(resistance, _within(temperature, beta_from, beta_to))


@formula
def ntc_temperature(
    thermistor: float, at_25: float, beta: float, beta_from: float = 25.0, beta_to: float = 50.0
) -> BetaTemperature:
    """The temperature that an NTC thermistor's resistance means, by its B.

    B holds between the two temperatures that define it only; outside, one 10 kohm sensor is off by 2 K at 100 degC.
    With three points of the maker's table ask ntc-by-points.

    Formula: 1 / T = 1 / 298.15 + ln(R / R25) / B, T in K
    Args:
        thermistor: resistance read (ohm, above 0 to 1e10)
        at_25: its resistance at 25 degC (ohm, above 0 to 1e9)
        beta: its B (K, 500 to 10000)
        beta_from: lower temperature that B is defined by (degC, -60 to 300)
        beta_to: upper temperature that B is defined by (degC, -60 to 300)
    Gives:
        temperature: of the sensor (degC)
        within: the temperatures that define B, where it can be relied on (yes or no)
    Source: NTC data sheets (confirmed)

    >>> round(ntc_temperature(5000.0, 10e3, 3380.0).temperature, 3)
    44.417
    """
    inverse = 1.0 / 298.15 + math.log(thermistor / at_25) / beta
    temperature = 1.0 / inverse - ICE if inverse > 0.0 else math.inf
    if not -60.0 <= temperature <= 300.0:
        raise RangeError(
            f"ntc-temperature: {thermistor:g} ohm of a {at_25:g} ohm sensor is no temperature from -60 to 300 degC. "
            "It is open, shorted, or another sensor."
        )
    return BetaTemperature(temperature, _within(temperature, beta_from, beta_to))


def _within(temperature: float, low: float, high: float) -> bool:
    return low - 1e-9 <= temperature <= high + 1e-9


@formula
def ntc_beta(
    first_resistance: float, first_temperature: float, second_resistance: float, second_temperature: float
) -> float:
    """The B of an NTC thermistor from its resistance at two temperatures.

    Formula: B = ln(R1 / R2) / (1 / T1 - 1 / T2), T in K
    Args:
        first_resistance: R1 (ohm, above 0 to 1e10)
        first_temperature: T1 (degC, -60 to 300)
        second_resistance: R2 (ohm, above 0 to 1e10)
        second_temperature: T2 (degC, -60 to 300)
    Gives:
        beta: between the two (K)
    Source: NTC data sheets (confirmed)

    >>> round(ntc_beta(10e3, 25.0, 4158.0, 50.0), 1)
    3382.0
    """
    if first_temperature == second_temperature:
        raise RangeError("ntc-beta: both temperatures are the same; B needs two.")
    inverse = 1.0 / (first_temperature + ICE) - 1.0 / (second_temperature + ICE)
    return math.log(first_resistance / second_resistance) / inverse


@dataclass(frozen=True)
class Fitted:
    """A thermistor's temperature from the curve through three of its points."""

    temperature: float
    within: bool
    a: float
    b: float
    c: float


@formula
def ntc_by_points(thermistor: float, points: tuple[tuple[float, float], ...]) -> Fitted:
    """The temperature that a thermistor's resistance means, by Steinhart and Hart's curve through three points.

    Take the points from the maker's table, at both ends and in the middle of where it is used. A published table that
    has the same B everywhere was computed from one B and adds nothing (that of NCPxxXH103 in one driver, for one).

    Formula: 1 / T = a + b ln R + c (ln R)^3, T in K
    Args:
        thermistor: resistance read (ohm, above 0 to 1e10)
        points: three lines of temperature and resistance (rows of degC, ohm)
    Gives:
        temperature: of the sensor (degC)
        within: the three points, where the curve can be relied on (yes or no)
        a: of the curve (1)
        b: of the curve (1)
        c: of the curve (1)
    Source: Steinhart and Hart, Deep-Sea Research 15 (1968) 497 (citation from memory; derived)

    >>> found = ntc_by_points(16433.0, ((0.0, 158214.0), (25.0, 47000.0), (85.0, 4674.0)))
    >>> round(found.temperature, 3)
    49.962
    """
    if len(points) != 3:
        raise RangeError(f"ntc-by-points: {len(points)} points; the curve goes through three.")
    if min(ohm for _, ohm in points) <= 0 or min(degrees for degrees, _ in points) <= -ICE:
        raise RangeError("ntc-by-points: resistances are above 0 ohm and temperatures above -273.15 degC.")
    x1, x2, x3 = (math.log(ohm) for _, ohm in points)
    y1, y2, y3 = (1.0 / (degrees + ICE) for degrees, _ in points)
    if len({x1, x2, x3}) < 3 or x1 + x2 + x3 == 0.0:
        raise RangeError("ntc-by-points: two points have the same resistance; the curve needs three.")
    g2, g3 = (y2 - y1) / (x2 - x1), (y3 - y1) / (x3 - x1)
    c = (g3 - g2) / (x3 - x2) / (x1 + x2 + x3)
    b = g2 - c * (x1**2 + x1 * x2 + x2**2)
    a = y1 - (b + x1**2 * c) * x1
    read = math.log(thermistor)
    inverse = a + b * read + c * read**3
    if inverse <= 0.0:
        raise RangeError(f"ntc-by-points: {thermistor:g} ohm is too far from the three points.")
    return Fitted(1.0 / inverse - ICE, min(x1, x2, x3) <= read <= max(x1, x2, x3), a, b, c)


PT_A, PT_B, PT_C = 3.9083e-3, -5.775e-7, -4.183e-12
"""IEC 60751:2022 (the same in 2008), 1/K, 1/K^2, 1/K^4; C below 0 degC only."""

PT_TOLERANCE = {"AA": (0.1, 0.0017), "A": (0.15, 0.002), "B": (0.3, 0.005), "C": (0.6, 0.010)}
"""Fixed part in K and share of the temperature; class C from memory."""


@formula
def pt100_resistance(temperature: float, nominal: float = 100.0) -> float:
    """What an industrial platinum sensor reads at a temperature.

    One published table misprints -160 degC as 35.34 ohm; it is 35.54 ohm.

    Formula: R = R0 (1 + A t + B t^2), below 0 degC + C (t - 100) t^3; A 3.9083e-3, B -5.775e-7, C -4.183e-12
    Args:
        temperature: of the sensor (degC, -200 to 850)
        nominal: R0, at 0 degC; 100 for a Pt100, 1000 for a Pt1000 (ohm, above 0 to 1e5)
    Gives:
        resistance: of the sensor (ohm)
    Source: IEC 60751:2022 (the same in 2008), confirmed

    >>> round(pt100_resistance(100.0), 4)
    138.5055
    """
    return nominal * _platinum(temperature)


def _platinum(t: float) -> float:
    return 1.0 + PT_A * t + PT_B * t**2 + (PT_C * (t - 100.0) * t**3 if t < 0.0 else 0.0)


@formula
def pt100_temperature(resistance: float, nominal: float = 100.0) -> float:
    """The temperature that a platinum sensor's resistance means.

    With two wires their resistance counts as temperature: 0.39 ohm is 1 K of a Pt100.

    Formula: the inverse of R = R0 (1 + A t + B t^2 ...), found by halving
    Args:
        resistance: of the sensor alone (ohm, above 0 to 1e6)
        nominal: R0, at 0 degC; 100 for a Pt100, 1000 for a Pt1000 (ohm, above 0 to 1e5)
    Gives:
        temperature: of the sensor (degC)
    Source: IEC 60751:2022 (the same in 2008); inverse derived

    >>> round(pt100_temperature(119.40), 4)
    50.0075
    """
    ratio = resistance / nominal
    low, high = _platinum(-200.0), _platinum(850.0)
    if not low <= ratio <= high:
        raise RangeError(
            f"pt100-temperature: {resistance:g} ohm; a sensor of {nominal:g} ohm has {nominal * low:.6g} to "
            f"{nominal * high:.6g} ohm. It is open, shorted, or another sensor."
        )
    return _inverse(_platinum, ratio, -200.0, 850.0)


def _inverse(rising: Callable[[float], float], wanted: float, low: float, high: float) -> float:
    """Where a rising function has a value, to the last digit."""
    for _ in range(60):
        middle = (low + high) / 2.0
        low, high = (middle, high) if rising(middle) < wanted else (low, middle)
    return (low + high) / 2.0


@dataclass(frozen=True)
class PlatinumTolerance:
    """How far a platinum sensor may be off."""

    kelvin: float
    resistance: float
    known: str


@formula
def pt100_tolerance(temperature: float, grade: str, nominal: float = 100.0) -> PlatinumTolerance:
    """How far a platinum sensor of a class may be off at a temperature.

    Formula: a + b |t|: AA 0.1 K, 0.0017; A 0.15 K, 0.002; B 0.3 K, 0.005; C 0.6 K, 0.010
    Args:
        temperature: of the sensor (degC, -200 to 850)
        grade: its class (one of AA, A, B, C)
        nominal: R0, at 0 degC (ohm, above 0 to 1e5)
    Gives:
        kelvin: either way (K)
        resistance: the same on the meter (ohm)
        known: how well (text)
    Source: IEC 60751:2008 on (classes AA, A, B confirmed; C from memory)

    >>> round(pt100_tolerance(100.0, "B").kelvin, 3)
    0.8
    """
    fixed, share = PT_TOLERANCE[grade]
    kelvin = fixed + share * abs(temperature)
    slope = PT_A + 2.0 * PT_B * temperature
    if temperature < 0.0:
        slope += PT_C * (4.0 * temperature**3 - 300.0 * temperature**2)
    known = "class C is from memory, no pass or fail" if grade == "C" else "confirmed"
    return PlatinumTolerance(kelvin, kelvin * slope * nominal, known)


K_BELOW = (
    *(0.0, 3.9450128025e-2, 2.3622373598e-5, -3.2858906784e-7, -4.9904828777e-9, -6.7509059173e-11),
    *(-5.7410327428e-13, -3.1088872894e-15, -1.0451609365e-17, -1.9889266878e-20, -1.6322697486e-23),
)
K_ABOVE = (
    *(-1.7600413686e-2, 3.8921204975e-2, 1.8558770032e-5, -9.9457592874e-8, 3.1840945719e-10),
    *(-5.6072844889e-13, 5.6075059059e-16, -3.2020720003e-19, 9.7151147152e-23, -1.2104721275e-26),
)
K_BUMP = (0.1185976, -1.183432e-4, 126.9686)
"""Type K, mV over degC: polynomials below and from 0 degC, and a0, a1, a2 of the bump (NIST Monograph 175, 1993)."""


def _type_k(t: float) -> float:
    """V against a junction at 0 degC."""
    terms = K_BELOW if t < 0.0 else K_ABOVE
    value = 0.0
    for term in reversed(terms):
        value = value * t + term
    if t >= 0.0:
        a0, a1, a2 = K_BUMP
        value += a0 * math.exp(a1 * (t - a2) ** 2)
    return value * 1e-3


@formula
def type_k_voltage(temperature: float, cold_junction: float = 0.0) -> float:
    """What a type K thermocouple gives at a temperature.

    Formula: E(t) - E(t of the cold junction), with E the reference function
    Args:
        temperature: of the tip (degC, -270 to 1372)
        cold_junction: where it meets copper (degC, -40 to 100)
    Gives:
        voltage: at the copper ends (V)
    Source: NIST Monograph 175 (1993), SRD 60, ITS-90 (confirmed)

    >>> round(type_k_voltage(100.0) * 1e3, 3)
    4.096
    """
    return _type_k(temperature) - _type_k(cold_junction)


@formula
def type_k_temperature(voltage: float, cold_junction: float) -> float:
    """The temperature that a type K thermocouple's voltage means, with the temperature of its cold junction.

    Voltages are added, never temperatures: 12 mV with the block at 23 degC is 317.1 degC, and not 318.0.

    Formula: t with E(t) = E read + E(t of the cold junction)
    Args:
        voltage: read at the copper ends (V, -0.0106 to 0.0565)
        cold_junction: where it meets copper (degC, -40 to 100)
    Gives:
        temperature: of the tip (degC)
    Source: NIST Monograph 175 (1993), SRD 60, ITS-90 (confirmed; rule for the cold junction derived)
    Caution: A bare tip on a live part puts the meter and its ends at that voltage: insulate it, or power off.

    >>> round(type_k_temperature(12e-3, 23.0), 3)
    317.11
    """
    total = voltage + _type_k(cold_junction)
    low, high = _type_k(-270.0), _type_k(1372.0)
    if not low - 1e-9 <= total <= high + 1e-9:
        raise RangeError(
            f"type-k-temperature: with the cold junction {total * 1e3:.4g} mV; type K has {low * 1e3:.4g} to "
            f"{high * 1e3:.4g} mV."
        )
    return _inverse(_type_k, total, -270.0, 1372.0)


@formula
def type_k_sensitivity(temperature: float) -> float:
    """How many volts a type K thermocouple gives for a kelvin.

    Formula: dE / dt
    Args:
        temperature: of the tip (degC, -269 to 1371)
    Gives:
        sensitivity: Seebeck coefficient (V/K)
    Source: NIST Monograph 175 (1993), SRD 60, ITS-90; derivative derived

    >>> round(type_k_sensitivity(25.0) * 1e6, 3)
    40.518
    """
    return (_type_k(temperature + 0.01) - _type_k(temperature - 0.01)) / 0.02
