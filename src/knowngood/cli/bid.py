"""``knowngood bid``: candidates taken down, priced, ranked under a budget, let go."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from knowngood.cli.frame import Home, Json, answer, failing_plainly, listed, opened

if TYPE_CHECKING:
    from knowngood.bench.candidates import Offer
    from knowngood.bench.store import Store


def bid(
    names: Annotated[
        list[str] | None,
        typer.Argument(metavar="[CANDIDATE]...", help="Offers taken down before, as C1. None: all that are open."),
    ] = None,
    map_: Annotated[
        str | None, typer.Option("--map", help="A map's name, or its file: takes a new offer down.")
    ] = None,
    says: Annotated[str, typer.Option("--says", help="The listing's words.")] = "",
    asking: Annotated[str | None, typer.Option("--asking", help='What is asked for it, as "EUR 60".')] = None,
    past: Annotated[list[str] | None, typer.Option("--past", help="What happened to it.")] = None,
    line: Annotated[
        list[str] | None, typer.Option("--line", help="What its photos show, as a line of the log; repeatable.")
    ] = None,
    margin: Annotated[str | None, typer.Option("--margin", help="What it is to leave; else bid-margin.")] = None,
    loss: Annotated[
        str | None, typer.Option("--loss", help='Bearable chance of a loss, as "20 %"; else bid-loss.')
    ] = None,
    shade: Annotated[
        str | None, typer.Option("--shade", help="Share off for poor information; else by what is known.")
    ] = None,
    inward: Annotated[str | None, typer.Option("--inward", help="What the way here costs; else inward.")] = None,
    budget: Annotated[str | None, typer.Option("--budget", help="What may be spent on all of them together.")] = None,
    units: Annotated[int, typer.Option("--units", min=1, help="Units to draw for each.")] = 2000,
    pairs: Annotated[
        int, typer.Option("--pairs", min=0, help="Of them, so many are worked to the end, to measure the stand-in.")
    ] = 20,
    seed: Annotated[int, typer.Option("--seed", min=0, help="The same seed draws the same units.")] = 0,
    workers: Annotated[int, typer.Option("--workers", min=1, help="Processes to use.")] = 2,
    most: Annotated[int, typer.Option("--most", min=0, help="Questions to the seller shown.")] = 3,
    picture: Annotated[
        Path | None, typer.Option("--picture", metavar="FILE", help="Draw it into this SVG file.")
    ] = None,
    list_: Annotated[bool, typer.Option("--list", help="Only list the offers.")] = False,
    drop: Annotated[
        bool, typer.Option("--drop", help="Let the candidate go; it is known again if it comes back.")
    ] = False,
    why: Annotated[str, typer.Option("--why", help="With --drop: why.")] = "",
    home: Home = None,
    as_json: Json = False,
) -> None:
    """Says what to pay at most for a unit that is offered, and what to ask its seller first.

    It draws units that fit what the listing says and shows, has the planner work on them at the target rate, and
    narrows the answer while you look; Ctrl-C ends with the best so far. What the seller answers is logged as for a
    unit (knowngood log C1 ...); once bought: knowngood unit new --candidate C1 --paid ...

    Example: knowngood bid --map some-battery-device --says "no power, dropped" --asking "EUR 9" --units 30 --pairs 1
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench import candidates
        from knowngood.bench.questions import known_pasts
        from knowngood.cli import bid_show
        from knowngood.cli.bid_run import run, shares
        from knowngood.cli.svg import can_draw, write
        from knowngood.errors import LineError
        from knowngood.handbook.quantities import parse_money

        if picture:
            can_draw(picture)
        if list_:
            answer(bid_show.listed(candidates.candidates(store)), as_json, bid_show.rows)
            return
        if drop:
            if not names or map_:
                raise LineError("Which candidate is let go? For example: knowngood bid C1 --drop")
            gone = [candidates.refuse(store, name, why) for name in names]
            answer(bid_show.listed(gone), as_json, bid_show.rows)
            return
        wishes = shares({"--loss": loss, "--shade": shade})
        spend = parse_money(budget) if budget else None
        offers: dict[str, Offer] = {}
        if map_:
            if asking is None:
                raise LineError('What is asked for it? For example: --asking "EUR 60"')
            pasts = known_pasts(listed(past))
            made = candidates.offer(store, map_, asking, says, pasts, line or [])
            offers[made.candidate] = made
        elif says or asking or past or line:
            raise LineError("--says, --asking, --past and --line take a new offer down: give its --map as well.")
        chosen = [*(names or []), *offers] or _open(store)
        bids = [
            candidates.bid_on(
                store, name, margin=margin, loss=wishes["--loss"], shade=wishes["--shade"], inward=inward, seed=seed
            )
            for name in chosen
        ]
        found = run(bids, offers, units=units, pairs=pairs, seed=seed, workers=workers, budget=spend, picture=picture)
        if picture:
            from knowngood.cli.bid_picture import picture as drawn

            write(picture, drawn(found))
        answer(found, as_json, bid_show.bids, most)


def _open(store: Store) -> list[str]:
    from knowngood.bench.candidates import candidates
    from knowngood.errors import LineError

    found = [one.id for one in candidates(store) if one.standing == "open"]
    if not found:
        raise LineError('No offer is open. Take one down: knowngood bid --map MAP --says "no power" --asking "EUR 60"')
    return found
