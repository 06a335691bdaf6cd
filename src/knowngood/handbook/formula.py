"""A formula of the book: a pure function whose docstring is its page, and holds it to what the page promises.

The docstring is the one place that says what an argument means, its unit and its valid range. It is read here, shown
by ``knowngood book``, and enforced at every call: outside its range a formula refuses, it never extrapolates. ::

    @formula
    def energy(capacitance: float, voltage: float) -> float:
        '''What a charged capacitor holds.

        Formula: E = C V^2 / 2
        Args:
            capacitance: of the capacitor (F, above 0 to 100)
            voltage: across it (V, 0 to 1e6)
        Gives:
            energy: that it holds (J)
        Source: circuit theory
        Caution: Measure it; a calculation is no proof that it is empty.

        >>> energy(470e-6, 325.0)
        24.821875
        '''

A range is ``UNIT, LOW to HIGH`` with ``above`` before a lower bound that is itself outside; ``above 0`` alone has no
upper end, ``any`` no end at all; the unit ``1`` is a plain number, ``share`` a part of a whole (1 is 100 %).
``one of a, b`` is a choice, ``text`` free text, ``yes or no`` a switch, and ``rows of UNIT, UNIT`` a table. A unit is
the plain SI unit (degC for temperatures on a scale, K for differences).
"""

from __future__ import annotations

import inspect
import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property, update_wrapper
from typing import Any, Generic, ParamSpec, TypeVar, get_origin, get_type_hints

from knowngood.errors import RangeError

P = ParamSpec("P")
R = TypeVar("R", covariant=True)


@dataclass(frozen=True)
class Argument:
    """An argument or a result of a formula, as its page has it."""

    name: str
    meaning: str
    unit: str
    """The plain SI unit; "" for a plain number, a choice or a text."""
    low: float = -math.inf
    high: float = math.inf
    above: bool = False
    """The lower bound is itself outside."""
    choices: tuple[str, ...] = ()
    columns: tuple[str, ...] = ()
    """The units of a table's columns."""
    text: bool = False
    switch: bool = False

    def range_text(self) -> str:
        """What is valid, in words."""
        if self.choices:
            return "one of " + ", ".join(self.choices)
        if self.columns:
            return "rows of " + ", ".join(self.columns)
        if self.text or self.switch:
            return "text" if self.text else "yes or no"
        scale, unit = (100.0, "%") if self.unit == "share" else (1.0, self.unit)
        words = []
        if math.isfinite(self.low):
            words.append(f"above {scale * self.low:g}" if self.above else f"{scale * self.low:g}")
        if math.isfinite(self.high):
            words.append(f"to {scale * self.high:g}" if words else f"up to {scale * self.high:g}")
        elif words and not self.above:
            words.append("or more")
        return " ".join([*words, unit]).strip() or "any number"

    def refuse(self, value: object, formula: str) -> None:
        """Raises RangeError if ``value``, or one of several, is outside."""
        if isinstance(value, tuple):
            for one in value:
                self.refuse(one, formula)
        elif self.choices and value not in self.choices:
            raise RangeError(f"{formula}: {self.name} is {value!r}; it is {self.range_text()}.")
        elif isinstance(value, (int, float)) and not isinstance(value, bool):
            beyond = value <= self.low if self.above else value < self.low
            if math.isnan(value) or math.isinf(value) or beyond or value > self.high:
                said = f"{100.0 * value:.6g} %" if self.unit == "share" else f"{value:.6g} {self.unit}".rstrip()
                raise RangeError(f"{formula}: {self.name} is {said}; valid is {self.range_text()}.")


@dataclass(frozen=True)
class Page:
    """What a docstring says of its formula."""

    summary: str
    words: str
    """What follows the summary: the method, and what the figure leaves out."""
    formula: str
    arguments: Mapping[str, Argument]
    gives: Mapping[str, Argument]
    source: str
    caution: str
    """"" where nobody can be hurt."""


class PageError(Exception):
    """A docstring is not a page: a mistake in this program."""


class Formula(Generic[P, R]):
    """A function of the book. Called, it refuses what its page does not cover (RangeError), then computes."""

    def __init__(self, function: Callable[P, R]) -> None:
        self.function = function
        self.name = function.__name__.replace("_", "-")
        self.subject = function.__module__.rpartition(".")[2]
        update_wrapper(self, function)

    def __call__(self, *args: P.args, **kwargs: P.kwargs) -> R:
        bound = self.signature.bind(*args, **kwargs)
        for name, value in bound.arguments.items():
            self.page.arguments[name].refuse(value, self.name)
        return self.function(*args, **kwargs)

    @cached_property
    def signature(self) -> inspect.Signature:
        return inspect.signature(self.function)

    @cached_property
    def types(self) -> dict[str, Any]:
        """The types of the arguments, by name."""
        return get_type_hints(self.function)

    def many(self, name: str) -> bool:
        """Whether an argument takes several values."""
        return get_origin(self.types[name]) is tuple

    @cached_property
    def page(self) -> Page:
        page = read_page(self.function.__doc__ or "", self.name)
        if list(page.arguments) != list(self.signature.parameters):
            raise PageError(f"{self.name}: the arguments of its page are not those of its signature, in order.")
        return page


def formula(function: Callable[P, R]) -> Formula[P, R]:
    """Makes a function one of the book's."""
    return Formula(function)


_HEADS = ("Formula", "Args", "Gives", "Source", "Caution")
_HEAD = re.compile(rf"^({'|'.join(_HEADS)}):\s*(.*)$")
_ITEM = re.compile(r"^(?P<name>\w+): (?P<meaning>.*) \((?P<range>[^()]*)\)$", re.DOTALL)


def read_page(docstring: str, name: str) -> Page:
    """The page that a docstring is. Raises PageError with what is missing."""
    blocks: dict[str, list[str]] = {"": []}
    head = ""
    for line in inspect.cleandoc(docstring).splitlines():
        if line.startswith(">>>"):
            break
        if found := _HEAD.match(line):
            head = found[1]
            blocks[head] = [found[2]] if found[2] else []
        else:
            blocks[head].append(line)
    missing = [one for one in _HEADS[:-1] if one not in blocks]
    if missing or ">>>" not in docstring:
        raise PageError(f"{name}: its docstring lacks {', '.join(missing) or 'a worked example'}.")
    summary, _, words = "\n".join(blocks[""]).strip().partition("\n")
    return Page(
        summary=summary,
        words=_flowed(words.splitlines()),
        formula=_flowed(blocks["Formula"]),
        arguments={one.name: one for one in _items(blocks["Args"], name)},
        gives={one.name: one for one in _items(blocks["Gives"], name)},
        source=_flowed(blocks["Source"]),
        caution=_flowed(blocks.get("Caution", [])),
    )


def _flowed(lines: list[str]) -> str:
    return " ".join(" ".join(lines).split())


def _items(lines: list[str], formula: str) -> list[Argument]:
    """Entries of a block; one that goes on is indented further than its first line."""
    entries: list[str] = []
    for line in (one for one in lines if one.strip()):
        if line.startswith(" " * 8) and entries:
            entries[-1] += " " + line.strip()
        else:
            entries.append(line.strip())
    return [_item(entry, formula) for entry in entries]


def _item(entry: str, formula: str) -> Argument:
    found = _ITEM.match(entry)
    if found is None:
        raise PageError(f"{formula}: {entry!r} is not 'name: meaning (UNIT, LOW to HIGH)'.")
    name, meaning, valid = found["name"], found["meaning"], found["range"].strip()
    if valid == "text":
        return Argument(name, meaning, "", text=True)
    if valid == "yes or no":
        return Argument(name, meaning, "", switch=True)
    for lead in ("one of ", "rows of "):
        if valid.startswith(lead):
            parts = tuple(part.strip() for part in valid.removeprefix(lead).split(","))
            return (
                Argument(name, meaning, "", choices=parts)
                if lead == "one of "
                else Argument(name, meaning, "", columns=parts)
            )
    unit, _, span = valid.partition(",")
    unit = "" if unit == "1" else unit
    span = span.strip()
    if span in ("", "any"):
        return Argument(name, meaning, unit)
    low, _, high = span.removeprefix("above ").partition(" to ")
    try:
        ends = float(low), float(high) if high else math.inf
    except ValueError:
        raise PageError(f"{formula}: the range {span!r} of {name} is not 'LOW to HIGH'.") from None
    return Argument(name, meaning, unit, *ends, above=span.startswith("above "))
