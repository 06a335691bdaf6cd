"""Changes places in the text of a map, and leaves all else as the person wrote it."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from knowngood.errors import MapError
from knowngood.maps.load import load_text
from knowngood.maps.read import Path_, Place, read_text

Value = tuple[str, str]
"""A function and one of its keys."""

WIDTH = 118
"""Characters after which a list that is written goes on in the next line."""

NO_TEXT = ("true", "false", "null")
"""Words that YAML takes for something else than text."""


def rewritten(text: str, file: str, values: Mapping[Value, str]) -> str:
    """The text of a map with these values of its functions. Raises MapError if one cannot be changed in place, or the
    map would be wrong."""
    changes = Changes(text, file)
    for (function, key), value in values.items():
        changes.put(("functions", function, key), value)
    changed = changes.made()
    load_text(changed, file)
    return changed


class Changes:
    """Changes to the text of a map that is right, gathered by path and made in one pass."""

    def __init__(self, text: str, file: str) -> None:
        self.document = read_text(text, file)
        self.text = self.document.text
        self._starts = [0, *(found.end() for found in re.finditer("\n", self.text))]
        self._cuts: list[tuple[int, int, str]] = []
        """Start, end and what stands there then."""

    def made(self) -> str:
        """The text with every change made."""
        text = self.text
        cuts = sorted(self._cuts, key=lambda cut: cut[:2])
        for start, end, new in cuts[::-1]:  # from the end, so that the places before stay true
            text = text[:start] + new + text[end:]
        return text

    def put(self, path: Path_, value: str) -> None:
        """A value, as YAML writes it in one line, in place of the one at ``path``, or as a new key beside the first."""
        if path not in self.document.values:
            self._beside_the_first(path, value)
            return
        start = self._at(self.document.values[path])
        if isinstance(self._data(path), (list, dict)):
            start, end = self._after_key(path), self._end(path)
            self._cuts.append((start, end, f" {value}"))
            return
        quote = self.text[start] if self.text[start] in "\"'" else ""
        old = quote + str(self._data(path)) + quote
        if not self.text.startswith(old, start):
            place = self.document.values[path]
            raise MapError([f"{place}: '{old}' is not written here in one piece. Change it to '{value}' by hand."])
        self._cuts.append((start, start + len(old), quote + value + quote))

    def listed(self, path: Path_, names: Sequence[str]) -> None:
        """A list of names at ``path`` as it is to be: what is new is added to it, or it is written anew."""
        old = self._data(path) if path in self.document.values else []
        if list(names) == old:
            return
        if not old or list(names[: len(old)]) != old:
            self.put(path, flow(names))
            return
        new, end = names[len(old) :], self._end(path)
        if self.text[end - 1] == "]":
            self._cuts.append((end - 1, end - 1, "".join(f", {one}" for one in new)))
        else:
            indent = " " * (self.document.values[path].column - 1)
            self._cuts.append((end, end, "".join(f"\n{indent}- {one}" for one in new)))

    def without(self, key: str) -> None:
        """The line of a key of the map itself taken out."""
        line = self.document.keys[key,].line
        self._cuts.append((self._starts[line - 1], self._starts[line], ""))

    def entries(self, section: str, after: str, blocks: Iterable[str]) -> None:
        """New entries at the end of a section; a section that is not there comes after another."""
        new = "".join(f"\n{block}" for block in blocks)
        if not new:
            return
        if (section,) not in self.document.values:
            end = self._end((after,))
            self._cuts.append((end, end, f"\n\n{section}:{new}"))
            return
        place = self.document.values[section,]
        if self.text[self._at(place)] == "{":
            if self._data((section,)):
                raise MapError([f"{place}: '{section}' is written in one line. Give each entry its own line first."])
            self._cuts.append((self._after_key((section,)), self._end((section,)), new))
            return
        end = self._end((section,))
        self._cuts.append((end, end, new))

    # ---- places -----------------------------------------------------------------------------------------------------

    def _at(self, place: Place) -> int:
        return self._starts[place.line - 1] + place.column - 1

    def _data(self, path: Path_) -> Any:
        data = self.document.data
        for key in path:
            data = data[key]
        return data

    def _after_key(self, path: Path_) -> int:
        return self.text.index(":", self._at(self.document.keys[path])) + 1

    def _end(self, path: Path_) -> int:
        """Where a list or table ends: behind its bracket, or behind the last line of its block."""
        start = self._at(self.document.values[path])
        if self.text[start] in "[{":
            return _closing(self.text, start)
        column = self.document.values[path].column - 1
        end = start
        for line in range(self.document.values[path].line - 1, len(self._starts)):
            written = self.text[self._starts[line] :].partition("\n")[0]
            inner = written.strip()
            if inner and not inner.startswith("#"):
                indent = len(written) - len(written.lstrip())
                if self._starts[line] > start and (indent < column or (indent == column and self._left(path, inner))):
                    break
                end = self._starts[line] + len(written.rstrip())
        return end

    def _left(self, path: Path_, inner: str) -> bool:
        """Whether a line that stands as far in as the items of a block is none of them."""
        return isinstance(self._data(path), list) and not inner.startswith("-")

    def _beside_the_first(self, path: Path_, value: str) -> None:
        outer, key = path[:-1], path[-1]
        first = next(iter(self._data(outer)))
        place, name = self.document.keys[*outer, first], self.document.keys.get(outer)
        start = self._at(place)
        line = self.text[self._starts[place.line - 1] : start]
        in_braces = (name is not None and place.line == name.line) or line.strip()
        new = f"{key}: {value}, " if in_braces else f"{key}: {value}\n{line}"
        self._cuts.append((start, start, new))


def _closing(text: str, start: int) -> int:
    """Behind the bracket that closes the one at ``start``."""
    depth, quote = 0, ""
    for index in range(start, len(text)):
        sign = text[index]
        if quote:
            quote = "" if sign == quote else quote
        elif sign in "\"'" and text[index - 1] in " [{,":
            quote = sign
        elif sign in "[{":
            depth += 1
        elif sign in "]}":
            depth -= 1
            if not depth:
                return index + 1
    raise AssertionError("brackets of a text that was read are closed")


def flow(value: object) -> str:
    """A value as YAML writes it in one line."""
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{key}: {flow(one)}" for key, one in value.items()) + "}"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        plain = re.fullmatch(r"[A-Za-z][\w .%+()-]*(?<! )|\d[\d.]* [a-z]+", value) and value not in NO_TEXT
        return value if plain else f'"{value}"'
    if isinstance(value, Iterable):
        return "[" + ", ".join(flow(one) for one in value) + "]"
    return str(value)


def block(name: str, values: Mapping[str, object], remark: str) -> str:
    """An entry of a section, a key a line."""
    lines = [f"  {name}:  # {remark}"]
    for key, value in values.items():
        lines += textwrap.wrap(
            f"{key}: {flow(value)}",
            WIDTH,
            initial_indent="    ",
            subsequent_indent="      ",
            break_long_words=False,
            break_on_hyphens=False,
        )
    return "\n".join(lines)
