"""``knowngood export`` and ``knowngood import``: a unit as a folder of plain files."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from knowngood.cli.frame import Home, Json, UnitName, answer, failing_plainly, opened

if TYPE_CHECKING:
    from rich.console import Console

    from knowngood.cli import folder_shapes as shapes

Folder = Annotated[Path, typer.Argument(metavar="FOLDER", help="The folder of the unit.")]


def export(unit: UnitName, folder: Folder, home: Home = None, as_json: Json = False) -> None:
    """Writes a unit into a new folder of plain files: log, map, pictures, readings as a table, and what is what.

    Pictures go along as they were taken, with the place if the camera wrote it into them. The unit stays here.

    Example: knowngood export U1 projector-u1
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench.folder import leave
        from knowngood.cli import folder_shapes as shapes

        left = leave(store, unit, folder)
        shape = shapes.ExportAnswer(
            unit=left.unit,
            folder=str(folder),
            files=list(left.files),
            lines=left.lines,
            photos=left.photos,
            missing=list(left.missing),
            films=list(left.films),
        )
        answer(shape, as_json, _show_left)


def import_(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="The folder of the unit, or its ZIP archive.")],
    home: Home = None,
    as_json: Json = False,
) -> None:
    """Takes a unit in from a folder that export wrote, or the ZIP of its page.

    All of it, or nothing if a file was changed or is missing.

    It keeps its name, or gets the next free one if that is taken. Lines, times and pictures stay as they were.

    Example: knowngood import projector-u1
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench.folder import come_back
        from knowngood.bench.unpacking import unzipped
        from knowngood.cli import folder_shapes as shapes

        if folder.is_file():
            with folder.open("rb") as archive, unzipped(archive) as unpacked:
                came = come_back(store, unpacked)
        else:
            came = come_back(store, folder)
        shape = shapes.ImportAnswer(
            unit=came.unit, was=came.was, lines=came.lines, photos=came.photos, remarks=list(came.remarks)
        )
        answer(shape, as_json, _show_came)


def _show_left(out: Console, answer: shapes.ExportAnswer) -> None:
    from rich.text import Text

    out.print(Text(f"{answer.unit}: {answer.lines} lines and {answer.photos} photos in '{answer.folder}'."))
    for one in answer.missing:
        out.print(Text(f"! The photo {one} is not stored any more, so it did not go along."))
    for one in answer.films:
        out.print(Text(f"! The film {one} is kept by no bench, so it did not go along: bring its file."))


def _show_came(out: Console, answer: shapes.ImportAnswer) -> None:
    from rich.text import Text

    from knowngood.cli.layout import hanging

    out.print(Text(f"{answer.unit} is in, with {answer.lines} lines and {answer.photos} photos."))
    for one in answer.remarks:
        out.print(hanging("! ", one))
