"""The command ``knowngood``: thin commands that parse, call one function of the bench, and print.

Everything heavy is imported inside the commands, so that ``--help`` answers at once.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from knowngood.cli import (
    assembly,
    bid,
    bring_up,
    film,
    folder,
    growing,
    intake,
    ledger,
    listing,
    orders,
    parts,
    proof,
    release,
    serve,
    shelf,
    stock,
    timetable,
)
from knowngood.cli.frame import (
    BAD_INPUT,
    BUG,
    Home,
    Json,
    UnitName,
    answer,
    failing_plainly,
    listed,
    opened,
    text_of,
    words,
)

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
app.add_typer(unit_app, name="unit")
app.add_typer(map_app, name="map")
app.add_typer(bench_app, name="bench")
app.add_typer(shelf.shelf_app, name="shelf")
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
bench_app.command("instrument")(release.instrument)


@unit_app.command("new")
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


@unit_app.command("list")
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


@app.command("log")
def log(
    unit: UnitName,
    lines: Annotated[
        list[str] | None, typer.Argument(metavar="[LINE]...", help="Lines, each in quotes. None: from standard input.")
    ] = None,
    file: Annotated[Path | None, typer.Option("--file", help="Read the lines from a file.")] = None,
    home: Home = None,
    as_json: Json = False,
) -> None:
    """Adds lines to a unit's log, all of them or none.

    Example: knowngood log U1 "saw exhaust-fan missing" "read rail-12v 0.03 V"
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench import questions, work
        from knowngood.bench.going import going_remarks
        from knowngood.bench.marks import marks_of
        from knowngood.bench.release import remarks
        from knowngood.bench.reservations import taken_from_others
        from knowngood.cli import answers, marks, shapes, show

        added = work.log_lines(store, unit, _typed(lines, file))
        everything = store.lines(unit)
        marked = [line.seq for line in added if getattr(line.event, "mark", None)]
        shape = shapes.Logged(
            unit=store.unit_id(unit),
            lines=answers.lines(added, among=everything),
            readings=answers.readings(questions.readings_of(store, unit, [line.seq for line in added])),
            marks=marks.marks(marks_of(store, unit, marked) if marked else []),
            warnings=[
                *taken_from_others(store, store.unit_id(unit), added),
                *remarks(store, unit, added),
                *going_remarks(store, unit, added),
            ],
            log_seq=everything[-1].seq,
        )
        answer(shape, as_json, show.logged)


def _typed(lines: list[str] | None, file: Path | None) -> list[str]:
    from knowngood.errors import LineError

    if lines and file:
        raise LineError("Give lines or --file, not both.")
    if lines:
        return lines
    if file is not None:
        text = text_of(file)
    else:
        try:
            text = sys.stdin.read()
        except UnicodeDecodeError:
            raise LineError("Standard input is not UTF-8 text. Nothing was stored.") from None
    return [line for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")]


@app.command("undo")
def undo(unit: UnitName, home: Home = None, as_json: Json = False) -> None:
    """Takes back the last line that holds; the log remembers that it was there.

    Example: knowngood undo U1
    """
    _take_back(unit, home, as_json, "undo")


@app.command("redo")
def redo(unit: UnitName, home: Home = None, as_json: Json = False) -> None:
    """Brings back the line that was last taken back.

    Example: knowngood redo U1
    """
    _take_back(unit, home, as_json, "redo")


def _take_back(unit: str, home: Path | None, as_json: bool, how: str) -> None:
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench import work
        from knowngood.cli import answers, shapes
        from knowngood.log import events as ev

        line = work.undo(store, unit) if how == "undo" else work.redo(store, unit)
        assert isinstance(line.event, (ev.Undid, ev.Redid))
        target = next(one for one in store.lines(unit) if one.seq == line.event.line)
        shape = shapes.Logged(unit=store.unit_id(unit), lines=answers.lines([line]), log_seq=line.seq)
        done = "Taken back" if how == "undo" else "Holds again"
        answer(shape, as_json, words, f"{done}: line {target.seq}, {ev.render(target.event)}")


@app.command("show")
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


@app.command("belief")
def belief(
    unit: UnitName,
    most: Annotated[int, typer.Option("--most", min=0, help="Suspects shown; 0 for all.")] = 10,
    home: Home = None,
    as_json: Json = False,
) -> None:
    """Says what is probably wrong, which lines of the log say so, and what together explains them.

    Of what together explains the log, 'exactly' is the chance of these faults and no other, 'at least' that of these
    with or without others.

    Example: knowngood belief U1
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench import questions
        from knowngood.cli import answers, show

        found, flags = questions.belief_of(store, unit)
        readings = questions.readings_of(store, unit, by=found.measuring)
        shape = answers.belief(store.unit_id(unit), found, flags, readings)
        answer(shape, as_json, show.belief, most)


@app.command("next")
def next_move(
    unit: Annotated[str | None, typer.Argument(metavar="[UNIT]", help="A unit, as U1. None: all on the bench.")] = None,
    most: Annotated[int, typer.Option("--most", min=1, help="Moves shown.")] = 6,
    home: Home = None,
    as_json: Json = False,
) -> None:
    """Says what to do next and why, with its caution; without a unit, on which unit an hour of hands brings most.

    Example: knowngood next U1
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench import questions
        from knowngood.bench.intake import near_dispute
        from knowngood.cli import advice_answers, advice_show

        if unit is None:
            answer(advice_answers.several(*questions.turns(store)), as_json, advice_show.several)
            return
        found, stand, currency = questions.advice_for(store, unit)
        shape = advice_answers.advice(store.unit_id(unit), found, stand, currency, 0 if as_json else most)
        shape = shape.model_copy(update={"dispute": near_dispute(store, unit)})
        answer(shape, as_json, advice_show.advice, most)


@app.command("why")
def why(unit: UnitName, home: Home = None, as_json: Json = False) -> None:
    """Explains the advice: the runner-up, what each outcome leads to, what would change it, and what changed it.

    Example: knowngood why U1
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench import questions
        from knowngood.cli import advice_answers, advice_show

        found, currency = questions.why_of(store, unit)
        answer(advice_answers.why(store.unit_id(unit), found, currency), as_json, advice_show.why)


@app.command("tells")
def tells(
    unit: UnitName,
    after: Annotated[
        list[str] | None, typer.Option("--after", help="A line that is only considered, as an unplugging; repeatable.")
    ] = None,
    most: Annotated[int, typer.Option("--most", min=0, help="Tests and looks shown; 0 for all.")] = 8,
    home: Home = None,
    as_json: Json = False,
) -> None:
    """Says what each outcome of each test and look would tell, now or after an act that is only considered.

    Bits say how much a question tells in the mean about which parts stop something; cost is not in it (see next).

    Example: knowngood tells U1 --after "unplugged exhaust-fan-plug"
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench import questions
        from knowngood.cli import advice_answers, advice_show

        considered = after or []
        belief, found = questions.told_by(store, unit, considered)
        seq = belief.log_seq - len(considered)
        shape = advice_answers.tells(store.unit_id(unit), belief, found, seq, considered, most)
        answer(shape, as_json, advice_show.tells)


app.command("proof")(proof.proof)
app.command("way")(assembly.way)
app.command("reassembly")(assembly.reassembly)
app.command("before-power")(assembly.before_power)
app.command("bring-up")(bring_up.bring_up)


@app.command("marks")
def marks_seen(unit: UnitName, home: Home = None, as_json: Json = False) -> None:
    """Says what the marks seen on parts can mean, what a replacement has to meet, and what on the shelf is one.

    A mark is logged with a look: saw PART CONDITION marked 10R, or marked brown,black,black,red,brown.

    Example: knowngood marks U1
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench.marks import marks_of
        from knowngood.cli import marks, shapes

        found = marks.marks(marks_of(store, unit))
        seq = store.lines(unit)[-1].seq
        answer(shapes.MarksAnswer(unit=store.unit_id(unit), log_seq=seq, marks=found), as_json, marks.show)


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
map_app.command("grow")(growing.map_grow)


@map_app.command("check")
def map_check(file: Annotated[Path, typer.Argument(metavar="FILE", help="A map file.")], as_json: Json = False) -> None:
    """Finds every mistake of a map: where, what is wrong, what would be right.

    Example: knowngood map check my-radio.yaml
    """
    with failing_plainly(as_json):
        from knowngood.cli import answers, show
        from knowngood.maps import findings_in

        checked = answers.checked(file, findings_in(file))
        answer(checked, as_json, show.findings)
        if not checked.right:
            raise SystemExit(BAD_INPUT)


@map_app.command("list")
def map_list(as_json: Json = False) -> None:
    """Lists the maps that come along.

    Example: knowngood map list
    """
    with failing_plainly(as_json):
        from knowngood.cli import shapes
        from knowngood.maps import load
        from knowngood.maps.kinds import shipped_maps

        devices = [load(name) for name in shipped_maps()]
        rows = [
            shapes.MapRow(map=one.id, what=one.what, parts=len(one.parts), functions=len(one.functions))
            for one in devices
        ]
        text = "\n".join(f"{row.map:<22} {row.parts:>3} parts  {row.what}" for row in rows)
        answer(shapes.MapList(maps=rows), as_json, words, text)


@app.command("rehearse")
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

    Example: knowngood rehearse some-mains-device --units 10 --seed 7
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


@app.command("readings")
def readings(
    map_: Annotated[str, typer.Argument(metavar="MAP", help="A map's name, or its file.")],
    into: Annotated[
        Path | None, typer.Option("--into", metavar="FILE", help="Accept: write the learned map here, or over itself.")
    ] = None,
    home: Home = None,
    as_json: Json = False,
) -> None:
    """Shows what known-good units of a map read beside what it expects, and the map as it would be after learning.

    A reading counts if it was made after the last repair of a unit that then passed, with everything plugged in.

    Example: knowngood readings some-mains-device --into my-device.yaml
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench import learning
        from knowngood.cli import answers, show
        from knowngood.maps import load

        device = load(map_)
        found = learning.rows(store, device)
        text, changed, file = learning.relearned(map_, found)
        if into is not None:
            learning.write(changed, into)
        shape = answers.learned(device, found, learning.difference(text, changed, file), into)
        answer(shape, as_json, show.learned)


@app.command("book", context_settings={"allow_extra_args": True, "ignore_unknown_options": True})
def book(
    context: typer.Context,
    topic: Annotated[
        list[str] | None,
        typer.Argument(metavar="[TOPIC] [--NAME VALUE]...", help="A subject, a formula, or words to find one."),
    ] = None,
    picture: Annotated[
        Path | None,
        typer.Option(
            "--picture", metavar="FILE", help="Draw the answer into this SVG file; only profile has a picture."
        ),
    ] = None,
    as_json: Json = False,
) -> None:
    """Looks up and computes what the handbook has: formula, result, source and caution.

    Without a topic it lists the subjects; with one and no values, what they take. A table is the name of a CSV file.

    Example: knowngood book charge --capacitance "330 uF" --voltage "400 V" --resistor "2k2"
    """
    with failing_plainly(as_json):
        from knowngood.cli import book as asked

        answer(asked.looked_up([*(topic or []), *context.args], picture), as_json, asked.show)


@bench_app.command("set")
def bench_set(
    key: Annotated[str, typer.Argument(help="A setting, as rate-floor.")],
    value: Annotated[str, typer.Argument(help='Its value, as "EUR 12".')],
    home: Home = None,
    as_json: Json = False,
) -> None:
    """Changes a setting; the bench's log remembers the old one.

    Example: knowngood bench set rate-floor "EUR 15"
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench import work

        work.bench_set(store, key, value)
    bench_show(home, as_json)


@bench_app.command("show")
def bench_show(home: Home = None, as_json: Json = False) -> None:
    """Shows the settings that hold.

    Example: knowngood bench show
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench import work
        from knowngood.bench.settings import SETTINGS, shown
        from knowngood.cli import shapes

        settings = work.bench_settings(store)
        values = {key: shown(settings, key) for key in SETTINGS}
        text = "\n".join(f"{key:<15} {value}\n{'':<15}   {SETTINGS[key].says}" for key, value in values.items())
        answer(shapes.BenchAnswer(log_seq=store.bench_seq(), settings=values), as_json, words, text)


def main() -> None:
    """Runs the command; an interrupted one ends quietly."""
    try:
        app()
    except BrokenPipeError:
        sys.stderr.close()
        raise SystemExit(BUG) from None


if __name__ == "__main__":
    main()
