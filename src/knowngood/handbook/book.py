"""The book as a person asks it: subjects and their formulae, found by words, answered from quantities as written."""

from __future__ import annotations

import csv
import dataclasses
import io
import math
import typing
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib import import_module
from types import ModuleType
from typing import Any

from knowngood.errors import NotFoundError, QuantityError, RangeError
from knowngood.handbook.formula import Argument, Formula
from knowngood.handbook.quantities import format_quantity, parse_quantity

SUBJECTS = (
    "charge",
    "marks",
    "preferred",
    "parts",
    "capacitors",
    "supplies",
    "sensors",
)
"""The modules of the book, in the order in which it is read."""


@dataclass(frozen=True)
class Value:
    """One figure or word of an answer: an input or a result."""

    name: str
    meaning: str
    value: float | str | bool | tuple[float | str, ...]
    unit: str
    assumed: bool = False
    """An input that was not given: the formula's own default."""

    def text(self) -> str:
        several = self.value if isinstance(self.value, tuple) else (self.value,)
        return ", ".join(shown(one, self.unit) for one in several) or "none"


@dataclass(frozen=True)
class Answer:
    """What a formula said to a person's question."""

    formula: Formula[Any, Any]
    inputs: tuple[Value, ...]
    results: tuple[tuple[Value, ...], ...]
    """One row, or as many as there are readings of what was asked."""


@dataclass(frozen=True)
class Found:
    """What the book said to a question."""

    answers: tuple[Answer, ...]
    refused: tuple[str, ...]
    """Why formulae of the subject that had all they need did not answer."""


@lru_cache(maxsize=1)
def subjects() -> dict[str, ModuleType]:
    """The subjects by name."""
    return {name: import_module(f"knowngood.handbook.{name}") for name in SUBJECTS}


@lru_cache(maxsize=1)
def formulas() -> dict[str, Formula[Any, Any]]:
    """All formulae by name, in the order of the book. A name is in one subject only."""
    found: dict[str, Formula[Any, Any]] = {}
    for subject in subjects().values():
        for one in vars(subject).values():
            if isinstance(one, Formula) and one.function.__module__ == subject.__name__:
                assert one.name not in found, f"two formulae are called {one.name}"
                found[one.name] = one
    return found


def of_subject(name: str) -> list[Formula[Any, Any]]:
    """The formulae of a subject."""
    return [one for one in formulas().values() if one.subject == name]


def find(words: str) -> list[Formula[Any, Any]]:
    """The formulae whose pages hold most of the words, best first; none where no word is found.

    A word counts more in a name or summary than further down, and more the fewer pages hold it.
    """
    said = [word.strip("?,.").lower() for word in words.replace("-", " ").split()]
    asked = [word.rstrip("s") for word in said if len(word) > 1 and word not in _SMALL_WORDS.split()]
    pages = {one.name: (_head(one), _text(one)) for one in formulas().values()}
    rare = {word: math.log(1.0 + len(pages) / (1 + sum(word in text for _, text in pages.values()))) for word in asked}
    score = {
        name: sum(rare[word] * (3.0 * (word in head) + (word in text)) for word in asked)
        for name, (head, text) in pages.items()
    }
    return [formulas()[name] for name in sorted(score, key=lambda name: -score[name]) if score[name] > 0]


_SMALL_WORDS = (
    "what which how does do is are was will can may must should has have had it its this that these those there the an "
    "of on in at to for from by with and or as my me we you be not no into than then when where say says mean means"
)
"""Words of a question that say nothing of its subject."""


def _head(one: Formula[Any, Any]) -> str:
    return f"{one.subject} {one.name.replace('-', ' ')} {one.page.summary}".lower()


def _text(one: Formula[Any, Any]) -> str:
    page = one.page
    terms = [*page.arguments.values(), *page.gives.values()]
    said = " ".join(f"{term.name} {term.meaning} {' '.join(term.choices)}" for term in terms)
    return f"{_head(one)} {page.words} {said} {page.source}".lower()


def ask(topic: str, given: Mapping[str, str]) -> Found:
    """What a formula, or every formula of a subject that has what it needs, says to quantities as written.

    A table is given as the text of its CSV. Raises NotFoundError for an unknown topic, QuantityError for a value that
    is not understood or that nothing here takes, RangeError where a formula is not valid.
    """
    if topic in formulas():
        one = formulas()[topic]
        _known(given, [one], topic)
        missing = [name for name in needed(one) if name not in given]
        if missing:
            raise QuantityError(f"{topic} needs {_options(missing)} as well.")
        return Found((answer(one, given),), ())
    if topic not in subjects():
        raise NotFoundError(f"The book has no topic '{topic}'. It has {', '.join(subjects())}.")
    among = of_subject(topic)
    _known(given, among, topic)
    fitting = [one for one in among if set(needed(one)) <= set(given) and set(given) & set(one.page.arguments)]
    used = {name for one in fitting for name in one.page.arguments}
    if unused := [name for name in given if name not in used]:
        nearest = min(
            (one for one in among if set(unused) & set(one.page.arguments)),
            key=lambda one: len(set(needed(one)) - set(given)),
        )
        short = [name for name in needed(nearest) if name not in given]
        raise QuantityError(f"With {_options(unused)}, {nearest.name} needs {_options(short)} as well.")
    return _valid(
        [(one, {name: text for name, text in given.items() if name in one.page.arguments}) for one in fitting]
    )


def _valid(asked: list[tuple[Formula[Any, Any], dict[str, str]]]) -> Found:
    """The answers of those that are valid for what was given; RangeError if none is."""
    found, refused = [], []
    for one, given in asked:
        try:
            found.append(answer(one, given))
        except RangeError as error:
            refused.append(str(error))
    if not found:
        raise RangeError("\n".join(refused))
    return Found(tuple(found), tuple(refused))


def needed(one: Formula[Any, Any]) -> list[str]:
    """The arguments without a default."""
    return [name for name, had in one.signature.parameters.items() if had.default is had.empty]


def _known(given: Iterable[str], among: list[Formula[Any, Any]], topic: str) -> None:
    known = {name for one in among for name in one.page.arguments}
    for name in given:
        if name not in known:
            raise QuantityError(f"{topic} has no --{name.replace('_', '-')}. It has {_options(sorted(known))}.")


def _options(names: Iterable[str]) -> str:
    return ", ".join(f"--{name.replace('_', '-')}" for name in names)


def answer(one: Formula[Any, Any], given: Mapping[str, str]) -> Answer:
    """A formula applied to quantities as written. Raises QuantityError, RangeError."""
    arguments = {name: _parsed(one, name, text) for name, text in given.items()}
    bound = one.signature.bind(**arguments)
    bound.apply_defaults()
    inputs = tuple(
        _value(one.page.arguments[name], value, assumed=name not in given)
        for name, value in bound.arguments.items()
        if value is not None
    )
    return Answer(one, inputs, _rows(one, one(**arguments)))


def _parsed(one: Formula[Any, Any], name: str, text: str) -> Any:
    argument = one.page.arguments[name]
    if argument.text or argument.choices:
        words = tuple(_chosen(argument, part.strip()) for part in text.split(","))
        return words if one.many(name) else _chosen(argument, text.strip())
    if argument.switch:
        if text not in ("yes", "no"):
            raise QuantityError(f"--{name.replace('_', '-')} is yes or no, not {text!r}.")
        return text == "yes"
    if argument.columns:
        return _table(argument, text)
    if one.many(name):
        return tuple(_number(one, name, part) for part in text.split(","))
    return _number(one, name, text)


def _chosen(argument: Argument, text: str) -> str:
    """The choice that is meant, in whatever case; as it stands where it is none or two are alike."""
    alike = [choice for choice in argument.choices if choice.lower() == text.lower()]
    return alike[0] if len(alike) == 1 else text


def _number(one: Formula[Any, Any], name: str, text: str) -> float:
    value = parse_quantity(text.strip(), one.page.arguments[name].unit)
    kinds = {one.types[name], *typing.get_args(one.types[name])}
    if int in kinds and float not in kinds:
        if value != int(value):
            raise QuantityError(f"--{name.replace('_', '-')} is a whole number, not {text.strip()}.")
        return int(value)
    return value


def _table(argument: Argument, text: str) -> tuple[tuple[float, ...], ...]:
    """Rows of a CSV text; one row of headings may stand first. Raises QuantityError with the line."""
    rows: list[tuple[float, ...]] = []
    dialect = csv.excel if "," in text or ";" not in text else csv.excel_tab
    read = csv.reader(io.StringIO(text), dialect, delimiter=";" if dialect is csv.excel_tab else ",")
    for number, cells in enumerate(read, start=1):
        if not any(cell.strip() for cell in cells):
            continue
        if len(cells) != len(argument.columns):
            raise QuantityError(f"{argument.name}, line {number}: {len(cells)} columns; it is {argument.range_text()}.")
        try:
            rows.append(tuple(parse_quantity(cell, unit) for cell, unit in zip(cells, argument.columns, strict=True)))
        except QuantityError as error:
            if rows or number > 1:
                raise QuantityError(f"{argument.name}, line {number}: {error}") from None
    return tuple(rows)


def _rows(one: Formula[Any, Any], result: Any) -> tuple[tuple[Value, ...], ...]:
    if isinstance(result, tuple) and (not result or dataclasses.is_dataclass(result[0])):
        return tuple(_row(one, each) for each in result)
    return (_row(one, result),)


def _row(one: Formula[Any, Any], result: Any) -> tuple[Value, ...]:
    gives = one.page.gives
    if not dataclasses.is_dataclass(result):
        (only,) = gives.values()
        return (_value(only, result),)
    return tuple(
        _value(each, getattr(result, name)) for name, each in gives.items() if getattr(result, name) is not None
    )


def _value(argument: Argument, value: Any, *, assumed: bool = False) -> Value:
    if argument.columns:
        value = f"{len(value)} rows"
    return Value(argument.name.replace("_", " "), argument.meaning, value, argument.unit, assumed)


_PREFIXED = {"V", "A", "W", "ohm", "F", "H", "J", "C", "Hz", "m", "N", "N m", "S", "Pa", "ohm/m", "H/m", "V/K"}
"""Units that take an SI prefix as a whole."""


def shown(value: float | str | bool, unit: str) -> str:
    """A value with its unit and four digits, as a person writes it: "0.794 s", "1.6 mm^2", "2 h 05 min"."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return value
    if unit == "s":
        return _time(value)
    if unit == "share":
        return f"{100.0 * value:.4g} %"
    if unit == "1/K":
        return f"{1e6 * value:.4g} ppm/K"
    if unit == "m^2":
        return f"{value * 1e6:.4g} mm^2"
    if unit in _PREFIXED:
        return format_quantity(value, unit)
    return f"{value:.4g} {unit}".strip()


def _time(seconds: float) -> str:
    for size, name in ((86400.0 * 365.25, "years"), (86400.0, "days")):
        if seconds >= 2.0 * size:
            return f"{seconds / size:.4g} {name} ({seconds / 3600.0:.0f} h)"
    for size, name in ((3600.0, "h"), (60.0, "min")):
        if seconds >= 2.0 * size:
            return f"{seconds / size:.4g} {name}"
    return format_quantity(seconds, "s")
