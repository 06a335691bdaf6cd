"""The command ``rehearse``: the planner beside the usual rules on drawn units."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from knowngood.cli.frame import Home, Json, answer, failing_plainly, listed, opened


def rehearse(
    map_: Annotated[str, typer.Argument(metavar="MAP", help="A map's name, or its file.")],
    units: Annotated[int, typer.Option("--units", min=1, help="How many units to draw.")] = 50,
    seed: Annotated[int, typer.Option("--seed", min=0, help="The same seed draws the same units.")] = 0,
    past: Annotated[list[str] | None, typer.Option("--past", help="What happened to them.")] = None,
    policy: Annotated[
        list[str] | None,
        typer.Option("--policy", help="A policy to compare, the first with the others; all if none is named."),
    ] = None,
    workers: Annotated[int, typer.Option("--workers", min=1, help="Processes to use.")] = 2,
    dask: Annotated[
        str | None,
        typer.Option(
            "--dask", metavar="ADDRESS", help="Use the workers of this Dask cluster, as tcp://192.0.2.7:8786."
        ),
    ] = None,
    picture: Annotated[
        Path | None, typer.Option("--picture", metavar="FILE", help="Draw the comparison into this SVG file.")
    ] = None,
    home: Home = None,
    as_json: Json = False,
) -> None:
    """Draws hidden faults from a map, lets the planner and the usual rules work on
    the same units, and compares what they came to.

    Example: knowngood rehearse some-mains-device --units 3 --policy planner --policy "cheapest first"
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench import questions
        from knowngood.cli import answers, show
        from knowngood.cli.picture import picture as comparison_picture
        from knowngood.cli.progress import counted
        from knowngood.cli.svg import can_draw, write
        from knowngood.maps import load
        from knowngood.plan.compare import Tally
        from knowngood.plan.compare import rehearse as drawn_units
        from knowngood.plan.spread import cluster, processes

        device = load(map_)
        pasts = questions.known_pasts(listed(past))
        chosen = questions.known_policies(policy or [])
        if picture:
            can_draw(picture)
        terms = questions.terms_for(store, device)
        spread = cluster(dask) if dask else processes(min(workers, units))
        tally, kept = Tally(), []
        drawn = drawn_units(device, terms, units=units, seed=seed, past=pasts, policies=chosen, spread=spread)
        for one in counted(drawn, units):
            tally.add(one)
            if as_json:
                kept.append(one)
        found = tally.comparison(terms)
        shape = answers.rehearsal(device, found, kept, seed=seed, past=pasts, currency=terms.currency, picture=picture)
        if picture:
            write(picture, comparison_picture(shape))
        answer(shape, as_json, show.rehearsal)
