"""The book as a person asks it: subjects and their formulae, found by words, answered from quantities as written."""

from __future__ import annotations

import csv
import dataclasses
import io
import math
import re
import typing
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib import import_module
from pathlib import Path
from types import ModuleType
from typing import Any

from knowngood.errors import NotFoundError, QuantityError, RangeError
from knowngood.handbook.formula import SAME, Argument, Formula
from knowngood.handbook.quantities import format_quantity, is_bare, parse_quantity, unit_of

SUBJECTS = (
    "marks",
    "preferred",
    "parts",
    "capacitors",
    "supplies",
    "sensors",
    "copper",
    "charge",
    "measuring",
    "shorts",
    "uncertainty",
    "heat",
    "rework",
    "rails",
    "fasteners",
    "safety",
    "cells",
    "exposure",
    "reliability",
    "failures",
    "ordering",
)
"""The modules of the book, or packages of several, in the order in which it is read."""


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
    called: Mapping[str, Any]
    """The arguments as the formula took them, in plain units."""


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
        of_it = {
            one
            for one in vars(subject).values()
            if isinstance(one, Formula) and f"{__package__}.{one.subject}" == subject.__name__
        }
        for one in sorted(of_it, key=_place):
            assert one.name not in found, f"two formulae are called {one.name}"
            found[one.name] = one
    return found


@lru_cache(maxsize=1)
def places() -> dict[str, str]:
    """The module of every formula by its name, read from the source: importing the whole book takes longer than most
    commands."""
    here = Path(__file__).parent
    return {
        name.replace("_", "-"): ".".join((__package__, *path.relative_to(here).with_suffix("").parts))
        for path in here.rglob("*.py")
        for name in _DEFINED.findall(path.read_text(encoding="utf-8"))
    }


_DEFINED = re.compile(r"\n@formula\ndef (\w+)\(")


def formula_named(name: str) -> Formula[Any, Any]:
    """The formula of a name among ``places()``, with no more of the book imported than it takes."""
    found = getattr(import_module(places()[name]), name.replace("-", "_"))
    assert isinstance(found, Formula)
    return found


def _place(one: Formula[Any, Any]) -> tuple[str, int]:
    """Where it stands in the sources: a subject is read in that order."""
    return one.function.__module__, one.function.__code__.co_firstlineno


def asks(name: str) -> str:
    """The questions that a subject answers."""
    return (subjects()[name].__doc__ or "").strip().partition("\n")[0]


def of_subject(name: str) -> list[Formula[Any, Any]]:
    """The formulae of a subject."""
    return [one for one in formulas().values() if one.subject == name]


def find(words: str) -> list[Formula[Any, Any]]:
    """The formulae whose pages hold most of the words, best first; none where no word is found.

    A word counts more in a name or summary than further down, and more the fewer pages hold it.
    """
    said = [word.strip("?,.").lower() for word in words.replace("-", " ").split()]
    small = _SMALL_WORDS.split()
    asked = [word.rstrip("s") for word in said if len(word) > 1 and word not in small and not word[0].isdigit()]
    pages = {one.name: (_head(one), _text(one)) for one in formulas().values()}
    holding = {word: sum(_has(text, word) for _, text in pages.values()) for word in asked}
    rare = {word: math.log((2.0 + len(pages)) / (1.0 + count)) for word, count in holding.items()}
    score = {
        name: sum(rare[word] * (3.0 * _has(head, word) + _has(text, word)) for word in asked)
        for name, (head, text) in pages.items()
    }
    return [formulas()[name] for name in sorted(score, key=lambda name: -score[name]) if score[name] > 0]


_SMALL_WORDS = (
    "what which how does do is are was will can may must should has have had it its this that these those there the an "
    "of on in at to for from by with and or as my me we you be not no into than then when where say says mean means"
)
"""Words of a question that say nothing of its subject."""


def _has(text: str, word: str) -> bool:
    """Whether a word of the text begins so."""
    return re.search(rf"\b{re.escape(word)}", text) is not None


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
    one_unit = _one_unit(one, given)
    arguments = {name: _parsed(one, name, text, one_unit) for name, text in given.items()}
    bound = one.signature.bind(**arguments)
    bound.apply_defaults()
    inputs = tuple(
        _value(one.page.arguments[name], value, one_unit, assumed=name not in given)
        for name, value in bound.arguments.items()
        if value is not None
    )
    return Answer(one, inputs, _rows(one, one(**arguments), one_unit), bound.arguments)


def _one_unit(one: Formula[Any, Any], given: Mapping[str, str]) -> str:
    """The unit in which a person wrote what may be in any; "" where all are bare. Raises QuantityError for two."""
    found: dict[str, str] = {}
    for name, text in given.items():
        if one.page.arguments[name].unit == SAME:
            parts = _listed(text) if one.many(name) else [text]
            for part in (one.strip() for one in parts if not is_bare(one.strip())):
                found.setdefault(unit_of(part), part)
    if len(found) > 1:
        raise QuantityError(f"{one.name}: {' and '.join(found.values())} are in different units; all are in one.")
    return next(iter(found), "")


def _listed(text: str) -> list[str]:
    """Several quantities with commas between; a unit after the last holds for all. Raises QuantityError for a mix."""
    parts = [part.strip() for part in text.split(",")]
    bare = [is_bare(part) for part in parts]
    if all(bare) or not any(bare):
        return parts
    if bare[-1] or not all(bare[:-1]):
        raise QuantityError(f"'{text}': write the unit with each of them, or once after the last.")
    unit = parts[-1].lstrip("+-0123456789.eE").strip()
    return [*(f"{part} {unit}" for part in parts[:-1]), parts[-1]]


def _parsed(one: Formula[Any, Any], name: str, text: str, one_unit: str) -> Any:
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
        return tuple(_number(one, name, part, one_unit) for part in _listed(text))
    return _number(one, name, text, one_unit)


def _chosen(argument: Argument, text: str) -> str:
    """The choice that is meant, in whatever case; as it stands where it is none or two are alike."""
    alike = [choice for choice in argument.choices if choice.lower() == text.lower()]
    return alike[0] if len(alike) == 1 else text


def _number(one: Formula[Any, Any], name: str, text: str, one_unit: str) -> float:
    unit = one.page.arguments[name].unit
    value = parse_quantity(text.strip(), one_unit if unit == SAME else unit)
    kinds = {one.types[name], *typing.get_args(one.types[name])}
    if int in kinds and float not in kinds:
        if value != int(value):
            raise QuantityError(f"--{name.replace('_', '-')} is a whole number, not {text.strip()}.")
        return int(value)
    return value


def _table(argument: Argument, text: str) -> tuple[tuple[float, ...], ...]:
    """Rows of a CSV text by semicolons, tabs or commas; headings may stand first. Raises QuantityError."""
    rows: list[tuple[float, ...]] = []
    delimiter = next((one for one in (";", "\t") if one in text), ",")
    for number, cells in enumerate(csv.reader(io.StringIO(text), delimiter=delimiter), start=1):
        if not any(cell.strip() for cell in cells) or (number == 1 and not any(map(_starts_as_number, cells))):
            continue
        if len(cells) != len(argument.columns):
            raise QuantityError(f"{argument.name}, line {number}: {len(cells)} columns; it is {argument.range_text()}.")
        try:
            rows.append(tuple(parse_quantity(cell, unit) for cell, unit in zip(cells, argument.columns, strict=True)))
        except QuantityError as error:
            raise QuantityError(f"{argument.name}, line {number}: {error}") from None
    return tuple(rows)


def _starts_as_number(cell: str) -> bool:
    return cell.strip()[:1] in tuple("+-.0123456789")


def _rows(one: Formula[Any, Any], result: Any, one_unit: str) -> tuple[tuple[Value, ...], ...]:
    if isinstance(result, tuple) and (not result or dataclasses.is_dataclass(result[0])):
        return tuple(_row(one, each, one_unit) for each in result)
    return (_row(one, result, one_unit),)


def _row(one: Formula[Any, Any], result: Any, one_unit: str) -> tuple[Value, ...]:
    gives = one.page.gives
    if not dataclasses.is_dataclass(result):
        (only,) = gives.values()
        return (_value(only, result, one_unit),)
    return tuple(
        _value(each, getattr(result, name), one_unit)
        for name, each in gives.items()
        if getattr(result, name) is not None
    )


def _value(argument: Argument, value: Any, one_unit: str, *, assumed: bool = False) -> Value:
    if argument.columns:
        value = f"{len(value)} rows"
    unit = one_unit if argument.unit == SAME else argument.unit
    return Value(argument.name.replace("_", " "), argument.meaning, value, unit, assumed)


_PREFIXED = {"V", "A", "W", "ohm", "F", "H", "J", "C", "Hz", "m", "N", "N m", "S", "Pa", "ohm/m", "H/m", "V/K"}
"""Units that take an SI prefix as a whole."""

_SCALED = {"m^2": (1e6, "mm^2"), "m^3": (1e3, "l"), "kg/m^3": (1e6, "mg/m^3")}
"""Units of the bench for plain ones of another size."""
NOTHING = 1e-21
"""What is smaller in such a unit is shown as 0."""


def valid(argument: Argument) -> str:
    """What is valid for an argument, as a person writes it: "above 0 to 1 Gohm"."""
    numeric = not (argument.choices or argument.columns or argument.text or argument.switch)
    if not numeric or argument.unit not in _PREFIXED | set(_SCALED) | {"s", "share"} or math.isinf(argument.low):
        return argument.range_text()
    low = "0" if argument.low == 0.0 else shown(argument.low, argument.unit)
    if math.isinf(argument.high):
        return f"above {low}" if argument.above else f"{low} or more"
    return f"{'above ' if argument.above else ''}{low} to {shown(argument.high, argument.unit)}"


def shown(value: float | str | bool, unit: str) -> str:
    """A value with its unit and four digits, as a person writes it: "0.794 s", "1.6 mm^2", "2 h 05 min"."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return value
    if unit == "s":
        return _time(value)
    if unit == "N m" and abs(value) < 1.0:
        return f"{value * 100.0:.4g} cN m"
    if unit == "m^3/s":
        return f"{value * 1e3:.4g} L/s"
    if unit == "m^3" and abs(value) < 1e-5:
        return f"{value * 1e9:.4g} mm^3"
    if unit in _SCALED and abs(value) < 1.0:
        scale, name = _SCALED[unit]
        return f"{value * scale:.4g} {name}"
    if unit == "share":
        return "below 0.0001 %" if 0.0 < value < 1e-6 else f"{100.0 * value:.4g} %"
    if unit == "1/K":
        return f"{1e6 * value:.4g} ppm/K"
    if unit == "V/m":
        return f"{format_quantity(value / 1e3, 'V')}/mm"
    if unit in _PREFIXED:
        return format_quantity(0.0 if abs(value) < NOTHING else value, unit)
    return f"{value:.4g} {unit}".strip()


def _time(seconds: float) -> str:
    year = 86400.0 * 365.25
    if seconds >= 2.0 * year:
        return f"{seconds / year:.4g} years ({seconds / 3600.0:.0f} h)"
    for size, least, name in ((86400.0, 5.0, "days"), (3600.0, 2.0, "h"), (60.0, 2.0, "min")):
        if seconds >= least * size:
            return f"{seconds / size:.4g} {name}"
    return format_quantity(seconds, "s")
