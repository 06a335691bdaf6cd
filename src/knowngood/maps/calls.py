"""An expected value as a call of the handbook: "feedback-output(reference 0.8 V, upper 31k6, lower 10k1) +/- 5 %".

What the formula gives in the unit of the key is the nominal value; what it calls low or lowest, and high or highest,
are the limits. A formula that gives none takes a tolerance behind the call, and one that gives several values in that
unit the name of one before it: "voltage of divider(supply 12 V, upper 10k, lower 4k7) +/- 3 %". Where there are only
limits, the nominal value lies half-way.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from knowngood.errors import QuantityError, RangeError
from knowngood.handbook.quantities import TOLERANCE, Expected, tolerance_width
from knowngood.maps.shape import similar

if TYPE_CHECKING:  # the book is imported when a map has a call: it takes longer than a map without
    from knowngood.handbook.book import Value
    from knowngood.handbook.formula import Formula

LOW, HIGH = ("low", "lowest"), ("high", "highest")
"""What a formula calls a result that is a limit."""

LONGEST_CALL = 240
"""Characters that a call may have."""

_OF = re.compile(r"^(?P<result>[a-z][a-z -]*?) +of +(?P<formula>.*)$")
_ARGUMENT = re.compile(r"^[A-Za-z]")


def is_call(text: str) -> bool:
    """Whether a written value is a call: no quantity has a bracket."""
    return "(" in text


def called(text: str, unit: str) -> Expected:
    """What a call gives in ``unit``. Raises QuantityError with what would be right, RangeError from the formula."""
    from knowngood.handbook import book

    written, name, result, inside, tolerance = _parts(text)
    if name not in book.places():
        raise QuantityError(f"No formula '{name}' in the handbook. {similar(name, book.places())}")
    formula = book.formula_named(name)
    given = _given(formula, inside)
    if missing := [one for one in book.needed(formula) if one not in given]:
        raise QuantityError(f"{name} lacks {_listed(_hyphened(missing))}. It is called as '{_example(formula)}'.")
    try:
        rows = book.answer(formula, given).results
    except QuantityError as error:
        raise QuantityError(f"{name}: {error}") from None
    if len(rows) != 1:
        raise QuantityError(f"{name} gives {len(rows)} answers; an expected value is one. Choose another formula.")
    found = {one.name: float(one.value) for one in rows[0] if one.unit == unit and isinstance(one.value, (int, float))}
    limits = _limits(found)
    nominal = _nominal(name, result, found, limits, rows[0], unit)
    if tolerance:
        if limits:
            raise QuantityError(f"{name} gives limits itself here. Take '{tolerance}' behind it away.")
        width = tolerance_width(TOLERANCE.sub("", tolerance, count=1), nominal, unit)
        limits = nominal - width, nominal + width
    if not limits:
        also = _hyphened(one for one in formula.page.arguments if "tolerance" in one and one not in given)
        or_give = f", or give it {_listed(also)}" if also and any(one in LOW for one in formula.page.gives) else ""
        raise QuantityError(
            f"{name} gives no limits here. Write a tolerance behind it, as '{name}(...) +/- 5 %'{or_give}."
        )
    if not (limits[0] <= nominal <= limits[1] and math.isfinite(limits[1] - limits[0])):
        raise RangeError(f"{name}: its limits do not lie round its value. Check what it is given.")
    return Expected(nominal, *limits, unit, rests_on=written)


def formula_of(call: str) -> Formula[Any, Any]:
    """The formula of a call that was read before."""
    from knowngood.handbook import book

    return book.formula_named(_parts(call)[1])


def _parts(text: str) -> tuple[str, str, str, str, str]:
    """The call, its formula, the result that it names (or ""), what is in its brackets, and what stands behind them."""
    written = " ".join(text.split())
    if len(written) > LONGEST_CALL:
        raise QuantityError(f"a call of {len(written)} characters. At most {LONGEST_CALL} are read.")
    head, _, rest = written.partition("(")
    inside, closed, behind = rest.rpartition(")")
    if not closed:
        raise QuantityError(
            f"'{written}' lacks its ')'. Between braces, where a comma ends the value, write ';' between what is given."
        )
    behind = behind.strip()
    if behind and not TOLERANCE.match(behind):
        raise QuantityError(f"'{behind}' stands behind the call. Only a tolerance may, as '+/- 5 %'.")
    name, result = head.strip(), ""
    if of := _OF.match(name):
        name, result = of["formula"].strip(), of["result"]
    return f"{head}({inside})", name, result, inside, behind


def _given(formula: Formula[Any, Any], inside: str) -> dict[str, str]:
    """The arguments in the brackets by name, each as written: "upper 10k2, lower 3k24"."""
    between = ";" if ";" in inside else ","
    pieces: list[str] = []
    for piece in inside.split(between) if inside.strip() else []:
        if pieces and between == "," and not _ARGUMENT.match(piece.strip()):
            pieces[-1] += between + piece  # "0,8 V", or several values of one argument
        else:
            pieces.append(piece)
    given: dict[str, str] = {}
    known = formula.page.arguments
    for piece in pieces:
        name, _, value = piece.strip().partition(" ")
        argument = name.replace("-", "_")
        if argument not in known:
            raise QuantityError(f"{formula.name} takes no '{name}'. {similar(name, _hyphened(known))}")
        if not value.strip():
            raise QuantityError(f"{formula.name}: '{name}' has no value. Write it as '{_shown(formula, argument)}'.")
        if argument in given:
            raise QuantityError(f"{formula.name}: '{name}' is given twice. Keep one.")
        given[argument] = value.strip()
    return given


def _limits(found: dict[str, float]) -> tuple[float, float] | None:
    """The limits among results in one unit, if both are there and differ."""
    lows, highs = ([found[one] for one in names if one in found] for names in (LOW, HIGH))
    return (lows[0], highs[0]) if lows and highs and lows[0] < highs[0] else None


def _nominal(
    name: str, result: str, found: dict[str, float], limits: tuple[float, float] | None, row: Sequence[Value], unit: str
) -> float:
    """The result that is meant."""
    values = {one: value for one, value in found.items() if one not in (*LOW, *HIGH)}
    if result in values:
        return values[result]
    if result:
        raise QuantityError(f"{name} gives no '{result}' in {unit}. {similar(result, values)}")
    if len(values) > 1:
        raise QuantityError(
            f"{name} gives {_listed(values)} in {unit}. Say which, as '{next(iter(values))} of {name}(...)'."
        )
    if values:
        return next(iter(values.values()))
    if limits:
        return (limits[0] + limits[1]) / 2.0
    gives = _listed(f"{one.name} ({one.unit or 'no unit'})" for one in row)
    raise QuantityError(f"{name} gives {gives}, and {unit} belongs here. Choose a formula that gives {unit}.")


def _example(formula: Formula[Any, Any]) -> str:
    from knowngood.handbook import book

    return f"{formula.name}({', '.join(_shown(formula, one) for one in book.needed(formula))})"


def _shown(formula: Formula[Any, Any], argument: str) -> str:
    """An argument with a value of its kind, to show how it is written."""
    page = formula.page.arguments[argument]
    value = page.choices[0] if page.choices else f"1 {'%' if page.unit == 'share' else page.unit}".strip()
    return f"{argument.replace('_', '-')} {value}"


def _hyphened(names: Iterable[str]) -> list[str]:
    return [one.replace("_", "-") for one in names]


def _listed(names: Iterable[str]) -> str:
    listed = list(names)
    return " and ".join([", ".join(listed[:-1]), listed[-1]] if len(listed) > 1 else listed)
