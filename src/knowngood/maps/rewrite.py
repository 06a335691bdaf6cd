"""Changes single values in the text of a map, and leaves all else as the person wrote it."""

from __future__ import annotations

from collections.abc import Mapping

from knowngood.errors import MapError
from knowngood.maps.load import load_text
from knowngood.maps.read import Document, Place, read_text

Value = tuple[str, str]
"""A function and one of its keys."""


def rewritten(text: str, file: str, values: Mapping[Value, str]) -> str:
    """The text of a map with these values of its functions. Raises MapError if one cannot be changed in place, or the
    map would be wrong."""
    document = read_text(text, file)
    lines = text.splitlines(keepends=True)
    placed = sorted(values.items(), key=lambda one: _at(document, one[0]), reverse=True)
    for (function, key), value in placed:  # from the end, so that the places before stay true
        path = ("functions", function, key)
        if path in document.values:
            _replace(document, lines, document.values[path], str(document.data["functions"][function][key]), value)
        else:
            _add(document, lines, function, key, value)
    changed = "".join(lines)
    load_text(changed, file)
    return changed


def _at(document: Document, value: Value) -> tuple[int, int]:
    place = document.at_value(("functions", *value))
    return place.line, place.column


def _replace(document: Document, lines: list[str], place: Place, old: str, new: str) -> None:
    line, start = lines[place.line - 1], place.column - 1
    quote = line[start] if line[start] in "\"'" else ""
    if not line[start + len(quote) :].startswith(old + quote):
        raise MapError([f"{place}: '{old}' is not written here in one piece. Change it to '{new}' by hand."])
    end = start + len(old) + 2 * len(quote)
    lines[place.line - 1] = line[:start] + quote + new + quote + line[end:]


def _add(document: Document, lines: list[str], function: str, key: str, value: str) -> None:
    """A key that the function does not have yet, beside its first one."""
    path = ("functions", function)
    first = next(iter(document.data["functions"][function]))
    place, name = document.keys[(*path, first)], document.keys[path]
    line, start = lines[place.line - 1], place.column - 1
    if place.line == name.line or line[:start].strip():  # between braces, where commas part the keys
        lines[place.line - 1] = f"{line[:start]}{key}: {value}, {line[start:]}"
    else:
        lines.insert(place.line - 1, f"{line[:start]}{key}: {value}\n")
