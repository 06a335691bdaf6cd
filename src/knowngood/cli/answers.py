"""From what the rooms answer to the shapes that the terminal prints or gives as JSON."""

from __future__ import annotations

from collections.abc import Iterable
from math import isfinite
from pathlib import Path

from knowngood.belief.believe import Belief
from knowngood.belief.explanations import Explanation, explain
from knowngood.belief.surprise import Surprise, surprise
from knowngood.belief.verdict import Verdict
from knowngood.bench.learning import Row
from knowngood.cli import shapes
from knowngood.cli.partly import part
from knowngood.handbook.intervals import Interval
from knowngood.handbook.quantities import format_expected
from knowngood.log import events as ev
from knowngood.log.state import Flag, Line, Replay, effective
from knowngood.maps.calls import formula_of
from knowngood.maps.device import Device
from knowngood.maps.load import load_text
from knowngood.maps.read import Finding
from knowngood.plan.compare import Comparison, Drawn


def lines(
    log: Iterable[Line], flags: Iterable[Flag] = (), *, among: Iterable[Line] | None = None
) -> list[shapes.LineShape]:
    """Lines of a log; ``among`` is the whole log, which decides what holds."""
    given = list(log)
    plain, _ = effective(among if among is not None else given)
    holding = {line.seq for line in plain}
    problem = {flag.seq: flag.message for flag in flags}
    return [
        shapes.LineShape(
            seq=line.seq,
            time=line.time,
            line=ev.render(line.event),
            holds=line.seq in holding or isinstance(line.event, (ev.Undid, ev.Redid)),
            flag=problem.get(line.seq),
        )
        for line in given
    ]


def state(unit: str, device: Device, replay: Replay, log: Iterable[Line]) -> shapes.UnitState:
    now = replay.state
    return shapes.UnitState(
        unit=unit,
        map=device.id,
        log_seq=replay.seq,
        past=list(now.past),
        open=list(now.ajar),
        unplugged=sorted(now.unplugged | now.loose),
        out=sorted(now.removed),
        met=list(now.met.sorts),
        fitted=dict(sorted(now.origin.items())),
        touched=list(now.touched),
        proven=sorted(now.proven),
        declared=sorted(now.declared),
        lacks=[*sorted(now.ruled_out.tools), *sorted(now.ruled_out.parts)],
        deferred=sorted(now.ruled_out.deferred),
        curing=dict(sorted(now.curing.items())),
        minutes=round(now.minutes, 1),
        exit=now.exit,
        quarantine=now.intake.quarantine[1] if now.intake.quarantine else None,
        returns=[f"{one.why} (cause: {one.cause or 'not known yet'})" for one in now.sales.returns],
        lines=lines(log, replay.flags),
    )


def checked(file: Path, findings: Iterable[Finding]) -> shapes.MapCheck:
    found = [
        shapes.FindingShape(
            file=one.place.file, line=one.place.line, column=one.place.column, rule=one.rule, message=one.message
        )
        for one in findings
    ]
    calls = [] if found else _calls(load_text(file.read_text(encoding="utf-8"), str(file)))
    return shapes.MapCheck(file=str(file), right=not found, findings=found, calls=calls)


def _calls(device: Device) -> list[shapes.CallShape]:
    return [
        shapes.CallShape(
            function=function.id,
            key=key,
            call=one.rests_on,
            expected=format_expected(one),
            source=formula_of(one.rests_on).page.source,
        )
        for function in device.functions.values()
        for key, one in function.expected.items()
        if one.rests_on
    ]


def learned(device: Device, found: Iterable[Row], difference: str, written: Path | None) -> shapes.ReadingsAnswer:
    rows = [
        shapes.LearnedRow(
            test=one.test.id,
            function=one.place[0],
            key=one.place[1],
            expected=format_expected(one.mapped),
            rests_on=one.mapped.rests_on or None,
            units=one.units.count if one.units else 0,
            median=one.units.median if one.units else None,
            spread=one.units.spread if one.units else None,
            unit=one.mapped.unit,
            learned=format_expected(one.learned) if one.learned else None,
        )
        for one in found
    ]
    return shapes.ReadingsAnswer(
        map=device.id, rows=rows, difference=difference, written=str(written) if written else None
    )


def readings(found: Iterable[Verdict]) -> list[shapes.ReadingShape]:
    return [
        shapes.ReadingShape(
            seq=one.seq,
            test=one.test,
            reading=one.reading.text,
            unit=one.expected.unit,
            zone=one.zone,
            zones=one.zones,
            expected_low=one.expected.low,
            expected_high=one.expected.high,
            rests_on=one.expected.rests_on or None,
            conformity=one.conformity,
            fits_map=one.fits_map,
            reference=shapes.ReferenceShape(
                units=one.reference.count, median=one.reference.median, mad=one.reference.mad
            )
            if one.reference
            else None,
            fits_reference=one.fits_reference,
            flag=one.flag,
            slip=one.slip,
        )
        for one in found
    ]


def explanations(found: Iterable[Explanation]) -> list[shapes.ExplanationShape]:
    return [
        shapes.ExplanationShape(
            faults=[
                shapes.FaultShape(part=fault.part, mode=fault.mode, since=fault.since, until=fault.until)
                for fault in one.faults
            ],
            unknown=one.unknown,
            probability=one.probability,
            with_others=one.with_others,
            likeliest=one.likeliest,
            explains=list(one.explains),
            strange=list(one.strange),
        )
        for one in found
    ]


def surprised(found: Surprise | None) -> shapes.SurpriseShape | None:
    if found is None:
        return None
    return shapes.SurpriseShape(
        lines=list(found.lines),
        log10=found.log10 if isfinite(found.log10) else None,
        recheck=found.recheck,
        message=str(found),
    )


def belief(unit: str, found: Belief, flags: Iterable[Flag], readings_: Iterable[Verdict] = ()) -> shapes.BeliefAnswer:
    explained = explain(found)
    return shapes.BeliefAnswer(
        unit=unit,
        map=found.device.id,
        log_seq=found.log_seq,
        cases=found.cases,
        partly=part(found),
        known_good=found.known_good,
        parts=[
            shapes.PartBelief(
                part=one.part,
                what=one.what,
                p_bad=one.p_bad,
                p_blocks=one.p_blocks,
                modes=one.modes,
                moved_by=[
                    shapes.MoverShape(seq=mover.seq, line=mover.text, log10_factor=mover.log10_factor)
                    for mover in one.movers
                ],
            )
            for one in found.suspects_with_reasons()
        ],
        unknown=found.unknown,
        explanations=explanations(explained),
        explained=sum(one.probability for one in explained),
        surprise=surprised(surprise(found)),
        readings=readings(readings_),
        flags=[f"line {flag.seq}: {flag.message}" for flag in flags],
    )


def rehearsal(
    device: Device,
    found: Comparison,
    drawn: Iterable[Drawn],
    *,
    seed: int,
    past: Iterable[str],
    currency: str,
    picture: Path | None,
) -> shapes.RehearseAnswer:
    return shapes.RehearseAnswer(
        map=device.id,
        map_hash=device.content_hash,
        seed=seed,
        units=found.units,
        past=list(past),
        currency=currency,
        stopping_faults=found.stopping_faults,
        parted_at_once=found.parted_at_once,
        if_known=interval(found.if_known),
        policies=[
            shapes.PolicyShape(
                policy=one.policy,
                net=interval(one.net),
                behind=interval(one.behind) if one.behind else None,
                minutes=interval(one.minutes),
                materials=interval(one.materials),
                moves=interval(one.moves),
                brought_back=interval(one.brought_back),
                would_return=interval(one.would_return),
                as_is=interval(one.as_is),
                parted=interval(one.parted),
                given_up=interval(one.given_up),
            )
            for one in found.policies
        ],
        drawn=[
            shapes.DrawnShape(
                unit=one.unit,
                faults=list(one.faults),
                stopping_faults=one.stopping_faults,
                if_known=one.if_known,
                jobs=[shapes.RehearsedShape(policy=name, **vars(job)) for name, job in one.jobs.items()],
            )
            for one in drawn
        ],
        picture=str(picture) if picture else None,
    )


def interval(found: Interval) -> shapes.IntervalShape:
    low, high = (end if isfinite(end) else None for end in (found.low, found.high))
    return shapes.IntervalShape(mean=found.mean, low=low, high=high)
