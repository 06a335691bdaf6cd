"""What finding out may cost: where nothing pays at the usual price of a bit, the job itself sets the price."""

from __future__ import annotations

import numpy as np
import pytest
from small import bench, device, found, log, part, remedy, step, tried, wanted

from knowngood.belief.believe import believe
from knowngood.maps.device import Device
from knowngood.plan.choose import advise
from knowngood.plan.judge import Judge
from knowngood.plan.value import BIT_MINUTES, bits_of

NAMES = [f"part-{number}" for number in range(10)]


def behind_a_lid(minutes: float) -> Device:
    """Ten parts behind a lid that takes this long each way; a test of one minute tells each, a new one costs EUR 60."""
    parts = [part(name, remedy("replace", part=True), base=0.08, used="EUR 60", behind="lid") for name in NAMES]
    tests = [found(f"flick-{name}", name, behind="lid") for name in NAMES]
    ways = [step("lid", minutes, minutes)]
    return device(parts, [wanted("starts", *NAMES)], [tried("starts", closed=True), *tests], ways)


def judged(on: Device, *lines: str) -> Judge:
    told = log(on, *lines)
    return Judge(on, told.state, bench(), believe(on, told))


@pytest.mark.parametrize("minutes", [5.0, 10.0])
def test_a_lid_is_opened_where_what_lies_behind_it_is_worth_it(minutes: float) -> None:
    """By hand for 10 minutes: lid EUR 10, ten tests EUR 5, one part EUR 62.50, selling EUR 16; 200 less these is 106.

    At the usual price of a bit no single test pays for the lid, and parting it out brings 25.
    """
    on = behind_a_lid(minutes)
    advice = advise(on, log(on, "tried starts fails"), bench())
    assert advice.best.move.kind == "test"
    assert advice.best.move.opens == ("lid",)
    assert advice.stop_worth == 25.0
    assert advice.best.worth > 25.0


def test_a_lid_stays_closed_where_nothing_behind_it_can_pay_for_it() -> None:
    on = behind_a_lid(160.0)
    assert judged(on, "tried starts fails").bearable_minutes() < BIT_MINUTES
    assert advise(on, log(on, "tried starts fails"), bench()).best.move.kind == "part-out"


def test_the_bearable_price_takes_all_that_going_on_would_gain() -> None:
    on = behind_a_lid(10.0)
    judge = judged(on, "tried starts fails")
    dear = Judge(on, judge.state, judge.terms, judge.belief, judge.bearable_minutes())
    dearer = Judge(on, judge.state, judge.terms, judge.belief, judge.bearable_minutes() * 0.99)
    assert dear._now == pytest.approx(judge.stop)
    assert dearer._now > judge.stop + 0.1


def test_bits_of_a_chance() -> None:
    assert bits_of(np.array([0.0, 0.5, 1.0, 0.11])) == pytest.approx([0.0, 1.0, 0.0, 0.4999], abs=1e-3)
