"""Reads a YAML file into plain data and keeps the line and column of every key and value.

Scalars are taken as written: only ``true``, ``false``, numbers and an empty value mean anything but text, so that
``on``, ``off`` and ``no`` stay the words that they are at the bench. The file is read as a stream of events, so no
input, however deep or long, can exhaust the interpreter.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import takewhile
from pathlib import Path
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.error import MarkedYAMLError, YAMLError
from ruamel.yaml.events import (
    AliasEvent,
    DocumentStartEvent,
    MappingEndEvent,
    MappingStartEvent,
    ScalarEvent,
    SequenceEndEvent,
    SequenceStartEvent,
    StreamEndEvent,
)

Path_ = tuple[str | int, ...]

DEEPEST = 16
"""Tables within tables that are still read; a map needs half of that."""

_NUMBER = re.compile(r"^-?[0-9]{1,15}(\.[0-9]{1,15})?$")
_STARTS = (MappingStartEvent, SequenceStartEvent)
_ENDS = (MappingEndEvent, SequenceEndEvent)

_PLAIN_WORDS = (
    ("mapping values", "A colon stands where none can. Is a text with a colon not in quotes, or the indent off?"),
    ("end of stream", "The quotes that open at line {opened} are never closed."),
    ("',' or ']'", "The list that opens at line {opened} with '[' lacks its ']', or a comma."),
    ("',' or '}'", "The table that opens at line {opened} with '{{' lacks its '}}', or a comma."),
    ("expected key", "This does not line up with the table that begins at line {opened}. Check indent and quotes."),
    ("expected '-'", "This does not line up with the list that begins at line {opened}. Check indent and quotes."),
)
"""What to say, by a piece of what the YAML parser says."""


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


class _TooDeepError(Exception):
    """Nesting passed the limit; the rest of the file is not read."""


def read_text(text: str, file: str) -> Document:
    """Reads YAML text; ``file`` is the name used in messages."""
    document = Document(file, text.removeprefix("\ufeff"))
    try:
        _read_events(iter(YAML(typ="safe").parse(document.text)), document)
    except _TooDeepError:
        pass  # its finding is there; reading on would cost the YAML parser the square of the depth
    except MarkedYAMLError as error:
        document.findings.append(_unreadable(error, document))
    except YAMLError as error:
        reason = str(error).splitlines()[0]
        document.findings.append(Finding("yaml", Place(file, 1, 1), f"Not readable as YAML: {reason}."))
    if document.findings:
        document.data = None
    return document


def _unreadable(error: Any, document: Document) -> Finding:
    mark = error.problem_mark or error.context_mark
    place = Place(document.file, mark.line + 1, mark.column + 1)
    opened = (error.context_mark or mark).line + 1
    for piece, words in _PLAIN_WORDS:
        if piece in error.problem:
            return Finding("yaml", place, words.format(opened=opened))
    if "start any token" in error.problem:
        character = document.text[mark.index]
        if character == "\t":
            return Finding("yaml", place, "A tab stands here. YAML indents with spaces: put spaces in its place.")
        return Finding("yaml", place, f"A text cannot begin with '{character}'. Put it in quotes.")
    return Finding("yaml", place, f"Not readable as YAML: {error.problem}. Check indent, colons and quotes here.")


def _read_events(events: Iterator[Any], document: Document) -> None:
    next(events)
    if isinstance(next(events), StreamEndEvent):
        message = "The file is empty. A map starts with 'map: NAME'."
        document.findings.append(Finding("empty", Place(document.file, 1, 1), message))
        return
    document.data = _value(next(events), events, (), document)
    for event in events:
        if isinstance(event, DocumentStartEvent):
            message = "A second document starts here ('---'). A map is one document: take this line out."
            document.findings.append(Finding("yaml", _place(document, event), message))
            break
    if not isinstance(document.data, dict):
        message = "The file is not a table of keys. A map starts with 'map: NAME'."
        document.findings.append(Finding("not-a-table", document.values[()], message))


def _place(document: Document, event: Any) -> Place:
    return Place(document.file, event.start_mark.line + 1, event.start_mark.column + 1)


def _value(event: Any, events: Iterator[Any], path: Path_, document: Document) -> Any:
    """The plain value that starts with ``event``; takes all that belongs to it from ``events``."""
    document.values[path] = _place(document, event)
    _refuse_marks(event, document)
    if isinstance(event, AliasEvent):
        return None
    if isinstance(event, ScalarEvent):
        return _scalar(event)
    if len(path) == DEEPEST:
        message = f"This is nested {DEEPEST} deep. No part of a map is: check brackets and indent."
        document.findings.append(Finding("too-deep", document.values[path], message))
        raise _TooDeepError
    if isinstance(event, SequenceStartEvent):
        items = takewhile(lambda one: not isinstance(one, SequenceEndEvent), events)
        return [_value(item, events, (*path, index), document) for index, item in enumerate(items)]
    table: dict[str, Any] = {}
    for key_event in takewhile(lambda one: not isinstance(one, MappingEndEvent), events):
        here = _place(document, key_event)
        _refuse_marks(key_event, document)
        if not isinstance(key_event, ScalarEvent):
            message = "A key is one word, not a list, a table or an alias. Write 'key: value'."
            document.findings.append(Finding("not-a-key", here, message))
            _skip(key_event, events)
            _skip(next(events), events)
            continue
        key = str(key_event.value)
        if key in table:
            first = document.keys[(*path, key)]
            message = (
                f"'{key}' is declared twice; the first is at line {first.line}. Keep one, or give each its own name."
            )
            document.findings.append(Finding("declared-twice", here, message))
            _skip(next(events), events)
            continue
        document.keys[(*path, key)] = here
        table[key] = _value(next(events), events, (*path, key), document)
    return table


def _refuse_marks(event: Any, document: Document) -> None:
    """Anchors, aliases and tags are dropped by YAML without a word; here they are mistakes."""
    if event.anchor is not None:
        mark = "*" if isinstance(event, AliasEvent) else "&"
        message = (
            f"'{mark}{event.anchor}' is taken for an anchor or alias, which maps do not have. "
            "Write the value out, or put the text in quotes."
        )
        document.findings.append(Finding("alias", _place(document, event), message))
    tag = getattr(event, "tag", None)
    if tag is not None:
        message = f"'{tag}' is taken for a tag, which maps do not have. Put the text in quotes."
        document.findings.append(Finding("tag", _place(document, event), message))


def _skip(event: Any, events: Iterator[Any]) -> None:
    depth = int(isinstance(event, _STARTS))
    while depth:
        inner = next(events)
        depth += isinstance(inner, _STARTS) - isinstance(inner, _ENDS)


def _scalar(event: Any) -> Any:
    text: str = event.value
    if event.style in ("'", '"', "|", ">"):
        return text
    if text in ("", "~", "null"):
        return None
    if text in ("true", "false"):
        return text == "true"
    if _NUMBER.match(text):
        return float(text) if "." in text else int(text)
    return text
