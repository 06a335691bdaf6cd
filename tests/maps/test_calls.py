"""A map may name what it expects as a call of the handbook. What is wrong with a call is in ``broken/call-*.yaml``."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from knowngood.errors import QuantityError, RangeError
from knowngood.handbook.book import formula_named, formulas, places
from knowngood.handbook.quantities import Expected, parse_expected
from knowngood.maps import load, load_text
from knowngood.maps.calls import called

RIGHT = (Path(__file__).parent / "right.yaml").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("call", "unit", "nominal", "low", "high"),
    [
        ("feedback-output(reference 0.8 V, upper 31k6, lower 10k1) +/- 5 %", "V", 3.30297, 3.13782, 3.46812),
        ("feedback-output(reference 0,8 V, upper 31k6, lower 10k1) ± 0.1 V", "V", 3.30297, 3.20297, 3.40297),
        ("feedback-output(reference 0.8 V; upper 31k6; lower 10k1)+/-5 %", "V", 3.30297, 3.13782, 3.46812),
        # Its own limits: 0.8 V less 1 % times 1 + (31.6 / 10.1) 0.99 / 1.01, and so upwards.
        (
            "feedback-output(reference 0.8 V, upper 31k6, lower 10k1, reference-tolerance 1 %, resistor-tolerance 1 %)",
            *("V", 3.30297, 3.22087, 3.38707),
        ),
        ("contact-source(source-current 180 uA, tolerance 8 %)", "V", 0.918, 0.84456, 0.99144),
        ("contact-source(source-current 180 uA) +/- 10 %", "V", 0.918, 0.8262, 1.0098),
        ("contact-divider(bus 5 V, pull-up 22k) +/- 10 %", "V", 0.94096, 0.84686, 1.03506),
        ("rail-window(nominal 5 V, tolerance 4 %)", "V", 5.0, 4.8, 5.2),
        ("voltage of divider(supply 12 V, upper 1M, lower 1M) +/- 5 %", "V", 6.0, 5.7, 6.3),
        ("reads of divider(supply 12 V, upper 1M, lower 1M) +/- 5 %", "V", 5.71429, 5.42857, 6.0),
        ("parallel of resistors-together(resistors 4700 ohm, 10 kohm) +/- 20 %", "ohm", 3197.28, 2557.82, 3836.73),
    ],
)
def test_a_call_gives_what_is_expected_and_keeps_what_it_rests_on(
    call: str, unit: str, nominal: float, low: float, high: float
) -> None:
    found = called(call, unit)
    assert (found.nominal, found.low, found.high) == pytest.approx((nominal, low, high), rel=2e-5)
    assert found.unit == unit
    assert found.rests_on == call[: call.index(")") + 1]


def test_a_call_stands_in_a_map_over_several_lines_and_between_braces() -> None:
    call = "feedback-output(reference 0.8 V, upper 14k,\n      lower 1k) +/- 5 %"
    over_lines = load_text(RIGHT.replace("12 V +/- 5 %", call), "a.yaml").functions["rail-12v"].nominal
    flat = RIGHT.replace("needs: [rail-12v, lamp, lamp-lead]", "needs: [rail-12v, lamp, lamp-lead, rail-5v]")
    braces = "{what: 5 V rail, needs: [board], nominal: feedback-output(reference 0.8 V; upper 21k; lower 4k) +/- 4 %}"
    between = load_text(flat.replace("functions:\n", f"functions:\n  rail-5v: {braces}\n"), "b.yaml").functions
    assert over_lines == Expected(12.0, 11.4, 12.6, "V")
    assert over_lines is not None
    assert over_lines.rests_on == "feedback-output(reference 0.8 V, upper 14k, lower 1k)"
    nominal = between["rail-5v"].nominal
    assert nominal is not None
    assert (nominal.low, nominal.high) == pytest.approx((4.8, 5.2))


def test_what_is_written_out_rests_on_nothing() -> None:
    device = load_text(RIGHT, "a.yaml")
    assert {one.rests_on for one in device.functions["rail-12v"].expected.values()} == {""}
    assert parse_expected("12 V +/- 5 %") == Expected(12.0, 11.4, 12.6, "V", rests_on="it is the same all the same")


def test_a_shipped_map_has_a_rail_from_its_divider() -> None:
    nominal = load("ceiling-projector").functions["rail-3v3"].nominal
    assert nominal is not None
    assert nominal.rests_on == "feedback-output(reference 0.8 V, upper 31k6, lower 10k1)"
    assert nominal.nominal == pytest.approx(0.8 * (1.0 + 31.6 / 10.1), rel=1e-12)


def test_every_formula_is_found_without_the_rest_of_the_book() -> None:
    assert set(places()) == set(formulas())
    assert [formula_named(name) is one for name, one in formulas().items()] == [True] * len(places())


def test_a_map_imports_no_more_of_the_book_than_its_calls_take() -> None:
    script = (
        "import sys; from knowngood.maps import load; load('some-mains-device')\n"
        "assert 'knowngood.handbook.book' not in sys.modules\n"
        "load('ceiling-projector'); assert 'knowngood.handbook.supplies' in sys.modules\n"
        "assert not {'knowngood.handbook.heat', 'knowngood.handbook.uncertainty', 'scipy'} & set(sys.modules)\n"
    )
    subprocess.run([sys.executable, "-c", script], check=True)


PIECES = st.one_of(
    st.sampled_from(
        ["reference 0.8 V", "upper 10k", "lower 1e400", "lower -1", "resistors 1,2", ";", "yes", "rows 1,2"]
    ),
    st.text(max_size=8),
)


@given(st.sampled_from(sorted(places())), st.lists(PIECES, max_size=4), st.sampled_from(["V", "ohm"]))
@example("feedback-output", ["reference 1e308 V", "upper 1e9", "lower 1e-300"], "V")
@settings(max_examples=150, deadline=None)
def test_any_call_gives_a_value_or_an_error_in_words(name: str, pieces: list[str], unit: str) -> None:
    _gives_or_says(f"{name}({', '.join(pieces)}) +/- 5 %", unit)


@pytest.mark.parametrize("name", sorted(places()))
def test_every_formula_called_with_one_of_each_gives_a_value_or_an_error_in_words(name: str) -> None:
    one = formula_named(name)
    given_ = [
        f"{each.name.replace('_', '-')} {each.choices[0] if each.choices else '1'}"
        for each in one.page.arguments.values()
        if one.signature.parameters[each.name].default is one.signature.empty
    ]
    for unit in ("V", "ohm"):
        _gives_or_says(f"{name}({', '.join(given_)}) +/- 5 %", unit)


def _gives_or_says(call: str, unit: str) -> None:
    try:
        found = called(call, unit)
    except (QuantityError, RangeError):
        return
    assert found.low <= found.nominal <= found.high
