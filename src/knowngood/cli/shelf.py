"""The commands about the whole shelf: ``knowngood shelf``, ``knowngood shelf plan``, ``knowngood market``."""

from __future__ import annotations

from typing import Annotated

import typer

from knowngood.cli.frame import Home, Json, answer, failing_plainly, opened

shelf_app = typer.Typer(
    help="The whole shelf at a glance: what is planned, reserved and waited for.\n\nExample: knowngood shelf",
    invoke_without_command=True,
    rich_markup_mode=None,
)


@shelf_app.callback()
def shelf(context: typer.Context, home: Home = None, as_json: Json = False) -> None:
    """Shows the shelf at a glance: what is planned, reserved and waited for, and whether the plan is stale.

    Example: knowngood shelf
    """
    if context.invoked_subcommand is not None:
        return
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench.shelf.accepted import glance, standing
        from knowngood.cli import shelf_answers, shelf_show

        answer(shelf_answers.glance(standing(store), *glance(store)), as_json, shelf_show.glance)


@shelf_app.command("plan")
def shelf_plan(
    accept: Annotated[
        bool, typer.Option("--accept", help="Accept it: planned and reserved lines to all units.")
    ] = False,
    why: Annotated[
        bool, typer.Option("--why", help="Each unit's margin to its next best way, and what one more is worth.")
    ] = False,
    within: Annotated[float, typer.Option("--within", min=0.0, help="Stop once it is proved so near, per cent.")] = 0.0,
    seconds: Annotated[
        float | None, typer.Option("--seconds", min=0.1, help="Stop after so long and say how near it is.")
    ] = None,
    home: Home = None,
    as_json: Json = False,
) -> None:
    """Plans the whole shelf: what to finish, sell as it is, part out, keep; who takes what; what to buy from whom.

    Ctrl-C ends the search, and gives the best plan so far with how far it may be from the best.

    Example: knowngood shelf plan
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench.shelf.accepted import accept as accepted
        from knowngood.bench.shelf.accepted import differences, standing
        from knowngood.bench.shelf.facts import facts
        from knowngood.bench.shelf.planning import planned
        from knowngood.cli import shelf_answers, shelf_show
        from knowngood.cli.progress import ctrl_c, nearer, thought_through

        limit = seconds or float("inf")
        with thought_through() as told:
            known = facts(store, told)
        with ctrl_c() as stop, nearer() as near, thought_through("reasons") as reasons:
            found = planned(
                known, gap=within / 100.0, seconds=limit, progress=near, why=reasons if why else None, stop=stop
            )
        plans = [one.plan for one in found.units]
        changes = differences(store, plans) if standing(store) else None
        entry = accepted(store, plans, found.facts.after)[1] if accept else None
        answer(shelf_answers.plan(found, changes, entry), as_json, shelf_show.plan)


def market(
    lines: Annotated[
        list[str] | None,
        typer.Argument(metavar="[LINE]...", help="Lines about the market to log first, each in quotes."),
    ] = None,
    home: Home = None,
    as_json: Json = False,
) -> None:
    """Lists whom the bench buys from and sells to, what is likely to come, and the shelf's own money.

    Lines: 'supplier northparts posts for EUR 6 in 3 days', 'offers northparts MAP/PART new at EUR 8', 'demand MAP
    working at most 3 at EUR 190', 'demand MAP/PART at most 2 at EUR 25', 'expects 2 of MAP', 'paid EUR 6 for
    postage', 'got EUR 3 for cardboard'. A later line on the same thing replaces the earlier; 'undid 3' takes line 3 of
    the bench's log back.

    Example: knowngood market "supplier northparts posts for EUR 6 in 3 days"
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench import market as bench_market
        from knowngood.cli import shelf_answers, shelf_show

        bench_market.change(store, lines or [])
        answer(shelf_answers.market(bench_market.market(store), store.bench_seq()), as_json, shelf_show.market)
