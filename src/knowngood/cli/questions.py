"""Questions to a unit: what is probably wrong, what next, why, what a test would tell, what a mark means."""

from __future__ import annotations

from typing import Annotated

import typer

from knowngood.cli.frame import Home, Json, UnitName, answer, failing_plainly, opened


def belief(
    unit: UnitName,
    most: Annotated[int, typer.Option("--most", min=0, help="Suspects shown; 0 for all.")] = 10,
    home: Home = None,
    as_json: Json = False,
) -> None:
    """Says what is probably wrong, which lines of the log say so, and what together explains them.

    Of what together explains the log, 'exactly' is the chance of these faults and no other, 'at least' that of these
    with or without others.

    Example: knowngood belief U1
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench import questions
        from knowngood.cli import answers, show

        found, flags = questions.belief_of(store, unit)
        readings = questions.readings_of(store, unit, by=found.measuring)
        shape = answers.belief(store.unit_id(unit), found, flags, readings)
        answer(shape, as_json, show.belief, most)


def next_move(
    unit: Annotated[str | None, typer.Argument(metavar="[UNIT]", help="A unit, as U1. None: all on the bench.")] = None,
    most: Annotated[int, typer.Option("--most", min=1, help="Moves shown.")] = 6,
    home: Home = None,
    as_json: Json = False,
) -> None:
    """Says what to do next and why, with its caution; without a unit, on which unit an hour of hands brings most.

    Example: knowngood next U1
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench import questions
        from knowngood.bench.intake import near_dispute
        from knowngood.cli import advice_answers, advice_show

        if unit is None:
            answer(advice_answers.several(*questions.turns(store)), as_json, advice_show.several)
            return
        found, stand, currency = questions.advice_for(store, unit)
        shape = advice_answers.advice(store.unit_id(unit), found, stand, currency, 0 if as_json else most)
        shape = shape.model_copy(update={"dispute": near_dispute(store, unit)})
        answer(shape, as_json, advice_show.advice, most)


def why(unit: UnitName, home: Home = None, as_json: Json = False) -> None:
    """Explains the advice: the runner-up, what each outcome leads to, what would change it, and what changed it.

    Example: knowngood why U1
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench import questions
        from knowngood.cli import advice_answers, advice_show

        found, currency = questions.why_of(store, unit)
        answer(advice_answers.why(store.unit_id(unit), found, currency), as_json, advice_show.why)


def tells(
    unit: UnitName,
    after: Annotated[
        list[str] | None, typer.Option("--after", help="A line that is only considered, as an unplugging; repeatable.")
    ] = None,
    most: Annotated[int, typer.Option("--most", min=0, help="Tests and looks shown; 0 for all.")] = 8,
    home: Home = None,
    as_json: Json = False,
) -> None:
    """Says what each outcome of each test and look would tell, now or after an act that is only considered.

    Bits say how much a question tells in the mean about which parts stop something; cost is not in it (see next).

    Example: knowngood tells U1 --after "unplugged exhaust-fan-plug"
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench import questions
        from knowngood.cli import advice_answers, advice_show

        considered = after or []
        belief, found = questions.told_by(store, unit, considered)
        seq = belief.log_seq - len(considered)
        shape = advice_answers.tells(store.unit_id(unit), belief, found, seq, considered, most)
        answer(shape, as_json, advice_show.tells)


def marks_seen(unit: UnitName, home: Home = None, as_json: Json = False) -> None:
    """Says what the marks seen on parts can mean, what a replacement has to meet, and what on the shelf is one.

    A mark is logged with a look: saw PART CONDITION marked 10R, or marked brown,black,black,red,brown.

    Example: knowngood marks U1
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench.marks import marks_of
        from knowngood.cli import marks, shapes

        found = marks.marks(marks_of(store, unit))
        seq = store.lines(unit)[-1].seq
        answer(shapes.MarksAnswer(unit=store.unit_id(unit), log_seq=seq, marks=found), as_json, marks.show)
