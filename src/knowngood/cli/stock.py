"""``knowngood stock`` and ``knowngood label``: what is on the shelf and in donors, and labels for it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from knowngood.cli.frame import Home, Json, answer, failing_plainly, opened

if TYPE_CHECKING:
    from collections.abc import Iterable

    from rich.console import Console

    from knowngood.bench.provenance import Facts
    from knowngood.bench.store import Store
    from knowngood.cli import stock_shapes


def stock(
    words: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[PART|UNIT|LOT|LINE]...",
            help="Names to show only these, and lines about loose parts to log first, each in quotes.",
        ),
    ] = None,
    map_: Annotated[str | None, typer.Option("--map", help="Only parts of units of this map.")] = None,
    home: Home = None,
    as_json: Json = False,
) -> None:
    """Lists what is on the shelf and in donors: where it came from, what happened to it there, what was seen on it,
    what shows it to work, how probably it is good, where it lies and for which unit it is reserved.

    Lines: 'stocked 25 x resistor 10 ohm 1 % 0805 in drawer 3' makes a lot, 'used 2 of S3' takes from it (in a unit's
    log: 'used 2 of S3 on PART'), 'undid 3' takes line 3 of the bench's log back, 'redid 3' brings it again.

    Example: knowngood stock "25 x resistor 10 ohm 1 % 0805 in drawer 3"
    """
    with failing_plainly(as_json), opened(home) as store:
        answer(stock_shape(store, words or [], map_), as_json, _show)


def stock_shape(store: Store, words: list[str], map_: str | None) -> stock_shapes.StockAnswer:
    """What is there, of what the words name; lines among them are logged first. Raises LineError."""
    return stock_part(store, words, map_)[0]


def stock_part(
    store: Store, words: list[str], map_: str | None = None, first: int = 0, most: int | None = None
) -> tuple[stock_shapes.StockAnswer, bool]:
    """The same with at most so many rows of each list, from ``first`` on, and whether there are more."""
    from knowngood.bench import loose, provenance, reservations
    from knowngood.cli import marks, stock_shapes

    asked, lines = provenance.narrowed(store, words, map_)
    loose.change(store, lines)
    found = provenance.stock_facts(store, asked, first, most)
    lots = [] if first else [one for one in loose.lots(store).values() if asked.all or one.id in asked.lots]
    shape = stock_shapes.StockAnswer(
        loose=marks.lots(lots),
        parts=_rows(found.shelf),
        donors=[
            stock_shapes.DonorShape(unit=one.unit, map=one.map_name, place=one.place, parts=one.parts)
            for one in found.donors
        ],
        inside=_rows(found.inside),
        warnings=reservations.not_there(store),
    )
    return shape, found.more


def _rows(found: Iterable[Facts]) -> list[stock_shapes.StockRow]:
    from knowngood.cli import stock_shapes as shapes

    return [
        shapes.StockRow(
            part=one.came.part,
            what=one.came.what,
            unit=one.came.unit,
            map=one.came.map_name,
            time=one.came.time,
            route=list(one.route),
            history=one.history,
            seen=[shapes.SeenShape(**vars(each)) for each in one.seen],
            mended=list(one.mended),
            tested=shapes.TestedShape(**vars(one.tested)) if one.tested else None,
            good=one.good,
            place=one.place,
            revision=one.revision,
            married=list(one.married),
            reserved_for=list(one.reserved_for),
        )
        for one in found
    ]


def _show(out: Console, answer: stock_shapes.StockAnswer) -> None:
    from rich.text import Text

    for lot in answer.loose:
        note = f"  -- {lot.note}" if lot.note else ""
        out.print(Text(f"{lot.lot:<5} {lot.left:>5} x {lot.part:<40} {lot.place}{note}".rstrip()))
    for row in answer.parts:
        _show_row(out, row, row.place or "on the shelf")
    for row in answer.inside:
        _show_row(out, row, f"still in {row.unit}" + (f", {row.place}" if row.place else ""))
    if not answer.inside:
        for one in answer.donors:
            where = f", {one.place}" if one.place else ""
            out.print(
                Text(f"{one.unit:<5} {one.map}{where}: {one.parts} parts still in it: knowngood stock {one.unit}")
            )
    if not (answer.loose or answer.parts or answer.inside or answer.donors):
        out.print(Text("Nothing on the shelf."))
    for warning in answer.warnings:
        out.print(Text(f"! {warning}"))


def _show_row(out: Console, row: stock_shapes.StockRow, where: str) -> None:
    from rich.text import Text

    from knowngood.cli.layout import under
    from knowngood.handbook.quantities import percent as chance

    good = f"good {chance(row.good)}" if row.good is not None else "its log says what cannot be"
    head = [f"{row.part:<24} from {' by '.join(row.route):<10} {good}", where]
    if row.revision:
        head.append(f"revision {row.revision}")
    if row.reserved_for:
        head.append(f"reserved for {', '.join(row.reserved_for)}")
    out.print(Text("; ".join(head)))
    out.print(under(3, "; ".join(about(row))))


def about(row: stock_shapes.StockRow) -> Iterable[str]:
    yield row.what + (f", {row.history}" if row.history else "")
    if row.married:
        yield f"works only with its own {', '.join(row.married)}"
    if row.seen:
        yield "seen " + ", ".join(
            " ".join(word for word in (one.condition, one.degree, f"({one.unit} line {one.seq})") if word)
            for one in row.seen
        )
    if row.mended:
        yield f"done on it: {', '.join(row.mended)}"
    yield f"shown by: {row.tested.line} ({row.tested.unit} line {row.tested.seq})" if row.tested else "not tested"


def label(
    of: Annotated[
        list[str],
        typer.Argument(
            metavar="UNIT|UNIT/PART|UNIT/STEP|LOT|PLACE...",
            help="What to label: U1, D1/lamp-door, U1/cover-off (the tray for its screws), S3, 'drawer 3'.",
        ),
    ],
    svg: Annotated[
        Path | None, typer.Option("--svg", metavar="FILE", help="Draw them into this SVG file, one below another.")
    ] = None,
    pdf: Annotated[
        Path | None, typer.Option("--pdf", metavar="FILE", help="Print them into this PDF file, one on a page.")
    ] = None,
    size: Annotated[str, typer.Option("--size", help='Width and height of a label, as "62x29 mm".')] = "62x29 mm",
    sheet: Annotated[
        str | None, typer.Option("--sheet", help='Put as many as fit on each page of the PDF, as "210x297 mm".')
    ] = None,
    home: Home = None,
    as_json: Json = False,
) -> None:
    """Makes labels: the number first and largest, then what it is, with origin, proof, place and cautions, and a QR
    code that says the same as the number, as knowngood:D1/lamp-door.

    Parts that are married to one another have the same mark, in words and shape.

    Example: knowngood label U1 U1/config-store --svg labels.svg --pdf labels.pdf --size "62x29 mm"
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench import labels
        from knowngood.cli import label_picture, stock_shapes
        from knowngood.cli.svg import can_draw, write

        measure = label_picture.measure(size, sheet)
        found = [labels.label(store, one) for one in of]
        for file, ending in ((svg, ".svg"), (pdf, ".pdf")):
            if file:
                can_draw(file, ending)
        pages = 0
        if svg:
            write(svg, label_picture.as_svg(found, measure))
        if pdf:
            pages, printed = label_picture.as_pdf(found, measure)
            write(pdf, printed)
        shape = stock_shapes.LabelAnswer(
            labels=[
                stock_shapes.LabelShape(
                    asked=one.asked,
                    number=one.number,
                    name=one.name,
                    what=one.what,
                    code=one.code,
                    pair=f"{one.pair.words}, {one.pair.others}" if one.pair else "",
                    shape=one.pair.shape if one.pair else "",
                    notes=list(one.notes),
                    cautions=list(one.cautions),
                )
                for one in found
            ],
            width=measure.width,
            height=measure.height,
            pages=pages,
            svg=str(svg) if svg else None,
            pdf=str(pdf) if pdf else None,
        )
        answer(shape, as_json, _show_labels)


def _show_labels(out: Console, answer: stock_shapes.LabelAnswer) -> None:
    from rich.text import Text

    from knowngood.cli.layout import under

    for one in answer.labels:
        out.print(Text(f"{one.number}  {one.name or one.what or ', '.join(one.notes)}   {one.code}"))
        for line in (one.what if one.name else "", one.pair, *(one.notes if one.what else ())):
            if line:
                out.print(under(3, line))
        if one.cautions:
            out.print(Text(f"! {', '.join(one.cautions)}"))
    written = [file for file in (answer.svg, answer.pdf) if file]
    size = f"{answer.width:g} x {answer.height:g} mm"
    files = f"Labels of {size} in {' and '.join(written)}." if written else "Draw them: --svg FILE, --pdf FILE"
    out.print(Text(files))
