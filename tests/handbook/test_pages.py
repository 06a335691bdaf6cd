"""Every formula of the book keeps to its page: arguments, worked example, and refusal outside the valid range."""

from __future__ import annotations

import doctest
import math
import sys
from typing import Any

import pytest

from knowngood.errors import RangeError
from knowngood.handbook import book
from knowngood.handbook.formula import Argument, Formula, Page, PageError, formula, read_page

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
def test_what_is_assumed_is_inside_its_own_range(one: Formula[Any, Any]) -> None:
    for name, had in one.signature.parameters.items():
        if had.default not in (had.empty, None):
            one.page.arguments[name].refuse(had.default, one.name)


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


WHOLE = """What a made-up thing does.

    It does so by a method
    that takes two lines.

    Formula: c = a b,
        on two lines
    Args:
        wide: of any size (1, any)
        open_end: as large as it likes (V, above 0)
        both: at least and at most, said at such length
            that it goes on (K/W, -5 to 20)
        half: a part of it (share, 0 to 1)
        whatever: in its own unit (same)
        kind: of thing (one of left, right)
        log: of it (rows of s, degC)
        mark: on it (text)
        hot: or not (yes or no)
    Gives:
        length: of it (m)
    Source: arithmetic,
        2nd edition
    Caution: It is
        sharp.

    >>> 1
    1
    Caution: this is no page
    """

ARGUMENTS = (
    Argument("wide", "of any size", ""),
    Argument("open_end", "as large as it likes", "V", 0.0, above=True),
    Argument("both", "at least and at most, said at such length that it goes on", "K/W", -5.0, 20.0),
    Argument("half", "a part of it", "share", 0.0, 1.0),
    Argument("whatever", "in its own unit", "same"),
    Argument("kind", "of thing", "", choices=("left", "right")),
    Argument("log", "of it", "", columns=("s", "degC")),
    Argument("mark", "on it", "", text=True),
    Argument("hot", "or not", "", switch=True),
)


def test_a_page_is_read_whole() -> None:
    assert read_page(WHOLE, "x") == Page(
        summary="What a made-up thing does.",
        words="It does so by a method that takes two lines.",
        formula="c = a b, on two lines",
        arguments={one.name: one for one in ARGUMENTS},
        gives={"length": Argument("length", "of it", "m")},
        source="arithmetic, 2nd edition",
        caution="It is sharp.",
    )


@pytest.mark.parametrize(
    ("argument", "valid"),
    [
        *zip(
            ARGUMENTS,
            [
                *("any number", "above 0 V", "-5 to 20 K/W", "0 to 100 %", "in any one unit", "one of left, right"),
                *("rows of s, degC", "text", "yes or no"),
            ],
            strict=True,
        ),
        (Argument("x", "it", "V", 2.0), "2 or more V"),
        (Argument("x", "it", "V", high=2.0), "up to 2 V"),
        (Argument("x", "it", "V", 0.0, 2.0, above=True), "above 0 to 2 V"),
        (Argument("x", "it", "", 1.0, 1e3), "1 to 1000"),
    ],
    ids=str,
)
def test_a_range_is_said_in_words(argument: Argument, valid: str) -> None:
    assert argument.range_text() == valid


@pytest.mark.parametrize(
    ("argument", "value", "said"),
    [
        (ARGUMENTS[2], -5.001, "f: both is -5.001 K/W; valid is -5 to 20 K/W."),
        (ARGUMENTS[2], (1.0, 20.5), "f: both is 20.5 K/W; valid is -5 to 20 K/W."),
        (ARGUMENTS[1], 0, "f: open_end is 0 V; valid is above 0 V."),
        (ARGUMENTS[3], 1.5, "f: half is 150 %; valid is 0 to 100 %."),
        (ARGUMENTS[4], float("nan"), "f: whatever is nan; valid is in any one unit."),
        (ARGUMENTS[0], -float("inf"), "f: wide is -inf; valid is any number."),
        (ARGUMENTS[5], "up", "f: kind is 'up'; it is one of left, right."),
    ],
)
def test_what_is_outside_is_refused_in_its_own_unit(argument: Argument, value: object, said: str) -> None:
    with pytest.raises(RangeError) as raised:
        argument.refuse(value, "f")
    assert str(raised.value) == said


def test_the_ends_of_a_range_are_inside_and_a_switch_is_no_number() -> None:
    for value in (-5.0, 20.0, (-5, 20), True, None):
        ARGUMENTS[2].refuse(value, "f")
    ARGUMENTS[1].refuse(False, "f")
    ARGUMENTS[5].refuse("right", "f")


def test_a_formula_is_named_as_it_is_asked_for_and_is_of_its_module_or_package() -> None:
    for name, subject in (("power-from-rise", "heat"), ("trace-width", "copper")):
        again = Formula(book.formulas()[name].function)
        assert (again.name, again.subject) == (name, subject)


def test_a_page_that_leaves_something_out_is_our_mistake_and_says_what() -> None:
    with pytest.raises(PageError, match="x: its docstring lacks Source"):
        read_page("Twice.\n\nFormula: 2 a\nArgs:\n    a: it (V)\nGives:\n    b: it (V)\n\n>>> 1\n1", "x")
    with pytest.raises(PageError, match=r"x: its docstring lacks Formula, Args, Gives, Source\."):
        read_page("", "x")
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
