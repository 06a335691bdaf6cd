"""``knowngood bring-up``."""

from __future__ import annotations

from typing import TYPE_CHECKING

from knowngood.cli.frame import Home, Json, UnitName, answer, failing_plainly, opened

if TYPE_CHECKING:
    from rich.console import Console

    from knowngood.cli import bring_up_shapes as shapes
    from knowngood.plan.bring_up import BringUp


def bring_up(unit: UnitName, home: Home = None, as_json: Json = False) -> None:
    """Says what can be tried at which stage of putting a unit together, at what limit, expecting what.

    Rails to ground first, then with power what is in and plugged, on a limited bench supply where no pack is in. Each
    line shows the line of the log that records it, behind '>'. The first answer that is not right ends it.

    Example: knowngood bring-up U1
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench import questions

        answer(bring_up_shape(store.unit_id(unit), questions.bring_up_of(store, unit)), as_json, _show)


def bring_up_shape(unit: str, found: BringUp) -> shapes.BringUpAnswer:
    from dataclasses import asdict

    from knowngood.cli import bring_up_shapes as shapes
    from knowngood.cli.assembly_show import sheet_line

    stages = [
        shapes.StageShape(
            open_steps=list(one.open_steps),
            do=[sheet_line(line) for line in one.do],
            limits=list(one.limits),
            warnings=list(one.warnings),
            lines=[shapes.TrialShape.model_validate(asdict(line)) for line in one.lines],
            not_yet=list(one.not_yet),
        )
        for one in found.stages
    ]
    stop = shapes.StopHereShape.model_validate(asdict(found.stop)) if found.stop else None
    return shapes.BringUpAnswer(unit=unit, log_seq=found.log_seq, passed=found.passed, stages=stages, stop=stop)


def _show(out: Console, answer: shapes.BringUpAnswer) -> None:
    from knowngood.cli.assembly_show import item
    from knowngood.cli.layout import under

    out.print(under(0, f"BRING-UP  {answer.unit}, by its log up to line {answer.log_seq}", style="bold"))
    if answer.stop:
        stop = answer.stop
        out.print(under(0, f"Stop here: line {stop.seq}, {stop.line}: {stop.why}."))
        out.print(under(3, "Power off, every source unplugged."))
        for line in stop.since:
            out.print(under(3, f"since the last right answer: {line}"))
        out.print(under(3, f"What next: knowngood next {answer.unit}"))
        return
    if not answer.stages:
        out.print(under(3, f"All that can be tried is right. What is still to pass: knowngood proof {answer.unit}"))
    said: set[str] = set()
    for number, stage in enumerate(answer.stages):
        out.print()
        opened = f"with {', '.join(stage.open_steps)} open" if stage.open_steps else "closed"
        out.print(under(0, f"{'As it is now' if not stage.do else 'Then'}, {opened}", style="bold"))
        if stage.do and number:
            out.print(under(3, f"once all above is right, by the sheet: {'; '.join(line.log for line in stage.do)}"))
        elif stage.do:
            out.print(under(3, f"first, by the sheet (knowngood reassembly {answer.unit}):"))
            for one in stage.do:
                out.print(under(4, f"> {one.log}"))
        _lines(out, stage, said)
        if stage.not_yet and not number:
            item(out, 3, "-", f"not yet, so that they fail says nothing: {', '.join(stage.not_yet)}")


def _lines(out: Console, stage: shapes.StageShape, said: set[str]) -> None:
    from knowngood.cli.assembly_show import first, item, warn
    from knowngood.cli.layout import under

    cold = [line for line in stage.lines if line.power == "off"]
    live = [line for line in stage.lines if line.power != "off"]
    for heading, lines in (("power off", cold), ("power", live)):
        if not lines:
            continue
        if heading == "power":
            for limit in stage.limits:
                item(out, 3, "~", limit)
            for warning in stage.warnings:
                item(out, 3, "!", warning)
        for line in lines:
            if line.done is not None:
                item(out, 0, "[x]", f"{line.target}, line {line.done}")
                continue
            warn(out, 4, line.cautions, said)
            if line.held:
                item(out, 4, "HELD", f"{line.held}{first(line.first)}")
            source = f", by {line.source}" if line.source else ""
            item(out, 0, "[ ]", f"{line.do}. Expect: {line.expect}{source}")
            out.print(under(4, f"> {line.log}"))
