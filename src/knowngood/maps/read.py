"""Reads a YAML file into plain data and keeps the line and column of every key and value.

Scalars are taken as written: only ``true``, ``false``, numbers and an empty value mean anything but text, so that
``on``, ``off`` and ``no`` stay the words that they are at the bench.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.error import MarkedYAMLError, YAMLError
from ruamel.yaml.nodes import MappingNode, ScalarNode, SequenceNode

Path_ = tuple[str | int, ...]
_NUMBER = re.compile(r"^-?\d+(\.\d+)?$")


@dataclass(frozen=True)
class Place:
    """A position in a file; lines and columns count from one."""

    file: str
    line: int
    column: int

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"


@dataclass(frozen=True)
class Finding:
    """Something wrong in a file: the rule that found it, where, what, and what would be right."""

    rule: str
    place: Place
    message: str

    def __str__(self) -> str:
        return f"{self.place}: {self.message}"


@dataclass
class Document:
    """The data of a file with the place of each key and value by path."""

    file: str
    text: str
    data: Any = None
    keys: dict[Path_, Place] = field(default_factory=dict)
    values: dict[Path_, Place] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)

    def at_key(self, path: Path_) -> Place:
        """Place of the key at ``path``, or of the nearest thing around it."""
        return self._nearest(self.keys, path)

    def at_value(self, path: Path_) -> Place:
        """Place of the value at ``path``, or of the nearest thing around it."""
        if path in self.values:
            return self.values[path]
        return self._nearest(self.keys, path)

    def _nearest(self, places: dict[Path_, Place], path: Path_) -> Place:
        while path:
            if path in places:
                return places[path]
            if path in self.values:
                return self.values[path]
            path = path[:-1]
        return Place(self.file, 1, 1)


def read_file(path: Path) -> Document:
    """Reads a file; what is wrong with it as YAML is in ``findings`` and then ``data`` is None."""
    try:
        text = path.read_text(encoding="utf-8")
    except OSError as error:
        document = Document(str(path), "")
        document.findings.append(
            Finding("readable", Place(str(path), 1, 1), f"The file cannot be read: {error.strerror}. Check its name.")
        )
        return document
    except UnicodeDecodeError as error:
        document = Document(str(path), "")
        line = path.read_bytes()[: error.start].count(b"\n") + 1
        document.findings.append(
            Finding("readable", Place(str(path), line, 1), "This line is not UTF-8 text. Save the file as UTF-8.")
        )
        return document
    return read_text(text, str(path))


def read_text(text: str, file: str) -> Document:
    """Reads YAML text; ``file`` is the name used in messages."""
    document = Document(file, text)
    try:
        root = YAML(typ="safe").compose(text)
    except MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        place = Place(file, mark.line + 1, mark.column + 1) if mark else Place(file, 1, 1)
        context = f" {error.context}" if error.context else ""
        document.findings.append(
            Finding(
                "yaml", place, f"Not readable as YAML{context}: {error.problem}. Check indent, colons and quotes here."
            )
        )
        return document
    except YAMLError as error:
        document.findings.append(Finding("yaml", Place(file, 1, 1), f"Not readable as YAML: {error}."))
        return document
    if root is None:
        document.findings.append(
            Finding("empty", Place(file, 1, 1), "The file is empty. A map starts with 'map: NAME'.")
        )
        return document
    if not isinstance(root, MappingNode):
        document.findings.append(
            Finding("not-a-table", Place(file, 1, 1), "The file is not a table of keys. A map starts with 'map: NAME'.")
        )
        return document
    document.data = _plain(root, (), document, set())
    return document


def _plain(node: Any, path: Path_, document: Document, seen: set[int]) -> Any:
    place = Place(document.file, node.start_mark.line + 1, node.start_mark.column + 1)
    document.values[path] = place
    if not isinstance(node, ScalarNode):
        if id(node) in seen:
            document.findings.append(
                Finding("alias", place, "Anchors and aliases (& and *) are not part of a map. Write the values out.")
            )
            return None
        seen.add(id(node))
    if isinstance(node, MappingNode):
        table: dict[str, Any] = {}
        for key_node, value_node in node.value:
            key = str(key_node.value)
            here = Place(document.file, key_node.start_mark.line + 1, key_node.start_mark.column + 1)
            if key in table:
                first = document.keys[(*path, key)]
                document.findings.append(
                    Finding(
                        "declared-twice",
                        here,
                        f"'{key}' is declared twice; the first is at line {first.line}. "
                        "Keep one, or give each its own name.",
                    )
                )
                continue
            document.keys[(*path, key)] = here
            table[key] = _plain(value_node, (*path, key), document, seen)
        return table
    if isinstance(node, SequenceNode):
        return [_plain(item, (*path, index), document, seen) for index, item in enumerate(node.value)]
    return _scalar(node)


def _scalar(node: Any) -> Any:
    text: str = node.value
    if node.style in ("'", '"', "|", ">"):
        return text
    if text in ("", "~", "null"):
        return None
    if text in ("true", "false"):
        return text == "true"
    if _NUMBER.match(text):
        return float(text) if "." in text else int(text)
    return text
