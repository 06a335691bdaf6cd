"""The example of the drowned navigator, held to its headings: what is proposed at the turns that matter."""

from __future__ import annotations

import importlib
from pathlib import Path

import pytest

from knowngood.belief.believe import believe
from knowngood.log.lines import understand
from knowngood.log.state import Line, Replay, replay
from knowngood.maps import load
from knowngood.plan.choose import advise
from knowngood.plan.safety import Checker
from knowngood.plan.terms import DEFAULTS, terms
from knowngood.plan.why.stop import said_before
from knowngood.proof.acceptance import acceptance
from knowngood.proof.known import proof
from knowngood.proof.release import release
from knowngood.proof.safety_test import safety_test

EXAMPLES = Path(__file__).parents[2] / "examples"
DEVICE = load("pocket-navigator")


@pytest.fixture
def under(monkeypatch: pytest.MonkeyPatch) -> list[Replay]:
    """The log as it stands at the end of each of its headings; every line fits."""
    monkeypatch.syspath_prepend(str(EXAMPLES))
    demo = importlib.import_module("demo")
    name, paid, past = demo.BOUGHT["drowned-navigator"]
    typed, found = [f"bought {name} for {paid} past {past}"], []
    lines: list[Line] = []
    for _, more, _ in demo.parts((EXAMPLES / "drowned-navigator.log").read_text(encoding="utf-8")):
        for text in (*typed, *more):
            lines.append(Line(len(lines) + 1, "", understand(DEVICE, replay(DEVICE, lines).state, text)))
        typed = []
        found.append(replay(DEVICE, lines))
    assert found[-1].flags == ()
    return found


def test_what_is_proposed_is_what_the_headings_say(under: list[Replay]) -> None:
    turns = {0: "open rear-off", 1: "take-out cell-pack", 3: "part-out"}
    for number, name in turns.items():
        told = under[number]
        bench = terms(DEVICE, **DEFAULTS, prices=told.state.prices)  # type: ignore[arg-type]
        given = advise(DEVICE, told, bench)
        assert given.best.move.name == name
        assert not said_before(given, bench)
        assert not [one.move.name for one in given.ranked if Checker(DEVICE, told).broken(one.move)]


def test_at_its_end_all_that_is_promised_is_shown_and_what_is_not_is_declared(under: list[Replay]) -> None:
    told = under[-2]
    known = believe(DEVICE, told)
    bench = terms(DEVICE, **DEFAULTS, prices=told.state.prices)  # type: ignore[arg-type]
    assert acceptance(known, told, bench).proved
    assert told.state.declared == {"altitude"}
    assert release(DEVICE, told, safety_test(DEVICE, told, []), proof(known, told.state), "working").free
    assert under[-1].state.exit == "working"
