"""``knowngood intake`` and ``knowngood photo``."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from knowngood.cli.frame import Home, Json, UnitName, answer, failing_plainly, opened

if TYPE_CHECKING:
    from rich.console import Console

    from knowngood.bench.intake import CameIn
    from knowngood.cli import intake_shapes as shapes
    from knowngood.log import events as ev


def intake(unit: UnitName, home: Home = None, as_json: Json = False) -> None:
    """Shows how a unit came in: what it did before the first act on it, its papers, and what intake still lacks.

    Each thing that is lacking comes with the line that brings it. The first act on the unit ends intake.

    Example: knowngood intake U1
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench.intake import intake_of
        from knowngood.bench.photos import folder

        found, seq = intake_of(store, unit)
        answer(_shape(store.unit_id(unit), found, seq, folder(store, unit)), as_json, _show)


def photo(
    unit: UnitName,
    files: Annotated[list[Path], typer.Argument(metavar="FILE...", help="Pictures: JPEG, PNG, WebP or HEIC.")],
    of: Annotated[
        str, typer.Option("--of", metavar="TARGET", help="unit, serial, a part, connection, step, test or function.")
    ],
    before: Annotated[bool, typer.Option("--before", help="It shows how it was before the work.")] = False,
    after: Annotated[bool, typer.Option("--after", help="It shows how it is after the work.")] = False,
    home: Home = None,
    as_json: Json = False,
) -> None:
    """Stores photos of a unit and logs each: the bytes as they are, beside the logs.

    Several files are stored all or none. 'serial' is the plate with the number: a buyer's report leaves it out.

    Example: knowngood photo U1 fan.png --of exhaust-fan --before
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench.intake import photograph
        from knowngood.bench.photos import folder
        from knowngood.cli import intake_shapes as shapes
        from knowngood.errors import LineError
        from knowngood.log import events as ev

        if before and after:
            raise LineError("A photo shows how it was before the work, or after it. Store each by a call of its own.")
        added = photograph(store, unit, files, of, "before" if before else "after" if after else None)
        name = store.unit_id(unit)
        shape = shapes.PhotoAnswer(
            unit=name,
            log_seq=added[-1].seq,
            photos=_photos((line.seq, line.event) for line in added if isinstance(line.event, ev.Photographed)),
            folder=str(folder(store, unit)),
        )
        answer(shape, as_json, _show_photos)


def _show_photos(out: Console, answer: shapes.PhotoAnswer) -> None:
    from rich.text import Text

    for one in answer.photos:
        when = f" {one.when}" if one.when else ""
        out.print(Text(f"{answer.unit} {one.seq}  photographed {one.target} as {one.file}{when}"))
    out.print(Text(f"in {answer.folder}"), soft_wrap=True)


def _photos(found: Iterable[tuple[int, ev.Photographed]]) -> list[shapes.PhotoShape]:
    from knowngood.cli import intake_shapes as shapes

    return [shapes.PhotoShape(seq=seq, target=one.target, when=one.when, file=one.file) for seq, one in found]


def _shape(unit: str, found: CameIn, seq: int, folder: Path) -> shapes.IntakeAnswer:
    from knowngood.cli import intake_shapes as shapes

    now = found.intake
    return shapes.IntakeAnswer(
        unit=unit,
        log_seq=seq,
        began=now.began,
        ended=now.ended,
        back=found.back,
        lacks=[shapes.LackShape(**vars(one)) for one in found.lacks],
        chart=[shapes.ReceivedShape(**vars(one)) for one in found.chart],
        serials=dict(now.serials),
        differs=list(now.differs),
        weight=shapes.WeightShape(**vars(found.weight)) if found.weight else None,
        dispute=shapes.DisputeShape(**vars(found.dispute), says=found.dispute.says) if found.dispute else None,
        quarantine=shapes.QuarantineShape(
            seq=now.quarantine[0],
            why=now.quarantine[1],
            days=found.quarantine_days or 0,
            ends_by=list(found.how_to_end),
        )
        if now.quarantine
        else None,
        lock=found.lock,
        photos=_photos(now.photos),
        folder=str(folder),
        remarks=list(found.remarks),
        cautions=list(found.cautions),
    )


def _show(out: Console, answer: shapes.IntakeAnswer) -> None:
    from rich.text import Text

    from knowngood.cli.layout import grid, under

    since = f"intake ended with line {answer.ended}" if answer.ended else "no act on it yet"
    back = f", back from its buyer (line {answer.began}: {answer.back})" if answer.back else ""
    out.print(Text(f"{answer.unit} as received{back}; {since}", style="bold"))
    for caution in answer.cautions:
        out.print(under(2, f"! {caution}"))
    if answer.quarantine:
        kept = answer.quarantine
        days = f"{kept.days} day{'' if kept.days == 1 else 's'}"
        out.print(Text(f"IN QUARANTINE for {days} (line {kept.seq}): {kept.why}"))
        out.print(under(2, f"it ends with: {', then '.join(kept.ends_by)}"))
    if answer.dispute:
        out.print(Text(answer.dispute.says))
    for text in answer.differs:
        out.print(Text(f"! {text}"))
    table = grid(("as received", "left"), ("function", "left"), ("", "left"))
    for one in answer.chart:
        why = one.why or (f"line {one.seq}" if one.seq is not None else "")
        table.add_row(one.how, one.function, why)
    out.print(table)
    facts = {
        "serial": ", ".join(
            f"{number}{'' if part == 'unit' else f' ({part})'}" for part, number in answer.serials.items()
        ),
        "weight": f"{answer.weight.kilograms:.10g} kg: {answer.weight.says}" if answer.weight else "",
        "lock": {"none": "locked to no account", "locked": "LOCKED to an account of somebody else", None: ""}[
            answer.lock
        ],
        "photos": f"{len(answer.photos)}: {', '.join(dict.fromkeys(one.target for one in answer.photos))}"
        if answer.photos
        else "",
    }
    said = grid(("", "left"), ("", "left"))
    said.show_header = False
    for name, text in facts.items():
        if text:
            said.add_row(name, text)
    for text in answer.remarks:
        said.add_row("noted", text)
    out.print(said)
    if answer.lacks:
        out.print(Text("Still lacking, the most urgent first:"))
    for lack in answer.lacks:
        out.print(under(2, lack.what))
        out.print(under(6, f"> {lack.right}"))
