"""Washed, drying, dried: no power until it is dry, and the plan waits for that and for no longer."""

from __future__ import annotations

import pytest
from small import usual

from knowngood.belief.believe import believe
from knowngood.errors import LineError
from knowngood.log.effect import DRY_WAIT, rested
from knowngood.log.lines import understand
from knowngood.log.state import (
    Line,
    Replay,
    State,
    after,
    as_of,
    replay,
)
from knowngood.maps import load
from knowngood.plan.before_power import before_power
from knowngood.plan.choose import advise

NAVIGATOR = load("pocket-navigator")
WASHED = ("past wet", "opened board-out", "removed cell-pack", "began drying for 20 h")


def told(*lines: str) -> Replay:
    state, given = State(), []
    for seq, line in enumerate(lines, 1):
        event = understand(NAVIGATOR, state, line)
        given.append(Line(seq, "2026-11-02T08:00:00Z", event))
        state = after(NAVIGATOR, state, event, seq)
    return replay(NAVIGATOR, given)


def test_a_washed_unit_is_wet_until_it_is_dried_whatever_it_was_before() -> None:
    washed = told("began drying").state
    assert (washed.wet, washed.drying) == (True, DRY_WAIT)
    assert "Power on a wet board" in before_power_of("began drying")[0]
    dried = told("began drying", "waited 24 h", "dried unit").state
    assert (dried.wet, dried.drying) == (False, None)
    assert told("began drying", "waited 24 h").state.wet, "time alone shows nothing: somebody has to look"


def before_power_of(*lines: str) -> tuple[str, ...]:
    log = told(*lines)
    return before_power(NAVIGATOR, log, usual(NAVIGATOR), believe(NAVIGATOR, log)).no_power


def test_dried_too_early_is_refused_with_what_would_be_right() -> None:
    with pytest.raises(LineError, match=r"It still dries, 19 h 00 min to go\. If less is enough, log 'began drying"):
        told(*WASHED, "waited 1 h", "dried unit")
    assert not told(*WASHED, "began drying for 30 min", "waited 30 min", "dried unit").state.wet
    assert not told("past wet", "dried unit").state.wet, "who logged no beginning is not held to a time"


@pytest.mark.parametrize("hours", [1, 19])
def test_the_plan_waits_for_as_long_as_it_still_dries(hours: int) -> None:
    log = as_of(told(*WASHED), f"2026-11-02T{8 + hours:02}:00:00Z" if hours < 16 else "2026-11-03T03:00:00Z")
    best = advise(NAVIGATOR, log, usual(NAVIGATOR))
    (waiting,) = (one.move for one in best.ranked if one.move.kind == "wait")
    assert waiting.wait == (20 - hours) * 60
    assert waiting.log == f"waited {20 - hours} h"
    assert waiting.then is not None
    assert waiting.then.log == "dried unit"


def test_once_the_time_is_over_a_look_is_what_is_left_and_nobody_washes_it_again() -> None:
    log = as_of(told(*WASHED), "2026-11-03T05:00:00Z")
    assert log.state.drying == 0.0
    (drying,) = (one.move for one in advise(NAVIGATOR, log, usual(NAVIGATOR)).ranked if one.move.kind == "dry")
    assert (drying.log, drying.minutes, drying.wait) == ("dried unit", 1.0, 0.0)
    assert rested(log.state, 60.0).drying == 0.0
