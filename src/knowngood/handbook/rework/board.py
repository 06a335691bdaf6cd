"""The board after soldering: acceptance, land repair, coating, flux, residue."""

from __future__ import annotations

import re
from dataclasses import dataclass

from knowngood.errors import RangeError
from knowngood.handbook.formula import formula


@dataclass(frozen=True)
class ProductClass:
    """What a class of assemblies asks for."""

    name: str
    means: str
    status: str


@formula
def acceptance_class(number: str) -> ProductClass:
    """What a product class of the assembly standards asks of a joint.

    Formula: table
    Args:
        number: of the class (one of 1, 2, 3)
    Gives:
        name: of the class (text)
        means: in a few words (text)
        status: of what is said here (text)
    Source: IPC-A-610; J-STD-001; J-STD-003, 1.4

    >>> acceptance_class("1").name
    'general products'
    """
    return {
        "1": ProductClass("general products", "it works; flaws in looks are accepted", "confirmed"),
        "2": ProductClass("dedicated service", "it goes on working, yet a stop is not critical", "second-hand"),
        "3": ProductClass("high performance", "it works on demand, a stop is not acceptable", "second-hand"),
    }[number]


@formula
def land_repair(method: str) -> str:
    """The number of the procedure that puts a lost land back.

    Part 1 has common procedures, part 2 rework (7711), part 3 modification and repair (7721); revision C is of January
    2017, D of December 2023. No other number is given here: none was compared with the document.

    Formula: table
    Args:
        method: what holds the new land (one of epoxy, film)
    Gives:
        procedure: its number (text)
    Source: IPC-7721, as cited in training material
    Caution: Uncured epoxy irritates skin: wear gloves.

    >>> land_repair("epoxy")
    '4.5.1'
    """
    return {"epoxy": "4.5.1", "film": "4.5.2"}[method]


@dataclass(frozen=True)
class Coating:
    """Thickness of a dry coating (m), and how it cures and goes off."""

    thinnest: float
    thickest: float
    cure: str
    removal: str


_COATINGS = {
    "AR": Coating(
        30e-6,
        130e-6,
        "dries by solvent; may be handled after about 30 min (full in about a day, from memory)",
        "solvent (from memory)",
    ),
    "ER": Coating(30e-6, 130e-6, "heat (hours, from memory)", "abrasion or heat (from memory)"),
    "UR": Coating(
        30e-6,
        130e-6,
        "moisture or heat (hours to days, from memory)",
        "strong solvent, heat or abrasion (from memory)",
    ),
    "SR": Coating(
        50e-6,
        210e-6,
        "moisture or heat (moisture hours to two days, heat minutes to an hour, from memory)",
        "gel solvent or by hand (from memory)",
    ),
    "XY": Coating(10e-6, 50e-6, "laid down from vapour: nothing to cure", "abrasion, plasma or laser (from memory)"),
}


@formula
def coating(kind: str) -> Coating:
    """How thick a conformal coating is, how it cures and how it comes off.

    Types that cure by ultraviolet light need a second cure in the shadows. For times read the product's sheet.

    Formula: table
    Args:
        kind: acrylic AR, epoxy ER, urethane UR, silicone SR, paraxylylene XY (one of AR, ER, UR, SR, XY)
    Gives:
        thinnest: dry thickness (m)
        thickest: dry thickness (m)
        cure: mechanism, and range of times (text)
        removal: to get at a joint (text)
    Source: J-STD-001, table; IPC-CC-830; makers' notes for the cure
    Caution: Solvents and hot coating give fumes, urethane the worst: extract them.

    >>> coating("SR").thickest
    0.00021
    """
    return _COATINGS[kind]


@dataclass(frozen=True)
class Flux:
    """What a flux designator says."""

    base: str
    activity: str
    halide: str


@formula
def flux(designator: str) -> Flux:
    """What the four characters on a flux say: base, activity, halide.

    Limits from memory: L0 below 0.05 %, L1 below 0.5 %, M1 0.5 to 2 %, H1 above 2 % halide; surface insulation 100 Mohm
    or more. Revision B dropped the spot test, so an old L0 can hold more halide than a new L1.

    Formula: RO, RE, OR, IN; L, M, H; 0, 1
    Args:
        designator: as "ROL0" (text)
    Gives:
        base: of the flux (text)
        activity: of flux and residue (text)
        halide: in it (text)
    Source: J-STD-004B; PCD&F technical tip

    >>> flux("ROL0").activity
    'low'
    """
    found = re.fullmatch(r"(RO|RE|OR|IN)([LMH])([01])", designator.strip().upper())
    if found is None:
        raise RangeError(
            f"flux: {designator!r} is no designator; it is RO, RE, OR or IN, then L, M or H, then 0 or 1, as ROL0."
        )
    base = {"RO": "rosin", "RE": "resin", "OR": "organic", "IN": "inorganic"}
    activity = {"L": "low", "M": "moderate", "H": "high"}
    return Flux(base[found[1]], activity[found[2]], "with halide" if found[3] == "1" else "without halide")


@formula
def residue(measured: float) -> float:
    """An ionic residue per square inch. Never a pass or a fail.

    The old figure of 1.56 ug/cm^2 (10.06 ug/in^2) of salt equivalent by solvent extract is called obsolete by its own
    publisher and was never meant to accept a product, so nothing is judged by it here.

    Formula: 1 in^2 = 6.4516 cm^2
    Args:
        measured: salt equivalent (ug/cm^2, 0 to 1e6)
    Gives:
        per_inch: the same (ug/in^2)
    Source: IPC-WP-019B, overview; IPC-TM-650 2.3.25

    >>> round(residue(1.56), 3)
    10.064
    """
    return measured * 6.4516
