"""The commands about orders: ``knowngood orders`` and ``knowngood arrived``."""

from __future__ import annotations

from typing import Annotated

import typer

from knowngood.cli.frame import Home, Json, answer, failing_plainly, opened


def orders(
    send: Annotated[
        str | None, typer.Option("--send", metavar="SUPPLIER", help="Log that this supplier's basket was ordered.")
    ] = None,
    along: Annotated[
        list[str] | None,
        typer.Option("--along", metavar="UNIT/PART", help="Order this part along, as U2/lamp-module; repeatable."),
    ] = None,
    home: Home = None,
    as_json: Json = False,
) -> None:
    """Shows what is to be ordered from whom, whether to send it now or wait, and what may be needed besides.

    With --send it logs the parts as ordered in their units and the postage in the bench's log, all or none.

    Example: knowngood orders
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench.shelf import orders as bench_orders
        from knowngood.bench.shelf.facts import facts
        from knowngood.bench.work import bench_settings
        from knowngood.cli import shelf_answers, shelf_show
        from knowngood.cli.progress import thought_through
        from knowngood.errors import LineError

        if along and not send:
            raise LineError("--along goes with --send: say from whom.")
        sent = shelf_answers.sent(*bench_orders.send(store, send, along or [])) if send else []
        found = bench_orders.orders(store)
        if found.baskets:
            with thought_through() as told:
                found = bench_orders.orders(store, facts(store, told).units)
        shape = shelf_answers.orders(found, bench_settings(store).currency, sent)
        answer(shape, as_json, shelf_show.orders)


def arrived(
    supplier: Annotated[str, typer.Argument(metavar="SUPPLIER", help="Whom the parcel is from.")],
    parts: Annotated[
        list[str] | None, typer.Argument(metavar="[UNIT/PART]...", help="What is in it; none for all that is on order.")
    ] = None,
    home: Home = None,
    as_json: Json = False,
) -> None:
    """Logs that what was ordered is here, and says which units that wakes up and what each does next.

    Example: knowngood arrived northparts
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench import questions
        from knowngood.bench.shelf.orders import Woken, arrive
        from knowngood.cli import shelf_answers, shelf_shapes, shelf_show
        from knowngood.errors import KnowngoodError

        def following(one: Woken) -> shelf_shapes.WokenShape:
            try:
                move = questions.advice_for(store, one.unit)[0].best.move
            except KnowngoodError as error:  # the parts are here all the same
                return shelf_answers.woken(one, str(error), None, waits=False)
            return shelf_answers.woken(one, move.do, move.log, waits=move.kind == "wait")

        units = [following(one) for one in arrive(store, supplier, parts or [])]
        answer(shelf_shapes.ArrivedAnswer(supplier=supplier, units=units), as_json, shelf_show.arrived)
