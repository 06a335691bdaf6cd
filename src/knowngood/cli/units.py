"""Commands for units: book one in, list them, show one."""

from __future__ import annotations

from typing import Annotated

import typer

from knowngood.cli.frame import Home, Json, UnitName, answer, failing_plainly, listed, opened, words


def unit_new(
    paid: Annotated[str, typer.Option("--paid", help='What it cost, as "EUR 45".')],
    map_: Annotated[str | None, typer.Option("--map", help="A map's name, or its file.")] = None,
    candidate: Annotated[
        str | None, typer.Option("--candidate", help="The offer that was bought, as C1: its log starts the unit's.")
    ] = None,
    past: Annotated[
        list[str] | None,
        typer.Option("--past", help="What happened to it: dropped, wet, surged, hot, aged, opened-before."),
    ] = None,
    source: Annotated[
        str | None, typer.Option("--from", metavar="SOURCE", help="Where it came from, as flea-market.")
    ] = None,
    donor: Annotated[bool, typer.Option("--donor", help="It is bought for its parts (D1, D2, ...).")] = False,
    home: Home = None,
    as_json: Json = False,
) -> None:
    """Books a unit in.

    Example: knowngood unit new --map ceiling-projector --paid "EUR 45" --past dropped
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench import candidates, work
        from knowngood.cli import shapes
        from knowngood.errors import LineError

        pasts = listed(past)
        if candidate and (map_ or pasts):
            raise LineError("A candidate brings its map and past along: leave --map and --past out.")
        if candidate:
            unit = candidates.accept(store, candidate, paid, donor=donor, source=source)
        elif map_:
            unit = work.new_unit(store, map_, paid, pasts, donor=donor, source=source)
        else:
            raise LineError("Which map? Give --map, or --candidate for an offer that was bought.")
        device, replay = work.replayed(store, unit)
        shape = shapes.UnitNew(unit=unit, map=device.id, what=device.what, log_seq=replay.seq)
        answer(shape, as_json, words, f"{unit}  {device.what}. Next: knowngood next {unit}")


def unit_list(home: Home = None, as_json: Json = False) -> None:
    """Lists the units and donors.

    Example: knowngood unit list
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench.intake import near_disputes
        from knowngood.cli import shapes

        near = near_disputes(store)
        rows = [
            shapes.UnitRow(
                unit=one.id,
                map=one.map_name,
                donor=one.donor,
                lines=one.lines,
                last=one.last_time,
                dispute=near.get(one.id),
            )
            for one in store.units()
        ]
        text = "\n".join(
            f"{row.unit:<5} {row.map:<28} {row.lines:>4} lines  {row.last}"
            + (f"\n      ! {row.dispute}" if row.dispute else "")
            for row in rows
        )
        answer(shapes.UnitList(units=rows), as_json, words, text or "No units yet. Book one in: knowngood unit new")


def show_unit(unit: UnitName, home: Home = None, as_json: Json = False) -> None:
    """Shows a unit's log and what it leaves: open, unplugged, fitted, shown to work.

    Example: knowngood show U1
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench import work
        from knowngood.bench.intake import near_dispute
        from knowngood.cli import answers, show

        device, replay = work.replayed(store, unit)
        shape = answers.state(store.unit_id(unit), device, replay, store.lines(unit))
        answer(shape.model_copy(update={"dispute": near_dispute(store, unit)}), as_json, show.log)
