"""The command ``book``: the handbook at the terminal."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from knowngood.cli.frame import Json, answer, failing_plainly


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
