"""Several units: hands of a plan as its worth shows them, and the order by gain for an hour."""

from __future__ import annotations

from dataclasses import replace

import pytest
from small import bench, device, log, part, remedy, tried, wanted

from knowngood.plan.choose import advise
from knowngood.plan.several import Turn, hands, in_order, turn_of

BOX = device(
    [part("board", remedy("replace", part=True, minutes=6.0), base=0.5, used="EUR 20")],
    [wanted("starts", "board")],
    [tried("starts", minutes=3.0)],
    unknown=0.0,
)


def test_a_unit_that_is_shown_to_work_takes_the_hands_of_selling_it() -> None:
    given = advise(BOX, log(BOX, "tried starts works"), bench())
    assert given.best.move.kind == "sell"
    assert hands(given, bench()) == pytest.approx(30.0)
    turn = turn_of("U1", given, bench())
    assert turn.gain == given.best.worth - 25.0
    assert turn.per_hour == pytest.approx(turn.gain * 2.0)


def test_a_remedy_takes_its_own_hands_the_check_after_it_and_as_often_as_it_helps_those_of_selling() -> None:
    """The board is bad for certain (nothing else can be): 6 min to replace it, 2 to see, 3 to show, 30 to sell."""
    sure = replace(BOX, tests={"starts": replace(BOX.tests["starts"], false_alarm=0.0)})
    given = advise(sure, log(sure, "tried starts fails"), bench())
    assert given.best.move.name == "replace board"
    assert given.belief.known_good == pytest.approx(0.0, abs=1e-9)
    assert hands(given, bench()) == pytest.approx(6.0 + 2.0 + 3.0 + 30.0, abs=0.1)


def test_a_way_out_that_gains_nothing_comes_after_what_does_and_what_waits_comes_last() -> None:
    working = turn_of("U3", advise(BOX, log(BOX, "tried starts works"), bench()), bench())
    poor = bench(working=20.0)
    out = turn_of("U2", advise(BOX, log(BOX, "tried starts fails"), poor), poor)
    later = turn_of("U1", advise(BOX, log(BOX, "tried starts fails", "deferred board"), bench()), bench())
    assert out.advice.best.move.act.ends
    assert (out.gain, out.per_hour) == (0.0, 0.0)
    assert later.per_hour is None
    found: list[Turn] = in_order([later, out, working])
    assert [one.unit for one in found] == ["U3", "U2", "U1"]
