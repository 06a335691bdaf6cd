"""Every formula of the book keeps to its page: arguments, worked example, and refusal outside the valid range."""

from __future__ import annotations

import doctest
import math
import sys
from typing import Any

import pytest

from knowngood.errors import RangeError
from knowngood.handbook import book
from knowngood.handbook.formula import Argument, Formula, PageError, formula, read_page

FORMULAS = list(book.formulas().values())


def named(one: Formula[Any, Any]) -> str:
    return one.name


@pytest.mark.parametrize("one", FORMULAS, ids=named)
def test_the_worked_example_of_a_page_comes_out(one: Formula[Any, Any]) -> None:
    module = sys.modules[one.function.__module__]
    examples = doctest.DocTestParser().get_doctest(one.function.__doc__ or "", vars(module), one.name, None, None)
    assert any(one.function.__name__ in each.source for each in examples.examples)
    said: list[str] = []
    outcome = doctest.DocTestRunner().run(examples, out=said.append)
    assert outcome.failed == 0, "".join(said)


@pytest.mark.parametrize("one", FORMULAS, ids=named)
def test_a_page_names_the_arguments_of_its_formula_and_its_source(one: Formula[Any, Any]) -> None:
    page = one.page
    assert list(page.arguments) == list(one.signature.parameters)
    assert page.summary.endswith(".")
    assert page.source
    assert page.formula
    assert page.gives


@pytest.mark.parametrize("one", FORMULAS, ids=named)
def test_a_formula_refuses_what_is_outside_its_range(one: Formula[Any, Any]) -> None:
    fine = {name: inside(one, argument) for name, argument in one.page.arguments.items()}
    for name, argument in one.page.arguments.items():
        for beyond in outside(argument):
            value = (beyond,) if one.many(name) else beyond
            with pytest.raises(RangeError, match=f"{one.name}: {name} is .*; (valid|it) is"):
                one(**{**fine, name: value})


def inside(one: Formula[Any, Any], argument: Argument) -> object:
    if argument.choices:
        value: object = argument.choices[0]
    elif argument.text or argument.switch:
        value = "x" if argument.text else True
    elif argument.columns:
        return (tuple(0.0 for _ in argument.columns),)
    else:
        low = argument.low if math.isfinite(argument.low) else min(0.0, argument.high)
        value = min(low + 1.0, argument.high) if argument.above else low
    return (value,) if one.many(argument.name) else value


def outside(argument: Argument) -> list[object]:
    if argument.choices:
        return ["none of these"]
    if argument.text or argument.switch or argument.columns:
        return []
    found: list[object] = [math.nan, math.inf]
    if math.isfinite(argument.low):
        found.append(argument.low if argument.above else argument.low - max(1.0, abs(argument.low)))
    if math.isfinite(argument.high):
        found.append(argument.high + max(1.0, abs(argument.high)))
    return found


def test_a_page_that_leaves_something_out_is_our_mistake_and_says_what() -> None:
    with pytest.raises(PageError, match="x: its docstring lacks Source"):
        read_page("Twice.\n\nFormula: 2 a\nArgs:\n    a: it (V)\nGives:\n    b: it (V)\n\n>>> 1\n1", "x")
    with pytest.raises(PageError, match="x: its docstring lacks a worked example"):
        read_page("Twice.\n\nFormula: 2 a\nArgs:\n    a: it (V)\nGives:\n    b: it (V)\nSource: arithmetic", "x")
    with pytest.raises(PageError, match="x: 'a it' is not 'name: meaning"):
        read_page("Twice.\n\nFormula: 2 a\nArgs:\n    a it\nGives:\n    b: it (V)\nSource: us\n\n>>> 1", "x")
    with pytest.raises(PageError, match="x: the range '0 - 3' of a is not 'LOW to HIGH'"):
        read_page("Twice.\n\nFormula: 2 a\nArgs:\n    a: it (V, 0 - 3)\nGives:\n    b: it\nSource: us\n\n>>> 1", "x")


def test_a_page_with_other_arguments_than_its_formula_is_our_mistake() -> None:
    @formula
    def twice(value: float) -> float:
        """Twice.

        Formula: 2 a
        Args:
            other: it (V, any)
        Gives:
            double: of it (V)
        Source: arithmetic

        >>> twice(1.0)
        2.0
        """
        return 2 * value

    with pytest.raises(PageError, match="twice: the arguments of its page"):
        twice(1.0)


def test_a_figure_too_large_to_compute_is_refused() -> None:
    with pytest.raises(RangeError, match=r"straight-line: .* too large to compute"):
        book.formulas()["straight-line"](x=(0.0, 1e300), y=(0.0, 1.0), uncertainty=1.0)
