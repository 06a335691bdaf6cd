"""Steps that were met and are on no map: open until a line closes them, or what they lie behind."""

from __future__ import annotations

import pytest

from knowngood.errors import LineError
from knowngood.log.lines import understand
from knowngood.log.state import Line, Replay, State, after, replay
from knowngood.maps import load
from knowngood.plan.reassembly import reassembly
from knowngood.plan.terms import DEFAULTS, terms

PROJECTOR = load("ceiling-projector")
TERMS = terms(PROJECTOR, **DEFAULTS)
SHIELD = ("opened cover-off", "met step shield-off behind cover-off -- photo 4", "unscrewed shield-off 3 x M2x4")


def told(*lines: str) -> Replay:
    state, given = State(), []
    for seq, line in enumerate(lines, 1):
        event = understand(PROJECTOR, state, line)
        given.append(Line(seq, "", event))
        state = after(PROJECTOR, state, event, seq)
    return replay(PROJECTOR, given)


@pytest.mark.parametrize("line", ["closed shield-off", "closed shield off in 4 min", "closed all", "closed cover-off"])
def test_a_met_step_is_open_until_it_or_what_it_lies_behind_is_closed(line: str) -> None:
    assert told(*SHIELD).state.ajar == ("cover-off", "lamp-out", "shield-off")
    state = told(*SHIELD, line).state
    assert "shield-off" not in state.ajar
    assert told(*SHIELD, line, "met step shield-off behind cover-off").state.ajar[-1] == "shield-off"
    if line.endswith("in 4 min"):
        assert state.minutes_logged == 4.0


def test_the_inner_one_of_two_met_steps_is_closed_first() -> None:
    two = (*SHIELD, "met step can-off behind shield-off")
    with pytest.raises(LineError, match=r"'can-off' lies behind 'shield-off' and is still open\. Close it first"):
        told(*two, "closed shield-off")
    with pytest.raises(LineError, match="'can-off' is not open"):
        told(*two, "closed can-off", "closed can-off")
    assert told("met step a-off", "met step b-off behind a-off", "met step a-off behind b-off", "closed a-off")


def test_the_sheet_has_a_line_for_each_and_followed_leaves_nothing_open() -> None:
    log = told("met step foot-off", *SHIELD, "met step can-off behind shield-off")
    sheet = reassembly(PROJECTOR, log, TERMS)
    closing = [line for line in sheet.lines if line.kind == "close"]
    assert [line.target for line in closing] == ["can-off", "shield-off", "cover-off", "lamp-out", "foot-off"]
    assert closing[1].notes == ("met, and not on this map", "its screws, as counted: 3 x M2x4")
    assert next(block for block in sheet.blocks if block.step == "shield-off").remarks == ("line 3: photo 4",)
    lines = ["opened cover-off", *(line.log for line in sheet.lines)]
    assert told("met step foot-off", *SHIELD, "met step can-off behind shield-off", *lines[1:]).state.ajar == ()


def test_the_safety_test_waits_for_a_met_step_that_is_open() -> None:
    with pytest.raises(LineError, match="'shield-off' is open, and the safety test is made last"):
        told("met step shield-off", "inspected visual passed")
    assert told("met step shield-off", "closed shield-off", "inspected visual passed").state.leaving.test.begun
