"""The command ``knowngood``: thin commands that parse, call one function of the bench, and print.

Each is written in the module of its subject; here they get their names and the order in which ``--help`` lists them.
Everything heavy is imported inside the commands, so that ``--help`` answers at once.
"""

from __future__ import annotations

import sys

import typer

from knowngood.cli import (
    assembly,
    bid,
    bring_up,
    film,
    folder,
    growing,
    handbook,
    intake,
    ledger,
    lines,
    listing,
    maps,
    orders,
    parts,
    proof,
    questions,
    rehearse,
    release,
    serve,
    settings,
    shelf,
    stock,
    timetable,
    units,
)
from knowngood.cli.frame import BUG

app = typer.Typer(
    name="knowngood",
    help="From a broken unit to a known-good one: what is probably wrong, what to do next, what it is worth.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)
unit_app = typer.Typer(help="Units: book one in, list them.", no_args_is_help=True, rich_markup_mode=None)
map_app = typer.Typer(
    help="Device maps: check one, list those that come along.", no_args_is_help=True, rich_markup_mode=None
)
bench_app = typer.Typer(help="The bench: its rates, tools and meter.", no_args_is_help=True, rich_markup_mode=None)

app.command("market")(shelf.market)
app.command("orders")(orders.orders)
app.command("arrived")(orders.arrived)
app.command("bid")(bid.bid)
app.command("parts")(parts.parts)
app.command("ledger")(ledger.ledger)
app.command("timetable")(timetable.timetable)
app.command("serve")(serve.serve)
app.command("password")(serve.password)
app.command("export")(folder.export)
app.command("import")(folder.import_)
app.command("log")(lines.log)
app.command("undo")(lines.undo)
app.command("redo")(lines.redo)
app.command("show")(units.show_unit)
app.command("belief")(questions.belief)
app.command("next")(questions.next_move)
app.command("why")(questions.why)
app.command("tells")(questions.tells)
app.command("proof")(proof.proof)
app.command("way")(assembly.way)
app.command("reassembly")(assembly.reassembly)
app.command("before-power")(assembly.before_power)
app.command("bring-up")(bring_up.bring_up)
app.command("marks")(questions.marks_seen)
app.command("intake")(intake.intake)
app.command("photo")(intake.photo)
app.command("safety-test")(release.safety_test)
app.command("release")(release.release)
app.command("grade")(listing.grade)
app.command("listing")(listing.listing)
app.command("report")(listing.report)
app.command("film")(film.film)
app.command("stock")(stock.stock)
app.command("label")(stock.label)
app.command("rehearse")(rehearse.rehearse)
app.command("readings")(maps.readings)
app.command("book", context_settings={"allow_extra_args": True, "ignore_unknown_options": True})(handbook.book)

app.add_typer(unit_app, name="unit")
unit_app.command("new")(units.unit_new)
unit_app.command("list")(units.unit_list)

app.add_typer(map_app, name="map")
map_app.command("grow")(growing.map_grow)
map_app.command("check")(maps.map_check)
map_app.command("list")(maps.map_list)

app.add_typer(bench_app, name="bench")
bench_app.command("instrument")(release.instrument)
bench_app.command("set")(settings.bench_set)
bench_app.command("show")(settings.bench_show)

app.add_typer(shelf.shelf_app, name="shelf")


def main() -> None:
    """Runs the command; an interrupted one ends quietly."""
    try:
        app()
    except BrokenPipeError:
        sys.stderr.close()
        raise SystemExit(BUG) from None


if __name__ == "__main__":
    main()
