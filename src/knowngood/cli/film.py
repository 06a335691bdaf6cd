"""``knowngood film``: chapters of a film from the log, what of it is not to be published, suspects over time."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from knowngood.cli.frame import Home, Json, UnitName, answer, failing_plainly, opened

if TYPE_CHECKING:
    from rich.console import Console

    from knowngood.bench.filming import Filmed, Suspected
    from knowngood.cli import film_shapes

MOST, LEAST = 6, 0.1
"""Suspects that are drawn, and the least chance that each had at some time."""


def film(
    unit: UnitName,
    vtt: Annotated[Path | None, typer.Option("--vtt", metavar="FILE", help="Write the chapters, as WebVTT.")] = None,
    hide: Annotated[
        Path | None, typer.Option("--hide", metavar="FILE", help="Write what is not to be published, as WebVTT.")
    ] = None,
    name: Annotated[
        str | None, typer.Option("--film", metavar="NAME", help="Which film, if there are several.")
    ] = None,
    length: Annotated[
        str | None, typer.Option("--length", metavar="HH:MM:SS", help="How long it is, if it ends before the log does.")
    ] = None,
    picture: Annotated[
        Path | None, typer.Option("--picture", metavar="FILE", help="Draw the suspects over time into this SVG file.")
    ] = None,
    home: Home = None,
    as_json: Json = False,
) -> None:
    """Makes chapters for a film of the work from the lines of the log, and says what of it is not to be published.

    One mark aligns both: clap as you log something, find that in the film, and log: clapped line 7 at 00:03:12 of
    bench-1.mp4 (without "line 7": this very moment). A second mark, later, takes out what the clocks drift. A range is
    kept back by: hid 00:04:00 to 00:05:10 of bench-1.mp4 -- WHY. Serial numbers, data and account locks are kept back
    by themselves. Watch all of it before you publish: the log cannot see faces or addresses.

    Example: knowngood film U1 --vtt chapters.vtt --hide hidden.vtt
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench import filming, work
        from knowngood.cli import film_shapes, suspects_picture
        from knowngood.cli import vtt as tracks
        from knowngood.cli.progress import counted
        from knowngood.cli.svg import can_draw, write
        from knowngood.log.events.filming import seconds_of

        for file, ending in ((vtt, ".vtt"), (hide, ".vtt"), (picture, ".svg")):
            if file:
                can_draw(file, ending, "picture" if file is picture else "track")
        device, told = work.replayed(store, unit)
        only_picture = picture is not None and not (vtt or hide or name or length)
        found = None if only_picture else filming.filmed(store, unit, name, seconds_of(length) if length else None)
        rows = list(counted(filming.suspected(store, unit), len(told.lines), "lines")) if picture else []
        shape = film_shapes.FilmAnswer(
            unit=store.unit_id(unit),
            log_seq=told.seq,
            **_film(found),
            length_known=length is not None,
            suspected=_suspected(rows),
            vtt=str(vtt) if vtt else None,
            hide=str(hide) if hide else None,
            picture=str(picture) if picture else None,
        )
        if vtt:
            write(vtt, tracks.chapters(shape), "track")
        if hide:
            write(hide, tracks.not_to_publish(shape), "track")
        if picture:
            write(picture, suspects_picture.picture(shape, device.what))
        answer(shape, as_json, _show)


def _film(found: Filmed | None) -> dict[str, object]:
    from knowngood.cli import film_shapes as shapes

    if found is None:
        none: dict[str, object] = {"chapters": [], "hidden": []}
        return {"film": None, "starts": "", "marks": [], "rate": 1.0, "worst": 0.0, "end": 0.0, **none}
    aligned = found.aligned
    return {
        "film": aligned.film,
        "starts": datetime.fromtimestamp(aligned.start, UTC).strftime("%Y-%m-%dT%H:%M:%SZ"),
        "marks": [one.seq for one in aligned.marks],
        "rate": aligned.rate,
        "worst": aligned.worst,
        "end": found.end,
        "chapters": [
            shapes.ChapterShape(title=one.title, start=one.start, end=one.end, lines=list(one.lines))
            for one in found.chapters
        ],
        "hidden": [
            shapes.HiddenShape(start=one.start, end=one.end, why=one.why, line=one.seq, by_itself=one.by_itself)
            for one in found.hidden
        ],
    }


def _suspected(rows: Iterable[Suspected]) -> list[film_shapes.SuspectedShape]:
    """The rows with the parts that were suspected most at some time."""
    from knowngood.cli import film_shapes as shapes
    from knowngood.log import events as ev

    kept = list(rows)
    most: dict[str, float] = {}
    for row in kept:
        for part, chance in (row.suspects or {}).items():
            most[part] = max(most.get(part, 0.0), chance)
    drawn = [part for part in sorted(most, key=lambda part: (-most[part], part)) if most[part] >= LEAST][:MOST]
    return [
        shapes.SuspectedShape(
            seq=row.line.seq,
            line=ev.render(row.line.event),
            known_good=row.known_good,
            suspects={part: row.suspects[part] for part in drawn} if row.suspects else {},
        )
        for row in kept
    ]


def _show(out: Console, answer: film_shapes.FilmAnswer) -> None:
    from rich.text import Text

    from knowngood.cli.layout import hanging
    from knowngood.log.events.filming import film_time

    if answer.film:
        drift = f"runs {answer.rate:.5f} times as fast as the clock" if answer.rate != 1.0 else "no drift known"
        marks = f"line{'s' if len(answer.marks) > 1 else ''} {', '.join(map(str, answer.marks))}"
        out.print(Text(f"{answer.film} begins {answer.starts} by {marks}; {drift}; worst off by {answer.worst:.1f} s"))
        if not answer.length_known:
            said = f"How long it is nobody said: taken to end at {film_time(answer.end)}. Else: --length HH:MM:SS"
            out.print(hanging("?  ", said))
        for one in answer.chapters:
            out.print(hanging(f"{film_time(one.start)}  ", one.title))
        if not answer.chapters:
            out.print(Text("No line of the log falls into it."))
        for hid in answer.hidden:
            span = f"{film_time(hid.start)} to {film_time(hid.end)}"
            out.print(hanging("!  ", f"not to be published: {span}, {hid.why} (line {hid.line})"))
        out.print(Text("Watch it before you publish: serial numbers, addresses, faces, passwords in view?"))
    for file, what in ((answer.vtt, "chapters"), (answer.hide, "what to hide"), (answer.picture, "suspects over time")):
        if file:
            out.print(Text(f"{file}: {what}"))
