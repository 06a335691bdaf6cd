"""What is still to pass before a unit is proved: which tests, in which order, what each adds, and what stands in the
way."""

from __future__ import annotations

from dataclasses import replace
from itertools import chain, combinations

import numpy as np
import pytest
from oracle import Joint
from small import bench, device, found, log, part, tried, wanted
from unit import UNIT

from knowngood.belief.believe import believe
from knowngood.belief.evaluate import World, effects, sensed_row
from knowngood.log import events as ev
from knowngood.log.state import Replay, considered
from knowngood.maps.device import Device, FunctionLevel
from knowngood.proof.acceptance import Acceptance, acceptance
from knowngood.proof.demands import by_a_touch
from knowngood.proof.standing import REST

NIGHT = f"waited {REST / 60:.0f} h"
ALL_WORK = ("tried powers works", "tried sound works", "tried lamp works", "tried runs works")


def due(on: Device, *lines: str) -> Acceptance:
    told = log(on, *lines)
    return acceptance(believe(on, told), told, bench())


def names(found_: Acceptance) -> list[str]:
    return [one.test.id for one in found_.due]


LOGS = [
    (),
    ("tried runs fails", "opened lid", "mended supply resolder"),
    ("opened shield", "closed all", "tried lamp works"),
    ("unplugged lead",),
    ("tried powers works", NIGHT, "tried sound works", "tried lamp works"),
    ("declared lamp", "opened lid", "found lead-look ok"),
]


def planned(found_: Acceptance, on: Device, told: Replay, passed: int) -> Replay:
    """The log with the unit put together and the first so many tests of the set passed, as a person would type it."""
    lines = list(found_.first)
    inside = [one for one in found_.due if one.test.behind is not None]
    lines += [f"opened {step}" for step in dict.fromkeys(step for one in inside for step in one.move.opens)]
    place = {one.test.id: number for number, one in enumerate(found_.due)}
    typed = {one.test.id: f"{one.move.log} {one.test.outcomes[0]}" for one in found_.due}
    lines += [typed[one.test.id] for one in inside if place[one.test.id] < passed]
    if told.state.open_steps or inside:
        lines.append("closed all")
    lines += [typed[one.test.id] for one in found_.due if one not in inside and place[one.test.id] < passed]
    return considered(on, told, [ev.parse(line) for line in lines])


@pytest.mark.parametrize("lines", LOGS[1:4])
def test_what_each_test_adds_is_what_every_course_of_events_says(lines: tuple[str, ...]) -> None:
    told = log(UNIT, *lines)
    found_ = acceptance(believe(UNIT, told), told, bench())
    assert found_.due
    courses = [Joint(UNIT, planned(found_, UNIT, told, passed)) for passed in range(len(found_.due) + 1)]
    good = [one.known_good() for one in courses]
    assert [one.before for one in found_.due] == pytest.approx(good[:-1])
    assert [one.after for one in found_.due] == pytest.approx(good[1:])
    assert (found_.put_together, found_.known_good_after) == pytest.approx((good[0], good[-1]))
    passing = np.exp(np.diff([one.log_evidence for one in courses]))
    assert [one.p_pass for one in found_.due] == pytest.approx(passing)
    assert found_.p_all_pass == pytest.approx(np.prod(passing))
    assert good[-1] < 1.0


def shown(on: Device, told: Replay, made: list[str]) -> bool:
    """Whether a unit is proved by tests of a finished log, judged by putting one fault at a time into it."""
    state = told.state
    if state.open_steps or set(on.wanted) - state.declared - state.proven:
        return False
    last = max((number for number, line in enumerate(told.lines) if isinstance(line.event, ev.Closed)), default=0)
    for one in on.parts.values():
        touched = one.id in state.touched or one.id in state.mended
        for mode in one.modes:
            cured = {each for name in state.mended.get(one.id, ()) for each, _ in one.remedy(name).cures}  # type: ignore[union-attr]
            left = touched and (mode in by_a_touch(one) or mode.name in cured)
            if not (left or mode.when) or not effects(on).alone[one.id, mode.name] - state.declared:
                continue
            seen = False
            for number, line in enumerate(told.lines):
                if not isinstance(line.event, (ev.Tried, ev.Found)) or line.event.test not in made:
                    continue
                test = on.tests[line.event.test]
                is_function = isinstance(test.senses, FunctionLevel)
                if (is_function or one.id in UNIT.steps["shield"].unplugs) and number < last:
                    continue
                rows = [
                    sensed_row(on, test, World(modes, closed=True, warm=test.warm))
                    for modes in ({}, {one.id: mode.name})
                ]
                seen = seen or rows[0] != rows[1]
            if not seen:
                return False
    return any(not on.tests[one].warm and isinstance(on.tests[one].senses, FunctionLevel) for one in made)


@pytest.mark.parametrize("lines", [log_ for log_ in LOGS if "unplugged lead" not in log_ and NIGHT not in log_])
def test_no_set_of_tests_that_shows_everything_takes_less_hands_on_time(lines: tuple[str, ...]) -> None:
    """Every set of tests, each set typed into the log and its minutes taken from there."""
    told = log(UNIT, *lines)
    least = float("inf")
    stand = [
        line.event.test
        for line in told.lines
        if isinstance(line.event, (ev.Tried, ev.Found)) and line.event.outcome in ("works", "ok")
    ]
    for made in chain.from_iterable(combinations(UNIT.tests, count) for count in range(len(UNIT.tests) + 1)):
        inside = [one for one in made if UNIT.tests[one].behind is not None]
        typed = ["opened lid"] if inside and "lid" not in told.state.open_steps else []
        typed += [f"{UNIT.tests[one].verb} {one} {UNIT.tests[one].outcomes[0]}" for one in inside]
        typed += ["closed all"] if told.state.open_steps or inside else []
        typed += [f"{UNIT.tests[one].verb} {one} {UNIT.tests[one].outcomes[0]}" for one in made if one not in inside]
        after = considered(UNIT, told, [ev.parse(line) for line in typed])
        if shown(UNIT, after, [*made, *stand]):
            least = min(least, after.state.minutes - told.state.minutes)
    found_ = acceptance(believe(UNIT, told), told, bench())
    assert found_.minutes == pytest.approx(least)


def test_what_is_likeliest_to_fail_for_its_minutes_comes_first_and_the_start_from_cold_before_any_warm() -> None:
    found_ = due(UNIT, "opened lid", "mended supply resolder")
    rates = {one.test.id: (1.0 - one.p_pass) / one.test.minutes for one in found_.due}
    first, *rest = found_.due
    assert first.from_cold
    assert not first.test.warm
    assert rates[first.test.id] == max(rates[one.test.id] for one in found_.due if not one.test.warm)
    assert not any(one.from_cold for one in rest)
    assert "cold-start" in [one.kind for one in first.shows]


def test_a_unit_is_proved_once_all_is_shown_closed_warm_and_from_cold() -> None:
    assert not due(UNIT, *ALL_WORK[:-1]).proved
    assert due(UNIT, *ALL_WORK).proved  # it had rested before it came in
    used = due(UNIT, "tried powers works", "opened lid", "closed all", *ALL_WORK)
    assert not used.proved
    assert (names(used), used.wait) == (["powers"], REST)
    assert due(UNIT, "tried powers works", "opened lid", "closed all", NIGHT, *ALL_WORK).proved
    assert not due(UNIT, *ALL_WORK, "opened lid").proved


def test_what_passed_counts_until_the_next_act() -> None:
    assert "lamp" not in names(due(UNIT, "tried lamp works"))
    assert "lamp" in names(due(UNIT, "tried lamp works", "opened lid"))


def test_a_fault_that_the_touch_left_is_shown_by_a_test_that_would_fail_with_it() -> None:
    found_ = due(UNIT, "declared lamp", "opened shield")
    assert "lamp" not in names(found_)
    assert not [one for one in found_.gaps if one.name == "inner-plug"]  # nothing promised rests on it
    found_ = due(UNIT, "opened shield")
    (lamp,) = (one for one in found_.due if one.test.id == "lamp")
    assert ("touched", "inner-plug") in [(one.kind, one.name) for one in lamp.shows]


def test_a_promised_function_that_another_hides_blocks_the_proof_and_a_declared_one_does_not() -> None:
    blocked = due(UNIT, "tried lamp works", "tried powers fails")
    assert [(one.function, one.by) for one in blocked.standing.masked] == [
        ("runs", ("powers",)),
        ("sound", ("powers",)),
    ]
    assert names(blocked) == []
    assert not blocked.proved
    assert {str(one) for one in blocked.out_of_reach} >= {"runs", "sound"}
    own = due(UNIT, *ALL_WORK[:2], "tried runs works", "tried lamp fails")
    assert own.standing.failing == ("lamp",)
    assert not own.proved
    assert due(UNIT, *ALL_WORK[:2], "tried runs works", "tried lamp fails", "declared lamp").proved
    nothing = due(UNIT, *(f"declared {name}" for name in UNIT.wanted))
    assert (nothing.due, nothing.proved) == ((), False)


def test_a_part_that_left_the_unit_masks_what_needs_it() -> None:
    found_ = due(UNIT, "opened lid", "harvested board")
    assert [(one.function, one.by) for one in found_.standing.masked] == [("runs", ("board",))]
    assert "runs" not in names(found_)


def test_a_test_that_a_hard_rule_forbids_is_named_with_what_lifts_the_rule() -> None:
    found_ = due(UNIT, "past wet")
    assert found_.due == ()
    assert not found_.proved
    ((why, lifts),) = {(one.why, one.lifts) for one in found_.held}
    assert why == "Power on a wet board turns a small fault into a lost board."
    assert lifts == "Pack out, wash what the liquid reached, and dry the unit through (dried unit)"


def test_a_tool_that_is_not_here_holds_a_test_back_and_another_way_is_taken() -> None:
    slow = replace(tried("works", minutes=9.0), id="by-hand")
    on = device([part("p")], [wanted("works", "p")], [tried("works", tools=("scope",)), slow])
    assert names(due(on)) == ["works"]
    assert names(due(on, "lacks tool scope")) == ["by-hand"]
    none = due(replace(on, tests={"works": on.tests["works"]}), "lacks tool scope")
    assert [(one.test, one.why) for one in none.held] == [("works", "No such tool: scope.")]


def test_what_no_test_of_the_map_shows_is_said_and_a_promise_without_a_test_is_never_proved() -> None:
    quiet = replace(UNIT, tests={name: test for name, test in UNIT.tests.items() if name != "runs"})
    found_ = due(quiet, *ALL_WORK[:3])
    assert {str(one) for one in found_.gaps} == {"runs", "closed: grille (off)", "warm: paste (off)"}
    assert found_.unshown == ("runs",)
    assert not found_.proved


def test_what_only_a_test_behind_a_step_shows_blocks_where_opening_would_end_what_cannot_be_shown_again() -> None:
    """'works' passed, and its tool has left since: opening the lid would end that for good."""
    spare = replace(UNIT.parts["supply"], id="spare", behind="lid")
    either = replace(wanted("works"), any_of=(("spare", "other"),))
    tests = [tried("works", tools=("scope",)), found("spare-test", "spare", behind="lid")]
    on = device([spare, part("other")], [either], tests, [UNIT.steps["lid"]])
    done = ("opened lid", "mended spare resolder", "closed all", "tried works works")
    assert names(due(on, *done)) == ["spare-test", "works"]
    found_ = due(on, *done, "lacks tool scope")
    assert names(found_) == []
    assert [str(one) for one in found_.out_of_reach] == ["touched: spare (dead)"]
    assert not found_.proved


def test_opening_is_paid_for_only_where_it_takes_less_time_than_the_tests_it_spares() -> None:
    """A mended part with another that stands in for it: only a test of its own, behind the lid, or a try of what rests
    on it alone tells."""
    spare = replace(UNIT.parts["supply"], id="spare", behind="lid")
    either = replace(wanted("works"), any_of=(("spare", "other"),))
    for long, chosen, minutes in ((3.0, ["works", "extra"], 5.0), (60.0, ["spare-test", "works"], 6.0)):
        on = device(
            [spare, part("other")],
            [either, replace(wanted("extra", "spare"), wanted=False)],
            [tried("works"), tried("extra", minutes=long), found("spare-test", "spare", behind="lid")],
            UNIT.steps.values(),
        )
        on = replace(on, steps={"lid": on.steps["lid"]})
        found_ = due(on, "opened lid", "mended spare resolder", "closed all")
        assert sorted(names(found_)) == sorted(chosen)
        assert found_.minutes == minutes
