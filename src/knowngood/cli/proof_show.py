"""``knowngood proof``: whether a unit is proved and what is still to pass, to shapes and words."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from rich.console import Console
from rich.text import Text

from knowngood.cli import proof_shapes as shapes
from knowngood.cli.layout import grid, under
from knowngood.cli.partly import part, say_partly
from knowngood.handbook.quantities import format_minutes, minor_digits
from knowngood.handbook.quantities import percent as chance

if TYPE_CHECKING:
    from knowngood.bench.proving import Proving
    from knowngood.proof.acceptance import Due
    from knowngood.proof.demands import Demand

SOAK_CAUTION = (
    "Never leave a repaired mains or battery unit soaking alone or overnight without a smoke alarm and a clear shelf."
)
"""Common practice, no source."""


def proof(unit: str, found: Proving) -> shapes.ProofAnswer:
    from knowngood.proof.returns import LEFT_OUT, TEN_MINUTES, shown_by_soak
    from knowngood.proof.standing import in_words

    now, todo, device = found.now, found.todo, found.device
    return shapes.ProofAnswer(
        unit=unit,
        log_seq=found.log_seq,
        currency=found.currency,
        proved=todo.proved,
        partly=part(found.belief, todo.missed) or part(todo.later, todo.missed),
        known_good=now.known_good,
        unproven=list(now.unproven),
        failing=list(todo.standing.failing),
        masked=[shapes.MaskedShape(function=one.function, by=list(one.by)) for one in todo.standing.masked],
        functions=[shapes.ShownShape(**vars(one)) for one in now.functions],
        declared=list(now.declared),
        open=list(now.open_steps),
        first=list(todo.first),
        tests=[_due(one) for one in todo.due],
        minutes=todo.minutes,
        wait=todo.wait,
        put_together=todo.put_together,
        p_all_pass=todo.p_all_pass,
        known_good_after=todo.known_good_after,
        held=[shapes.HeldShape(**vars(one)) for one in todo.held],
        out_of_reach=_said(todo.out_of_reach),
        gaps=_said(todo.gaps),
        returns=shapes.ReturnsShape(
            days=found.warranty.days,
            chance=found.reserve.chance,
            per_return=found.reserve.per_return,
            reserve=found.reserve.money,
            in_100=found.reserve.in_a_lot.expected,
            in_100_low=found.reserve.in_a_lot.low,
            in_100_high=found.reserve.in_a_lot.high,
            left_out=LEFT_OUT,
            own_sold=found.record.sold,
            own_returned=found.record.returned,
            own_in_100_low=found.record.of_a_lot.low if found.record.of_a_lot else None,
            own_in_100_high=found.record.of_a_lot.high if found.record.of_a_lot else None,
        ),
        more=[
            shapes.ExtraShape(
                test=one.test.id,
                do=one.test.do,
                soak=one.soak,
                p_fails=one.p_fails,
                caught=one.caught,
                false_alarm=one.false_alarm,
                known_good=one.known_good,
                saves=one.saves,
                costs=one.costs,
                buys=one.buys,
            )
            for one in found.extras
        ],
        soak_shows=shown_by_soak(TEN_MINUTES),
        intermittent=[shapes.IntermittentShape(**vars(one)) for one in found.left],
        listing=shapes.ListingShape(
            works=[shapes.ListedShape(function=one.function, what=one.what) for one in now.functions if one.proven],
            not_working=[shapes.ListedShape(function=one, what=in_words(device, one)) for one in now.declared],
            not_shown=[
                shapes.ListedShape(function=one.function, what=one.what) for one in now.functions if not one.proven
            ],
        ),
    )


def _due(one: Due) -> shapes.DueShape:
    test = one.test
    return shapes.DueShape(
        test=test.id,
        do=test.do,
        log=f"{one.move.log} {test.outcomes[0]}",
        opens=list(one.move.opens),
        minutes=test.minutes,
        runs=test.runs,
        from_cold=one.from_cold,
        shows=_said(one.shows),
        p_pass=one.p_pass,
        before=one.before,
        after=one.after,
        cautions=list(one.move.cautions),
        precautions=list(one.move.precautions),
    )


def _said(demands: Iterable[Demand]) -> list[str]:
    """Demands in words, all faults of one part together."""
    faults: dict[tuple[str, str], list[str]] = {}
    for one in demands:
        faults.setdefault((one.kind, one.name), []).extend(one.faults)
    said = []
    for (kind, name), modes in faults.items():
        if kind == "function":
            said.append(name)
        elif kind == "cold-start":
            said.append("start from cold")
        else:
            said.append(f"{name} {kind} ({', '.join(modes)})")
    return said


def show(out: Console, answer: shapes.ProofAnswer, most: int) -> None:
    say_partly(out, answer.partly)
    table = grid(("shown", "left"), ("good", "right"), ("function", "left"), ("", "left"))
    for one in answer.functions:
        table.add_row("yes" if one.proven else "no", chance(one.p_good), one.function, one.what)
    out.print(table)
    verdict = "PROVED" if answer.proved else "NOT PROVED"
    out.print(Text(f"\n{verdict}: known good {chance(answer.known_good)}", style="bold"))
    if answer.open:
        out.print(Text(f"Still open: {', '.join(answer.open)}. What is shown must be shown closed."))
    for function in answer.declared:
        out.print(Text(f"Declared as not working: {function}"))
    for name in answer.failing:
        out.print(Text(f"Does not work: {name}. Mend it, or declare it."))
    for hidden in answer.masked:
        out.print(Text(f"Masked: {hidden.function}, by {', '.join(hidden.by)}. Mend that, or declare both."))
    _held(out, answer)
    if answer.gaps:
        out.print(Text(f"No test of this map shows: {'; '.join(answer.gaps)}"))
    if answer.tests or answer.first:
        _tests(out, answer)
    _returns(out, answer)
    _record(out, answer.returns)
    _more(out, answer, most)


def _held(out: Console, answer: shapes.ProofAnswer) -> None:
    reasons: dict[tuple[str, str], list[str]] = {}
    for one in answer.held:
        reasons.setdefault((one.why, one.lifts), []).append(one.test)
    for (why, lifts), tests in reasons.items():
        out.print(Text(f"Not to be made yet ({', '.join(tests)}): {why}" + (f" First: {lifts}" if lifts else "")))


def _tests(out: Console, answer: shapes.ProofAnswer) -> None:
    waits = f", and {format_minutes(answer.wait)} without" if answer.wait else ""
    out.print(Text(f"\nStill to pass: {format_minutes(answer.minutes)} with hands{waits}", style="bold"))
    for line in answer.first:
        out.print(Text(f"  first  {line}"))
    if answer.open or answer.first or (answer.tests[:1] and answer.tests[0].opens):
        out.print(Text(f"  put together, before the first test: known good {chance(answer.put_together)}"))
    warned: set[str] = set()
    named: set[str] = set()  # what several tests show is said at the first
    for number, one in enumerate(answer.tests, start=1):
        notes = [f"opens {', '.join(one.opens)}"] if one.opens else []
        notes += ["from cold"] if one.from_cold else []
        notes += [f"runs {format_minutes(one.runs)}"] if one.runs else []
        head = f"{number:>3}  {one.log}  ({', '.join((format_minutes(one.minutes), *notes))})"
        out.print(Text(head))
        moved = f"passes {chance(one.p_pass)}; known good {chance(one.before)} to {chance(one.after)}"
        out.print(under(5, moved))
        own = (one.test.removesuffix(".tried"), "start from cold")
        if more := [each for each in one.shows if each not in named and each not in own]:
            named.update(more)
            out.print(under(5, f"for {'; '.join(more)}"))
        for caution in [*one.precautions, *one.cautions]:
            if caution not in warned:
                out.print(under(5, f"! {caution}"))
                warned.add(caution)
    all_pass = f"All pass with {chance(answer.p_all_pass)}; then known good {chance(answer.known_good_after)}."
    out.print(Text(all_pass))


def _returns(out: Console, answer: shapes.ProofAnswer) -> None:
    money, digits, back = answer.currency, minor_digits(answer.currency), answer.returns
    out.print(
        Text(
            f"\nOf 100 sold like this {back.in_100:.0f} come back in {back.days} days "
            f"({back.in_100_low} to {back.in_100_high}), each for {money} {back.per_return:.{digits}f}: keep "
            f"{money} {back.reserve:.{digits}f} of the sale. {back.left_out}"
        )
    )


def _record(out: Console, back: shapes.ReturnsShape) -> None:
    if back.own_sold:
        out.print(
            Text(
                f"Your own record: {back.own_returned} of {back.own_sold} of this map came back; that alone would mean "
                f"{back.own_in_100_low} to {back.own_in_100_high} of the next 100."
            )
        )


def _more(out: Console, answer: shapes.ProofAnswer, most: int) -> None:
    money, digits = answer.currency, minor_digits(answer.currency)
    worth_it = [one for one in answer.more if one.buys > 0.0]
    if not worth_it:
        out.print(Text("Ten more minutes of testing would cost more than they save."))
    else:
        out.print(Text("Ten more minutes of testing would buy, after all passed:"))
    shown = worth_it[: most or None]
    for one in shown:
        watched = ", watched for 10 min" if one.soak else ""
        out.print(
            Text(
                f"  {money} {one.buys:.{digits}f}  {one.test}{watched}: catches {chance(one.caught)}, "
                f"then known good {chance(one.known_good)}"
            )
        )
    if answer.intermittent:
        first = answer.intermittent[0]
        out.print(
            Text(
                f"A fault that comes and goes may be left ({first.part} {first.mode}, {chance(first.chance)}): "
                f"{format_minutes(first.soak)} clean would show it with 95 %; ten clean minutes only show that "
                f"failures come at least {format_minutes(answer.soak_shows)} apart in the mean."
            )
        )
        out.print(Text(f"! {SOAK_CAUTION}"))
