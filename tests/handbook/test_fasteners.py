"""Small screws where no standard decides: plastic, odd star sizes, and what things are called."""

from __future__ import annotations

import pytest

from knowngood.handbook import fasteners


def test_a_device_screw_goes_half_as_tight_into_plastic_and_both_say_that_they_are_practice() -> None:
    (metal,) = fasteners.tightening_torque("M2")
    (plastic,) = fasteners.tightening_torque("M2", into="plastic")
    assert (metal.torque, metal.most) == (0.15, 0.25)
    assert (plastic.torque, plastic.most) == (0.075, 0.125)
    assert {metal.status, plastic.status} == {"common practice, no source"}
    assert (metal.joint, plastic.joint) == ("device screw into metal", "device screw into plastic, about half of metal")


def test_a_torque_keeps_its_size_in_every_unit() -> None:
    """1 lbf in is 1.129848290276167e-1 N m, 1 kgf cm 9.80665e-2 N m (definitions)."""
    found = fasteners.torque_units(0.5)
    assert (found.newton_metre, found.centinewton_metre) == (0.5, 50.0)
    assert found.kilogram_force_centimetre == pytest.approx(5.0985811)
    assert found.pound_force_inch == pytest.approx(4.4253729)


def test_a_torque_of_a_table_says_what_it_is_for_and_practice_stands_beside_it() -> None:
    joints = [row.joint for row in fasteners.tightening_torque("M2.5", "stainless-70")]
    assert joints == [
        "stainless A2 or A4, class 70, friction 0.1",
        "stainless A2 or A4, class 70, friction 0.2",
        "device screw into metal",
    ]
    second = fasteners.tightening_torque("M3", "8.8")[1].joint
    assert second == "steel into steel, second table, class 8.8"
    assert [row.joint for row in fasteners.tightening_torque("M2", "8.8", "plastic")] == [
        "device screw into plastic, about half of metal"
    ]


def test_a_star_outside_the_standard_says_so() -> None:
    nearest, next_one = fasteners.star_by_width(1.40e-3)
    assert (nearest.star, next_one.star) == ("T5", "T4")
    assert nearest.inner is None
    assert nearest.status == "from memory, outside ISO 10664; makers differ"
    assert fasteners.star_size("T6").status == "confirmed, ISO 10664:2014 recess table"


def test_a_screw_in_plastic_is_set_to_a_share_of_what_strips_it() -> None:
    assert fasteners.screw_into_plastic(3e-3).torque_from is None
    found = fasteners.screw_into_plastic(3e-3, stripping=0.6)
    assert (found.torque_from, found.torque_to) == (pytest.approx(0.2), pytest.approx(0.3))


@pytest.mark.parametrize(
    ("undone", "again", "term"),
    [(True, True, "reusable"), (True, False, "removable"), (False, True, "neither reusable nor removable")],
)
def test_a_fastener_is_named_by_what_becomes_of_it(undone: bool, again: bool, term: str) -> None:
    assert fasteners.fastener_term(undone, again).term == term
    assert fasteners.fastener_term(undone, again).status == "from memory, EN 45554:2020"


@pytest.mark.parametrize(
    ("tool", "basic"),
    [("T8", True), ("ph 0", True), ("Spudger", True), ("bored hexalobular screwdriver", False), ("T8H", False)],
)
def test_a_tool_is_basic_by_its_name_or_mark_alone(tool: str, basic: bool) -> None:
    found = fasteners.tool_term(tool)
    assert (found.term == "basic") == basic
    assert found.status == ("confirmed, Regulation (EU) 2023/1670" if basic else "from memory, EN 45554:2020")
    assert "on the list of basic tools" in found.why
