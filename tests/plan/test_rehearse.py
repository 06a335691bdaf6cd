"""Rehearsal: the same draw is the same unit, a policy sees its log only, and the money adds up."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest
from small import TINY, bench, log, usual

from knowngood.belief import sensing
from knowngood.log.events import parse, render
from knowngood.log.state import Line, Replay, replay
from knowngood.log.takes import expected_minutes
from knowngood.maps import load
from knowngood.maps.device import Device
from knowngood.maps.words import FINE
from knowngood.plan.choose import advise
from knowngood.plan.moves import Move, look_move
from knowngood.plan.moves import test_move as move_of
from knowngood.plan.rehearse import HiddenUnit, Policy, Rehearsed, drawn_unit, planner, rehearse_unit
from knowngood.plan.terms import Terms


def parts_out(on: Device, told: Replay, at: Terms) -> Move:
    """Gives up at once."""
    return next(one.move for one in advise(on, told, at).ranked if one.move.kind == "part-out")


def as_it_is(on: Device, told: Replay, at: Terms) -> Move:
    """Opens the unit for one look, then sells it as it is."""
    if not told.state.seen:
        return look_move(on, told.state, on.parts["fan"])
    return next(one.move for one in advise(on, told, at).ranked if one.move.kind == "sell-as-is")


def done(units: int, seed: int, policy: Policy = planner) -> list[Rehearsed]:
    return [rehearse_unit(unit, TINY, bench(), ("dropped",), seed, policy) for unit in range(units)]


def test_the_same_seed_is_the_same_run() -> None:
    assert done(4, seed=1) == done(4, seed=1)


def test_another_seed_is_another_run() -> None:
    assert [one.lines for one in done(4, seed=2)] != [one.lines for one in done(4, seed=1)]


def test_what_a_move_gives_does_not_rest_on_what_was_asked_before() -> None:
    """Two hands on the same unit: the second asks other things first, and finds the same all the same."""
    asked = [TINY.tests[name] for name in ("cooled", "rail", "starts")]
    for unit in range(40):
        one, other = (drawn_unit(unit, TINY, (), 5) for _ in range(2))
        for test in asked:
            one.carry_out(move_of(TINY, one.replayed.state, test))
        other.carry_out(look_move(TINY, other.replayed.state, TINY.parts["supply"]))
        for test in reversed(asked):
            other.carry_out(move_of(TINY, other.replayed.state, test))
        found = [{str(line.event) for line in hidden.lines[1:] if line.event.verb != "saw"} for hidden in (one, other)]
        assert found[0] == found[1]


def test_the_same_remedy_again_is_another_draw() -> None:
    hidden = drawn_unit(0, TINY, (), 1)
    states = set()
    for _ in range(12):
        become(hidden, {"board": "dead"})
        hidden.log(parse("mended board resolder"))
        states.add(hidden.modes.get("board"))
    assert states == {None, "dead"}


def test_a_policy_is_told_the_device_the_log_and_the_terms_and_nothing_else() -> None:
    told_before: dict[tuple[str, ...], str] = {}
    again = 0

    def watched(*given: object) -> Move:
        nonlocal again
        on, told, at = given
        assert on is TINY
        assert isinstance(told, Replay)
        assert told == replay(TINY, told.lines)  # nothing rides along
        assert isinstance(at, Terms)
        move = planner(on, told, at)
        lines = tuple(str(line) for line in told.lines)
        again += lines in told_before
        assert told_before.setdefault(lines, move.name) == move.name
        return move

    jobs = [rehearse_unit(unit, TINY, bench(), (), 7, watched) for unit in range(8)]
    assert again > 10
    assert len({job.lines for job in jobs}) > 3


def become(hidden: HiddenUnit, modes: Mapping[str, str]) -> None:
    """Gives a hidden unit these faults and no others."""
    for name, variable in hidden.story.now.items():
        hidden.values[variable] = hidden.device.parts[name].states.index(modes.get(name, FINE))


def test_other_hidden_faults_behind_the_same_log_make_no_difference() -> None:
    hidden = HiddenUnit(TINY, (), np.random.default_rng(1))
    move = planner(TINY, hidden.replayed, bench())
    for modes in ({}, {"supply": "dead"}, {"board": "dead", "fan": "dead"}):
        become(hidden, modes)
        assert planner(TINY, hidden.replayed, bench()) == move


@pytest.mark.parametrize(("modes", "unknown"), [({}, ()), ({"fan": "dead"}, ()), ({}, ("cooled",))])
def test_what_a_try_shows_is_drawn_from_its_table(modes: dict[str, str], unknown: tuple[str, ...]) -> None:
    test = replace(TINY.tests["cooled"], miss=0.2, false_alarm=0.1)
    on = replace(TINY, tests={**TINY.tests, "cooled": test})
    shown: Counter[str] = Counter()
    for seed in range(600):
        hidden = HiddenUnit(on, (), np.random.default_rng(seed))
        become(hidden, modes)
        hidden.unknown = frozenset(unknown)
        hidden.carry_out(move_of(on, hidden.replayed.state, test))
        shown[render(hidden.replayed.lines[-1].event).split()[-1]] += 1
    row = 0 if modes or unknown else 2
    expected = 600 * sensing.tried_table(test)[row]
    possible = expected > 0
    counts = np.array([shown[outcome] for outcome in test.outcomes])
    assert (counts[~possible] == 0).all()
    square = float(((counts - expected)[possible] ** 2 / expected[possible]).sum())
    assert square < 13.82  # chi-square with two degrees of freedom is larger once in a thousand


def test_base_odds_are_those_that_units_are_drawn_with() -> None:
    units = [HiddenUnit(TINY, (), np.random.default_rng([5, unit])) for unit in range(1500)]
    for name, slot in TINY.parts.items():
        share = sum(name in one.at_start for one in units) / len(units)
        assert share == pytest.approx(slot.base, abs=4 * np.sqrt(slot.base * (1 - slot.base) / len(units)))


def test_a_try_in_an_unchanged_world_shows_the_same_again() -> None:
    hidden = HiddenUnit(TINY, (), np.random.default_rng(2))
    for _ in range(6):
        hidden.carry_out(move_of(TINY, hidden.replayed.state, TINY.tests["cooled"]))
    assert len({str(line.event) for line in hidden.replayed.lines[1:]}) == 1


def test_parting_every_unit_out_brings_the_parts_and_nothing_less() -> None:
    jobs = done(5, seed=1, policy=parts_out)
    assert {(job.exit, job.net, job.minutes, job.materials, job.moves) for job in jobs} == {
        ("parts", 25.0, 0.0, 0.0, 1)
    }


def test_selling_as_it_is_closes_what_was_opened_and_takes_the_listing() -> None:
    job = rehearse_unit(0, TINY, bench(), (), 1, as_it_is)
    assert job.lines[-2:] == ("closed all", "sold as-is for EUR 40")
    assert job.minutes == 3.0 + 0.5 + 4.0 + 30.0
    assert job.net == pytest.approx(40.0 - 0.5 * job.minutes)


def test_once_the_way_to_a_move_is_made_the_policy_is_asked_again() -> None:
    """It goes in for a look at the fan; once it is open, the look is not made unasked."""
    asked: list[tuple[str, ...]] = []

    def looks_in(on: Device, told: Replay, at: Terms) -> Move:
        asked.append(tuple(render(line.event) for line in told.lines[1:]))
        return parts_out(on, told, at) if told.state.open_steps else look_move(on, told.state, on.parts["fan"])

    job = rehearse_unit(0, TINY, bench(), (), 1, looks_in)
    assert asked == [(), ("opened lid",)]
    assert (job.exit, job.moves, job.minutes) == ("parts", 2, 3.0)


def sells_unseen(on: Device, told: Replay, at: Terms) -> Move:
    """Sells every unit as working, whatever it does."""
    return replace(parts_out(on, told, at), kind="sell", log="sold working for EUR 200")


def test_a_unit_sold_as_working_that_does_not_work_costs_what_a_return_does() -> None:
    jobs = done(12, seed=1, policy=sells_unseen)
    assert {job.works for job in jobs} == {False, True}
    for job in jobs:
        assert job.net == pytest.approx(200.0 - (0.0 if job.works else 60.0) - 0.5 * 30.0)


def by_the_lines(on: Device, job: Rehearsed, at: Terms) -> tuple[float, float, float]:
    """Minutes, materials and net of a job, from its lines."""
    lines = [Line(seq, "", parse(line)) for seq, line in enumerate(job.lines, start=1)]
    told = replay(on, lines)
    assert not told.flags
    minutes = sum(
        expected_minutes(on, before, line.event) for line, before in zip(told.lines, told.before, strict=True)
    )
    paid = [re.search(r"for EUR ([\d.]+)$", line) for line in job.lines if line.startswith(("fitted", "mended"))]
    materials = sum(float(one[1]) for one in paid if one)
    minutes += at.list_minutes if job.exit in ("working", "as-is") else 0.0
    brings = {"working": at.working, "as-is": at.as_is, "parts": at.parts, "given-up": at.parts}[job.exit]
    back = at.come_back if job.exit == "working" and not job.works else 0.0
    return minutes, materials, brings - back - materials - minutes * at.rate


def test_the_money_adds_up() -> None:
    jobs = done(12, seed=11)
    for job in jobs:
        minutes, materials, net = by_the_lines(TINY, job, bench())
        assert job.minutes == pytest.approx(minutes)
        assert job.materials == pytest.approx(materials)
        assert job.net == pytest.approx(net)
    assert {job.exit for job in jobs} >= {"working", "parts"}


@pytest.mark.parametrize("lines", [(), ("past wet",), ("opened lid",), ("opened lid", "tried starts fails")])
def test_a_move_takes_the_minutes_that_it_said(lines: tuple[str, ...]) -> None:
    for one in advise(TINY, log(TINY, *lines), bench()).ranked:
        if not one.move.act.ends:
            hidden = HiddenUnit(TINY, (), np.random.default_rng(0))
            for line in lines:
                hidden.log(parse(line))
            before = hidden.replayed.state.minutes
            hidden.carry_out(one.move)
            assert hidden.replayed.state.minutes - before == pytest.approx(one.move.minutes), one.move.name
            assert not hidden.replayed.flags


def test_units_that_work_are_what_is_sold_as_working() -> None:
    jobs = done(15, seed=4)
    sold = [job for job in jobs if job.exit == "working"]
    assert sum(job.works for job in sold) > 6
    assert sum(not job.works for job in sold) <= 1
    assert sum(job.net for job in jobs) > 15 * bench().parts


def test_two_units_of_a_shipped_map() -> None:
    on = load("some-mains-device")
    at = usual(on)
    for unit in range(2):
        job = rehearse_unit(unit, on, at, ("dropped",), 1)
        _, materials, net = by_the_lines(on, job, at)
        assert job.materials == pytest.approx(materials)
        assert job.net == pytest.approx(net)
        assert job.exit != "given-up"
