"""The shape pass: is every key known, present and of the right form? Turns pydantic's errors into findings."""

from __future__ import annotations

import difflib
import re
import typing
import unicodedata
from collections.abc import Iterable
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from knowngood.maps.read import Document, Finding, Path_

T = TypeVar("T", bound=BaseModel)

LONGEST_SHOWN = 60
"""Characters of a wrong value that a message repeats."""


def shape(document: Document, table: type[T], path: Path_ = ()) -> T | None:
    """The part of the document at ``path`` as ``table``, or None with the findings added to the document."""
    data = document.data
    for key in path:
        data = data[key]
    try:
        return table.model_validate(data)
    except ValidationError as error:
        for one in error.errors(include_url=False, include_context=True):
            document.findings.append(_finding(document, table, path, one))
        return None


def nearest(name: str, known: Iterable[str]) -> list[str]:
    """Up to three known names that look like ``name``, the most alike first."""
    names = list(known)
    close = difflib.get_close_matches(name, names, n=3, cutoff=0.6)
    return close or [one for one in names if name and (name in one or one in name)][:3]


def similar(name: str, known: Iterable[str]) -> str:
    """A sentence that names what is near, to end a message with; says what there is when nothing is near."""
    names = sorted(set(known))
    close = nearest(name, names)
    if close:
        return "Similar: " + ", ".join(f"'{one}'" for one in close) + "."
    if not names:
        return "There are none yet."
    listed = ", ".join(f"'{one}'" for one in names[:8])
    return f"There are: {listed}" + (f" and {len(names) - 8} more." if len(names) > 8 else ".")


def as_name(text: str) -> str:
    """The nearest right name: lower-case words joined by hyphens."""
    plain = unicodedata.normalize("NFKD", text.lower()).encode("ascii", "ignore").decode()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-") or "a-name"


def not_a_name(text: str) -> str:
    """The message for a name that is none."""
    return (
        f"{_shown(text)} is not a name: lower-case words joined by hyphens. "
        f"Right would be '{as_name(text)[:LONGEST_SHOWN]}'."
    )


def _finding(document: Document, table: type[BaseModel], base: Path_, error: Any) -> Finding:
    location: Path_ = error["loc"]
    wrong_key = location[-1:] == ("[key]",) and (*base, *location) not in document.keys
    if wrong_key:
        location = location[:-1]
    path = (*base, *location)
    value, kind = error["input"], error["type"]
    key = next((one for one in reversed(location) if isinstance(one, str)), "")
    if kind == "extra_forbidden":
        known = _keys_at(table, location[:-1])
        return Finding("unknown-key", document.at_key(path), f"No key '{key}' here. {similar(key, known)}")
    if kind == "missing":
        message = f"'{key}' is missing here. Add '{key}: ...'{_meaning(table, location)}."
        return Finding("missing-key", document.at_key(path[:-1]), message)
    if wrong_key and kind == "string_pattern_mismatch":
        return Finding("not-a-name", document.at_key(path), not_a_name(value))
    if kind == "string_pattern_mismatch":
        return Finding("not-a-name", document.at_value(path), f"{key}: {not_a_name(value)}")
    if kind == "literal_error":
        choices = re.findall(r"'([^']+)'", error["ctx"]["expected"])
        return Finding(
            "not-a-choice",
            document.at_value(path),
            f"{key}: {_shown(value)} is not one of its words. {_choose(value, choices)}",
        )
    if kind == "value_error":
        return Finding("not-a-quantity", document.at_value(path), f"{key}: {error['ctx']['error']}")
    return Finding("wrong-form", document.at_value(path), f"{key or 'file'}: {_plain_words(error)}")


def _choose(value: object, choices: list[str]) -> str:
    close = difflib.get_close_matches(str(value), choices, n=1)
    if close:
        return f"Similar: '{close[0]}'. All: " + ", ".join(choices) + "."
    return "Choose: " + ", ".join(choices) + "."


def _plain_words(error: Any) -> str:
    kind, context = error["type"], error.get("ctx", {})
    shown = _shown(error["input"])
    wanted = {
        "string_type": "text",
        "dict_type": "a table of keys",
        "model_type": "a table of keys",
        "list_type": "a list",
        "bool_type": "true or false",
        "bool_parsing": "true or false",
        "int_type": "a whole number",
        "int_parsing": "a whole number",
        "int_parsing_size": "a whole number",
        "float_type": "a number",
        "float_parsing": "a number",
    }.get(kind)
    if kind == "string_type" and isinstance(error["input"], (bool, int, float)):
        return f"{shown} stands where text belongs. Put it in quotes: '{shown}'."
    if kind == "list_type" and isinstance(error["input"], str):
        return f"{shown} stands where a list belongs. Write it as [{error['input'][:LONGEST_SHOWN]}]."
    if wanted:
        return f"{shown} stands where {wanted} belongs."
    if kind == "finite_number":
        return f"{shown} is too large or no number at all."
    if kind == "too_short":
        return f"needs at least {context['min_length']} entries, has {context['actual_length']}."
    if kind == "too_long":
        return f"takes at most {context['max_length']} entries, has {context['actual_length']}."
    if kind == "greater_than":
        return f"{shown} must be more than {context['gt']:g}."
    if kind == "greater_than_equal":
        return f"{shown} must be at least {context['ge']:g}."
    return f"{shown}: {error['msg']}."


def _shown(value: object) -> str:
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, (dict, list)):
        return "a table" if isinstance(value, dict) else "a list"
    return repr(value) if len(str(value)) <= LONGEST_SHOWN else f"'{str(value)[:LONGEST_SHOWN]}...'"


def _meaning(table: type[BaseModel], location: Path_) -> str:
    """What a missing key is for, from its description."""
    owner = _table_at(table, location[:-1])
    about = owner.model_fields[str(location[-1])].description if owner else None
    return f" ({about[0].lower()}{about[1:]})" if about else ""


def _keys_at(table: type[BaseModel], location: Path_) -> list[str]:
    owner = _table_at(table, location)
    return list(owner.model_fields) if owner else []


def _table_at(table: type[BaseModel], location: Path_) -> type[BaseModel] | None:
    current: Any = table
    for part in location:
        if isinstance(current, type) and issubclass(current, BaseModel):
            current = current.model_fields[str(part)].annotation
        else:
            current = typing.get_args(current)[-1]
        current = _without_none(current)
    return current if isinstance(current, type) and issubclass(current, BaseModel) else None


def _without_none(annotation: Any) -> Any:
    arguments = [one for one in typing.get_args(annotation) if one is not type(None)]
    is_union = type(None) in typing.get_args(annotation)
    return arguments[0] if is_union and len(arguments) == 1 else annotation
