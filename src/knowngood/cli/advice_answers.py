"""From the plan's advice to the shapes that the terminal prints or gives as JSON."""

from __future__ import annotations

from collections.abc import Sequence

from knowngood.belief.believe import Belief
from knowngood.belief.surprise import surprise
from knowngood.bench.questions import Told, Why
from knowngood.cli import advice_shapes as shapes
from knowngood.cli.answers import surprised
from knowngood.cli.partly import part
from knowngood.log import events as ev
from knowngood.plan.choose import Advice, Prospect, Ranked
from knowngood.plan.finish import finish
from knowngood.plan.moves import Move
from knowngood.plan.several import Turn
from knowngood.plan.why.stop import Standing


def advice(unit: str, found: Advice, stand: Standing, currency: str, most: int) -> shapes.NextAnswer:
    reason = stand.reason
    # Once it was said that stopping is better, and the person went on, the ways on come first.
    ranked = sorted(found.ranked, key=lambda one: one.move.act.ends) if stand.said else found.ranked
    return shapes.NextAnswer(
        unit=unit,
        map=found.belief.device.id,
        log_seq=found.log_seq,
        currency=currency,
        partly=part(found.belief),
        stop_worth=found.stop_worth,
        standing=shapes.StandingShape(
            stop=stand.stop,
            going_on=stand.going_on,
            spread=stand.spread,
            because=shapes.ReasonShape(
                part=reason.part,
                what=reason.what,
                fine=reason.fine,
                probability=reason.probability,
                difference=reason.difference,
            )
            if reason
            else None,
            through=stand.through,
            said=stand.said,
            sentence=stand.sentence(currency),
        ),
        known_good=found.belief.known_good,
        finish=_finish(found, stand),
        considered=found.considered,
        followed=found.followed,
        surprise=surprised(surprise(found.belief)),
        moves=[_move(one) for one in ranked[: most or None]],
        held=[
            shapes.HeldShape(
                kind=move.kind, target=move.target, rule=f"{breach.hazard}: {breach.rule.id}", why=str(breach)
            )
            for move, breach in found.held
        ]
        + [
            shapes.HeldShape(kind=move.kind, target=move.target, rule=reason.rule, why=reason.why)
            for move, reason in found.ruled_out
        ],
    )


def _finish(found: Advice, stand: Standing) -> shapes.FinishShape:
    said = finish(found, going_on=stand.said)
    return shapes.FinishShape(chance=said.chance, exact=said.exact, stops=said.stops, words=said.words)


def _move(one: Ranked) -> shapes.MoveShape:
    return shapes.MoveShape(
        move=one.move.do,
        kind=one.move.kind,
        target=one.move.target,
        cost=round(one.cost, 4),
        minutes=one.move.minutes,
        materials=one.move.materials,
        worth=one.worth,
        spread=one.spread,
        why=one.why,
        cautions=list(one.move.cautions),
        precautions=list(one.move.precautions),
        opens=list(one.move.opens),
        closes=list(one.move.closes),
        log=one.move.log,
        wait=one.move.wait,
        tools=list(one.move.tools),
        disturbs=list(one.move.disturbs),
        outcomes=_outcomes(one.outcomes),
    )


def alone(move: Move) -> shapes.MoveShape:
    """A move by itself, not weighed against others."""
    return _move(Ranked(move, 0.0, 0.0, ""))


def _outcomes(prospects: Sequence[Prospect]) -> list[shapes.OutcomeShape]:
    return [
        shapes.OutcomeShape(
            outcome=prospect.outcome,
            probability=prospect.probability,
            known_good=prospect.known_good,
            suspects=[shapes.SuspectShape(part=part, p_blocks=chance) for part, chance in prospect.suspects],
            missed=prospect.missed,
        )
        for prospect in prospects
    ]


def tells(
    unit: str, belief: Belief, found: Sequence[Told], seq: int, after: Sequence[str], most: int
) -> shapes.TellsAnswer:
    shown = found[: most or None]
    return shapes.TellsAnswer(
        unit=unit,
        map=belief.device.id,
        log_seq=seq,
        partly=part(belief),
        after=list(after),
        questions=[
            shapes.TellsShape(id=one.id, minutes=one.minutes, bits=one.bits, outcomes=_outcomes(one.outcomes))
            for one in shown
        ],
    )


def why(unit: str, found: Why, currency: str) -> shapes.WhyAnswer:
    best, advice_ = found.advice.best, found.advice
    # What only makes way for another move is no rival of it.
    second = next((one for one in advice_.ranked[1:] if one.move.kind not in ("open", "close")), None)
    changed = found.change
    return shapes.WhyAnswer(
        unit=unit,
        map=advice_.belief.device.id,
        log_seq=advice_.log_seq,
        currency=currency,
        partly=part(advice_.belief),
        move=best.move.do,
        why=best.why,
        worth=best.worth,
        runner_up=shapes.RunnerUpShape(
            move=second.move.do, log=second.move.log, worth=second.worth, margin=best.worth - second.worth
        )
        if second
        else None,
        branches=[
            shapes.BranchShape(
                outcome=one.outcome,
                probability=one.probability,
                line=one.line,
                known_good=one.known_good,
                move=one.then.move.do,
                worth=one.then.worth,
                outcomes=_outcomes(one.then.outcomes),
            )
            for one in found.branches
        ],
        thresholds=[
            shapes.ThresholdShape(figure=one.of, now=one.now, at=one.at, then=one.then.move.do if one.then else None)
            for one in found.thresholds
        ],
        changed_by=shapes.ChangeShape(
            seq=changed.line.seq,
            line=ev.render(changed.line.event),
            followed=changed.followed,
            before=changed.before.move.do,
            before_worth=changed.before.worth,
            part=changed.part,
            p_before=changed.p_before,
            p_after=changed.p_after,
        )
        if changed
        else None,
        changed_by_settings=shapes.SettingChangeShape(
            lines=list(found.settings),
            before=found.before_settings.move.do,
            before_worth=found.before_settings.worth,
        )
        if found.before_settings
        else None,
    )


def several(found: list[Turn], troubles: dict[str, str]) -> shapes.BenchNext:
    return shapes.BenchNext(
        units=[
            shapes.TurnShape(
                unit=one.unit,
                map=one.advice.belief.device.id,
                log_seq=one.advice.log_seq,
                move=one.advice.best.move.do,
                kind=one.advice.best.move.kind,
                target=one.advice.best.move.target,
                log=one.advice.best.move.log,
                cautions=list(one.advice.best.move.cautions),
                move_minutes=one.advice.best.move.minutes,
                currency=one.currency,
                gain=one.gain,
                minutes=one.minutes,
                per_hour=one.per_hour,
            )
            for one in found
        ],
        troubles=troubles,
    )
