"""Which part fails first and how, what lasts how long, what ages faster, what did the hands leave wrong?"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from knowngood.errors import RangeError
from knowngood.handbook import human_error, part_rates
from knowngood.handbook.formula import formula

# ---- life ---------------------------------------------------------------------------------------------------------


@formula
def in_series(reliabilities: tuple[float, ...]) -> float:
    """The reliability of what needs all its parts.

    Formula: R = R1 R2 ... (Lusser)
    Args:
        reliabilities: of the parts, with commas between (1, 0 to 1)
    Gives:
        reliability: of the whole (1)
    Source: MIL-HDBK-338B (1998), foreword

    >>> round(in_series((0.90, 0.95, 0.99)), 5)
    0.84645
    """
    return math.prod(reliabilities)


@dataclass(frozen=True)
class Mission:
    survives: float
    mean_life: float
    tenth: float


@formula
def mission(mission: float, characteristic_life: float, shape: float = 1.0, age: float = 0.0) -> Mission:
    """The chance that a part of some age survives a time in use, by a Weibull life.

    With the shape 1 the rate is constant and the characteristic life is the mean time between failures. Lives come from
    a data sheet or from own records, never from handbook rates.

    Formula: R(t) = exp(-(t / eta)^beta); R(age + t) / R(age); mean eta Gamma(1 + 1 / beta);
        B10 = eta (-ln 0.9)^(1 / beta)
    Args:
        mission: time that it has to last (s, 0 to 1e12)
        characteristic_life: eta, by which 63.2 % have failed (s, above 0 to 1e12)
        shape: Weibull shape beta, 1 for failures by chance, above 1 for wear (1, 0.1 to 20)
        age: that it has already (s, 0 to 1e12)
    Gives:
        survives: the chance that it lasts (1)
        mean_life: of new ones (s)
        tenth: B10, by which a tenth of new ones has failed (s)
    Source: NIST/SEMATECH e-Handbook of Statistical Methods, chapter 8

    >>> round(mission(mission=8760 * 3600.0, characteristic_life=87600 * 3600.0).survives, 4)
    0.9048
    """
    hazard = ((age + mission) / characteristic_life) ** shape - (age / characteristic_life) ** shape
    return Mission(
        math.exp(-hazard),
        characteristic_life * math.gamma(1.0 + 1.0 / shape),
        characteristic_life * (-math.log(0.9)) ** (1.0 / shape),
    )


@formula
def annual_failures(time_between_failures: float) -> float:
    """The share of units that fails in a year of running, from a mean time between failures.

    Formula: AFR = 1 - exp(-8760 h / MTBF)
    Args:
        time_between_failures: mean, of a data sheet (s, above 0 to 1e12)
    Gives:
        annual_failures: share of units (1)
    Source: definition

    >>> round(annual_failures(87600 * 3600.0), 5)
    0.09516
    """
    return -math.expm1(-8760.0 * 3600.0 / time_between_failures)


BOLTZMANN = 8.617e-5
"""eV/K, as MIL-HDBK-217F has it."""


@formula
def arrhenius(activation: float, hot: float, cold: float = 25.0) -> float:
    """How much faster heat alone lets something fail.

    One mechanism with one activation energy; it holds while no other sets in, as melting or a glass transition.

    Formula: AF = exp(-(Ea / k) (1 / (Thot + 273) - 1 / (Tcold + 273))), k = 8.617e-5 eV/K
    Args:
        activation: energy of the mechanism, as 0.35 for digital MOS, 0.15 for film capacitors (eV, 0 to 3)
        hot: the higher temperature (degC, -55 to 250)
        cold: the lower temperature (degC, -55 to 250)
    Gives:
        faster: times as many failures in the same time (1)
    Source: MIL-HDBK-217F Notice 2 (1995), temperature factors

    >>> round(arrhenius(0.35, hot=50.0), 2)
    2.87
    """
    if cold > hot:
        raise RangeError(f"arrhenius: cold is {cold:g} degC, above hot, {hot:g} degC.")
    return math.exp(-activation / BOLTZMANN * (1.0 / (hot + 273.0) - 1.0 / (cold + 273.0)))


@formula
def fan_life(rated_life: float, rated_temperature: float, temperature: float) -> float:
    """The L10 life of a fan at another temperature than its data sheet's.

    L10 is when a tenth has failed; the bearing's lubricant sets it.

    Formula: L = L0 1.5^((T0 - T) / 10 K)
    Args:
        rated_life: L10 of the data sheet (s, above 0 to 1e10)
        rated_temperature: at which that holds (degC, 0 to 100)
        temperature: of the air that it moves (degC, 0 to 100)
    Gives:
        life: L10 (s)
    Source: Jamicon, Calculation method of MTTF and L10

    >>> round(fan_life(75000 * 3600.0, 40.0, 60.0) / 3600.0)
    33333
    """
    return rated_life * math.pow(1.5, (rated_temperature - temperature) / 10.0)


@dataclass(frozen=True)
class Mating:
    cycles: int
    life: float
    status: str


_MATINGS = {
    "usb-a": (1500, "confirmed, encyclopaedia extract on USB connectors"),
    "mini-usb-b": (5000, "confirmed, encyclopaedia extract on USB connectors"),
    "micro-usb": (10000, "confirmed, USB-IF Micro-USB specification 1.01 (2007)"),
    "usb-c": (10000, "from memory, connector specification"),
    "hdmi": (10000, "from memory, connector specification"),
}
"""Matings that a connector is rated for, and how well this is known."""


@formula
def connector_life(connector: str, a_day: float = 1.0) -> Mating:
    """How many matings a socket is rated for, and how long that lasts.

    A rating, not a prediction: drops and pulls at the cable end a socket earlier. Connectors from board to board and
    flat-cable latches are good for 10 to 30 matings only (from memory): seat them again as rarely as can be.

    Formula: life = cycles / matings a day
    Args:
        connector: kind of socket (one of usb-a, mini-usb-b, micro-usb, usb-c, hdmi)
        a_day: times that it is plugged in a day (1, above 0 to 1000)
    Gives:
        cycles: that it is rated for (1)
        life: until then (s)
        status: how well this is known, and where it stands (text)
    Source: of the kind, beside it

    >>> connector_life("usb-a").cycles
    1500
    """
    cycles, status = _MATINGS[connector]
    return Mating(cycles, cycles / a_day * 86400.0, status)


# ---- which part, which mode, which hand ---------------------------------------------------------------------------


@dataclass(frozen=True)
class PartShare:
    part: str
    share: float


@formula
def likeliest_part(parts: tuple[str, ...], environment: str = "GB", quality: str = "equal") -> tuple[PartShare, ...]:
    """Which of some parts has failed, before anything was measured: their shares of all failures.

    Ratios only: handbook rates are no hours, and a measurement overrides them. They describe parts in service: for a
    dropped, wet or surged unit think of that first. The commercial quality factors are contested (ANSI/VITA 51.1 puts
    1.0 for them).

    Formula: share = N rate / sum of all N rate
    Args:
        parts: numbers and names with commas between, as "40 x ceramic chip, 6 x aluminium, fuse" (text)
        environment: ground benign, fixed or mobile (one of GB, GF, GM)
        quality: of the parts, all equal or by the handbook's commercial factor (one of equal, commercial)
    Gives:
        share: of the failures (1)
        part: and how many of it (text)
    Source: MIL-HDBK-217F Notice 2 (1995), Appendix A, printed and derived values; the same part differs about 20-fold
        between editions, never mix them

    >>> [round(row.share, 2) for row in likeliest_part(("laser diode", "IC 16 bit"))]
    [0.98, 0.02]
    """
    weights: dict[str, float] = {}
    for text in parts:
        number, name = _counted(text)
        part = _the_part(name, part_rates.rated_parts(), "likeliest-part")
        weight = number * part_rates.rate(part, environment, commercial=quality == "commercial")
        weights[f"{number} x {part}"] = weight
    total = sum(weights.values())
    return tuple(PartShare(part, weights[part] / total) for part in sorted(weights, key=lambda part: -weights[part]))


def _counted(text: str) -> tuple[int, str]:
    found = re.match(r"^([1-9]\d*)\s*x\s+(.+)$", text.strip())
    return (int(found[1]), found[2]) if found else (1, text.strip())


def _the_part(words: str, among: tuple[str, ...], name: str) -> str:
    found = part_rates.named(words, among)
    if len(found) != 1:
        which = "; ".join(found or among)
        raise RangeError(
            f"{name}: '{words}' is {'more than one' if found else 'none'} of the parts; name one of {which}."
        )
    return found[0]


@dataclass(frozen=True)
class Mode:
    mode: str
    share: float
    status: str
    source: str


@formula
def failure_modes(part: str) -> tuple[Mode, ...]:
    """How a kind of part fails: the share of each mode, the commonest first.

    Of parts that failed in service. Aluminium electrolytics of consumer goods mostly wear out by rising series
    resistance before they fail so. There is no row for fan, joint, port or lithium-ion pack: motor and connector come
    nearest.

    Formula: a table
    Args:
        part: kind of part, some words of its name (text)
    Gives:
        share: of its failures (1)
        mode: in which it fails (text)
        status: how well this is known (text)
        source: where it stands (text)
    Source: MIL-HDBK-338B (1998), section 7, and what each row names

    >>> [(row.mode, row.share) for row in failure_modes("tantalum")]
    [('short', 0.69), ('open', 0.17), ('value change', 0.14)]
    """
    kind = _the_part(part, part_rates.parts_with_modes(), "failure-modes")
    rows = part_rates.modes(kind)
    return tuple(Mode(row["mode"], float(row["ratio"]), row["status"], row["source"]) for row in rows)


@dataclass(frozen=True)
class Slips:
    unseated: float
    reversed: float


@formula
def hands_slip(connections: int, checked: bool = False) -> Slips:
    """The chance that putting a unit back together left at least one connection wrong.

    Bench mapping, common practice, no source, on nominal values of CREAM; a function test catches most of it.

    Formula: 1 - (1 - p)^n; p 0.03 not seated, 0.003 reversed; a tenth of both with a check-off line each
    Args:
        connections: made again (1, 0 to 1000)
        checked: whether each was checked off on a list (yes or no)
    Gives:
        unseated: at least one is not fully seated (1)
        reversed: at least one is the wrong way round, if all of them can be (1)
    Source: E. Hollnagel, CREAM (1998), execution errors; the mapping is our own

    >>> round(hands_slip(8).unseated, 3)
    0.216
    """
    factor = human_error.CHECKED_FACTOR if checked else 1.0
    return Slips(
        _at_least_one(human_error.UNSEATED_PER_TOUCH * factor, connections),
        _at_least_one(human_error.REVERSED_PER_TOUCH * factor, connections),
    )


@formula
def step_forgotten(steps: int, per_step: float = 0.003) -> float:
    """The chance that at least one of many small steps was forgotten.

    Formula: 1 - (1 - p)^n
    Args:
        steps: in the job, as screws to put back (1, 0 to 10000)
        per_step: chance to forget one: 0.003 without a list, 0.001 with check-off (from memory) (1, 0 to 1)
    Gives:
        forgotten: at least one (1)
    Source: product rule (derived); nominal chance: NUREG/CR-1278 (THERP), omission per item, from memory

    >>> round(step_forgotten(30), 3)
    0.086
    """
    return _at_least_one(per_step, steps)


def _at_least_one(chance: float, times: int) -> float:
    return 1.0 - (1.0 - chance) ** times
