"""The way in says what comes out, what to mark and what it risks, and names the looks that cost no more access."""

from __future__ import annotations

import numpy as np
import pytest
from small import bench, device, found, log, part, remedy, step, told, tried, usual, wanted

from knowngood.belief.believe import believe
from knowngood.belief.what_if import ask, query_test
from knowngood.errors import LineError
from knowngood.maps import load
from knowngood.maps.device import Device, Fastener
from knowngood.plan.value import BIT_MINUTES, bits_told
from knowngood.plan.way_in import WayIn, way_to

PROJECTOR, BATTERY = load("ceiling-projector"), load("some-battery-device")


def way(on: Device, target: str, *lines: str) -> WayIn:
    return way_to(on, told(on, *lines), usual(on), [target])


def test_a_step_a_part_and_a_test_are_all_targets() -> None:
    given = way_to(PROJECTOR, told(PROJECTOR), usual(PROJECTOR), ["lens-out", "red-flex-socket", "interlock-chain"])
    assert given.targets == {"lens-out": "lens-out", "red-flex-socket": "cover-off", "interlock-chain": "cover-off"}
    assert [one.step for one in given.steps] == ["lamp-out", "cover-off", "lens-out"]
    assert (given.minutes, given.closing, given.elapsed) == (18.0, 20.0, 63.0)
    assert given.drivers == {"cross-head": 15, "plastic lever": 4}
    with pytest.raises(
        LineError, match=r"There is no access step, part or test 'lens-uot' on this map\. Similar: 'lens"
    ):
        way(PROJECTOR, "lens-uot")


def test_what_is_open_is_no_step_and_what_is_outside_needs_none() -> None:
    assert [one.step for one in way(PROJECTOR, "board-up", "opened cover-off").steps] == ["board-up"]
    assert way(PROJECTOR, "lamp-door").steps == ()


def test_odd_fasteners_are_called_out_before_they_are_mixed() -> None:
    lamp, cover, board = way(PROJECTOR, "board-up").steps
    assert [one.odd for one in lamp.fasteners] == ["", ""]
    assert [(one.count, one.sort, one.odd) for one in cover.fasteners] == [
        (7, "M3x8", ""),
        (2, "M3x12", "2 odd ones of 'rear' among 7 x M3x8; too long for a shorter one's hole"),
    ]
    assert board.fasteners[0].odd == "keep apart from M3x12 of cover-off, M3x8 of cover-off"
    [only] = way(PROJECTOR, "board-up", "opened cover-off").steps  # the screws of what is open lie on the mat
    assert only.fasteners[0].odd == board.fasteners[0].odd


def test_what_is_unplugged_says_what_to_mark() -> None:
    _, cover, board = way(PROJECTOR, "board-up").steps
    marks = {one.connection: one.marks for step_ in (cover, board) for one in step_.pulls}
    assert marks["keypad-ribbon"] == ("mark it before you pull it: it can go in the wrong way round",)
    assert marks["green-flex-socket"] == (
        "free its latch first: flip",
        "mark which is which, it looks like red-flex-socket, blue-flex-socket",
    )
    assert marks["supply-lead"] == ()


def test_glue_and_seals_are_flagged_with_their_risk() -> None:
    glass = way(BATTERY, "display-off").steps[-1]
    assert glass.holds == "glue"
    assert any(one.startswith("Glued: 'display-off'. Glued glass cracks") for one in glass.cautions)
    lid = way(PROJECTOR, "engine-open").steps[-1]
    assert lid.holds == "seal"
    assert any(one.startswith("Sealed: 'engine-open'. Dust") for one in lid.cautions)


def test_a_step_that_a_hard_rule_forbids_says_what_lifts_it() -> None:
    engine = way(PROJECTOR, "engine-out").steps[-1]
    assert engine.held.startswith("Nobody has measured the capacitor")
    assert engine.first.startswith("discharged ")


SWAP = remedy("replace", part=True, minutes=6.0)
SCREWS = (Fastener(4, "M3", None, "cross-head", None),)
BOX = device(
    [
        part("fan", SWAP, base=0.4, used="EUR 8", behind="lid"),
        part("board", SWAP, base=0.3, used="EUR 20", behind="shield"),
        part("knob", SWAP, base=0.2, used="EUR 2"),
    ],
    [wanted("works", "fan", "board", "knob")],
    [
        tried("works"),
        found("spin", "fan", behind="lid"),
        found("spin-long", "fan", behind="lid", minutes=20.0),
        found("hum", "fan", "mains", behind="lid"),
        found("probe", "board", behind="shield"),
        found("turn", "knob"),
    ],
    [step("lid", 10.0, 6.0, fasteners=SCREWS), step("shield", 3.0, 2.0, "lid")],
)


def test_looks_on_the_way_are_free_of_access_one_for_each_part_and_worth_more_than_their_minutes() -> None:
    given = way_to(BOX, log(BOX, "tried works fails"), bench(), ["lid"])
    assert {one.move.log: one.after for one in given.looks} == {"found spin": "lid", "found turn": None}
    assert [one.worth for one in given.looks] == sorted((one.worth for one in given.looks), reverse=True)
    deeper = way_to(BOX, log(BOX, "tried works fails"), bench(), ["board"])
    assert {one.move.log: one.after for one in deeper.looks} == {
        "found spin": "lid",
        "found turn": None,
        "found probe": "shield",
    }


def test_the_worth_of_a_look_is_what_it_tells_at_the_price_of_a_bit_less_its_minutes() -> None:
    told_ = log(BOX, "tried works fails", "opened lid")
    belief = believe(BOX, told_)
    [answer] = ask(belief, [query_test(belief, BOX.tests["spin"])])
    bits = bits_told(
        answer, np.array([{one.part: one.p_blocks for one in belief.suspects}[p.id] for p in belief.parts])
    )
    spin = next(one for one in way_to(BOX, told_, bench(), ["lid"]).looks if one.move.log == "found spin")
    assert spin.bits == pytest.approx(bits)
    assert spin.worth == pytest.approx((bits * BIT_MINUTES - 1.0) * 0.5)


def test_what_was_found_already_or_put_off_is_not_asked_again() -> None:
    def asked(*lines: str) -> set[str]:
        return {one.move.log for one in way_to(BOX, log(BOX, "tried works fails", *lines), bench(), ["lid"]).looks}

    assert "found turn" in asked()
    assert "found turn" not in asked("found turn ok")
    assert "found turn" not in asked("deferred knob")
