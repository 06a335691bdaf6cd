"""Readings in a log beside the limits of the test after repair that are confirmed in their sources.

Sources: protective conductor 0.3 ohm, cord up to 5 m and 1.5 mm^2: EN 50678 (VDE 0701):2021 by the support note of a
maker of testers on the limit after the split of the standard, and DIN VDE 0701-0702 limit tables. Protective-conductor
current 3.5 mA, touch current 0.5 mA: DIN VDE 0701-0702 limit tables, HT Instruments test-panel manual, p. 24. Earth
continuity 0.1 ohm and the cord's conductor: IEE Code of Practice, earlier edition, Table 15.1. Leakage 5 mA: IET Code
of Practice for In-service Inspection and Testing, 5th ed. (Nov 2020). Limits tightened by the meter's stated error
before they are compared: manual of a maker of testers. Resistivity of copper: IEC 60028:1925.

Order (look, earth path, insulation, current, function): DIN VDE 0701-0702 limit tables.
Terms clear, purge, destroy: NIST SP 800-88 Rev. 2 (26 Sep 2025), 3.1; verified: 4.5.1.
"""

from __future__ import annotations

from datetime import date
from typing import get_args

import pytest

from knowngood.log import events as ev
from knowngood.log.events.release import Method
from knowngood.log.state import Line, replay
from knowngood.maps import load
from knowngood.proof.release import METHODS
from knowngood.proof.safety_test import Instrument, SafetyStep, safety_test

UNIT = load("ceiling-projector")
COPPER = 1.724138e-8


def step(quantity: str, value: float, rules: str, error: float = 0.0) -> SafetyStep:
    """The step of one reading, on a class I unit with a cord of 2 m and 1 mm^2."""
    unit = {"protective-earth": "ohm", "insulation": "Mohm"}.get(quantity, "mA")
    texts = ["stated cord detachable 2 m 1 mm2", "stated metal both", "inspected visual passed"]
    earlier = [
        f"measured protective-earth 0.05 ohm by x under {rules}",
        f"measured insulation 9 Mohm by x at 500 V under {rules}",
    ]
    texts += earlier if unit == "mA" else []
    at = " at 500 V" if quantity == "insulation" else ""
    texts.append(f"measured {quantity} {value:.6f} {unit} by x{at} under {rules}")
    lines = [Line(seq, "2026-06-01T10:00:00Z", ev.parse(text)) for seq, text in enumerate(texts, start=1)]
    found = safety_test(UNIT, replay(UNIT, lines), [Instrument("x", date(2026, 3, 1), error, 12)])
    return next(one for one in found.steps if one.step == quantity)


@pytest.mark.parametrize(
    ("quantity", "limit", "rules"),
    [
        ("protective-earth", 0.3, "german"),
        ("protective-current", 3.5, "german"),
        ("touch-current", 0.5, "german"),
        ("protective-earth", 0.1 + COPPER * 2.0 / 1e-6, "british"),
        ("protective-current", 5.0, "british"),
        ("touch-current", 5.0, "british"),
    ],
)
@pytest.mark.parametrize("error", [0.0, 0.05])
def test_a_reading_passes_up_to_the_published_limit_less_the_error(
    quantity: str, limit: float, rules: str, error: float
) -> None:
    assert step(quantity, 0.999 * limit / (1 + error), rules, error).status == "passed"
    beyond = step(quantity, 1.001 * limit / (1 + error), rules, error)
    assert beyond.status == ("open" if error else "failed")
    assert step(quantity, 1.001 * limit / (1 - error), rules, error).status == "failed"


@pytest.mark.parametrize("rules", ["german", "british"])
def test_insulation_known_from_memory_decides_nothing(rules: str) -> None:
    for value in (0.01, 500.0):
        found = step("insulation", value, rules)
        assert found.status == "open"
        assert "from memory" in found.why


def test_the_order_is_the_published_one() -> None:
    found = safety_test(UNIT, replay(UNIT, []))
    order = ["visual", "protective-earth", "insulation", "protective-current", "touch-current", "function"]
    assert [one.step for one in found.steps] == order


def test_the_methods_of_removal_are_those_of_the_standard() -> None:
    assert set(METHODS) == set(get_args(Method)) == {"clear", "purge", "destroy"}
