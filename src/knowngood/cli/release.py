"""``knowngood safety-test``, ``knowngood release`` and the instruments that the first names."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from knowngood.cli.frame import BAD_INPUT, Home, Json, UnitName, answer, failing_plainly, opened

if TYPE_CHECKING:
    from rich.console import Console

    from knowngood.cli import release_shapes
    from knowngood.proof.safety_test import SafetyTest

COMES_FIRST = "Local wiring rules, workplace law and licensed practice come"
FIRST = f"{COMES_FIRST} first. A result here is no certificate."


def safety_test(
    unit: UnitName,
    edition: Annotated[
        str | None,
        typer.Option("--edition", help="Rules: german (EN 50678) or british (IET Code of Practice, 5th ed.)."),
    ] = None,
    home: Home = None,
    as_json: Json = False,
) -> None:
    """Says which electrical tests a unit gets after repair, by its protection class, and what its log says to them.

    Each step with its limit, the caution, and the line that records it. Readings are judged with the uncertainty of the
    instrument taken off the limit. The case opened again, or a part touched that mains is on, makes the test void.

    Example: knowngood safety-test U1 --edition german
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench.release import safety_test_of

        found, seq = safety_test_of(store, unit, edition)
        answer(test_shape(store.unit_id(unit), found, seq), as_json, _show_test)


def test_shape(unit: str, found: SafetyTest, seq: int) -> release_shapes.SafetyTestAnswer:
    from knowngood.cli import release_shapes as shapes

    return shapes.SafetyTestAnswer(
        unit=unit,
        log_seq=seq,
        protection=found.protection,
        claimed=found.claimed,
        rules=found.rules,
        needed=found.needed,
        verdict=found.verdict,
        why=found.why,
        asked=list(found.asked),
        steps=[
            shapes.SafetyStepShape(
                **{name: value for name, value in vars(one).items() if name != "readings"},
                readings=[shapes.SafetyReadingShape(**vars(reading)) for reading in one.readings],
            )
            for one in found.steps
        ],
    )


def _show_test(out: Console, answer: release_shapes.SafetyTestAnswer) -> None:
    from rich.text import Text

    from knowngood.cli.layout import under

    found = f", class {answer.claimed} by its map" if answer.claimed != answer.protection else ""
    out.print(Text(f"{answer.unit}: safety test after repair, class {answer.protection}{found}: {answer.verdict}"))
    out.print(under(3, f"{answer.why}."))
    out.print(Text(f"! {FIRST}"))
    for line in answer.asked:
        out.print(Text(f"? log: {line}"))
    said = ""
    for number, one in enumerate((one for one in answer.steps if one.status != "not asked for"), start=1):
        limit = f"; {one.limit}" if one.limit else ""
        out.print(Text(f"{number}. {one.step}: {one.status}, {one.why}"))
        out.print(under(3, f"{one.do}{limit}"))
        if one.rules:
            out.print(under(3, f"{one.rules}; {one.source}"))
        for reading in one.readings:
            by = f"calibrated {reading.calibrated}, +/- {100 * reading.uncertainty:g} %" if reading.calibrated else ""
            out.print(under(3, f"{reading.seq} {reading.text}: {reading.verdict} {by}".rstrip()))
        if one.status == "open":
            out.print(under(3, f"log: {one.log}"))
        own = _own(one.caution)
        if one.status == "open" and own not in ("", said):
            said = own
            out.print(under(3, f"! {said}"))
    for one in answer.steps:
        if one.status == "not asked for":
            out.print(Text(f"-  {one.step}: {one.status}, {one.why}"))


def _own(caution: str) -> str:
    """A step's caution without what stands at the head of the list."""
    if not caution.startswith(COMES_FIRST):
        return caution
    ends = [place for mark in ("; ", ". ") if (place := caution.find(mark)) >= 0]
    own = caution[min(ends) + 2 :] if ends else ""
    return own[:1].upper() + own[1:]


def release(
    unit: UnitName,
    as_is: Annotated[bool, typer.Option("--as-is", help="It goes as it is, and not as working.")] = False,
    ask: Annotated[bool, typer.Option("--ask", help="Only say what is missing: then the exit code is 0.")] = False,
    home: Home = None,
    as_json: Json = False,
) -> None:
    """Says whether a unit may go; if not, what is missing and what would be right, with exit code 2.

    Data of a stranger, and a mains unit without a valid safety test that passed, cannot be overridden. All else can, by
    a line with its reason: overrode not-proved -- why.

    Example: knowngood release U1 --ask
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench.release import release_of
        from knowngood.cli import release_shapes as shapes

        found, test, seq = release_of(store, unit, "as-is" if as_is else "working")
        shape = shapes.ReleaseAnswer(
            unit=store.unit_id(unit),
            log_seq=seq,
            how=found.how,
            released=found.free,
            stops=[shapes.StopShape(**vars(one)) for one in found.stops],
            warnings=[shapes.StopShape(**vars(one)) for one in found.warnings],
            overridden=list(found.overridden),
            safety_test=test.verdict,
            notes=list(found.notes),
            data=[shapes.DataPlaceShape(**vars(one), done=one.done) for one in found.places],
        )
        answer(shape, as_json, _show_release)
        if not found.free and not ask:
            raise SystemExit(BAD_INPUT)


def _show_release(out: Console, answer: release_shapes.ReleaseAnswer) -> None:
    from rich.text import Text

    from knowngood.cli.layout import under

    how = "as working" if answer.how == "working" else "as it is"
    may = "may be sold" if answer.released else "may not be sold yet"
    out.print(Text(f"{answer.unit} {may} {how}."))
    for one in answer.stops:
        out.print(Text(f"! {one.says}"))
        out.print(under(3, f"what would be right: {one.right}. Nothing overrides this."))
    for one in answer.warnings:
        out.print(Text(f"- {one.says}"))
        out.print(under(3, f"what would be right: {one.right}. Or: overrode {one.matter} -- WHY"))
    for line in answer.overridden:
        out.print(Text(f"  overridden: {line}"))
    for place in answer.data:
        if place.done:
            out.print(Text(f"  {place.part}: {place.how}"))
    for note in answer.notes:
        out.print(Text(f"  {note}"))


def instrument(
    name: Annotated[str | None, typer.Argument(help="Its name, as fluxa. None: list them.")] = None,
    calibrated: Annotated[str | None, typer.Option("--calibrated", help="The day, as 2026-03-01.")] = None,
    uncertainty: Annotated[str | None, typer.Option("--uncertainty", help='Of its reading, as "5 %".')] = None,
    months: Annotated[int, typer.Option("--every", help="Months from one calibration to the next.")] = 12,
    home: Home = None,
    as_json: Json = False,
) -> None:
    """Takes down when a tester was calibrated, and its uncertainty; lists those there are.

    Example: knowngood bench instrument fluxa --calibrated 2026-03-01 --uncertainty "5 %"
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench import instruments
        from knowngood.cli import release_shapes as shapes
        from knowngood.errors import LineError

        if name is not None:
            if calibrated is None or uncertainty is None:
                raise LineError("When was it calibrated, and how far may it read wrong? Give both options.")
            instruments.add(store, name, calibrated, uncertainty, months)
        last = {one.name: one for one in sorted(instruments.instruments(store), key=lambda one: one.calibrated)}
        shape = shapes.InstrumentsAnswer(
            instruments=[
                shapes.InstrumentShape(
                    name=one.name,
                    calibrated=one.calibrated.isoformat(),
                    due=one.due.isoformat(),
                    uncertainty=one.uncertainty,
                )
                for _, one in sorted(last.items())
            ]
        )
        answer(shape, as_json, _show_instruments)


def _show_instruments(out: Console, answer: release_shapes.InstrumentsAnswer) -> None:
    from rich.text import Text

    for one in answer.instruments:
        share = f"{100 * one.uncertainty:g} %"
        out.print(Text(f"{one.name:<12} calibrated {one.calibrated}, due {one.due}, +/- {share} of its reading"))
    if not answer.instruments:
        out.print(Text("No instruments yet."))
