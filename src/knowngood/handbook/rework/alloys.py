"""Solder alloys: where they melt, what happens where two meet, how hot the iron is above them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from knowngood.errors import RangeError
from knowngood.handbook.formula import formula
from knowngood.handbook.table import sourced, table


def alloy_row(name: str) -> Mapping[str, str]:
    """An alloy's row of the table."""
    return next(row for row in table("solder_alloys") if row["alloy"] == name)


@dataclass(frozen=True)
class Alloy:
    """An alloy's melting range (degC)."""

    solidus: float
    liquidus: float
    profile: str | None
    note: str | None
    source: str


@formula
def alloy(alloy: str) -> Alloy:
    """Where a solder alloy begins to melt and where it is all liquid.

    Formula: table
    Args:
        alloy: its name (one of Sn63Pb37, Sn62Pb36Ag2, SAC305, Sn42Bi58, In52Sn48, Bi46Sn34Pb20, Sn95Sb5, Bi56Sn30In14,
            Bi49Pb18Sn12In21, Sn99.3Cu0.7)
    Gives:
        solidus: solid below it (degC)
        liquidus: liquid above it (degC)
        profile: the process of J-STD-020 it is soldered in (text)
        note: on the alloy (text)
        source: of these figures (text)
    Source: Indium Corporation alloy table; J-STD-006; the removal alloys from a general encyclopaedia (second-hand);
        Sn99.3Cu0.7 from memory

    >>> alloy("SAC305").liquidus
    220.0
    """
    row = alloy_row(alloy)
    where = sourced(row) if row["source"] else row["status"]
    return Alloy(float(row["solidus"]), float(row["liquidus"]), row["profile"] or None, row["note"] or None, where)


@dataclass(frozen=True)
class Mixture:
    """Where a mixed joint may begin to melt (degC)."""

    melts_from: float
    why: str


@formula
def mixed_alloys(alloy: str, old_alloy: str) -> Mixture:
    """From which temperature a joint may soften in which two alloys have met.

    The lower solidus of the two, or of the ternary of bismuth, tin and lead. The true mixture depends on the amounts; a
    joint that was cleaned down to the pad is of the new alloy alone.

    Formula: the lowest solidus that can form
    Args:
        alloy: on the iron (one of Sn63Pb37, Sn62Pb36Ag2, SAC305, Sn42Bi58, In52Sn48, Bi46Sn34Pb20, Sn95Sb5,
            Bi56Sn30In14, Bi49Pb18Sn12In21, Sn99.3Cu0.7)
        old_alloy: on the pad (one of Sn63Pb37, Sn62Pb36Ag2, SAC305, Sn42Bi58, In52Sn48, Bi46Sn34Pb20, Sn95Sb5,
            Bi56Sn30In14, Bi49Pb18Sn12In21, Sn99.3Cu0.7)
    Gives:
        melts_from: the joint may soften from here on (degC)
        why: in words (text)
    Source: Indium Corporation alloy table; J-STD-006 (Bi46Sn34Pb20 melts at 96 degC)
    Caution: Lead: wash hands before eating. Fumes: extract them.

    >>> mixed_alloys("Sn42Bi58", "Sn63Pb37").melts_from
    96.0
    """
    ternary = alloy_row("Bi46Sn34Pb20")
    names = (alloy, old_alloy)
    lowest = min(names, key=lambda name: float(alloy_row(name)["solidus"]))
    at = float(alloy_row(lowest)["solidus"])
    meet = any("Bi" in name for name in names) and any("Pb" in name for name in names)
    if meet and float(ternary["solidus"]) < at:
        return Mixture(float(ternary["solidus"]), "bismuth meets lead: a ternary can form. Clean all of it off first.")
    return Mixture(at, f"the solidus of {lowest}, the lower of the two. Clean it off first if they differ.")


@dataclass(frozen=True)
class Iron:
    """A soldering iron's tip against an alloy."""

    superheat: float
    verdict: str
    limit: str


@formula
def tip(alloy: str, temperature: float) -> Iron:
    """How far a soldering iron's tip is above an alloy's liquidus, and what is said of such a tip.

    At the bench, common practice, no source: tin-lead 300 to 340 degC for 2 to 3 s; SAC 340 to 380 degC for 2 to 4 s
    and heavy planes preheated; hot air 300 to 380 degC at the nozzle for 10 to 60 s with the board at 100 to 150 degC.
    Shield plastic connectors near by, or take a low-melting alloy rather than more heat.

    Formula: dT = T_tip - T_liquidus
    Args:
        alloy: of the joint (one of Sn63Pb37, Sn62Pb36Ag2, SAC305, Sn42Bi58, In52Sn48, Bi46Sn34Pb20, Sn95Sb5,
            Bi56Sn30In14, Bi49Pb18Sn12In21, Sn99.3Cu0.7)
        temperature: of the tip (degC, 50 to 500)
    Gives:
        superheat: of the tip above the liquidus (K)
        verdict: against the limit (text)
        limit: that has a source (text)
    Source: alloy table (see alloy); tin-lead, space workmanship: ESA PSS-01-738, 3.5.7
    Caution: The tip burns, and so do the fumes in eyes and lungs: extract them.

    >>> tip("SAC305", 350.0).superheat
    130.0
    """
    row = alloy_row(alloy)
    over = temperature - float(row["liquidus"])
    if over <= 0.0:
        raise RangeError(
            f"tip: {alloy} is liquid above {row['liquidus']} degC; a tip of {temperature:g} degC melts nothing."
        )
    if row["profile"] != "SnPb":
        return Iron(over, "no limit with a source", "none")
    verdict = "over" if temperature > 320.0 else "within" if temperature > 280.0 else "as recommended, or below"
    return Iron(over, verdict, "280 degC recommended, not above 320 degC")
