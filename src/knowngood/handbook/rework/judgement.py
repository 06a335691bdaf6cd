"""A temperature log held to limits: what was measured of each, with its verdict, and what the log cannot tell."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median

from knowngood.handbook.rework.slopes import Slope
from knowngood.handbook.rework.temperature_log import (
    Cycle,
    Limits,
    Samples,
    Span,
    above,
    check,
    crossings,
    cycle_of,
    parted,
)

SPIKE = 5.0
"""K by which one sample stands out of both its neighbours, beyond what the steepest allowed slope explains."""


@dataclass(frozen=True)
class Finding:
    """One line of the judgement, in words."""

    what: str
    value: str
    limit: str
    verdict: str


@dataclass(frozen=True)
class Run:
    """A log and all that was found in it."""

    samples: Samples
    limits: Limits
    span: float
    cycles: tuple[Cycle, ...]
    gaps: tuple[tuple[float, float], ...]
    findings: tuple[Finding, ...]


def judged(log: Samples, limits: Limits, span: float) -> Run:
    """The findings on a log. Raises RangeError for a log that cannot be judged at all."""
    check(log, span)
    gaps = tuple((a[0], b[0]) for a, b in pairwise(log) if b[0] - a[0] > span / 2.0)
    cycles = tuple(cycle_of(part, limits, gaps, span) for part in parted(log, limits))
    found = [*_general(log, limits, cycles, gaps, span)]
    for number, cycle in enumerate(cycles, start=1):
        label = f"cycle {number}: " if len(cycles) > 1 else ""
        found += [Finding(label + one.what, one.value, one.limit, one.verdict) for one in _judge(cycle, limits, gaps)]
    return Run(log, limits, span, cycles, gaps, (_whole(found), *found))


def _verdict(value: float, span: Span | None, *, least: bool = False) -> str:
    """A value against limits. ``least``: the true one may be greater."""
    if span is None:
        return "no limit with a source"
    if span.high is not None and value > span.high:
        return "over"
    if span.low is not None and value < span.low and not least:
        return "short"
    return "indeterminate" if least and span.high is not None else "within"


def _limit(span: Span | None, unit: str) -> str:
    if span is None:
        return "none"
    if span.low is not None and span.high is not None:
        return f"{span.low:g} to {span.high:g} {unit}".strip()
    return f"{span.low:g} {unit} or more" if span.low is not None else f"at most {span.high:g} {unit}".strip()


def _gap(gaps: Sequence[tuple[float, float]], begin: float, end: float) -> str:
    """ " (gap)" words for the first gap in a stretch; "" without one."""
    hit = next(((a, b) for a, b in gaps if a < end and b > begin), None)
    return f"indeterminate: gap {hit[0]:g} to {hit[1]:g} s" if hit else ""


def _judge(cycle: Cycle, limits: Limits, gaps: Sequence[tuple[float, float]]) -> list[Finding]:
    found = [*_soaked(cycle, limits, gaps), *_ramps(cycle, limits, gaps), *_heated(cycle, limits, gaps)]
    return [*found, *_peaked(cycle, limits, gaps)]


def _soaked(cycle: Cycle, limits: Limits, gaps: Sequence[tuple[float, float]]) -> list[Finding]:
    if limits.preheat is None:
        return [Finding("soak", "not judged", "none", f"no preheat with a source for {limits.alloy}")]
    what = f"soak {limits.preheat.low:g} to {limits.preheat.high:g} degC"
    if cycle.soak is None:
        why = "log begins above it" if cycle.samples[0][1] >= (limits.preheat.low or 0.0) else "never rose through it"
        return [Finding(what, "none", _limit(limits.soak, "s"), f"not covered: {why}")]
    length = cycle.soak[1] - cycle.soak[0]
    verdict = _gap(gaps, *cycle.soak) or _verdict(length, limits.soak)
    return [Finding(what, f"{length:.0f} s", _limit(limits.soak, "s"), verdict)]


def _ramps(cycle: Cycle, limits: Limits, gaps: Sequence[tuple[float, float]]) -> list[Finding]:
    found = []
    time, degrees = cycle.peak
    before = [sample for sample in cycle.samples if sample[0] <= time]
    levels = {"preheat": limits.preheat.high if limits.preheat else None, "liquidus": limits.liquidus}
    for name, level in levels.items():
        rises = [at for at, up in crossings(before, level) if up] if level is not None else []
        if level is not None and rises and time > rises[-1]:
            mean = (degrees - level) / (time - rises[-1])
            verdict = _gap(gaps, rises[-1], time) or _verdict(mean, Span(None, limits.rise))
            found.append(
                Finding(f"mean rise from {name}", f"{mean:.2f} K/s", _limit(Span(None, limits.rise), "K/s"), verdict)
            )
    back = next((at for at, up in crossings(cycle.samples, limits.liquidus) if not up and at > time), None)
    found.append(_steepest("steepest rise", cycle.rise, limits.rise, "no stretch of it long enough"))
    if back is not None and degrees > limits.liquidus:
        mean = (degrees - limits.liquidus) / (back - time)
        verdict = _gap(gaps, time, back) or _verdict(mean, Span(None, limits.fall))
        found.append(
            Finding("mean fall to liquidus", f"{mean:.2f} K/s", _limit(Span(None, limits.fall), "K/s"), verdict)
        )
    fall = _steepest("steepest fall", cycle.fall, limits.fall, "log ends at the peak, or too soon after")
    cooled = any(not up and at > time for at, up in crossings(cycle.samples, limits.reset))
    if not cooled and fall.verdict == "within":
        last = cycle.samples[-1][1]
        fall = Finding(fall.what, fall.value, fall.limit, f"within, but the log ends at {last:.0f} degC")
    return [*found, fall]


def _steepest(what: str, slope: Slope | None, most: float, why: str) -> Finding:
    limit = _limit(Span(None, most), "K/s")
    if slope is None:
        return Finding(what, "none", limit, f"not covered: {why}")
    value = f"{abs(slope.rate):.2f} +/- {3.0 * slope.error:.2f} K/s"
    if abs(slope.rate) - 3.0 * slope.error > most:
        return Finding(what, value, limit, f"over, at {slope.middle:.0f} s")
    if abs(slope.rate) + 3.0 * slope.error > most:
        return Finding(what, value, limit, f"indeterminate: noise, at {slope.middle:.0f} s")
    return Finding(what, value, limit, slope.hidden or "within")


def _heated(cycle: Cycle, limits: Limits, gaps: Sequence[tuple[float, float]]) -> list[Finding]:
    what = f"time above {limits.liquidus:g} degC"
    if not cycle.above:
        return [
            Finding(what, "0 s", _limit(limits.above, "s"), "short: never reached" if limits.above else "never reached")
        ]
    length = sum(end - begin for begin, end in cycle.above)
    verdict = _gap(gaps, cycle.above[0][0], cycle.above[-1][1]) or _verdict(length, limits.above, least=not cycle.whole)
    if verdict == "indeterminate":
        verdict = f"indeterminate: log {'ends' if cycle.samples[0][1] < limits.liquidus else 'begins'} above it"
    found = [Finding(what, f"{length:.0f} s", _limit(limits.above, "s"), verdict)]
    if (dips := len(cycle.above) - 1) > 0:
        lost = cycle.above[-1][1] - cycle.above[0][0] - length
        told = f"{dips + 1} times above, {lost:.0f} s below between"
        found.append(Finding("dips below it", told, "none", "times above are added up"))
    return found


def _peaked(cycle: Cycle, limits: Limits, gaps: Sequence[tuple[float, float]]) -> list[Finding]:
    time, degrees = cycle.peak
    hidden = next((gap for gap in gaps if gap[0] <= time <= gap[1]), None) or next(
        (gap for begin, end in cycle.above for gap in gaps if gap[0] < end and gap[1] > begin), None
    )
    cloud = f"indeterminate: gap {hidden[0]:g} to {hidden[1]:g} s" if hidden else ""
    if _spiked(cycle.samples, time, limits.fall):
        cloud = "indeterminate: one sample alone is so high"
    value = f"{degrees:.1f} degC"
    melts = _verdict(degrees, limits.melts)
    if melts == "short":
        melts = cloud or f"short: {limits.alloy} did not melt"
    if limits.melts is None:
        melts = "liquidus from memory: not judged"
    found = [Finding("peak, solder", value, _limit(limits.melts, "degC"), melts)]
    found.append(_body_finding(degrees, value, limits.body, cloud))
    if limits.body is not None and limits.body.low == limits.body.high and limits.body.low is not None:
        near = above(cycle.samples, limits.body.low - 5.0)
        length = sum(end - begin for begin, end in near)
        verdict = (_gap(gaps, near[0][0], near[-1][1]) if near else cloud) or _verdict(length, limits.near_peak)
        level = f"at {limits.body.low - 5.0:g} degC or more"
        found.append(Finding(level, f"{length:.0f} s", _limit(limits.near_peak, "s"), verdict))
    found.append(_from_cold(cycle, limits))
    return found


def _from_cold(cycle: Cycle, limits: Limits) -> Finding:
    begun, time = cycle.samples[0], cycle.peak[0]
    starts = [at for at, up in crossings(cycle.samples, 25.0) if up and at < time]
    length = time - (starts[-1] if starts else begun[0])
    verdict = _verdict(length, limits.to_peak)
    if verdict == "within" and begun[1] > 25.0 and not starts:
        verdict = f"within from {begun[1]:.0f} degC on" if begun[1] < limits.reset else "indeterminate: log begins hot"
    return Finding("25 degC to peak", f"{length:.0f} s", _limit(limits.to_peak, "s"), verdict)


def _body_finding(degrees: float, value: str, body: Span | None, cloud: str) -> Finding:
    what = "peak, package"
    if body is None or body.low is None or body.high is None:
        return Finding(what, value, "not given", "not covered: give --thickness and --volume, or --body-limit")
    limit = f"at most {body.high:g} degC" if body.low == body.high else f"{body.low:g} to {body.high:g} degC by size"
    if degrees > body.high:
        return Finding(what, value, limit, cloud if cloud.endswith("so high") else "over")
    if degrees > body.low:
        return Finding(what, value, limit, "indeterminate: sizes from memory only")
    return Finding(what, value, limit, cloud or "within")


def _spiked(log: Samples, time: float, steepest_allowed: float) -> bool:
    """Whether the sample at a time stands out of both its neighbours by more than a slope could."""
    number = next(number for number, sample in enumerate(log) if sample[0] == time)
    near = [log[other] for other in (number - 1, number + 1) if 0 <= other < len(log)]
    return all(log[number][1] - degrees > SPIKE + steepest_allowed * abs(log[number][0] - at) for at, degrees in near)


def _general(
    log: Samples, limits: Limits, cycles: Sequence[Cycle], gaps: Sequence[tuple[float, float]], span: float
) -> list[Finding]:
    usual = median(b[0] - a[0] for a, b in pairwise(log))
    found = [Finding("log", f"{len(log)} samples, one in {usual:.3g} s", f"slopes over {span:g} s", "common practice")]
    if gaps:
        longest = max(gaps, key=lambda gap: gap[1] - gap[0])
        told = f"{len(gaps)}, longest {longest[1] - longest[0]:g} s at {longest[0]:g} s"
        found.append(Finding("gaps", told, f"at most {span / 2.0:g} s", "not covered: what happened in them"))
    if len(cycles) > 1:
        found.append(
            Finding("reflow cycles", str(len(cycles)), _limit(limits.cycles, ""), _verdict(len(cycles), limits.cycles))
        )
    return found


def _whole(found: Sequence[Finding]) -> Finding:
    """The judgement of the whole run, for the first line."""

    def named(*begins: str) -> list[str]:
        return [one.what for one in found if one.verdict.startswith(begins)]

    outside, unsure = named("over", "short"), named("indeterminate", "not covered")
    if outside:
        return Finding("run", f"{len(outside)} outside", "all within", "not to profile")
    if unsure:
        return Finding("run", f"none outside, {len(unsure)} open", "all within", "open")
    return Finding("run", "none outside", "all within", "within what is judged")
