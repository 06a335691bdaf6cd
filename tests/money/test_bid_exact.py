"""What a small unit would bring, exactly: beside a tree summed by the belief's oracle, and beside drawn units."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from math import exp as power_of_e

import numpy as np
import pytest
from oracle import Joint
from small import bench, device, found, part, remedy, tried, wanted

from knowngood.belief import sensing
from knowngood.belief.believe import believe
from knowngood.errors import TooLargeError
from knowngood.handbook.quantities import parse_money
from knowngood.log import events as ev
from knowngood.log.state import Line, Replay, replay
from knowngood.maps import load
from knowngood.maps.device import Device
from knowngood.money.bid import exact
from knowngood.money.bid.drawing import Case, outcomes, with_line
from knowngood.money.bid.exact import Courses, exact_askings
from knowngood.money.bid.most import Wish
from knowngood.money.bid.pricing import priced
from knowngood.money.bid.seller import questions
from knowngood.plan.moves import Move
from knowngood.plan.moves import test_move as move_of
from knowngood.plan.policies import Situation
from knowngood.plan.rehearse import HiddenUnit, OnTheBench, planner
from knowngood.plan.terms import Terms

TINY = device(
    [
        part("supply", remedy("replace", part=True, minutes=6.0), base=0.4, used="EUR 60"),
        part("board", remedy("replace", part=True, minutes=9.0), base=0.3, used="EUR 40"),
    ],
    [wanted("starts", "supply"), wanted("plays", "supply", "board")],
    [tried("starts", closed=True), tried("plays", closed=True), found("squeeze", "board")],
)
TERMS = bench()


def short(on: Device, log: Replay, at: Terms) -> Move:
    """Tries what is promised, mends once what most probably fails it, and sells or stops."""
    now = Situation(on, log, at)
    sale = now.to_sell()
    if sale is not None:
        return sale
    if not now.fails() and now.tries():
        return now.tries()[0]
    if any(isinstance(line.event, ev.Fitted) for line in log.lines) or not now.remedies:
        return now.to_stop()
    return max(now.remedies, key=lambda one: one[1])[0]


RESTS_ON = {"starts": ("supply",), "plays": ("supply", "board")}
"""The parts that a try rests on; it is another try once one of them is another."""

OFFER = ev.parse("offered small at EUR 60 past dropped")


def case(*lines: str) -> Case:
    found = Case(TINY, (OFFER, *(ev.parse(line) for line in lines)), TERMS, seed=3, policy=short)
    return replace(found, questions=questions(TINY, found.told))


def log_of(on: Device, events: tuple[ev.Event, ...]) -> Joint:
    return Joint(on, replay(on, [Line(seq, "", event) for seq, event in enumerate(events, start=1)]))


def brute(
    events: tuple[ev.Event, ...], spent: float | None = None, materials: float = 0.0
) -> Iterator[tuple[float, float]]:
    """Every course of a rule's job with its chance together with its log, by summing over all hidden events."""
    log = replay(TINY, [Line(seq, "", event) for seq, event in enumerate(events, start=1)])
    spent = log.state.minutes if spent is None else spent
    move = short(TINY, log, TERMS)
    materials += move.materials
    cost = (log.state.minutes - spent) * TERMS.rate + materials
    joint = log_of(TINY, events)
    chance = power_of_e(joint.log_evidence)
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
        made: list[ev.Event] = []
        for event in events if move.test else ():
            if isinstance(event, ev.Fitted) and event.part in RESTS_ON.get(move.target, ()):
                made = []
            elif move.test and getattr(event, "test", "") == move.test.id:
                made.append(event)
        if made:
            after: list[ev.Event] = made[:1]  # the same test of the same thing errs the same way
        elif move.test is not None:
            after = [ev.parse(f"{move.test.verb} {move.test.id} {one}") for one in move.test.outcomes]
        elif move.kind == "look":
            after = [ev.Saw(part=move.target, condition=one) for one in sensing.LOOKS]
        else:
            after = [ev.parse(move.log)]
        for event in after:
            if power_of_e(log_of(TINY, (*before, event)).log_evidence) > 0.0:
                yield from brute((*before, event), spent, materials)


def mean_of(courses: list[tuple[float, float]]) -> float:
    return sum(chance * net for chance, net in courses) / sum(chance for chance, _ in courses)


@pytest.mark.parametrize("lines", [("tried starts works",), ("tried starts fails",), ("saw supply burnt",)])
def test_the_tree_of_a_small_unit_is_that_of_the_oracle(
    lines: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(exact, "RAREST", 0.0)
    told = case(*lines).told
    courses = list(brute(tuple(line.event for line in told.lines)))
    found = Courses(case(*lines)).outcome(told)
    assert found.exact
    assert found.net.mean == pytest.approx(mean_of(courses), abs=1e-9)
    whole = sum(chance for chance, _ in courses)
    for amount in (24.9, 25.0, 60.0, 100.0, 150.0):
        share = sum(chance for chance, net in courses if net <= amount) / whole
        assert found.at_most(amount).mean == pytest.approx(share, abs=1e-9)


def test_what_an_answer_is_worth_is_that_of_every_course_listed(monkeypatch: pytest.MonkeyPatch) -> None:
    """By the definition: buy at the price where the job after the answer brings more, over all answers."""
    monkeypatch.setattr(exact, "RAREST", 0.0)
    given, price = case(), 70.0
    given = replace(given, questions=tuple(one for one in given.questions if one.name == "starts"))
    [asked] = exact_askings(Courses(given), 0.9, price)
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
    assert asked.replies[0].words == "works"  # it turns the decision to leave it


def test_drawn_units_bring_what_the_tree_says() -> None:
    given = case("saw supply burnt")
    listed = Courses(given).outcome(given.told)
    *_, last = outcomes(given, 200, 10_000)
    found = last.outcome
    assert found.checked == 200
    assert abs(found.net.mean - listed.net.mean) < 4 * found.error + 1e-9
    share = listed.at_most(60.0).mean
    assert found.at_most(60.0).mean == pytest.approx(share, abs=4 * np.sqrt(share * (1 - share) / 200) + 1e-9)


def test_the_same_seed_draws_the_same_units_whatever_was_remembered() -> None:
    """By the planner, and worked to the end."""

    def nets(remember: bool) -> list[float]:
        *_, last = outcomes(replace(case(), policy=planner, remember=remember), 3, 1)
        return [*last.outcome.quick.tolist(), *last.full.values()]

    assert nets(True) == nets(True) == nets(False)


def test_units_are_drawn_as_the_belief_has_them() -> None:
    """Shares of drawn states and unknowns beside the posterior, given a listing that says much."""
    given = case("tried plays fails", "saw board burnt")
    belief = believe(TINY, given.told)
    draw = belief.network.drawing(belief.base)
    drawn = [draw(np.random.default_rng([1, unit])) for unit in range(2000)]
    for variable in belief.posterior.variables:
        expected = belief.posterior[variable][0]
        found = np.bincount([one[variable] for one in drawn], minlength=len(expected)) / len(drawn)
        assert (np.abs(found - expected) <= 4 * np.sqrt(expected * (1 - expected) / len(drawn)) + 1e-9).all()


def test_what_was_tried_before_is_found_again_and_costs_nothing_again() -> None:
    given = case("tried starts fails")
    belief = believe(TINY, given.told)
    draw = belief.network.drawing(belief.base)
    for unit in range(20):
        generator = np.random.default_rng([2, unit])
        hidden = HiddenUnit.given(TINY, given.told.lines, draw(generator), generator)
        work = OnTheBench(hidden, TERMS)
        assert work.cost == 0.0
        hidden.carry_out(move_of(TINY, hidden.replayed.state, TINY.tests["starts"]))
        assert ev.render(hidden.lines[-1].event) == "tried starts fails"


def test_what_a_look_could_find_is_all_that_it_could_find() -> None:
    belief = believe(TINY, case("tried starts fails").told)
    found = {ev.render(event): chance for chance, event in exact.looks(belief, TINY.parts["supply"])}
    assert sum(found.values()) == pytest.approx(1.0)
    assert found["saw supply burnt"] == pytest.approx(
        float(
            np.exp(
                believe(TINY, case("tried starts fails", "saw supply burnt").told).log_evidence - belief.log_evidence
            )
        )
    )
    assert "saw supply wet" in found  # a hard rule knows it, so it stands for itself


def test_a_map_that_is_not_small_is_refused() -> None:
    on = load("some-battery-device")
    big = Case(on, (ev.parse("offered some-battery-device at EUR 10"),), TERMS)
    with pytest.raises(TooLargeError, match="the courses of this map's jobs are too many to list"):
        Courses(big).outcome(big.told)


def test_where_the_answers_lead_to_too_many_courses_what_they_are_worth_is_drawn(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    given, nothing = case(), parse_money("EUR 0")
    listed = Courses(given)
    listed.outcome(given.told)
    monkeypatch.setattr(exact, "MOST_LOGS", listed.logs)
    wish = Wish(nothing, 0.3, 0.1, nothing)
    *_, last = priced(given, wish, parse_money("EUR 60"), units=40, pairs=0)
    assert last.outcome.exact
    assert last.asked is None
    worth = {one.question.name: one.worth for one in last.askings(given)}
    assert worth["starts"] > 0.0
