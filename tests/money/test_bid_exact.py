"""What a small unit would bring, exactly: beside a tree summed by the belief's oracle, and beside drawn units."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from math import exp

import numpy as np
import pytest
from oracle import Joint
from small import bench, device, found, part, remedy, tried, wanted

from knowngood.belief import sensing
from knowngood.errors import TooLargeError
from knowngood.log import events as ev
from knowngood.log.state import Line, replay
from knowngood.maps import load
from knowngood.maps.device import Device
from knowngood.money.bid.drawing import Case, outcomes, with_line
from knowngood.money.bid.exact import Courses, exact_askings
from knowngood.money.bid.seller import questions
from knowngood.plan.policies import POLICIES

TINY = device(
    [
        part("supply", remedy("replace", part=True, minutes=6.0), base=0.4, used="EUR 60"),
        part("board", remedy("replace", part=True, minutes=9.0), base=0.3, used="EUR 40"),
    ],
    [wanted("starts", "supply"), wanted("plays", "supply", "board")],
    [tried("starts", closed=True), tried("plays", closed=True), found("squeeze", "board")],
)
TERMS = bench()
RULE = POLICIES["probability over cost"]
OFFER = ev.parse("offered small at EUR 60 past dropped")


def case(*lines: str) -> Case:
    found = Case(TINY, (OFFER, *(ev.parse(line) for line in lines)), TERMS, seed=3)
    return replace(found, questions=questions(TINY, found.told))


def log_of(on: Device, events: tuple[ev.Event, ...]) -> Joint:
    return Joint(on, replay(on, [Line(seq, "", event) for seq, event in enumerate(events, start=1)]))


def brute(
    events: tuple[ev.Event, ...], spent: float | None = None, materials: float = 0.0
) -> Iterator[tuple[float, float]]:
    """Every course of a rule's job with its chance together with its log, by summing over all hidden events."""
    log = replay(TINY, [Line(seq, "", event) for seq, event in enumerate(events, start=1)])
    spent = log.state.minutes if spent is None else spent
    move = RULE(TINY, log, TERMS)
    materials += move.materials
    cost = (log.state.minutes - spent) * TERMS.rate + materials
    joint = log_of(TINY, events)
    chance = exp(joint.log_evidence)
    if move.kind == "part-out":
        yield chance, TERMS.parts - cost
    elif move.kind == "sell-as-is":
        closing = sum(TINY.steps[one].close_minutes for one in log.state.open_steps)
        yield chance, TERMS.as_is - cost - (closing + TERMS.list_minutes) * TERMS.rate
    elif move.kind == "sell":
        good, cost = joint.known_good(), cost + TERMS.list_minutes * TERMS.rate
        yield chance * good, TERMS.working - cost
        yield chance * (1.0 - good), TERMS.working - TERMS.come_back - cost
    else:
        closes = [ev.Closed(step=ev.ALL)] if set(move.closes) & log.state.open_steps else []
        before = (*events, *closes, *(ev.Opened(step=one) for one in move.opens))
        if move.test is not None:
            after: list[ev.Event] = [ev.parse(f"{move.test.verb} {move.test.id} {one}") for one in move.test.outcomes]
        elif move.kind == "look":
            after = [ev.Saw(part=move.target, condition=one) for one in sensing.LOOKS]
        else:
            after = [ev.parse(move.log)]
        for event in after:
            if exp(log_of(TINY, (*before, event)).log_evidence) > 0.0:
                yield from brute((*before, event), spent, materials)


def mean_of(courses: list[tuple[float, float]]) -> float:
    return sum(chance * net for chance, net in courses) / sum(chance for chance, _ in courses)


@pytest.mark.parametrize("lines", [(), ("tried starts fails",), ("saw supply burnt",)])
def test_the_tree_of_a_small_unit_is_that_of_the_oracle(lines: tuple[str, ...]) -> None:
    told = case(*lines).told
    courses = list(brute(tuple(line.event for line in told.lines)))
    found = Courses(case(*lines), RULE).outcome(told)
    assert found.exact
    assert found.net.mean == pytest.approx(mean_of(courses), abs=1e-9)
    whole = sum(chance for chance, _ in courses)
    for amount in (24.9, 25.0, 60.0, 100.0, 150.0):
        share = sum(chance for chance, net in courses if net <= amount) / whole
        assert found.at_most(amount).mean == pytest.approx(share, abs=1e-9)


def test_what_an_answer_is_worth_is_that_of_every_course_listed() -> None:
    """By the definition: buy at the price where the job after the answer brings more, over all answers."""
    given, price = case(), 70.0
    [asked] = [one for one in exact_askings(Courses(given, RULE), 0.9, price) if one.question.name == "starts"]
    whole = sum(chance for chance, _ in brute(tuple(line.event for line in given.told.lines)))
    blind, informed = 0.0, 0.0
    for outcome in ("works", "weak", "fails"):
        then = with_line(given, ev.parse(f"tried starts {outcome}")).told
        courses = list(brute(tuple(line.event for line in then.lines)))
        chance = sum(one for one, _ in courses) / whole
        gain = 0.9 * mean_of(courses) - price
        blind += chance * gain
        informed += chance * max(0.0, gain)
    assert asked.worth == pytest.approx(informed - max(0.0, blind), abs=1e-9)
    assert asked.worth > 1.0
    assert asked.replies[0].words == "fails"


def test_drawn_units_bring_what_the_tree_says() -> None:
    given = case("saw supply burnt")
    exact = Courses(given).outcome(given.told)
    *_, last = outcomes(given, 1500, 10_000)
    found = last.outcome
    assert found.checked == 1500
    assert abs(found.net.mean - exact.net.mean) < 4 * found.error + 1e-9
    share = exact.at_most(60.0).mean
    assert found.at_most(60.0).mean == pytest.approx(share, abs=4 * np.sqrt(share * (1 - share) / 1500))


def test_a_map_that_is_not_small_is_refused() -> None:
    on = load("some-battery-device")
    big = Case(on, (ev.parse("offered some-battery-device at EUR 10"),), TERMS)
    with pytest.raises(TooLargeError, match="the courses of this map's jobs are too many to list"):
        Courses(big).outcome(big.told)
