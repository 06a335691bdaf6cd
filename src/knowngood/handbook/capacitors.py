"""How long does this capacitor last, which voltage must it bear, and how much of its value is left?"""

from __future__ import annotations

import math
from dataclasses import dataclass

from knowngood.errors import RangeError
from knowngood.handbook import dielectrics
from knowngood.handbook.formula import formula

BOLTZMANN = 8.617333262e-5
"""eV/K (CODATA 2018, exact to these digits)."""


@dataclass(frozen=True)
class Life:
    """An electrolytic's life."""

    life: float
    with_ripple: float | None


@formula
def electrolytic_life(
    rated_life: float,
    rated_temperature: float,
    temperature: float,
    ripple: float | None = None,
    rated_ripple: float | None = None,
    core_rise: float = 5.0,
) -> Life:
    """How long an aluminium electrolytic lasts at a temperature, and with its ripple current.

    An estimate for wet electrolytics, from their rated life. Makers seldom promise more than 15 years whatever the sum
    says (from memory); the full form of the ripple model and 5 K for parts of 105 degC are from memory.

    Formula: L = L0 2^((T0 - T) / 10); with ripple x K^((1 - (I / I0)^2) dT0 / 10), K 2 up to the rating, 4 above
    Args:
        rated_life: L0, at the rated temperature (s, above 0 to 1e10)
        rated_temperature: T0 (degC, 40 to 200)
        temperature: T, around it (degC, -40 to 200)
        ripple: I, through it (A, 0 to 1000)
        rated_ripple: I0, at the same frequency (A, above 0 to 1000)
        core_rise: dT0, of the core at the rated ripple (K, 0 to 50)
    Gives:
        life: by temperature alone (s)
        with_ripple: and with the ripple (s)
    Source: Cosel technical note (confirmed); ripple: Jianghai life model (K confirmed, the rest derived)

    >>> round(electrolytic_life(1000.0 * 3600.0, 105.0, 45.0).life / 3600.0)
    64000
    """
    life = _life(rated_life, rated_temperature, temperature, "electrolytic-life")
    if ripple is None and rated_ripple is None:
        return Life(life, None)
    if ripple is None or rated_ripple is None:
        raise RangeError("electrolytic-life: ripple and rated ripple go together; one of them is not given.")
    return Life(life, life * _ripple_factor(ripple / rated_ripple, core_rise))


def _life(rated_life: float, rated_temperature: float, temperature: float, name: str) -> float:
    """What doubles for every 10 K below the rating. Raises RangeError above it."""
    if temperature > rated_temperature:
        raise RangeError(
            f"{name}: {temperature:g} degC is above its rating; valid is up to {rated_temperature:g} degC."
        )
    return rated_life * math.exp2((rated_temperature - temperature) / 10.0)


def _ripple_factor(share: float, core_rise: float) -> float:
    base = 2.0 if share <= 1.0 else 4.0
    return math.pow(base, (1.0 - share**2) * core_rise / 10.0)


@dataclass(frozen=True)
class RippleHeat:
    """What ripple current does to an electrolytic."""

    rise: float
    factor: float


@formula
def ripple_heating(ripple: float, rated_ripple: float, core_rise: float = 5.0) -> RippleHeat:
    """How far ripple current heats an electrolytic's core, and what that does to its life.

    The full form of the model and 5 K for parts of 105 degC are from memory.

    Formula: dT = dT0 (I / I0)^2; life x K^((1 - (I / I0)^2) dT0 / 10), K 2 up to the rating, 4 above
    Args:
        ripple: I, through it (A, 0 to 1000)
        rated_ripple: I0, at the same frequency (A, above 0 to 1000)
        core_rise: dT0, at the rated ripple (K, 0 to 50)
    Gives:
        rise: of the core over what is around it (K)
        factor: on its life at the rated ripple (1)
    Source: Jianghai life model (K confirmed; derived)

    >>> heat = ripple_heating(1.2, 1.0)
    >>> round(heat.rise, 3), round(heat.factor, 5)
    (7.2, 0.73713)
    """
    share = ripple / rated_ripple
    return RippleHeat(core_rise * share**2, _ripple_factor(share, core_rise))


@dataclass(frozen=True)
class MixedLife:
    """An electrolytic's life over a round of temperatures."""

    life: float
    equivalent: float


@formula
def mixed_life(rated_life: float, rated_temperature: float, spells: tuple[tuple[float, float], ...]) -> MixedLife:
    """How long an electrolytic lasts that is so many hours at each of several temperatures.

    Formula: L = sum h / sum(h / L(T)); the one temperature with the same life is T0 - 10 log2(L / L0)
    Args:
        rated_life: L0, at the rated temperature (s, above 0 to 1e10)
        rated_temperature: T0 (degC, 40 to 200)
        spells: hours of a round and temperature around it, one line each (rows of h, degC)
    Gives:
        life: over rounds like this (s)
        equivalent: temperature that alone gives the same (degC)
    Source: Cosel technical note (confirmed)

    >>> mixed = mixed_life(1000.0 * 3600.0, 105.0, ((8.0, 45.0), (8.0, 55.0), (8.0, 65.0)))
    >>> round(mixed.life / 3600.0, 1), round(mixed.equivalent, 3)
    (27428.6, 57.224)
    """
    hours = sum(spell for spell, _ in spells)
    if hours <= 0.0 or min(spell for spell, _ in spells) < 0.0:
        raise RangeError("mixed-life: the hours of a round are 0 or more each, and more than 0 together.")
    used = sum(spell / _life(rated_life, rated_temperature, degrees, "mixed-life") for spell, degrees in spells)
    life = hours / used
    return MixedLife(life, rated_temperature - 10.0 * math.log2(life / rated_life))


@formula
def doubling_energy(cooler: float, warmer: float) -> float:
    """The activation energy that doubles a rate between two temperatures.

    The rule of ten kelvin is one energy only near one temperature.

    Formula: Ea = k ln 2 / (1 / T1 - 1 / T2), T in K
    Args:
        cooler: T1 (degC, -55 to 300)
        warmer: T2 (degC, -55 to 300)
    Gives:
        energy: of activation (eV)
    Source: Arrhenius (derived)

    >>> round(doubling_energy(95.0, 105.0), 5)
    0.83155
    """
    if cooler >= warmer:
        raise RangeError(f"doubling-energy: {cooler:g} degC is not below {warmer:g} degC.")
    return BOLTZMANN * math.log(2.0) / (1.0 / (cooler + 273.15) - 1.0 / (warmer + 273.15))


TANTALUM_RATINGS = (2.5, 4.0, 6.3, 10.0, 16.0, 20.0, 25.0, 35.0, 50.0)
"""V, usual ratings of chip tantalums (from memory)."""


@dataclass(frozen=True)
class Rating:
    """What a tantalum on a rail has to bear."""

    least: float
    choose: float


@formula
def tantalum_rating(rail: float, temperature: float = 25.0) -> Rating:
    """The rated voltage that a tantalum with manganese dioxide needs on a rail.

    Polymer tantalums are used up to 80 or 90 % of their rating (from memory), not 50 %.

    Formula: twice the rail; then the next usual rating
    Args:
        rail: it sits on (V, above 0 to 25)
        temperature: around it; above 85 degC it takes more than twice, see the sheet (degC, -55 to 85)
    Gives:
        least: rated voltage (V)
        choose: next usual rating (V)
    Source: Kemet FAQ, 50 % up to 85 degC (confirmed); usual ratings from memory
    Caution: A tantalum fails as a short and burns. Bar is PLUS; first power with limited current.

    >>> tantalum_rating(3.3)
    Rating(least=6.6, choose=10.0)
    """
    least = 2.0 * rail
    return Rating(least, next(one for one in TANTALUM_RATINGS if one >= least))


@dataclass(frozen=True)
class Left:
    """What d.c. voltage leaves of a ceramic capacitor."""

    capacitance: float
    share: float | None


@formula
def ceramic_bias(voltage: float, capacitance: float | None = None, curve: tuple[tuple[float, float], ...] = ()) -> Left:
    """What a d.c. voltage leaves of a class II ceramic capacitor, by its maker's curve.

    There is no formula: the code says nothing of it, and two parts with one code differ. Between its points the curve
    is taken as straight.

    Formula: straight between the two points of the curve
    Args:
        voltage: across it (V, 0 to 1e5)
        capacitance: printed (F, above 0 to 1)
        curve: the maker's for this part, a line for each point (rows of V, F)
    Gives:
        capacitance: that is left (F)
        share: of what is printed (share)
    Source: the curve given; that there is no formula: Maxim AN5527 and Kemet (confirmed)

    >>> ceramic_bias(5.0, 22e-6, ((1.0, 20e-6), (5.0, 9e-6), (12.0, 4e-6))).capacitance
    9e-06
    """
    if not curve:
        raise RangeError(
            f"ceramic-bias: neither code nor case nor size tells what {voltage:g} V leaves. Give the maker's curve for "
            "this part with --curve, a file with a line for each point: voltage, capacitance."
        )
    points = sorted(curve)
    volts = [point[0] for point in points]
    if len(set(volts)) < max(2, len(volts)) or min(farads for _, farads in points) <= 0.0:
        raise RangeError("ceramic-bias: a curve has two points or more, each voltage once, and more than 0 F at each.")
    if not volts[0] <= voltage <= volts[-1]:
        raise RangeError(f"ceramic-bias: the curve goes from {volts[0]:g} to {volts[-1]:g} V, not to {voltage:g} V.")
    place = max(1, sum(one < voltage for one in volts))
    (low, at_low), (high, at_high) = points[place - 1], points[place]
    left = at_low + (at_high - at_low) * (voltage - low) / (high - low)
    return Left(left, None if capacitance is None else left / capacitance)


@dataclass(frozen=True)
class Drift:
    """How far a capacitor may be from its value at another temperature."""

    change: float
    drift: float
    low: float
    high: float


@formula
def dielectric_drift(code: str, capacitance: float, temperature: float, reference: float = 25.0) -> Drift:
    """How far temperature alone may take a ceramic capacitor from its value.

    Tolerance, ageing and d.c. voltage come on top.

    Formula: class I: C (coefficient +- its tolerance) (T - T0); classes II and III: the code's change anywhere in range
    Args:
        code: of the dielectric (text)
        capacitance: at the reference temperature (F, above 0 to 1)
        temperature: it works at (degC, -55 to 200)
        reference: temperature of its value; 25 degC in classes II and III (degC, -55 to 200)
    Gives:
        change: largest, either way (share)
        drift: the same as capacitance (F)
        low: least that it may have (F)
        high: most that it may have (F)
    Source: EIA RS-198 (ANSI/EIA-198); capacitor maker's catalogue (derived)

    >>> drift = dielectric_drift("C0G", 100e-9, 85.0)
    >>> round(drift.change, 6), round(drift.drift * 1e12, 3)
    (0.0018, 180.0)
    """
    found = dielectrics.decode(code, "dielectric-drift")
    if found.coefficient is not None and found.coefficient_spread is not None:
        step = temperature - reference
        ends = sorted(step * (found.coefficient + side * found.coefficient_spread) for side in (-1.0, 1.0))
    else:
        low, high = found.low_temperature or 0.0, found.high_temperature or 0.0
        if reference != 25.0 or not low <= temperature <= high:
            raise RangeError(f"dielectric-drift: {code} holds from {low:g} to {high:g} degC, against 25 degC.")
        ends = [found.change_low or 0.0, found.change_high or 0.0]
    change = max(abs(one) for one in ends)
    return Drift(change, change * capacitance, *(capacitance * (1.0 + one) for one in ends))


@dataclass(frozen=True)
class Ageing:
    """What age takes from a ceramic capacitor, at least and at most."""

    least: float
    most: float


@formula
def ceramic_ageing(code: str, time: float) -> Ageing:
    """What age alone has taken from a ceramic capacitor since it was last hot.

    150 degC for 30 min, and so soldering, brings it back; measure after 48 h rest.

    Formula: loss = rate x log10(t / 1 h)
    Args:
        code: of the dielectric (one of C0G, X7R, X5R, Y5U, Z5U, Y5V)
        time: since it was hot (s, 3600 to 1e10)
    Gives:
        least: share lost (share)
        most: share lost (share)
    Source: capacitor maker's catalogue, per cent per decade of hours (confirmed)

    >>> ceramic_ageing("X7R", 3600.0 * 1000.0)
    Ageing(least=0.03, most=0.12)
    """
    decades = math.log10(time / 3600.0)
    least, most = dielectrics.AGEING[code]
    return Ageing(least / 100.0 * decades, most / 100.0 * decades)
