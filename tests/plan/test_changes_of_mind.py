"""The scenario of the demo: where the advice changes for another reason than that it was followed, and what is said."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from knowngood.log import events as ev
from knowngood.log.lines import understand
from knowngood.log.state import Line, replay
from knowngood.maps import load
from knowngood.plan.choose import advise
from knowngood.plan.terms import DEFAULTS, terms
from knowngood.plan.why.change import Change, change

LOG = Path(__file__).parents[2] / "examples" / "fallen-projector.log"
DEVICE = load("ceiling-projector")
TERMS = terms(DEVICE, **DEFAULTS)


@cache
def lines() -> tuple[Line, ...]:
    made = [Line(1, "", ev.parse("bought ceiling-projector for EUR 35 past dropped"))]
    for text in LOG.read_text(encoding="utf-8").splitlines():
        if text and not text.startswith(("#", "==", "D1 ")):
            made.append(Line(len(made) + 1, "", understand(DEVICE, replay(DEVICE, made).state, text)))
    return tuple(made)


def changed_by(start: str) -> tuple[Change | None, str]:
    """What changed the advice at the first line that begins so, and the advice after it."""
    number = next(one.seq for one in lines() if ev.render(one.event).startswith(start))
    told = lines()[:number]
    after = advise(DEVICE, replay(DEVICE, told), TERMS)
    return change(after, told, TERMS), after.best.move.name


@pytest.mark.parametrize(
    ("line", "then", "suspect", "now"),
    [
        ("tried lamp-ticks fails", "", "lamp-door-tab", "likelier"),
        ("found flex-latches standing", "test blue-flex-socket.line-look", "red-flex-socket", "likelier"),
        ("saw green-flex-socket unseated", "test green-flex-socket.line-look", "green-flex-socket", "likelier"),
        ("mended green-flex-socket reseat", "test flex-latches", "green-flex-socket", "less likely"),
        ("tried stays-lit works", "", "top-cover", "less likely"),
    ],
)
def test_the_advice_changes_for_a_finding_that_nobody_was_told_to_make(
    line: str, then: str, suspect: str, now: str
) -> None:
    found, best = changed_by(line)
    assert found is not None
    assert not found.followed
    assert ev.render(found.line.event).startswith(line)
    assert then in ("", best)
    assert found.before.move.name != best
    assert found.part == suspect
    assert (found.p_after > found.p_before) == (now == "likelier")
    assert abs(found.p_after - found.p_before) > 0.05
