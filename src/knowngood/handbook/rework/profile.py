"""Reflow profiles by standard, and a measured temperature log held to one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from knowngood.errors import RangeError
from knowngood.handbook.formula import formula
from knowngood.handbook.rework.alloys import alloy_row
from knowngood.handbook.rework.judgement import Finding, Run, judged
from knowngood.handbook.rework.temperature_log import Limits, Span
from knowngood.handbook.table import number, sourced, table

USUAL_SPAN = 10.0
"""Seconds over which a slope is taken. The standard names none: common practice, no source."""


@dataclass(frozen=True)
class ProfileLimit:
    """One limit of a profile."""

    item: str
    limit: str
    source: str


@formula
def ramp_time(start: float, target: float, rate: float) -> float:
    """The shortest time to heat or cool between two temperatures at a rate.

    Formula: t = |T1 - T0| / rate
    Args:
        start: temperature at first (degC, -60 to 500)
        target: temperature to come to (degC, -60 to 500)
        rate: not to be passed (K/s, above 0 to 100)
    Gives:
        time: at least (s)
    Source: arithmetic

    >>> round(ramp_time(25.0, 150.0, 3.0), 2)
    41.67
    """
    return abs(target - start) / rate


@formula
def profile_limits(process: str, revision: str = "D") -> tuple[ProfileLimit, ...]:
    """The limits of a package in reflow. They are not a profile to solder by: that stands on the paste's sheet.

    Each holds at the package body. Times within 5 K of the body's peak: a supplier tests at least so long, a user stays
    no longer. Where revision C is asked for and has no figure of its own here, that of D.1 is shown.

    Formula: table
    Args:
        process: solder of the profile (one of Pb-free, SnPb)
        revision: of the standard (one of C, D)
    Gives:
        item: what is limited (text)
        limit: of it (text)
        source: of these limits (text)
    Source: J-STD-020D.1, table 5-2; J-STD-020C; parts makers' data sheets for the number of cycles

    >>> profile_limits("Pb-free")[4].limit
    '60 to 150 s'
    """
    return tuple(
        ProfileLimit(item, _span_text(number(row, "low"), number(row, "high"), row["unit"]), sourced(row))
        for item, row in _rows(process, revision).items()
    )


def _rows(process: str, revision: str) -> dict[str, Mapping[str, str]]:
    """Rows of the table by item, in its order: the revision's own where it has one, else those of D."""
    found: dict[str, Mapping[str, str]] = {}
    for row in table("reflow_limits"):
        own, usual = row["revision"] == revision, row["revision"] in ("D", "")
        if row["process"] == process and (own or (usual and row["item"] not in found)):
            found[row["item"]] = row
    return found


def _span_text(low: float | None, high: float | None, unit: str) -> str:
    words = f"{high:g}" if low == high else f"{low:g} to {high:g}" if low is not None else f"at most {high:g}"
    return f"{words} {unit}".strip()


@dataclass(frozen=True)
class BodyPeak:
    """The highest temperature a package body is classified for (degC)."""

    peak: float
    revision: str
    source: str
    use: str


@formula
def body_peak(process: str, thickness: float, volume: float) -> tuple[BodyPeak, ...]:
    """The temperature that a package's body must not pass in reflow, by thickness and volume.

    What the part's own sheet says comes first. On the border of two sizes the lower figure counts. Of the tin-lead
    figures of revision D.1 only the range 220 to 235 degC is confirmed.

    Formula: table
    Args:
        process: solder of the profile the part is classified for (one of Pb-free, SnPb)
        thickness: of the body without balls or leads (m, above 0 to 0.05)
        volume: of the body without balls or leads (m^3, above 0 to 1e-3)
    Gives:
        peak: of the body (degC)
        revision: of the standard (text)
        source: of these limits (text)
        use: of the figure (text)
    Source: J-STD-020D.1, tables 4-1 and 4-2; J-STD-020C, table 4-1

    >>> [one.peak for one in body_peak("Pb-free", 2.0e-3, 400e-9)]
    [250.0]
    """
    found: dict[str, BodyPeak] = {}
    for row in table("body_peaks"):
        fits = (
            row["process"] == process
            and _inside(thickness * 1e3, row, "thickness")
            and _inside(volume * 1e9, row, "volume")
        )
        if fits and (row["revision"] not in found or float(row["peak"]) < found[row["revision"]].peak):
            use = "may be judged by" if row["status"] == "confirmed" else "shown only, never judged by"
            found[row["revision"]] = BodyPeak(float(row["peak"]), row["revision"], sourced(row), use)
    return tuple(found.values())


def _inside(value: float, row: Mapping[str, str], name: str) -> bool:
    low, high = number(row, f"{name}_low"), number(row, f"{name}_high")
    value = round(value, 6)
    return (low is None or low <= value) and (high is None or value <= high)


@formula
def profile(
    log: tuple[tuple[float, float], ...],
    alloy: str,
    revision: str = "D",
    thickness: float | None = None,
    volume: float | None = None,
    body_limit: float | None = None,
    span: float = USUAL_SPAN,
) -> tuple[Finding, ...]:
    """Was the run good: a measured temperature log against the limits of its reflow profile.

    These are limits of packages, not a profile to solder by: the paste's sheet rules for the joint, and less time than
    a package was qualified for does it no harm. Slopes are lines fitted by least squares over a span; the standard
    names no span (ours is common practice, no source); within three standard errors of a limit is indeterminate.
    Times between samples are interpolated. Not covered: the thermocouple's error and place, colder and hotter
    spots than the one measured, moisture, cycles before this log.

    Formula: table, see profile-limits; soak from the first rise through the bottom of the preheat to the last through
        its top; a cycle ends where it has cooled below that bottom
    Args:
        log: measured on the package body, a CSV file of time and temperature (rows of s, degC)
        alloy: of the solder (one of Sn63Pb37, Sn62Pb36Ag2, SAC305, Sn42Bi58, In52Sn48, Bi46Sn34Pb20, Sn95Sb5,
            Bi56Sn30In14, Bi49Pb18Sn12In21, Sn99.3Cu0.7)
        revision: of J-STD-020 (one of C, D)
        thickness: of the largest package body, for its peak (m, above 0 to 0.05)
        volume: of that body (m^3, above 0 to 1e-3)
        body_limit: peak temperature from the part's own sheet, if it has one (degC, 50 to 400)
        span: over which a slope is taken (s, 1 to 60)
    Gives:
        what: of the profile (text)
        value: as measured (text)
        limit: for it (text)
        verdict: within, over, short, indeterminate; or why there is none (text)
    Source: J-STD-020D.1, tables 4-1, 4-2 and 5-2; J-STD-020C; alloy table (see alloy)
    Caution: Hot board and fumes; cells and electrolytics come off before reflow.

    >>> rise = [(float(t), 25.0 + t) for t in range(0, 216, 1)]
    >>> fall = [(215.0 + t, 240.0 - 2.0 * t) for t in range(1, 100)]
    >>> [one.verdict for one in profile(tuple(rise + fall), "SAC305") if one.what == "time above 217 degC"]
    ['short']
    """
    return run_of(log, alloy, revision, thickness, volume, body_limit, span).findings


def run_of(
    log: tuple[tuple[float, float], ...],
    alloy: str,
    revision: str = "D",
    thickness: float | None = None,
    volume: float | None = None,
    body_limit: float | None = None,
    span: float = USUAL_SPAN,
) -> Run:
    """What ``profile`` finds, with all that a picture of it needs. Raises RangeError."""
    return judged(log, _limits(alloy, revision, _body(alloy, revision, thickness, volume, body_limit)), span)


def _limits(name: str, revision: str, body: Span | None) -> Limits:
    row = alloy_row(name)
    melts = Span(float(row["liquidus"]), None) if row["status"] != "from memory" else None
    if not row["profile"]:
        return Limits(
            name,
            liquidus=float(row["liquidus"]),
            reset=float(row["solidus"]) - 50.0,
            melts=melts,
            body=body,
            rise=3.0,
            fall=6.0,
        )
    found = {
        item: Span(number(row, "low"), number(row, "high")) for item, row in _rows(row["profile"], revision).items()
    }
    preheat = found["preheat temperature"]
    assert preheat.low is not None
    return Limits(
        name,
        liquidus=found["liquidus"].high or 0.0,
        reset=preheat.low,
        melts=melts,
        body=body,
        preheat=preheat,
        soak=found["preheat time"],
        rise=found["ramp up"].high or 0.0,
        fall=found["ramp down"].high or 0.0,
        above=found["time above liquidus"],
        near_peak=Span(None, found["time within 5 K of the body peak"].high),
        to_peak=Span(None, found["25 degC to peak"].high),
        cycles=Span(None, found["reflow cycles"].high),
    )


def _body(
    name: str, revision: str, thickness: float | None, volume: float | None, body_limit: float | None
) -> Span | None:
    """The highest temperature of the body: one figure, or the two ends that are confirmed; None where unknown."""
    if body_limit is not None:
        return Span(body_limit, body_limit)
    if thickness is None and volume is None:
        return None
    if thickness is None or volume is None:
        missing = "thickness" if thickness is None else "volume"
        raise RangeError(f"profile: the body's peak goes by thickness and volume. Give --{missing} as well.")
    process = alloy_row(name)["profile"]
    if not process:
        raise RangeError(f"profile: J-STD-020 has no body peak for {name}. Give --body-limit from the part's sheet.")
    found = next(
        one for one in body_peak(process, thickness, volume) if one.revision == revision or process == "Pb-free"
    )
    if "never" in found.use:
        return Span(SNPB_BODIES[0], SNPB_BODIES[1])
    return Span(found.peak, found.peak)


SNPB_BODIES = (220.0, 235.0)
"""Range of the tin-lead body temperatures of J-STD-020D.1 (degC); which body has which is from memory only."""
