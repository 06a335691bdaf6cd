"""Fasteners are counted by what the log says, by the map where it says nothing, and what is left over stays known."""

from __future__ import annotations

import pytest

from knowngood.log.events import parse
from knowngood.log.state import Line, Replay, replay
from knowngood.maps import load

PROJECTOR = load("ceiling-projector")


def told(*lines: str) -> Replay:
    given = replay(PROJECTOR, [Line(seq, "", parse(line)) for seq, line in enumerate(lines, 1)])
    assert not given.flags, given.flags
    return given


def missing(*lines: str) -> dict[str, dict[str, int]]:
    state = told(*lines).state
    return {step: dict(one.missing) for step, one in state.fasteners.balances(PROJECTOR, state.open_steps).items()}


OUT = {"M3x8": 7, "M3x12": 2}


@pytest.mark.parametrize(
    ("lines", "left"),
    [
        ((), OUT),
        (("unscrewed cover-off 6 x M3x8",), {"M3x8": 6, "M3x12": 2}),
        (("unscrewed cover-off 4 x M3x8", "unscrewed cover-off 3 x M3x8"), OUT),
        (("unscrewed cover-off 8",), {"": 8}),
        (("unscrewed cover-off 1 x M3x10",), {**OUT, "M3x10": 1}),
        (("unscrewed cover-off 0 x M3x12",), {"M3x8": 7}),
        (("screwed cover-off 6 x M3x8",), {"M3x8": 1, "M3x12": 2}),
        (("screwed cover-off 7 x M3x8", "screwed cover-off 2 x M3x12"), None),
        (("screwed cover-off 9",), None),
        (("screwed cover-off 8",), {"": 1}),
        (("screwed cover-off 3 x M3x12",), {"M3x8": 7, "M3x12": -1}),
        (("closed cover-off",), None),
        (("screwed cover-off 8", "closed cover-off"), {"": 1}),
        (("screwed cover-off 6 x M3x8", "closed cover-off"), {"M3x8": 1}),
        (("screwed cover-off 6 x M3x8", "closed cover-off", "screwed cover-off 1 x M3x8"), None),
        (("screwed cover-off 8", "closed cover-off", "screwed cover-off 1 x M3x12"), None),
        (("unscrewed cover-off 8", "screwed cover-off 8", "closed cover-off"), None),
        (("screwed cover-off 6 x M3x8", "closed cover-off", "opened cover-off"), OUT),
        (("screwed cover-off 6 x M3x8", "closed cover-off", "opened cover-off", "closed cover-off"), {"M3x8": 1}),
        (
            ("screwed cover-off 6 x M3x8", "closed cover-off", "opened cover-off", "unscrewed cover-off 6 x M3x8"),
            OUT,
        ),
        (
            ("screwed cover-off 6 x M3x8", "closed cover-off", "opened cover-off", "screwed cover-off 7 x M3x8"),
            {"M3x12": 2},
        ),
        (("screwed cover-off 6 x M3x8", "screwed cover-off 3 x M3x12", "closed all"), {"M3x8": 1, "M3x12": -1}),
        (("screwed cover-off 3 x M3x12", "unscrewed cover-off 1 x M3x12"), {"M3x8": 7}),
        (("screwed cover-off 3 x M3x12", "closed all", "unscrewed cover-off 1 x M3x12"), None),
    ],
)
def test_what_is_not_where_it_belongs(lines: tuple[str, ...], left: dict[str, int] | None) -> None:
    found = missing("opened cover-off", *lines)
    found.pop("lamp-out", None)
    assert found == ({} if left is None else {"cover-off": left})


def test_counting_may_begin_before_the_step_is_open() -> None:
    assert missing("unscrewed lamp-out 2") == {"lamp-out": {"captive": 2}}
    assert missing("unscrewed lamp-out 2", "opened lamp-out") == {"lamp-out": {"captive": 2}}
    assert missing("unscrewed lamp-out 2", "screwed lamp-out 2") == {}


def test_what_the_map_counted_is_told_from_what_a_line_did() -> None:
    state = told("opened cover-off", "unscrewed cover-off 7 x M3x8", "screwed cover-off 5 x M3x8").state
    balance = state.fasteners.balances(PROJECTOR, state.open_steps)["cover-off"]
    assert (balance.out, balance.back, balance.by_map) == (9, 5, {"M3x12"})


def test_a_closing_that_left_something_over_is_remembered_with_its_figures() -> None:
    lines = ("opened cover-off", "screwed cover-off 6 x M3x8", "closed all")

    def figures(*more: str) -> tuple[int, int] | None:
        state = told(*lines, *more).state
        balance = state.fasteners.balances(PROJECTOR, state.open_steps).get("cover-off")
        return (balance.out, balance.back) if balance else None

    assert figures() == (9, 8)
    assert figures("opened lamp-out", "closed lamp-out") == (9, 8)
    assert figures("screwed cover-off 1 x M3x8") is None


def test_an_act_on_the_unit_takes_a_general_check_back() -> None:
    assert told("checked shaken").state.checked == {"shaken"}
    assert told("checked shaken", "opened lamp-out").state.checked == frozenset()
