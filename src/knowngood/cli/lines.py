"""Commands that write lines into a unit's log, and take them back."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from knowngood.cli.frame import Home, Json, UnitName, answer, failing_plainly, opened, text_of, words


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


def undo(unit: UnitName, home: Home = None, as_json: Json = False) -> None:
    """Takes back the last line that holds; the log remembers that it was there.

    Example: knowngood undo U1
    """
    _take_back(unit, home, as_json, "undo")


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
