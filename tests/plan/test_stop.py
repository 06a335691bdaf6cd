"""The sentence on stopping: its figures are those of the advice, and its reason is what going on hangs on."""

from __future__ import annotations

import pytest
from small import bench, device, found, log, part, remedy, tried, wanted

from knowngood.plan.choose import Advice, advise
from knowngood.plan.terms import Terms
from knowngood.plan.why.stop import Standing, standing

SWAP = remedy("replace", part=True, minutes=6.0)
BOX = device(
    [
        part("core", base=0.15),
        part("fan", SWAP, base=0.5, used="EUR 8"),
        part("lamp", SWAP, base=0.3, used="EUR 70"),
        part("knob", SWAP, base=0.3, used="EUR 1"),
    ],
    [wanted("works", "core", "fan", "lamp", "knob")],
    [tried("works"), found("probe", "core"), found("spin", "fan"), found("glow", "lamp"), found("turn", "knob")],
    unknown=0.01,
)


def told(*lines: str, at: Terms | None = None) -> tuple[Advice, Standing]:
    terms = at or bench()
    given = advise(BOX, log(BOX, "tried works fails", *lines), terms)
    return given, standing(given, terms)


def test_going_on_hangs_on_the_part_that_nothing_mends() -> None:
    given, stand = told()
    assert (stand.stop, stand.going_on, stand.spread) == (given.stop_worth, given.best.worth, given.best.spread)
    assert stand.going_on is not None
    assert stand.going_on > stand.stop
    assert stand.reason is not None
    assert (stand.reason.part, stand.reason.fine) == ("core", True)
    chance = next(one.p_blocks for one in given.belief.suspects if one.part == "core")
    assert stand.reason.probability == pytest.approx(1 - chance)
    assert stand.reason.difference < -50.0
    assert stand.sentence("EUR") == (
        f"Stop is worth EUR 25; going on is worth EUR {stand.going_on:.0f} +/- {stand.spread:.0f}, mostly because of "
        f"the core: probably fine ({100 * (1 - chance):.0f} %)."
    )


def test_when_it_stops_the_reason_is_what_would_make_going_on_pay() -> None:
    given, stand = told("found probe bad", "found spin ok", "found turn ok")
    assert given.best.move.kind == "part-out"
    assert stand.reason is not None
    assert (stand.reason.part, stand.reason.fine) == ("core", False)
    assert stand.reason.difference > 0.0
    assert "going on is worth EUR" in stand.sentence("EUR")


def test_what_a_unit_that_is_shown_to_work_brings_is_spread_by_the_chance_that_it_comes_back() -> None:
    given = advise(BOX, log(BOX, "tried works works"), bench())
    sell = next(one for one in given.ranked if one.move.kind == "sell")
    good = given.belief.known_good
    assert sell.spread == pytest.approx((good * (1 - good)) ** 0.5 * 260.0)
