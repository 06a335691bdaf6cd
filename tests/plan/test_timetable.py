"""Jobs for one pair of hands: brute force, an independent check of every plan, and from moves to jobs."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from small import bench, device, log, part, remedy, step, tried, wanted

from knowngood.handbook.quantities import parse_money
from knowngood.maps import load
from knowngood.maps.device import Device
from knowngood.plan.choose import advise
from knowngood.plan.several import in_order, turn_of
from knowngood.plan.timetable.bound import least_cost
from knowngood.plan.timetable.jobs import Job, Order, Phase, Problem, Slot, cost, placed
from knowngood.plan.timetable.solve import improved, searched, timetable
from knowngood.plan.timetable.strip import Strip, strip
from knowngood.plan.timetable.work import Work, held_now, work_of

TOOLS = ("clamp", "bath")
some_tools = st.frozensets(st.sampled_from(TOOLS), max_size=1)
phase = st.builds(Phase, st.integers(1, 6), st.sampled_from((0, 0, 3, 9, 20)), some_tools, some_tools)
job = st.builds(
    Job,
    st.just("U"),
    st.integers(0, 9),
    st.lists(phase, min_size=1, max_size=2).map(tuple),
    st.sampled_from((0, 0, 0, 4, 15)),
)
held = st.dictionaries(st.sampled_from(TOOLS), st.integers(1, 12), max_size=1)


def problems(most_jobs: int, most_phases: int) -> st.SearchStrategy[Problem]:
    drawn = st.builds(Problem, st.lists(job, min_size=1, max_size=most_jobs).map(tuple), held)
    return drawn.filter(lambda one: sum(len(each.phases) for each in one.jobs) <= most_phases)


def every_order(problem: Problem) -> Iterator[Order]:
    """Each order in which the hands can take the phases, once."""

    def after(order: list[int], left: Counter[int]) -> Iterator[Order]:
        if not +left:
            yield order
        for number in +left:
            yield from after([*order, number], left - Counter([number]))

    return after([], Counter({number: len(one.phases) for number, one in enumerate(problem.jobs)}))


def cheapest(problem: Problem) -> int:
    return min(cost(problem, placed(problem, order)) for order in every_order(problem))


def wrong(problem: Problem, slots: tuple[Slot, ...]) -> list[str]:
    """What is wrong with a timetable, tick by tick and by no code of its own."""
    found = []
    begun = {(slot.job, slot.phase): slot.start for slot in slots}
    hands: Counter[int] = Counter()
    tools: Counter[tuple[str, int]] = Counter()
    for number, one in enumerate(problem.jobs):
        free = one.ready
        for place, each in enumerate(one.phases):
            start = begun.pop((number, place), None)
            if start is None:
                found.append(f"{number}.{place} is missing")
                continue
            if start < free:
                found.append(f"{number}.{place} starts before it can")
            free = start + each.hands + each.alone
            hands.update(range(start, start + each.hands))
            for tool in each.tools | each.holds:
                until = free if tool in each.holds else start + each.hands
                tools.update((tool, tick) for tick in range(start, until))
                if start < problem.held.get(tool, 0):
                    found.append(f"{tool} is held still")
    found += [f"{tick} has {count} hands" for tick, count in hands.items() if count > 1]
    found += [f"{tool} is twice at {tick}" for (tool, tick), count in tools.items() if count > 1]
    return found + [f"nobody asked for {one}" for one in begun]


@settings(max_examples=25, suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow])
@given(problems(6, 7))
def test_no_order_of_up_to_six_jobs_is_better_than_a_proved_one(problem: Problem) -> None:
    found = timetable(problem)
    assert found.proved
    assert found.cost == cheapest(problem) == found.bound
    assert wrong(problem, found.slots) == []


@settings(max_examples=20, suppress_health_check=[HealthCheck.filter_too_much])
@given(problems(9, 18))
def test_a_timetable_without_a_search_keeps_every_rule_and_says_its_gap(problem: Problem) -> None:
    found = timetable(problem, effort=0.0)
    assert wrong(problem, found.slots) == []
    assert found.bound <= found.cost
    assert 0.0 <= found.gap <= 1.0
    assert found.proved == (found.gap == 0.0)


@settings(max_examples=50)
@given(problems(4, 6))
def test_the_bound_is_below_every_order(problem: Problem) -> None:
    assert least_cost(problem) <= cheapest(problem)


def test_the_check_finds_two_hands_a_tool_taken_twice_and_what_starts_too_early() -> None:
    clamped = Phase(2, 5, frozenset(), frozenset({"clamp"}))
    problem = Problem((Job("A", 1, (clamped, Phase(1))), Job("B", 1, (clamped,), ready=3)), {"clamp": 1})
    right = placed(problem, [0, 0, 1])
    assert wrong(problem, right) == []
    assert wrong(problem, right[:-1]) == ["1.0 is missing"]
    early = (Slot(0, 0, 0, 2, 7), Slot(0, 1, 1, 2, 2), Slot(1, 0, 1, 3, 8))
    said = wrong(problem, early)
    assert "clamp is held still" in said
    assert "0.1 starts before it can" in said
    assert "1.0 starts before it can" in said
    assert "1 has 3 hands" in said
    assert "clamp is twice at 1" in said


GLUE_FIRST = Problem((Job("A", 100, (Phase(60),)), Job("B", 20, (Phase(10, 100), Phase(30)))))


def test_a_long_wait_is_started_first_though_the_other_job_is_worth_more() -> None:
    """60 ticks at once and 70 later: A over at 70, B at 140; the other way round at 60 and 200."""
    found = timetable(GLUE_FIRST)
    assert [(slot.job, slot.start) for slot in found.slots] == [(1, 0), (0, 10), (1, 110)]
    assert found.cost == 100 * 70 + 20 * 140
    assert found.proved


def test_the_search_and_the_moves_of_single_turns_find_it_each_alone() -> None:
    order, known = searched(GLUE_FIRST, [0, 1, 1], 1.0)
    assert list(order) == [1, 0, 1]
    assert known == 100 * 70 + 20 * 140
    assert list(improved(GLUE_FIRST, [0, 1, 1], known)) == [1, 0, 1]


# --- from a unit's next move to its place in the timetable ---

GLUED = device(
    [part("boss", remedy("glue", minutes=10.0, wait=720.0, holds=("clamp",), tools=("clamp",)), base=0.5)],
    [wanted("starts", "boss")],
    [tried("starts", minutes=3.0, false_alarm=0.0)],
    unknown=0.0,
)
QUICK = device(
    [part("board", remedy("solder", minutes=60.0), base=0.5)],
    [wanted("starts", "board")],
    [tried("starts", minutes=3.0, false_alarm=0.0)],
    unknown=0.0,
)


def work(unit: str, on: Device, *lines: str, lain: float = 0.0, late: float = 0.0) -> Work:
    return work_of(turn_of(unit, advise(on, log(on, *lines), bench()), bench()), lain, late)


def planned(*works: Work, held: dict[str, float] | None = None) -> Strip:
    return strip(works, 40.0, held or {})


def begins(found: Strip) -> list[tuple[str, str, float]]:
    """Of each stretch the unit, its move or "" for the rest of a job, and its start."""
    return [(one.work.turn.unit, one.work.move.name if one.first else "", one.start) for one in found.stretches]


def test_what_cures_is_started_first_and_rings_while_the_hands_go_on_elsewhere() -> None:
    found = planned(work("U1", QUICK, "tried starts fails"), work("U2", GLUED, "tried starts fails"))
    assert begins(found) == [("U2", "mend boss", 0.0), ("U1", "mend board", 10.0)]
    (ring,) = found.rings
    assert (ring.unit, ring.what, ring.at, ring.planned) == ("U2", "boss cured", 730.0, True)
    assert (found.idle, found.later, found.found.proved) == ((), (), True)


def test_what_cures_still_waits_for_its_time_and_is_then_shown_to_work() -> None:
    cured = work("U1", GLUED, "tried starts fails", "mended boss glue", late=700.0)
    assert (cured.move.name, cured.cures) == ("try starts", 20.0)
    found = planned(cured)
    assert begins(found) == [("U1", "try starts", 20.0), ("U1", "", 23.0)]
    (idle,) = found.idle
    assert (idle.why, idle.until) == ("Still curing: boss.", 20.0)
    assert planned(work("U1", GLUED, "tried starts fails", "mended boss glue")).stretches == ()


def test_a_clamp_that_is_on_one_unit_keeps_another_waiting() -> None:
    told = log(GLUED, "mended boss glue")
    assert held_now(GLUED, told.state) == {"clamp": 720.0}
    found = planned(work("U1", GLUED, "tried starts fails"), held={"clamp": 15.0})
    assert begins(found) == [("U1", "mend boss", 15.0)]
    (idle,) = found.idle
    assert (idle.why, idle.until) == ("The clamp is on something that cures.", 15.0)


def test_two_units_that_need_the_only_clamp_are_glued_one_after_the_other_has_cured() -> None:
    found = planned(work("U1", GLUED, "tried starts fails"), work("U2", GLUED, "tried starts fails"))
    assert begins(found) == [("U1", "mend boss", 0.0)]
    assert found.later == ("U2",)
    assert next(slot.start for slot in found.found.slots if slot.job == 1) == 7300


def test_what_was_put_off_is_in_no_order_and_says_why() -> None:
    found = planned(work("U1", QUICK, "tried starts fails", "deferred board"))
    assert found.stretches == ()
    assert [(one.unit, one.why, one.until) for one in found.idle] == [("U1", "Not now: board.", None)]


def test_a_unit_cools_from_its_last_line_on() -> None:
    hot = device(
        [part("board", remedy("solder", minutes=60.0), base=0.5, behind="lid")],
        [wanted("starts", "board")],
        [tried("starts", minutes=3.0, false_alarm=0.0)],
        [step("lid", 2.0, 2.0, wait=45.0)],
        unknown=0.0,
    )
    found = planned(work("U1", hot, "tried starts fails", lain=30.0))
    assert begins(found) == [("U1", "mend board", 15.0)]
    assert [(one.what, one.at, one.planned) for one in found.rings] == [("cool", 15.0, False)]
    assert [(one.why, one.until) for one in found.idle] == [("It cools before it may be opened.", 15.0)]
    assert begins(planned(work("U1", hot, "tried starts fails", lain=60.0))) == [("U1", "mend board", 0.0)]


def test_a_soak_runs_without_hands_and_keeps_its_tools() -> None:
    soak = replace(QUICK.tests["starts"], runs=33.0, tools=("watt meter",))
    running, other = (work(unit, replace(QUICK, tests={"starts": soak})) for unit in ("U1", "U2"))
    assert (running.move.name, running.alone) == ("try starts", 30.0)
    found = planned(running, other)
    assert begins(found)[:2] == [("U1", "try starts", 0.0), ("U2", "try starts", 33.0)]
    assert [(one.unit, one.what, one.at) for one in found.rings] == [
        ("U1", "starts done", 33.0),
        ("U2", "starts done", 66.0),
    ]
    free = planned(*(work(unit, replace(QUICK, tests={"starts": replace(soak, tools=())})) for unit in ("U1", "U2")))
    assert begins(free)[:2] == [("U1", "try starts", 0.0), ("U2", "try starts", 3.0)]


def test_with_nothing_to_wait_for_the_order_is_that_of_the_gain_for_an_hour() -> None:
    works = [
        work("U1", QUICK, "tried starts fails"),
        work("U2", QUICK, "tried starts works"),
        work("U3", replace(QUICK, worth=replace(QUICK.worth, working=parse_money("EUR 90"))), "tried starts fails"),
    ]
    order = [able.unit for able in in_order(one.turn for one in works)]
    found = strip(works, 1e6, {}, effort=0.0)
    assert list(dict.fromkeys(one.work.turn.unit for one in found.stretches)) == order
    assert found.found.proved


def test_the_clamp_of_a_shipped_kind_stays_on_and_is_a_tool() -> None:
    holding = {
        (each.name, each.holds, set(each.holds) <= set(each.tools))
        for one in load("ceiling-projector").parts.values()
        for each in one.remedies
        if each.holds
    }
    assert holding == {("glue", ("clamp",), True)}
