"""From what the rooms answer to the shapes that the terminal prints or gives as JSON."""

from __future__ import annotations

from collections.abc import Iterable
from math import isfinite
from pathlib import Path

from knowngood.belief.believe import Belief
from knowngood.belief.verdict import Verdict
from knowngood.cli import shapes
from knowngood.handbook.intervals import Interval
from knowngood.log import events as ev
from knowngood.log.state import Flag, Line, Replay, effective
from knowngood.maps.device import Device
from knowngood.money.ledger import Ledger
from knowngood.plan.choose import Advice, Ranked
from knowngood.plan.compare import Comparison, Drawn
from knowngood.proof.known import Proof


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
        open=sorted(now.open_steps),
        unplugged=sorted(now.unplugged | now.loose),
        out=sorted(now.removed),
        fitted=dict(sorted(now.origin.items())),
        touched=list(now.touched),
        proven=sorted(now.proven),
        declared=sorted(now.declared),
        minutes=round(now.minutes, 1),
        exit=now.exit,
        lines=lines(log, replay.flags),
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
            fits_map=one.fits_map,
            reference=shapes.ReferenceShape(
                units=one.reference.count, median=one.reference.median, mad=one.reference.mad
            )
            if one.reference
            else None,
            fits_reference=one.fits_reference,
            flag=one.flag,
        )
        for one in found
    ]


def belief(unit: str, found: Belief, flags: Iterable[Flag], readings_: Iterable[Verdict] = ()) -> shapes.BeliefAnswer:
    return shapes.BeliefAnswer(
        unit=unit,
        map=found.device.id,
        log_seq=found.log_seq,
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
        readings=readings(readings_),
        flags=[f"line {flag.seq}: {flag.message}" for flag in flags],
    )


def advice(unit: str, found: Advice, currency: str, most: int) -> shapes.NextAnswer:
    return shapes.NextAnswer(
        unit=unit,
        map=found.belief.device.id,
        log_seq=found.log_seq,
        currency=currency,
        stop_worth=found.stop_worth,
        known_good=found.belief.known_good,
        considered=found.considered,
        followed=found.followed,
        moves=[_move(one) for one in found.ranked[: most or None]],
        held=[
            shapes.HeldShape(
                kind=move.kind, target=move.target, rule=f"{breach.hazard}: {breach.rule.id}", why=str(breach)
            )
            for move, breach in found.held
        ],
    )


def _move(one: Ranked) -> shapes.MoveShape:
    return shapes.MoveShape(
        move=one.move.do,
        kind=one.move.kind,
        target=one.move.target,
        cost=round(one.cost, 4),
        minutes=one.move.minutes,
        materials=one.move.materials,
        worth=one.worth,
        why=one.why,
        cautions=list(one.move.cautions),
        opens=list(one.move.opens),
        closes=list(one.move.closes),
        log=one.move.log,
        outcomes=[
            shapes.OutcomeShape(
                outcome=prospect.outcome,
                probability=prospect.probability,
                known_good=prospect.known_good,
                suspects=[shapes.SuspectShape(part=part, p_blocks=chance) for part, chance in prospect.suspects],
            )
            for prospect in one.outcomes
        ],
    )


def money(unit: str, found: Ledger, seq: int) -> shapes.MoneyAnswer:
    return shapes.MoneyAnswer(
        unit=unit,
        log_seq=seq,
        currency=found.profit.currency,
        bookings=[shapes.BookingShape(seq=one.seq, amount=str(one.amount), what=one.what) for one in found.bookings],
        went_out=str(found.went_out),
        came_in=str(found.came_in),
        profit=str(found.profit),
        minutes=round(found.minutes, 1),
        minutes_assumed=round(found.minutes_assumed, 1),
        profit_per_hour=found.profit_per_hour,
        exit=found.exit,
    )


def proof(unit: str, found: Proof, seq: int) -> shapes.ProofAnswer:
    return shapes.ProofAnswer(
        unit=unit,
        log_seq=seq,
        known_good=found.known_good,
        complete=found.complete,
        unproven=list(found.unproven),
        functions=[
            shapes.ShownShape(function=one.function, what=one.what, proven=one.proven, p_good=one.p_good)
            for one in found.functions
        ],
        declared=list(found.declared),
        open=list(found.open_steps),
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
        if_known=_interval(found.if_known),
        policies=[
            shapes.PolicyShape(
                policy=one.policy,
                net=_interval(one.net),
                behind=_interval(one.behind) if one.behind else None,
                minutes=_interval(one.minutes),
                materials=_interval(one.materials),
                moves=_interval(one.moves),
                brought_back=_interval(one.brought_back),
                would_return=_interval(one.would_return),
                as_is=_interval(one.as_is),
                parted=_interval(one.parted),
                given_up=_interval(one.given_up),
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


def _interval(found: Interval) -> shapes.IntervalShape:
    low, high = (end if isfinite(end) else None for end in (found.low, found.high))
    return shapes.IntervalShape(mean=found.mean, low=low, high=high)
