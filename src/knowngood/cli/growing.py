"""The command ``map grow``: a map from the log of a teardown."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from knowngood.cli.frame import Home, Json, UnitName, answer, failing_plainly, opened

if TYPE_CHECKING:
    from rich.console import Console

    from knowngood.bench.growing import Growth
    from knowngood.cli.growing_shapes import GrownAnswer


def map_grow(
    unit: UnitName,
    into: Annotated[
        Path | None,
        typer.Option("--into", metavar="FILE", help="Accept: write the map here; a map that is there grows itself."),
    ] = None,
    yes: Annotated[
        list[str] | None,
        typer.Option("--yes", metavar="NAME=KIND", help="A part's kind, or all for every kind that is proposed."),
    ] = None,
    home: Home = None,
    as_json: Json = False,
) -> None:
    """Grows a map from a unit's teardown: steps, screws, plugs and parts that its log met, shown as a diff.

    Log what the map does not know as: met step lid-off in 4 min, met part side-fan behind lid-off. On a starter map the
    log goes before it; on any other what the log says otherwise is shown, and the map stays as it is.

    Example: knowngood map grow U1 --yes all
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench.growing import grown

        found = grown(store, unit, yes or [], into)
        answer(grown_answer(store.unit_id(unit), found, into), as_json, show)


def grown_answer(unit: str, found: Growth, into: Path | None) -> GrownAnswer:
    from knowngood.bench.learning import difference
    from knowngood.cli import growing_shapes as shapes
    from knowngood.log.events import render

    lines = {line.seq: render(line.event) for line in found.told.lines}
    conflicts = [
        shapes.ConflictShape(
            what=one.what,
            place=one.place,
            map_says=one.map_says,
            seq=one.seq,
            line=lines[one.seq],
            log_says=one.log_says,
        )
        for one in found.grown.conflicts
    ]
    return shapes.GrownAnswer(
        unit=unit,
        map=found.name,
        grown_from=found.file,
        log_seq=found.told.seq,
        met=found.met,
        proposals=[
            shapes.ProposedKind(name=one.name, kind=one.kind, taken=one.taken, by=one.by)
            for one in found.grown.proposals
        ],
        left_out=[shapes.LeftOut(name=name, why=why) for name, why in found.grown.left_out],
        conflicts=conflicts,
        assumed=list(found.grown.assumed),
        difference=difference(found.grown.text, found.grown.changed, found.file, "grown"),
        written=str(into) if into else None,
    )


def show(out: Console, found: GrownAnswer) -> None:
    """The answer in words."""
    from rich.text import Text

    def told(title: str, lines: list[str]) -> None:
        if lines:
            out.print(Text("\n".join([title, *(f"   {line}" for line in lines)])))

    kinds = [
        f"{one.name}: {one.kind}" + ("" if one.taken else f", by its name only: --yes {one.name}={one.kind}")
        for one in found.proposals
    ]
    conflicts = [
        f"{one.what}\n     {one.place}: {one.map_says}\n     {found.unit} line {one.seq}: {one.log_says} ({one.line})"
        for one in found.conflicts
    ]
    if found.difference:
        out.print(Text(found.difference), soft_wrap=True)
    told("Kinds", kinds)
    told("Left out", [f"{one.name}: {one.why}" for one in found.left_out])
    told("Assumed", found.assumed)
    told("The log says otherwise; the map stays as it is", conflicts)
    if found.written:
        out.print(Text(f"Written to {found.written}. The next unit: knowngood unit new --map {found.written}"))
    elif found.difference:
        out.print(Text(f"To accept it: knowngood map grow {found.unit} --into FILE"))
    elif not found.conflicts:
        out.print(Text(f"Nothing to grow: the log of {found.unit} met nothing that its map lacks."))
