"""Belief against a sum over every course of events on drawn devices, and what must hold on any device."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any

import devices as dv
import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from oracle import Joint, TooManyError

from knowngood.belief import sensing
from knowngood.belief.believe import Belief, believe
from knowngood.belief.what_if import SOMETHING_ELSE, Query, ask, query_look, query_test
from knowngood.errors import ContradictionError, TooLargeError
from knowngood.log import events as ev
from knowngood.log.state import Replay
from knowngood.maps.device import AnyMode, Device, FunctionLevel, Married, PartModes, RailToGround, RailVoltage
from knowngood.maps.load import load
from knowngood.maps.words import Level

Donors = Mapping[int, NDArray[np.float64]]


def drawn(count: int) -> settings:
    slow = [HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much]
    return settings(max_examples=count, deadline=None, suppress_health_check=slow)


@dataclass(frozen=True)
class Case:
    """A device, a log, and what came from donors; shown by its log and the parts and functions in question."""

    device: Device
    events: tuple[ev.Event, ...]
    donors: Donors

    @property
    def replay(self) -> Replay:
        return dv.log(self.device, self.events)

    def _repr_pretty_(self, printer: Any, _: bool) -> None:
        shown = ["", *(ev.render(event) for event in self.events), *map(str, self.donors.items())]
        tables = (self.device.parts, self.device.functions, self.device.tests)
        shown += [f"{_short(one)}" for table in tables for one in table.values()]
        printer.text("\n    ".join([*shown, f"{self.device.married} unknown {self.device.unknown}"]))


def _short(thing: object) -> str:
    """A table with only what is not empty."""
    if is_dataclass(thing) and not isinstance(thing, type):
        values = ((one.name, getattr(thing, one.name)) for one in fields(thing))
        return ", ".join(f"{name} {_short(value)}" for name, value in values if value not in (None, (), False, "drawn"))
    return str(tuple(map(_short, thing))) if isinstance(thing, tuple) else str(thing)


@st.composite
def cases(draw: st.DrawFn, parts: int = 5, **sizes: int) -> Case:
    """A log of a device, whose sizes are those of ``devices``."""
    device = draw(dv.devices(parts, **sizes))
    events = tuple(draw(dv.logs(device, most=5 if parts < 8 else 4)))
    donors = {}
    for line in dv.log(device, events).lines:
        if isinstance(line.event, ev.Fitted) and line.event.origin == "D1":
            count = len(device.parts[line.event.part].states)
            weights = np.array(draw(st.lists(st.integers(1, 5), min_size=count, max_size=count)), float)
            donors[line.seq] = weights / weights.sum()
    return Case(device, events, donors)


def jointly(case: Case, *, asked: bool = False) -> Joint:
    """Every course of events of a drawn case, if they are not too many to sum."""
    try:
        return Joint(case.device, case.replay, case.donors, asked=asked)
    except TooManyError:
        assume(False)
        raise


def believed(case: Case, *more: str) -> Belief:
    """The belief of a case, with more lines at its end."""
    replay = dv.log(case.device, [*case.events, *more])
    try:
        return believe(case.device, replay, donors=case.donors)
    except TooLargeError:  # refused, and said so; whether it is rare is seen by how many draws are left
        assume(False)
        raise


@drawn(150)
@given(cases())
def test_belief_is_the_sum_over_every_course_of_events(case: Case) -> None:
    check(case, jointly(case))


@drawn(12)
@given(cases(parts=12, functions=3, most=2**12, modes=1, least=9))
def test_belief_is_the_sum_on_devices_of_many_parts(case: Case) -> None:
    check(case, jointly(case))


def check(case: Case, joint: Joint) -> None:
    if joint.total == 0.0:
        with pytest.raises(ContradictionError):
            believed(case)
        return
    belief = believed(case)
    assert belief.log_evidence == pytest.approx(joint.log_evidence, rel=1e-12, abs=1e-12)
    for suspect in belief.suspects:
        expected = joint.posterior(suspect.part)
        assert list(suspect.modes.values()) == pytest.approx(list(expected[1:]), rel=1e-10, abs=1e-12), suspect.part
        assert suspect.p_bad == pytest.approx(expected[1:].sum(), rel=1e-10, abs=1e-12), suspect.part
        assert suspect.p_blocks == pytest.approx(joint.p_blocks(suspect.part), rel=1e-10, abs=1e-12), suspect.part
    assert belief.known_good == pytest.approx(joint.known_good(), rel=1e-10, abs=1e-12)
    for function, chance in belief.unknown.items():
        assert chance == pytest.approx(joint.unknown(function), rel=1e-10, abs=1e-12)


@drawn(60)
@given(cases(most=2**7))
def test_what_if_is_the_sum_over_every_course_of_events(case: Case) -> None:
    joint = jointly(case, asked=True)
    assume(joint.total > 0.0)
    check_what_if(case, joint)


def check_what_if(case: Case, joint: Joint) -> None:
    """Chance, known good and blocks after each outcome of each test and look that would be news.

    Blocks of a part with modes that only a failing backup lets through are exact in ``Belief.suspects`` alone.
    """
    belief = believed(case)
    alone = [not joint.stopping(part)[1] for part in case.device.parts]
    state = joint.state

    def compare(query: Query, table: NDArray[np.float64], rows: NDArray[np.int_]) -> None:
        answer = ask(belief, [query])[0]
        assert answer.probability.sum() == pytest.approx(1.0, abs=1e-12)
        for outcome, name in enumerate(query.outcomes):
            weights = joint.weights * table[:, outcome][rows]
            chance = weights.sum() / joint.total
            assert answer.probability[outcome] == pytest.approx(chance, abs=1e-12), (query.id, name)
            if chance < 1e-9:
                continue  # what is left of a rest of one is all rounding
            near = 1e-11 / chance
            assert answer.known_good[outcome] == pytest.approx(joint.known_good(weights), abs=near), (query.id, name)
            expected = [joint.p_blocks(part, weights) for part in case.device.parts]
            np.testing.assert_allclose(
                answer.p_blocks[outcome, alone],
                np.array(expected)[alone],
                rtol=0,
                atol=near,
                err_msg=f"{query.id} {name}",
            )

    for test in case.device.tests.values():
        now = joint.now(test)
        if not (isinstance(test.senses, PartModes) and test.senses.part in now.absent):
            compare(query_test(belief, test), joint.whole_table(test), joint.sensed(test, now))
    for name, part in case.device.parts.items():
        if name not in state.harvested:
            table = sensing.look_table(part, None)
            query = query_look(belief, name)
            named = [sensing.LOOKS.index(one) for one in query.outcomes if one != SOMETHING_ELSE]
            rest = 1.0 - table[:, named].sum(axis=1, keepdims=True)
            then = joint.along(joint.place[name], np.array(joint.then(name, joint.age[joint.place[name]])))
            compare(query, np.hstack([table[:, named], rest]), np.broadcast_to(then, joint.weights.shape))


def steady(case: Case) -> Case:
    """The case on a device whose faults are always there."""
    lasting = {
        name: replace(part, modes=tuple(replace(mode, shows=None) for mode in part.modes))
        for name, part in case.device.parts.items()
    }
    return replace(case, device=replace(case.device, parts=lasting, content_hash=case.device.content_hash + "steady"))


def corner(device: Device, *lines: str) -> Case:
    return Case(device, tuple(ev.parse(line) for line in lines), {})


PAIR = dv.device(
    [dv.part("left"), dv.part("right"), dv.part("spare")],
    [dv.function("light", any_of=(("left", "spare"), ("right", "spare")), wanted=True), dv.function("hum")],
    [
        dv.tried("light.tried", "light"),
        dv.tried("hum.tried", "hum"),
        dv.found("left.ohms", PartModes("left", (("dead", 0.9),))),
    ],
)
WARM_HIGH = dv.device(
    [dv.part("feed", dv.mode("dead", 0.5), dv.mode("over", 0.5, gives=Level.GOOD, high=True, when="warm"))],
    [dv.function("rail", "feed", rail=True), dv.function("light", "rail", wanted=True)],
    [dv.tried("light.tried", "light"), dv.read("rail.volts", RailVoltage("rail"))],
)
TWICE_BACKED = dv.device(
    [dv.part("left"), dv.part("right", dv.mode(limits=(("aid", Level.NONE),)))],
    [
        dv.function("light", any_of=(("left", "right"), ("right",)), wanted=True),
        dv.function("aid", "right"),
        dv.function("hum", any_of=(("aid", "left"),), wanted=True),
    ],
    [dv.tried("light.tried", "light"), dv.tried("hum.tried", "hum")],
)
SURE = dv.device(
    [dv.part("lamp")], [dv.function("light", "lamp", wanted=True)], [dv.tried("light.tried", "light")], unknown=0.0
)
IDLE = dv.device(
    [dv.part("lamp"), dv.part("odd", dv.mode(gives=Level.GOOD))],
    [dv.function("light", wanted=True), dv.function("hum", "lamp", "odd")],
    [dv.found("shake", AnyMode((("lamp", ("dead",)),)))],
)
SHORT_AT_TIMES = dv.device(
    [dv.part("feed"), dv.part("motor", dv.mode("short", takes="short", shows=3.0), on=("rail",))],
    [dv.function("rail", "feed", rail=True, wanted=True)],
    [dv.read("rail.ohms", RailToGround("rail"))],
)
HIGH_AT_TIMES = dv.device(
    [dv.part("feed", dv.mode("dead", 0.5), dv.mode("over", 0.5, gives=Level.WEAK, high=True, shows=3.0))],
    [dv.function("rail", "feed", rail=True, wanted=True)],
    [dv.read("rail.volts", RailVoltage("rail"))],
)
CORNERS = {
    "two groups come to the same": corner(
        PAIR, "tried light.tried works", "removed left", "removed right", "tried light.tried works"
    ),
    "a harvested backup": corner(PAIR, "tried light.tried works", "harvested left"),
    "a harvested backup of two groups, one of them gone for certain": corner(TWICE_BACKED, "harvested right"),
    "every slot is empty": corner(PAIR, "harvested left", "harvested right", "harvested spare"),
    "a harvested part is replaced": corner(PAIR, "harvested left", "fitted left from used", "tried light.tried weak"),
    "too high only when warm, read cold": corner(WARM_HIGH, "tried light.tried works"),
    "too high, but removed": corner(WARM_HIGH, "read rail.volts 7.4 V", "removed feed"),
    "a short that comes and goes, measured twice": corner(
        SHORT_AT_TIMES, "read rail.ohms 0.3 ohm", "read rail.ohms 1.5 kohm"
    ),
    "too high at times, and not yet read": corner(HIGH_AT_TIMES),
    "no unknown": corner(SURE),
    "nothing logged": corner(IDLE),
    "a part that is out is not sensed": corner(IDLE, "removed lamp", "found shake bad"),
}


@pytest.mark.parametrize("case", CORNERS.values(), ids=CORNERS)
def test_corners(case: Case) -> None:
    """Small cases that a draw seldom meets."""
    assert case.replay.flags == ()
    check(case, jointly(case))
    check_what_if(case, jointly(case, asked=True))


@pytest.mark.parametrize(("when", "stops"), [(None, True), ("cold", True), ("warm", True), ("open", False)])
def test_what_blocks_is_what_keeps_a_unit_from_being_known_good(when: str | None, stops: bool) -> None:
    """A unit is used closed, cold and warm: a fault that shows only while it is open stops nothing."""
    device = dv.device([dv.part("lamp", dv.mode(when=when))], [dv.function("light", "lamp", wanted=True)], unknown=0.0)
    belief = believe(device, dv.log(device, []))
    assert belief.suspects[0].p_bad == pytest.approx(0.1, rel=1e-12)
    assert belief.suspects[0].p_blocks == pytest.approx(0.1 if stops else 0.0, rel=1e-12)
    assert belief.known_good == pytest.approx(0.9 if stops else 1.0, rel=1e-12)


def test_what_if_is_the_belief_with_that_outcome_logged() -> None:
    """On a shipped map, with a lamp replaced, the cover off and a plug out."""
    device = load("ceiling-projector")
    lines = ["past dropped", "tried fans-turn fails", "fitted lamp-module from used", "opened cover-off"]
    lines += ["unplugged exhaust-fan-plug", "read rail-12v 11.9 V", "saw lamp-door-tab misaligned"]
    open_tests = [test for test in device.tests.values() if test.verb != "read" and not test.closed]
    asked = [test for test in open_tests if isinstance(test.senses, (FunctionLevel, AnyMode))][::2]
    asked += [test for test in open_tests if isinstance(test.senses, PartModes)][::16]
    belief = believe(device, dv.log(device, lines))
    with_backup = {"receiver-front", "receiver-rear"}  # either hears the remote control: see ``Belief.blocks``
    for test, answer in zip(asked, ask(belief, [query_test(belief, test) for test in asked]), strict=True):
        for outcome, word in enumerate(test.outcomes):
            anew = believe(device, dv.log(device, [*lines, f"{test.verb} {test.id} {word}"]))
            chance = np.exp(anew.log_evidence - belief.log_evidence)
            assert answer.probability[outcome] == pytest.approx(chance, abs=1e-12), (test.id, word)
            assert answer.known_good[outcome] == pytest.approx(anew.known_good, abs=1e-12 / chance), (test.id, word)
            blocks = {one.part: one.p_blocks for one in anew.suspects}
            for part, found in zip(belief.parts, answer.p_blocks[outcome], strict=True):
                if part.id not in with_backup:
                    assert found == pytest.approx(blocks[part.id], abs=1e-11 / chance), (test.id, word, part.id)


def evidence_only(events: Sequence[ev.Event]) -> list[int]:
    return [place for place, event in enumerate(events) if isinstance(event, (ev.Saw, ev.Tried, ev.Found, ev.Read))]


def same_belief(one: Belief, other: Belief, names: Mapping[str, str] | None = None) -> None:
    """Every part of the one is the same in the other, where it may have another name."""
    theirs = {suspect.part: suspect for suspect in other.suspects}
    assert other.known_good == pytest.approx(one.known_good, rel=1e-10, abs=1e-13)
    for ours in one.suspects:
        found = theirs[(names or {}).get(ours.part, ours.part)]
        assert list(found.modes.values()) == pytest.approx(list(ours.modes.values()), rel=1e-10, abs=1e-13), ours.part
        assert found.p_blocks == pytest.approx(ours.p_blocks, rel=1e-10, abs=1e-13), ours.part


def possible(case: Case) -> Belief:
    try:
        return believed(case)
    except ContradictionError:
        assume(False)
        raise


@drawn(40)
@given(cases(), st.data())
def test_order_of_evidence_between_two_acts_changes_nothing(drawn_case: Case, data: st.DataObject) -> None:
    case = steady(drawn_case)  # what shows by turns may show in one order and not in the other
    belief = possible(case)
    seen = set(evidence_only(case.events))
    shuffled: list[ev.Event] = []
    stretch: list[ev.Event] = []
    for place, event in enumerate(case.events):
        if place in seen:
            stretch.append(event)
        else:
            shuffled += [*data.draw(st.permutations(stretch)), event]
            stretch = []
    shuffled += data.draw(st.permutations(stretch))
    same_belief(belief, believed(replace(case, events=tuple(shuffled))))


@drawn(40)
@given(cases(), st.sampled_from(dv.CONDITIONS))
def test_a_part_that_nothing_needs_changes_nothing_else(case: Case, condition: str) -> None:
    belief = possible(case)
    idle = dv.part("idle", dv.mode("bent", looks=(("cracked", 0.5),)))
    more = replace(
        case.device, parts={**case.device.parts, "idle": idle}, content_hash=case.device.content_hash + "idle"
    )
    same_belief(belief, believed(replace(case, device=more)))
    looked_at = believed(replace(case, device=more), f"saw idle {condition}")
    same_belief(belief, looked_at)
    assert next(one for one in looked_at.suspects if one.part == "idle").p_blocks == 0.0


@drawn(40)
@given(cases())
def test_names_mean_nothing(case: Case) -> None:
    """New names also turn every alphabetical order round."""
    belief = possible(case)
    known = [*case.device.parts, *case.device.functions, *case.device.tests, *case.device.steps]
    names = {name: f"n{len(known) - number:03d}" for number, name in enumerate(known)}
    device = dv.renamed(case.device, names)
    device = replace(device, content_hash="renamed" + case.device.content_hash)
    events = tuple(dv.renamed(event, names) for event in case.events)
    other = believed(replace(case, device=device, events=events))
    same_belief(belief, other, names)
    assert other.log_evidence == pytest.approx(belief.log_evidence, rel=1e-12, abs=1e-12)


@drawn(40)
@given(cases(), st.sampled_from([0.0, 0.1, 0.5, 1.0]), st.data())
def test_a_test_that_says_bad_as_often_of_what_is_fine_changes_nothing(
    case: Case, alarm: float, data: st.DataObject
) -> None:
    belief = possible(case)
    part = data.draw(st.sampled_from(list(case.device.parts.values())))
    function = data.draw(st.sampled_from(list(case.device.functions)))
    modes = tuple(mode.name for mode in part.modes)
    sensors = [
        FunctionLevel(function),
        AnyMode(((part.id, modes),)),
        PartModes(part.id, tuple((m, alarm) for m in modes)),
    ]
    senses = data.draw(st.sampled_from(sensors))
    coin = dv.found("coin", senses, miss=1.0 - alarm, false_alarm=alarm)
    device = replace(case.device, tests={**case.device.tests, "coin": coin})
    outcome = "bad" if alarm else "ok"
    same_belief(belief, believed(replace(case, device=device), f"found coin {outcome}"))


@drawn(40)
@given(cases())
def test_the_same_again_in_an_unchanged_state_adds_nothing(drawn_case: Case) -> None:
    case = steady(drawn_case)
    belief = possible(case)
    again: list[ev.Event] = []
    for event in case.events:
        again += [event, event] if isinstance(event, (ev.Saw, ev.Tried, ev.Found, ev.Read)) else [event]
    repeated = believed(replace(case, events=tuple(again), donors=shifted(case, again)))
    same_belief(belief, repeated)
    assert repeated.log_evidence == pytest.approx(belief.log_evidence, rel=1e-12, abs=1e-12)


def shifted(case: Case, events: Sequence[ev.Event]) -> Donors:
    """The donors under the numbers that their lines have in a longer log."""
    old = [number for number, event in enumerate(case.events, 1) if isinstance(event, ev.Fitted)]
    new = [number for number, event in enumerate(events, 1) if isinstance(event, ev.Fitted)]
    return {later: case.donors[number] for number, later in zip(old, new, strict=True) if number in case.donors}


@drawn(80)
@given(cases(parts=4, functions=3, most=2**6, sure=True))
def test_a_contradiction_names_lines_of_which_none_can_be_left_out(case: Case) -> None:
    """With the named lines (and the acts) alone the log stays impossible; without any one of them it is possible.

    Where no test errs one log in eight is impossible, where tests may err one in a hundred."""
    try:
        believed(case)
    except ContradictionError as error:
        named, message = error.lines, str(error)
    else:
        return
    event_at = dict(enumerate(case.events, 1))
    assert named
    assert all(f"line {number}: {ev.render(event_at[number])}" in message for number in named)
    unused = {place + 1 for place in evidence_only(case.events)} - set(named)

    def without(left_out: set[int]) -> Case:
        blank = ev.Noted(text="left out")
        return replace(case, events=tuple(blank if n in left_out else event for n, event in event_at.items()))

    with pytest.raises(ContradictionError) as caught:
        believed(without(unused))
    assert caught.value.lines == named
    for one in named:
        believed(without(unused | {one}))


def test_contradictory_lines_are_named_among_others() -> None:
    """Two tests without error contradict each other; what else was logged is not accused."""
    device = dv.device(
        [dv.part("fuse"), dv.part("lamp")],
        [dv.function("power", "fuse"), dv.function("light", "power", "lamp", wanted=True)],
        [
            dv.tried("power.tried", "power", miss=0.0, false_alarm=0.0),
            dv.tried("light.tried", "light", miss=0.0, false_alarm=0.0),
            dv.found("lamp.ohms", PartModes("lamp", (("dead", 0.9),))),
        ],
    )
    lines = [
        "saw lamp fine",
        "tried power.tried fails",
        "found lamp.ohms bad",
        "tried light.tried works",
        "saw fuse fine",
    ]
    with pytest.raises(ContradictionError, match="cannot all be true") as caught:
        believe(device, dv.log(device, lines))
    assert caught.value.lines == [2, 4]
    assert "line 2: tried power.tried fails; line 4: tried light.tried works" in str(caught.value)
    believe(device, dv.log(device, lines[:3]))
    twice = [*lines[:2], lines[1], *lines[2:]]
    with pytest.raises(ContradictionError) as caught:  # of a repeat one line is enough to name
        believe(device, dv.log(device, twice))
    assert caught.value.lines == [3, 5]


def test_of_two_conditions_that_weigh_the_same_the_order_does_not_decide() -> None:
    looks = [(("cracked", 0.5),), (("unseated", 0.5),)]
    modes = [dv.mode(f"m{number}", 0.5, looks=one) for number, one in enumerate(looks)]
    device = dv.device([dv.part("lamp", *modes)], [dv.function("light", "lamp", wanted=True)])
    lines = ["saw lamp cracked", "saw lamp unseated"]
    same_belief(*(believe(device, dv.log(device, order)) for order in (lines, lines[::-1])))


@pytest.mark.parametrize(("test", "outcome"), [("pair.tried", "works"), ("lamp.ohms", "bad")])
def test_what_cannot_be_on_a_split_pair_is_a_contradiction(test: str, outcome: str) -> None:
    """A split pair loses its function for certain: a sure test of it cannot say that it works. A part that is not
    there was not tested, whatever the line says."""
    device = dv.device(
        [dv.part("lamp"), dv.part("driver")],
        [dv.function("pair", "lamp", "driver", wanted=True)],
        [
            dv.tried("pair.tried", "pair", miss=0.0, false_alarm=0.0),
            dv.found("lamp.ohms", PartModes("lamp", (("dead", 1.0),)), false_alarm=0.0),
        ],
        married=[Married(("lamp", "driver"), "keys", ("pair",))],
    )
    line = f"{'tried' if outcome == 'works' else 'found'} {test} {outcome}"
    if test == "pair.tried":
        with pytest.raises(ContradictionError) as caught:
            believe(device, dv.log(device, ["fitted lamp from D1", line]))
        assert caught.value.lines == [2]
    else:
        out = believe(device, dv.log(device, ["removed lamp", line]))
        same_belief(believe(device, dv.log(device, ["removed lamp"])), out)
