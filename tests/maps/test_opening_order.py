"""The way in is the cheapest there is: compared with every order of drawn graphs, and told apart where it matters."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Set

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from knowngood.maps.access import Cost, cost, elapsed, in_order, reached, way_in
from knowngood.maps.device import Fastener, Step


def step(name: str, opens: float = 1.0, closes: float = 1.0, **changes: object) -> Step:
    return Step(name, name, changes.pop("after", ()), opens, closes, **changes)  # type: ignore[arg-type]


def graph(*steps: Step) -> dict[str, Step]:
    return {one.id: one for one in steps}


def every_order(steps: Mapping[str, Step], opened: Set[str], targets: Set[str]) -> Iterator[tuple[str, ...]]:
    """All sequences of steps that can be opened one after the other, each up to where the targets are open."""

    def on(order: tuple[str, ...], here: frozenset[str]) -> Iterator[tuple[str, ...]]:
        if targets <= here:
            yield order
            return
        for name, one in steps.items():
            if name not in here and reached(one, here):
                yield from on((*order, name), here | {name})

    return on((), frozenset(opened))


def cheapest(steps: Mapping[str, Step], opened: Set[str], targets: Set[str]) -> Cost:
    return min(cost(steps, order) for order in every_order(steps, opened, targets))


def tuples_of(names: list[str], least: int) -> st.SearchStrategy[tuple[str, ...]]:
    return st.lists(st.sampled_from(names), min_size=least, max_size=2, unique=True).map(tuple)


@st.composite
def graphs(draw: st.DrawFn, most: int = 6) -> dict[str, Step]:
    steps: dict[str, Step] = {}
    for number in range(draw(st.integers(1, most))):
        before = list(steps)
        some = tuples_of(before, 0) if before else st.just(())
        groups = st.lists(tuples_of(before, 1), max_size=2).map(tuple) if before else st.just(())
        steps[f"s{number}"] = step(
            f"s{number}",
            draw(st.integers(0, 4)),
            draw(st.integers(0, 4)),
            after=draw(some),
            any_of=draw(groups),
            wait=float(draw(st.sampled_from([0, 0, 0, 3, 9]))),
            holds=draw(st.sampled_from([None, None, None, "glue"])),
        )
    return steps


def opened_some(steps: Mapping[str, Step], names: Set[str]) -> frozenset[str]:
    """The steps of these that can be open: each with what it needs."""
    here: frozenset[str] = frozenset()
    for name in steps:
        if name in names and reached(steps[name], here):
            here |= {name}
    return here


@given(graphs(), st.data())
def test_no_order_of_all_is_cheaper(steps: dict[str, Step], data: st.DataObject) -> None:
    names = st.sets(st.sampled_from(list(steps)), max_size=3)
    opened, targets = opened_some(steps, data.draw(names)), data.draw(names)
    order = way_in(steps, opened, targets)
    here = opened
    for name in order:
        assert name not in here
        assert reached(steps[name], here), (name, here)
        here |= {name}
    assert targets <= here
    assert cost(steps, order) == cheapest(steps, opened, targets)


@pytest.mark.parametrize("seed", range(4))
def test_no_order_of_nine_steps_is_cheaper(seed: int) -> None:
    draw = np.random.default_rng(seed)
    steps: dict[str, Step] = {}
    for number in range(9):
        names = list(steps)
        groups = []
        if number > 1:
            pairs = [draw.choice(names, 2, replace=False) for _ in range(1 + number % 2)]
            groups = [tuple(map(str, pair)) for pair in pairs]
        wait = float(draw.choice([0, 0, 5, 12]))
        minutes = [float(one) for one in draw.integers(1, 9, 2)]
        steps[f"s{number}"] = step(f"s{number}", *minutes, any_of=tuple(groups), wait=wait)
    assert cost(steps, way_in(steps, frozenset(), {"s7", "s8"})) == cheapest(steps, frozenset(), {"s7", "s8"})


def test_a_choice_is_shared_by_what_needs_it() -> None:
    """Each inner part alone is cheapest through its own lid; both together through the dearer one that they share."""
    steps = graph(
        step("left", 3.0), step("right", 3.0), step("top", 4.0), step("a", any_of=(("left", "top"),)),
        step("b", any_of=(("right", "top"),)),
    )  # fmt: skip
    assert way_in(steps, frozenset(), ("a",)) == ("left", "a")
    assert way_in(steps, frozenset(), ("b",)) == ("right", "b")
    assert way_in(steps, frozenset(), ("a", "b")) == ("top", "a", "b")
    assert set(way_in(steps, {"left"}, ("a", "b"))) == {"a", "right", "b"}


def test_what_is_glued_is_opened_only_where_nothing_else_leads_in() -> None:
    screws, glass = step("screws", 20.0, 20.0), step("glass", 1.0, 1.0, holds="glue", risk="It cracks")
    steps = graph(screws, glass, step("board", any_of=(("screws", "glass"),)), step("panel", after=("glass",)))
    assert way_in(steps, frozenset(), ("board",)) == ("screws", "board")
    assert set(way_in(steps, frozenset(), ("board", "panel"))) == {"glass", "board", "panel"}


def test_hands_work_while_something_cools() -> None:
    steps = graph(step("lamp", 4.0, wait=45.0), step("base", 6.0), step("inner", 2.0, after=("lamp", "base")))
    order = way_in(steps, frozenset(), ("inner",))
    assert order == ("base", "lamp", "inner")
    assert elapsed(steps, order) == 51.0
    assert elapsed(steps, ("lamp", "base", "inner")) == 57.0


def test_the_driver_in_hand_goes_on_where_that_costs_nothing() -> None:
    cross, star = ((Fastener(2, "M3", "8 mm", driver, None),) for driver in ("cross-head", "six-lobe"))
    steps = graph(step("a", fasteners=cross), step("b", fasteners=star), step("c", fasteners=cross))
    assert in_order(steps, frozenset(), steps) == ("a", "c", "b")
