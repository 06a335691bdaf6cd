"""Rewrites the generated pages in docs/: ``make docs``. The tests tell when one is stale."""

from __future__ import annotations

import json
import typing
from collections.abc import Callable, Iterator
from pathlib import Path

import typer
from typer.testing import CliRunner

from knowngood.cli import shapes
from knowngood.cli.main import app
from knowngood.maps.schema import KindTable, MapTable

HERE = Path(__file__).parent


def _schema(table: type[MapTable] | type[KindTable]) -> str:
    return json.dumps(table.model_json_schema(), indent=2, sort_keys=True) + "\n"


def map_schema() -> str:
    """The JSON Schema of a map file."""
    return _schema(MapTable)


def kind_schema() -> str:
    """The JSON Schema of one kind."""
    return _schema(KindTable)


def commands(command: object, path: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    """Every command that does something, by the words that call it."""
    inner = getattr(command, "commands", None)
    if not inner:
        yield path
    for name, one in (inner or {}).items():
        yield from commands(one, (*path, name))


def command_page() -> str:
    """The help of every command."""
    parts = ["# Commands\n\nMade from `--help`. Exit codes: 0 fine, 1 our bug, 2 bad input.\n"]
    for path in commands(typer.main.get_command(app)):
        env = {"COLUMNS": "80", "TERMINAL_WIDTH": "80", "NO_COLOR": "1"}
        text = CliRunner().invoke(app, [*path, "--help"], env=env).output
        indented = "\n".join(("    " + line).rstrip() for line in text.strip().splitlines())
        parts.append(f"## knowngood {' '.join(path)}\n\n{indented}\n")
    return "\n".join(parts)


def json_page() -> str:
    """The shape of every answer."""
    parts = [
        "# What each command answers with `--json`\n\nNumbers are not rounded for show; chances lie between 0 and 1, "
        "money is in the currency that is named.\n"
    ]
    inner: dict[str, type[shapes.Shape]] = {}
    for shape in shapes.ANSWERS:
        parts.append(f"## {shape.__doc__}\n\n{_fields(shape, inner)}")
    parts.append("## The tables inside\n")
    done: set[str] = set()
    while set(inner) - done:
        for name in sorted(set(inner) - done):
            done.add(name)
            parts.append(f"### {name}\n\n{inner[name].__doc__}\n\n{_fields(inner[name], inner)}")
    return "\n".join(parts)


def _fields(shape: type[shapes.Shape], inner: dict[str, type[shapes.Shape]]) -> str:
    rows = ["| key | holds | |", "|---|---|---|"]
    for name, field in shape.model_fields.items():
        rows.append(f"| `{name}` | {_words(field.annotation, inner)} | {field.description or ''} |")
    return "\n".join(rows) + "\n"


def _words(annotation: object, inner: dict[str, type[shapes.Shape]]) -> str:
    arguments = typing.get_args(annotation)
    if isinstance(annotation, type) and issubclass(annotation, shapes.Shape):
        inner[annotation.__name__] = annotation
        return annotation.__name__
    origin = typing.get_origin(annotation)
    if origin is list:
        return f"list of {_words(arguments[0], inner)}"
    if origin is dict:
        return f"table of {_words(arguments[1], inner)}"
    if origin is typing.Literal:
        return " or ".join(f"`{one}`" for one in arguments)
    if arguments:
        return " or ".join(_words(one, inner) for one in arguments)
    return {"str": "text", "float": "number", "int": "whole number", "bool": "true or false", "NoneType": "null"}.get(
        getattr(annotation, "__name__", ""), str(annotation)
    )


PAGES: dict[str, Callable[[], str]] = {
    "map.schema.json": map_schema,
    "kind.schema.json": kind_schema,
    "commands.md": command_page,
    "json.md": json_page,
}


def main() -> None:
    """Writes every page."""
    for name, page in PAGES.items():
        (HERE / name).write_text(page(), encoding="utf-8")


if __name__ == "__main__":
    main()
