"""How hot does that part run, is the heat sink enough, what do paste, fan and air do, and when has it cooled?"""

from __future__ import annotations

import math
from dataclasses import dataclass

from knowngood.errors import RangeError
from knowngood.handbook.formula import formula

ZERO = 273.15
"""0 degC in K."""

SIGMA = 5.670374e-8
"""Stefan-Boltzmann constant (W/m^2/K^4): CODATA 2018."""

GRAVITY = 9.80665
"""Standard gravity (m/s^2)."""

AIR_DENSITY, AIR_HEAT = 1.184, 1006.0
"""Air at 25 degC and sea level: density (kg/m^3) and specific heat (J/kg/K)."""

CFM = 4.71947e-4
"""A cubic foot a minute (m^3/s)."""


@dataclass(frozen=True)
class Chain:
    """Temperatures along the chain (degC)."""

    junction: float
    case: float
    sink: float


@formula
def junction_chain(power: float, ambient: float, junction_case: float, case_sink: float, sink_ambient: float) -> Chain:
    """How hot the junction, the case and the heat sink of a part get.

    Steady state, all heat through the sink. A junction-to-ambient figure from a data sheet holds for its maker's test
    board, and psi-JT is not a junction-to-case resistance (JEDEC JESD51, from memory).

    Formula: Tj = Ta + P (R_jc + R_cs + R_sa)
    Args:
        power: that the part turns into heat (W, 0 to 1e5)
        ambient: air beside the sink, inside the closed housing (degC, -60 to 200)
        junction_case: thermal resistance from junction to case, from the data sheet (K/W, 0 to 1e4)
        case_sink: from case to sink, paste or pad (K/W, 0 to 1e4)
        sink_ambient: from sink to air (K/W, 0 to 1e4)
    Gives:
        junction: inside the part (degC)
        case: of the part (degC)
        sink: where the part sits on it (degC)
    Source: heat-sink makers' application notes
    Caution: Hot parts burn; let it cool, or measure before touching.

    >>> junction_chain(10.0, 35.0, 0.8, 0.25, 4.0).junction
    85.5
    """
    sink = ambient + power * sink_ambient
    case = sink + power * case_sink
    return Chain(case + power * junction_case, case, sink)


@formula
def sink_needed(power: float, ambient: float, limit: float, junction_case: float, case_sink: float) -> float:
    """The largest thermal resistance of a heat sink that keeps a junction below its limit.

    Formula: R_sa = (Tj,max - Ta) / P - R_jc - R_cs
    Args:
        power: that the part turns into heat (W, above 0 to 1e5)
        ambient: air beside the sink, inside the closed housing (degC, -60 to 200)
        limit: the junction's highest temperature, from the data sheet, less your margin (degC, -40 to 400)
        junction_case: thermal resistance from junction to case, from the data sheet (K/W, 0 to 1e4)
        case_sink: from case to sink, paste or pad (K/W, 0 to 1e4)
    Gives:
        sink_ambient: the sink may have this or less (K/W)
    Source: heat-sink makers' application notes

    >>> round(sink_needed(10.0, 35.0, 85.5, 0.8, 0.25), 6)
    4.0
    """
    sink = (limit - ambient) / power - junction_case - case_sink
    if sink <= 0.0:
        before = junction_case + case_sink
        most = f"at most {max(0.0, limit - ambient) / before:.4g} W" if before else "nothing"
        raise RangeError(f"sink-needed: no sink is enough for {power:g} W; a perfect one would carry {most}.")
    return sink


@formula
def junction_from_case(case: float, power: float, junction_case: float) -> float:
    """The junction's temperature from one measured on the case.

    Formula: Tj = Tc + P R_jc
    Args:
        case: temperature where the data sheet measures the case (degC, -60 to 400)
        power: that leaves through that side (W, 0 to 1e5)
        junction_case: thermal resistance from junction to case, from the data sheet (K/W, 0 to 1e4)
    Gives:
        junction: inside the part (degC)
    Source: heat-sink makers' application notes

    >>> junction_from_case(70.0, 5.0, 3.0)
    85.0
    """
    return case + power * junction_case


@dataclass(frozen=True)
class Layer:
    """Thermal resistance (K/W), impedance per area (K cm^2/W), and drop (K) where the power is known."""

    case_sink: float
    per_area: float
    drop: float | None


@formula
def interface(bond_line: float, conductivity: float, area: float, power: float | None = None) -> Layer:
    """What a layer of paste, a pad or an insulator adds, from its thickness and conductivity.

    The bulk alone: contact on both sides comes on top, so a real joint is worse (a maker's figure by ASTM D5470, number
    from memory, has both).

    Formula: R = t / (k A)
    Args:
        bond_line: thickness once pressed together (m, above 0 to 0.02)
        conductivity: of the material, from its sheet (W/m/K, above 0 to 3000)
        area: of contact, as "15 x 15 mm" (m^2, above 0 to 1)
        power: through it (W, 0 to 1e5)
    Gives:
        case_sink: thermal resistance of the layer (K/W)
        per_area: impedance of each square centimetre (K cm^2/W)
        drop: temperature across it (K)
    Source: makers' notes on thermal interface materials

    >>> round(interface(50e-6, 3.0, 15e-3 * 15e-3, 30.0).drop, 4)
    2.2222
    """
    resistance = bond_line / (conductivity * area)
    return Layer(resistance, 1e4 * bond_line / conductivity, None if power is None else power * resistance)


@dataclass(frozen=True)
class Fan:
    """What a change of speed does; the new figures where the old ones are known."""

    flow_factor: float
    pressure_factor: float
    power_factor: float
    new_flow: float | None
    new_pressure: float | None
    new_power: float | None


@formula
def fan_speed(
    speed: float,
    new_speed: float,
    flow: float | None = None,
    pressure: float | None = None,
    power: float | None = None,
) -> Fan:
    """What another speed does to a fan's flow, pressure and power.

    The same fan in the same air. The resistance of the way through the unit rises with about the square of the flow, so
    flow follows speed there too.

    Formula: flow ~ N, pressure ~ N^2, power ~ N^3
    Args:
        speed: it turns at, or 100 (rpm, above 0 to 1e6)
        new_speed: it shall turn at, in the same unit (rpm, above 0 to 1e6)
        flow: at the old speed (m^3/s, 0 to 1e6)
        pressure: at the old speed (Pa, 0 to 1e6)
        power: taken at the old speed (W, 0 to 1e6)
    Gives:
        flow_factor: new flow over old (1)
        pressure_factor: new pressure over old (1)
        power_factor: new power over old (1)
        new_flow: at the new speed (m^3/s)
        new_pressure: at the new speed (Pa)
        new_power: taken at the new speed (W)
    Source: fan laws: fan makers' notes; companion material of a CRC engineering handbook

    >>> round(fan_speed(1200.0, 1500.0).power_factor, 4)
    1.9531
    """
    ratio = new_speed / speed
    olds = zip((flow, pressure, power), (1, 2, 3), strict=True)
    return Fan(ratio, ratio**2, ratio**3, *(None if old is None else old * ratio**by for old, by in olds))


@dataclass(frozen=True)
class Stream:
    """A flow of air in both units of fan sheets."""

    flow: float
    cfm: float


@formula
def air_needed(power: float, rise: float) -> Stream:
    """The air that carries a power away while warming by no more than a rise.

    Air at 25 degC and sea level, 1.184 kg/m^3. The rule "CFM = 1.76 W / K" (from memory) comes out 1.1 % lower.

    Formula: V = P / (rho c dT)
    Args:
        power: to carry away (W, above 0 to 1e6)
        rise: of the air from inlet to outlet (K, above 0 to 100)
    Gives:
        flow: of air through the unit, not the fan's free-air figure (m^3/s)
        cfm: the same in cubic feet a minute (CFM)
    Source: energy balance; air 1.184 kg/m^3, 1006 J/kg/K at 25 degC; 1 CFM = 4.71947e-4 m^3/s

    >>> round(air_needed(100.0, 10.0).cfm, 3)
    17.789
    """
    flow = power / (AIR_DENSITY * AIR_HEAT * rise)
    return Stream(flow, flow / CFM)


@formula
def air_heating(power: float, flow: float) -> float:
    """How much warmer the air leaves a unit than it went in.

    Air at 25 degC and sea level, 1.184 kg/m^3; all of the power goes into the air.

    Formula: dT = P / (rho c V)
    Args:
        power: turned into heat in the unit (W, 0 to 1e6)
        flow: of air through the unit (m^3/s, above 0 to 1e3)
    Gives:
        rise: from inlet to outlet (K)
    Source: energy balance; air 1.184 kg/m^3, 1006 J/kg/K at 25 degC

    >>> round(air_heating(100.0, 8.3956e-3), 3)
    10.0
    """
    return power / (AIR_DENSITY * AIR_HEAT * flow)


@formula
def churchill_chu(rayleigh: float, prandtl: float) -> float:
    """The Nusselt number of free convection on a vertical plate.

    Formula: Nu = (0.825 + 0.387 Ra^(1/6) / (1 + (0.492 / Pr)^(9/16))^(8/27))^2
    Args:
        rayleigh: Grashof times Prandtl number (1, 0.1 to 1e12)
        prandtl: of the fluid (1, above 0 to 1e5)
    Gives:
        nusselt: averaged over the height (1)
    Source: Churchill and Chu, Int. J. Heat Mass Transfer 18 (1975) 1323; Bergman et al., Introduction to Heat Transfer,
        6th ed. (2011), example 9.2 (its range is from memory)

    >>> round(churchill_chu(2.63e9 * 0.69, 0.69), 2)
    147.16
    """
    return float((0.825 + 0.387 * rayleigh ** (1 / 6) / (1.0 + (0.492 / prandtl) ** (9 / 16)) ** (8 / 27)) ** 2)


@dataclass(frozen=True)
class Air:
    """Air at one temperature and sea level: W/m/K, m^2/s, and the Prandtl number."""

    air_conductivity: float
    air_viscosity: float
    prandtl: float


@formula
def air_properties(film: float) -> Air:
    """Conductivity, viscosity and Prandtl number of air at sea level.

    Conductivity and viscosity come within 1.3 % of a reference equation of state, the Prandtl number within 3 %.

    Formula: mu = 1.458e-6 T^1.5 / (T + 110.4); k = 2.64638e-3 T^1.5 / (T + 245.4 10^(-12/T)); nu = mu R T / (p M)
    Args:
        film: mean of surface and air (degC, -20 to 150)
    Gives:
        air_conductivity: thermal conductivity (W/m/K)
        air_viscosity: kinematic viscosity (m^2/s)
        prandtl: Prandtl number (1)
    Source: U.S. Standard Atmosphere 1976, equations 42, 51 and 53 (equations from memory; values as other programs
        have them: tests/published)

    >>> round(air_properties(40.0).air_conductivity, 4)
    0.0273
    """
    kelvin = film + ZERO
    viscosity = 1.458e-6 * kelvin**1.5 / (kelvin + 110.4)
    conductivity = 2.64638e-3 * kelvin**1.5 / (kelvin + 245.4 * 10.0 ** (-12.0 / kelvin))
    density = 101325.0 * 28.9644e-3 / (8.31432 * kelvin)
    return Air(conductivity, viscosity / density, viscosity * AIR_HEAT / conductivity)


@dataclass(frozen=True)
class Convection:
    """Free convection on a plate; W/m^2/K."""

    coefficient: float
    rayleigh: float
    nusselt: float


@formula
def plate_convection(
    height: float,
    surface: float,
    ambient: float,
    air_conductivity: float | None = None,
    air_viscosity: float | None = None,
    prandtl: float | None = None,
) -> Convection:
    """How well still air takes heat from an upright plate.

    Open on both sides, no fan, no neighbour closer than some 2 cm (common practice, no source). Properties that are
    not given are those of air at sea level at the mean of both temperatures.

    Formula: Ra = g beta dT L^3 Pr / nu^2, beta = 1 / T_film; Nu by churchill-chu; h = Nu k / L
    Args:
        height: of the plate (m, above 0 to 10)
        surface: of the plate (degC, -20 to 200)
        ambient: of the air (degC, -20 to 100)
        air_conductivity: of air at the film temperature (W/m/K, above 0 to 0.1)
        air_viscosity: kinematic, at the film temperature (m^2/s, above 0 to 1e-3)
        prandtl: of air (1, 0.5 to 1)
    Gives:
        coefficient: of heat transfer by convection (W/m^2/K)
        rayleigh: Rayleigh number (1)
        nusselt: Nusselt number (1)
    Source: Churchill and Chu, Int. J. Heat Mass Transfer 18 (1975) 1323

    >>> round(plate_convection(0.1, 60.0, 20.0, 0.0272, 1.70e-5, 0.705).coefficient, 3)
    6.088
    """
    difference = abs(surface - ambient)
    if difference == 0.0:
        raise RangeError("plate-convection: plate and air have one temperature, so no heat flows.")
    film = (surface + ambient) / 2.0
    air = air_properties(film)
    conductivity = air.air_conductivity if air_conductivity is None else air_conductivity
    viscosity = air.air_viscosity if air_viscosity is None else air_viscosity
    number = air.prandtl if prandtl is None else prandtl
    rayleigh = GRAVITY * difference * height**3 * number / ((film + ZERO) * viscosity**2)
    nusselt = churchill_chu(rayleigh, number)
    return Convection(nusselt * conductivity / height, rayleigh, nusselt)


@dataclass(frozen=True)
class Radiation:
    """Radiation of a surface: W/m^2/K, and W."""

    coefficient: float
    power: float


@formula
def radiation(surface: float, ambient: float, emissivity: float, area: float) -> Radiation:
    """The heat that a surface radiates to surroundings at one temperature.

    What it sees must be colder surroundings: fins that look at one another count once, by their outline.

    Formula: h_r = eps sigma (Ts^4 - Ta^4) / (Ts - Ta); P = h_r A (Ts - Ta)
    Args:
        surface: temperature (degC, -60 to 500)
        ambient: of the surroundings (degC, -60 to 500)
        emissivity: about 0.9 painted, anodised or bare board, 0.1 bright metal (common practice, no source)
            (1, above 0 to 1)
        area: of all faces that radiate, as "50 x 100 mm" (m^2, above 0 to 100)
    Gives:
        coefficient: of heat transfer by radiation (W/m^2/K)
        power: radiated, less what comes back (W)
    Source: Stefan-Boltzmann law; sigma 5.670374e-8 W/m^2/K^4

    >>> round(radiation(70.0, 25.0, 0.9, 2 * 0.05 * 0.05).power, 4)
    1.5217
    """
    if surface == ambient:
        raise RangeError("radiation: surface and surroundings have one temperature, so no heat flows.")
    hot, cold = surface + ZERO, ambient + ZERO
    coefficient = emissivity * SIGMA * (hot**2 + cold**2) * (hot + cold)
    return Radiation(coefficient, coefficient * area * (surface - ambient))


@dataclass(frozen=True)
class Plate:
    """A plate as a heat sink: W, K/W, and the two ways heat takes (W)."""

    power: float
    sink_ambient: float
    by_air: float
    by_radiation: float


@formula
def plate_sink(
    height: float, width: float, surface: float, ambient: float, emissivity: float = 0.9, faces: int = 2
) -> Plate:
    """The heat that an upright plate, shield or board at a temperature gives off: the heat sink it is.

    An estimate for a plate as hot all over, in still air with room around it: the far corners of a thin plate are
    cooler and carry less. Fins are not counted; lying flat it does less.

    Formula: P = (h + h_r) A (Ts - Ta), h by plate-convection, h_r by radiation; R = (Ts - Ta) / P
    Args:
        height: of the plate (m, above 0 to 2)
        width: of the plate (m, above 0 to 2)
        surface: of the plate (degC, -20 to 200)
        ambient: of air and surroundings (degC, -20 to 100)
        emissivity: about 0.9 painted, anodised or bare board, 0.1 bright metal (common practice, no source)
            (1, above 0 to 1)
        faces: that are free, 1 or 2 (1, 1 to 2)
    Gives:
        power: given off (W)
        sink_ambient: thermal resistance as a heat sink (K/W)
        by_air: of the power, by convection (W)
        by_radiation: of the power, by radiation (W)
    Source: Churchill and Chu, Int. J. Heat Mass Transfer 18 (1975) 1323; Stefan-Boltzmann law
    Caution: Hot parts burn; let it cool, or measure before touching.

    >>> round(plate_sink(0.1, 0.1, 60.0, 20.0).power, 2)
    9.93
    """
    area = faces * height * width
    by_air = plate_convection(height, surface, ambient).coefficient * area * (surface - ambient)
    by_radiation = radiation(surface, ambient, emissivity, area).power
    power = by_air + by_radiation
    return Plate(power, (surface - ambient) / power, by_air, by_radiation)


@formula
def cooled(start: float, ambient: float, time_constant: float, time: float) -> float:
    """How hot something still is after a time.

    One lump that loses heat in proportion to how much warmer it is; the last few kelvin take longest.

    Formula: T = Ta + (T0 - Ta) e^(-t / tau)
    Args:
        start: temperature at first (degC, -200 to 2000)
        ambient: temperature it ends at (degC, -200 to 2000)
        time_constant: after which 37 % of the difference is left (s, above 0 to 1e7)
        time: that has gone by (s, 0 to 1e8)
    Gives:
        temperature: then (degC)
    Source: Newton's law of cooling
    Caution: Measure before touching.

    >>> round(cooled(90.0, 25.0, 180.0, 120.0), 3)
    58.372
    """
    return ambient + (start - ambient) * math.exp(-time / time_constant)


@formula
def time_to_cool(start: float, ambient: float, time_constant: float, target: float) -> float:
    """How long something takes to cool, or warm, to a temperature.

    Formula: t = tau ln((T0 - Ta) / (T1 - Ta))
    Args:
        start: temperature at first (degC, -200 to 2000)
        ambient: temperature it ends at (degC, -200 to 2000)
        time_constant: after which 37 % of the difference is left (s, above 0 to 1e7)
        target: temperature to come to (degC, -200 to 2000)
    Gives:
        wait: until it is there (s)
    Source: Newton's law of cooling
    Caution: Measure before touching.

    >>> round(time_to_cool(90.0, 25.0, 180.0, 40.0), 2)
    263.94
    """
    return time_constant * _logarithm("time-to-cool", start, target, ambient)


@dataclass(frozen=True)
class Cooling:
    """A time constant, and the wait from the second reading on (s)."""

    time_constant: float
    wait: float | None


@formula
def time_constant(start: float, later: float, time: float, ambient: float, target: float | None = None) -> Cooling:
    """How fast something cools, from two readings of it; and when it will be at a temperature.

    Formula: tau = t / ln((T1 - Ta) / (T2 - Ta))
    Args:
        start: the first reading (degC, -200 to 2000)
        later: the second reading (degC, -200 to 2000)
        time: between them (s, above 0 to 1e7)
        ambient: temperature it ends at (degC, -200 to 2000)
        target: temperature to wait for (degC, -200 to 2000)
    Gives:
        time_constant: after which 37 % of the difference is left (s)
        wait: from the second reading until the target (s)
    Source: Newton's law of cooling
    Caution: Measure before touching.

    >>> round(time_constant(70.0, 50.0, 120.0, 20.0).time_constant, 3)
    234.914
    """
    fall = _logarithm("time-constant", start, later, ambient)
    if fall == 0.0:
        raise RangeError("time-constant: both readings are the same. Wait longer between them.")
    tau = time / fall
    wait = None if target is None else tau * _logarithm("time-constant", later, target, ambient)
    return Cooling(tau, wait)


def _logarithm(formula: str, start: float, later: float, ambient: float) -> float:
    """ln((start - ambient) / (later - ambient)). Raises RangeError unless later is between start and ambient."""
    if start == ambient or not 0.0 < (later - ambient) / (start - ambient) <= 1.0:
        raise RangeError(
            f"{formula}: from {start:g} degC towards {ambient:g} degC it never comes to {later:g} degC. "
            "It must lie between the two, and above the air it cools in."
        )
    return math.log((start - ambient) / (later - ambient))


@formula
def ambient_from_three(first: float, second: float, third: float) -> float:
    """The temperature that something cools (or warms) towards, from three readings equally far apart in time.

    Errors grow: with a fall too small between the readings a tenth of a kelvin moves the answer by kelvins.

    Formula: Ta = (T1 T3 - T2^2) / (T1 + T3 - 2 T2)
    Args:
        first: reading (degC, -200 to 2000)
        second: reading, one interval later (degC, -200 to 2000)
        third: reading, one more interval later (degC, -200 to 2000)
    Gives:
        ambient: temperature it ends at (degC)
    Source: Newton's law of cooling

    >>> round(ambient_from_three(80.0, 60.0, 47.0), 4)
    22.8571
    """
    steps = second - first, third - second
    if steps[0] == 0.0 or not 0.0 < steps[1] / steps[0] < 1.0:
        raise RangeError(
            f"ambient-from-three: {first:g}, {second:g}, {third:g} degC do not settle: each step must go the same way "
            "and be smaller than the one before."
        )
    return (first * third - second**2) / (first + third - 2.0 * second)


@formula
def power_from_rise(rise: float, resistance: float) -> float:
    """What power a temperature rise tells of, once it has settled.

    Formula: P = dT / R
    Args:
        rise: above ambient, settled (K, 0 to 2000)
        resistance: thermal, from there to ambient (K/W, above 0 to 1e5)
    Gives:
        power: turned into heat (W)
    Source: definition of thermal resistance

    >>> round(power_from_rise(18.5, 45.0), 5)
    0.41111
    """
    return rise / resistance


@formula
def power_from_slope(slope: float, heat_capacity: float) -> float:
    """What power the first seconds of warming tell of, before heat has begun to flow away.

    Formula: P = C dT/dt
    Args:
        slope: of the temperature just after switching on (K/s, 0 to 1e4)
        heat_capacity: of what warms: mass times specific heat (J/K, above 0 to 1e6)
    Gives:
        power: turned into heat (W)
    Source: energy balance

    >>> power_from_slope(0.25, 2.1)
    0.525
    """
    return heat_capacity * slope
