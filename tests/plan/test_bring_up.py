"""Staged bring-up: what is tried at a stage is in and plugged, no rule forbids it, and one wrong answer ends it."""

from __future__ import annotations

import pytest
from small import usual

from knowngood.log import events as ev
from knowngood.log.lines import understand
from knowngood.log.state import Line, Replay, State, after, replay
from knowngood.maps import load
from knowngood.maps.device import Device
from knowngood.plan.bring_up import BringUp, Stage, Trial, bring_up

PROJECTOR, NAVIGATOR = load("ceiling-projector"), load("pocket-navigator")
BUCK = ("tried starts fails", "opened board-out", "mended buck-3v3 new-coil")


def told(on: Device, *lines: str) -> Replay:
    state, given = State(), []
    for seq, line in enumerate(lines, 1):
        event = understand(on, state, line)
        given.append(Line(seq, "", event))
        state = after(on, state, event, seq)
    return replay(on, given)


def of(on: Device, *lines: str) -> BringUp:
    return bring_up(on, told(on, *lines), usual(on))


def line(stage: Stage, target: str) -> Trial:
    return next(one for one in stage.lines if one.target == target)


def targets(stage: Stage, kind: str) -> set[str]:
    return {one.target for one in stage.lines if one.kind == kind}


def answered(one: Trial) -> str:
    """The line that records the right answer."""
    if "VALUE" not in one.log:
        return one.log
    low, unit = one.expect.split(" ", 1)[0], one.expect.split(" ", 1)[1].split(" ")[0]
    return one.log.replace(" A at", " at").replace(" W at", " at").replace("VALUE", f"{low} {unit.rstrip(';,')}")


# --- what stands at which stage ---


def test_the_stages_are_those_of_the_way_back_and_each_thing_is_tried_as_early_as_it_can_be() -> None:
    found = of(NAVIGATOR, *BUCK)
    assert [one.open_steps for one in found.stages] == [
        ("rear-off", "leads-off", "board-out"),
        ("rear-off", "leads-off"),
        ("rear-off",),
        (),
    ]
    bare, plugged, with_pack, closed = found.stages
    assert targets(bare, "measure") >= {"core-rail", "rail-3v3"}
    assert targets(bare, "try") == set(), "the board is out and nothing is plugged into it"
    assert targets(plugged, "try") >= {"starts", "picture-lit", "touch-works"}
    assert targets(with_pack, "try") == {"charges", "runs-on-pack"}
    assert targets(closed, "try") == {"stays-on"}
    assert "picture" in bare.not_yet
    assert "picture" not in plugged.not_yet
    everything = [one.target for stage in found.stages for one in stage.lines]
    assert len(everything) == len(set(everything))
    assert "plugged screen-plug" in [one.log for one in plugged.do]


def test_rails_are_read_to_ground_before_any_power() -> None:
    kinds = [one.kind for one in of(PROJECTOR, "opened cover-off").stages[0].lines]
    assert kinds.count("cold") == 6
    assert set(kinds[:6]) == {"cold"}


@pytest.mark.parametrize("apart", ["unplugged exhaust-fan-plug", "removed exhaust-fan"])
def test_what_is_apart_is_neither_tried_nor_blamed(apart: str) -> None:
    whole, without = of(PROJECTOR, "opened cover-off").stages[0], of(PROJECTOR, "opened cover-off", apart).stages[0]
    assert "fans-turn" in targets(whole, "try")
    assert "fans-turn" not in targets(without, "try")
    assert "fans-turn" in without.not_yet
    assert any("without exhaust-fan it overheats: power for two seconds" in one for one in without.warnings)
    assert not whole.warnings


def test_a_bench_supply_stands_in_for_a_pack_that_is_out_and_for_nothing_else() -> None:
    plugged, with_pack = of(NAVIGATOR, *BUCK).stages[1:3]
    assert line(plugged, "starts").log == "tried starts works on bench"
    (limit,) = plugged.limits
    assert "at most 3.432 V on the system node" in limit, "never above the rail's own voltage"
    assert "current limit 0.7 A (1.5 times the most expected; common practice, no source)" in limit  # 450 mA
    assert line(with_pack, "runs-on-pack").log == "tried runs-on-pack works"
    assert any("its own pack, which limits nothing" in one for one in with_pack.limits)
    mains = [one for stage in of(PROJECTOR, "opened cover-off").stages for one in stage.lines]
    assert {one.power for one in mains} == {"off", "mains"}


def test_draw_and_series_lamp_are_the_maps_figures() -> None:
    opened, plugged, closed = of(PROJECTOR, "opened cover-off").stages
    assert (line(opened, "draw at idle").expect, line(opened, "draw at idle").log) == (
        "500 mW to 6 W",
        "drew VALUE W at idle",
    )
    assert "series lamp of about 6 W" in opened.limits[0]
    assert "series lamp of about 60 W" in plugged.limits[0]
    assert "straight on it with a power meter between, off above 435 W" in closed.limits[0]  # 1.5 x 290 W


# --- hard rules at every stage ---


def test_a_hard_rule_holds_at_every_stage_and_says_what_lifts_it() -> None:
    live = [one for stage in of(PROJECTOR, "past wet").stages for one in stage.lines if one.power != "off"]
    assert live
    assert all("Power on a wet board" in one.held for one in live)
    assert all(one.first.startswith("discharged ") for one in live), "before it is washed its charge is let off"
    hurt = [one for stage in of(NAVIGATOR, "saw cell-pack swollen").stages for one in stage.lines]
    assert all("It goes out first" in one.held for one in hurt)
    out = of(NAVIGATOR, "saw cell-pack swollen", "opened rear-off", "removed cell-pack").stages[0]
    assert not line(out, "starts").held
    assert line(out, "starts").power == "bench"


# --- what the answers do ---


def test_right_answers_move_it_on_until_all_is_tried() -> None:
    lines = [*BUCK, "waited 1 h"]
    for _ in range(9):
        found = of(NAVIGATOR, *lines)
        if not found.stages:
            break
        stage = found.stages[0]
        lines += [one.log for one in stage.do] + [answered(one) for one in stage.lines if one.done is None]
    assert (found.stages, found.stop) == ((), None)
    assert found.passed > 30
    assert not of(NAVIGATOR, *lines, "opened rear-off").passed, "taken apart again, it begins anew"


@pytest.mark.parametrize(
    ("answer", "why"),
    [
        ("read rail-3v3-to-ground 0.4 ohm", "a short: below 2 ohm"),
        ("read rail-3v3-to-ground 40 ohm", "lower than 100 ohm to ground"),
        ("read rail-3v3 2.9 V", "not within 3.3 V +/- 5 %"),
        ("tried starts weak on bench", "'works' is what was to come"),
        ("drew 0 A at starts", "nothing flows: input open"),
        ("drew 90 mA at starts", "less than it should: the start stops early"),
        ("drew 0.7 A at starts", "more than it should: at the limit at once it is a short at the input"),
        ("drew 30 mA at idle", "more than it should at rest"),
        ("drew 2 W at idle", "the map has it in A"),
    ],
)
def test_the_first_wrong_answer_ends_it_and_says_what_came_since_the_last_right_one(answer: str, why: str) -> None:
    before = (*BUCK, "read rail-1v8 1.8 V", "closed board-out", "plugged screen-plug")
    found = of(NAVIGATOR, *before, answer, "tried picture works on bench")
    assert found.stages == ()
    assert found.stop is not None
    assert (found.stop.seq, found.stop.line) == (7, ev.render(told(NAVIGATOR, *before, answer).lines[-1].event))
    assert why in found.stop.why
    assert found.stop.since == ("line 5: closed board-out", "line 6: plugged screen-plug")
    assert of(NAVIGATOR, *before, answer, "mended buck-3v3 new-capacitors").stop is None, "mended, it begins anew"


def test_a_wrong_answer_that_was_made_again_and_is_right_ends_nothing() -> None:
    assert of(NAVIGATOR, *BUCK, "read rail-3v3 2.9 V", "read rail-3v3 3.3 V").stop is None
