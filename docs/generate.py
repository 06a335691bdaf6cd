"""Rewrites the generated pages in docs/: ``make docs``. The tests tell when one is stale."""

from __future__ import annotations

import json
import re
import typing
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import typer
from pydantic import TypeAdapter
from typer.testing import CliRunner

from knowngood.cli import shapes
from knowngood.cli.main import app
from knowngood.handbook import book
from knowngood.handbook.formula import Argument
from knowngood.maps import schema, words

HERE = Path(__file__).parent

MAP_TABLES: tuple[type[schema.Table], ...] = (
    *(schema.MapTable, schema.WorthTable, schema.PartTable, schema.PriceTable, schema.ChargeTable),
    schema.ConnectionTable,
    *(schema.FunctionTable, schema.TryTable, schema.ProbeTable, schema.StepTable, schema.FastenerTable),
    *(schema.TestTable, schema.MarriedTable, schema.ModeTable, schema.RemedyTable),
)
"""Tables of a map file in the order in which a person needs them."""


def map_schema() -> str:
    """The JSON Schema of a map file."""
    return json.dumps(schema.MapTable.model_json_schema(), indent=2, sort_keys=True) + "\n"


def kind_schema() -> str:
    """The JSON Schema of a file of kinds."""
    kinds = TypeAdapter(dict[schema.Name, schema.KindTable]).json_schema()
    return json.dumps({**kinds, "title": "Kinds"}, indent=2, sort_keys=True) + "\n"


def map_page() -> str:
    """The page on maps, written by hand, with its tables of keys and words made anew between their marks."""
    text = (HERE / "maps.md").read_text(encoding="utf-8")
    for name, made in (("words", _word_lists()), ("keys", _key_tables())):
        between = re.compile(f"(<!-- {name}, made by 'make docs' -->\n).*(<!-- end of {name} -->\n)", re.DOTALL)
        text, count = between.subn(lambda marks, made=made: f"{marks[1]}\n{made}\n{marks[2]}", text)
        if count != 1:
            raise ValueError(f"maps.md has {count} places for '{name}', not one.")
    return text


def _word_lists() -> str:
    lists = (
        ("Conditions, what an eye can find (`looks`)", words.CONDITIONS),
        ("Pasts, what may have happened to the unit (`past`)", words.PASTS),
        ("Powers, what the unit runs on (`power`)", words.POWERS),
    )
    parts = []
    for title, meanings in lists:
        parts.append(f"**{title}.** " + "; ".join(f"`{word}`: {meaning}" for word, meaning in meanings.items()) + ".\n")
    return "\n".join(parts)


def _key_tables() -> str:
    parts = []
    tables = schema.MapTable.model_json_schema()
    for table in MAP_TABLES:
        of_table = tables["$defs"].get(table.__name__, tables)
        inherited = [base for base in table.__bases__ if base is not schema.Table and issubclass(base, schema.Table)]
        known = {name for base in inherited for name in base.model_fields}
        rows = ["| key | written as | |", "|---|---|---|"]
        for name, field in table.model_fields.items():
            if name not in known:
                key = f"**`{name}`**" if field.is_required() else f"`{name}`"
                rows.append(f"| {key} | {_form(of_table['properties'][name])} | {field.description} |")
        also = "".join(f" All keys of a {_title(base.__name__)}, and:" for base in inherited)
        title = _title(table.__name__).capitalize()
        parts.append(f"### {title}\n\n{table.__doc__}{also}\n\n" + "\n".join(rows) + "\n")
    return "\n".join(parts)


def _title(table: str) -> str:
    return table.removesuffix("Table").lower()


def _form(of_value: dict[str, Any]) -> str:
    """How a value is written, from its JSON Schema."""
    if "$ref" in of_value:
        return f"{_title(of_value['$ref'].rpartition('/')[2])} (below)"
    if "anyOf" in of_value:
        return " or ".join(_form(one) for one in of_value["anyOf"] if one.get("type") != "null")
    if "enum" in of_value:
        return ", ".join(f"`{word}`" for word in of_value["enum"])
    if "examples" in of_value:
        return f"`{of_value['examples'][0]}`"
    if of_value.get("type") == "array":
        return f"list of {_form(of_value['items'])}"
    if of_value.get("type") == "object":
        named = of_value.get("additionalProperties") or next(iter(of_value["patternProperties"].values()))
        return f"name: {_form(named)}"
    if "pattern" in of_value:
        return "name"
    plain = {"string": "text", "boolean": "`true` or `false`", "integer": "whole number", "number": "number"}
    return plain[of_value["type"]]


def commands(command: object, path: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    """Every command that does something, by the words that call it."""
    inner = getattr(command, "commands", None)
    if not inner or getattr(command, "invoke_without_command", False):
        yield path
    for name, one in (inner or {}).items():
        yield from commands(one, (*path, name))


def help_of(path: tuple[str, ...]) -> str:
    """What a command says to ``--help`` on a terminal of 80 columns."""
    env = {"COLUMNS": "80", "TERMINAL_WIDTH": "80", "NO_COLOR": "1"}
    return CliRunner().invoke(app, [*path, "--help"], env=env).output


def command_page() -> str:
    """The help of every command."""
    parts = ["# Commands\n\nMade from `--help`. Exit codes: 0 fine, 1 our bug, 2 bad input.\n"]
    for path in commands(typer.main.get_command(app)):
        indented = "\n".join(("    " + line).rstrip() for line in help_of(path).strip().splitlines())
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


def handbook_page() -> str:
    """Every formula of the handbook: what it takes and gives, and its source."""
    parts = [
        "# The handbook\n\nMade from the pages of the formulae. Ask one with values, as `knowngood book charge "
        '--capacitance "330 uF" --voltage "400 V" --resistor 2k2`, or find one by words, as `knowngood book what wire '
        "replaces this trace`. A value in brackets may be left out.\n"
    ]
    for name in book.subjects():
        parts.append(f"## {name}\n\n{book.asks(name)}\n")
        for one in book.of_subject(name):
            needed, page = book.needed(one), one.page
            takes = "\n".join(_argument(term, optional=term.name not in needed) for term in page.arguments.values())
            gives = "; ".join(f"{term.name.replace('_', ' ')}: {term.meaning}" for term in page.gives.values())
            notes = "".join(
                f"\n\n{said}" for said in (page.words, page.caution and f"**Caution.** {page.caution}") if said
            )
            parts.append(
                f"### {one.name}\n\n{page.summary}{notes}\n\n    {page.formula}\n\n{takes}\n\nGives {gives}.\n\n"
                f"Source: {page.source}\n"
            )
    return "\n".join(parts)


def _argument(term: Argument, *, optional: bool) -> str:
    name = f"`--{term.name.replace('_', '-')}`"
    return f"- {f'[{name}]' if optional else name}: {term.meaning} ({book.valid(term)})"


PAGES: dict[str, Callable[[], str]] = {
    "map.schema.json": map_schema,
    "kind.schema.json": kind_schema,
    "maps.md": map_page,
    "commands.md": command_page,
    "json.md": json_page,
    "handbook.md": handbook_page,
}
"""The generated pages, by their path in this folder."""


def write(*, check: bool = False) -> list[str]:
    """Writes the pages that are not current, or with ``check`` none; the names of those pages."""
    made = {HERE / name: page() for name, page in PAGES.items()}
    stale = {path: text for path, text in made.items() if not path.exists() or path.read_text("utf-8") != text}
    if not check:
        for path, text in stale.items():
            path.write_text(text, encoding="utf-8")
    return [path.name for path in stale]


def main() -> None:
    """Writes every page."""
    write()


if __name__ == "__main__":
    main()
