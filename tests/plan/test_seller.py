"""Asking the seller pays where the answer would change what is done, and only at intake."""

from __future__ import annotations

from dataclasses import replace

import pytest
from small import bench, device, found, log, part, remedy, tried, wanted

from knowngood.maps.device import Device
from knowngood.plan.choose import Advice, Ranked, advise
from knowngood.plan.seller import HAPPENED
from knowngood.plan.terms import Terms

AT = bench(seller=True)


def box(**past: float) -> Device:
    """A fan that is worth replacing, unless the core is spoiled, too, which a past makes likelier."""
    core = replace(part("core", base=0.05), past=tuple(past.items()))
    fan = part("fan", remedy("replace", part=True, minutes=90.0), base=0.5, used="EUR 60")
    return device([core, fan], [wanted("works", "core", "fan")], [tried("works"), found("spin", "fan")], unknown=0.01)


DRENCHED = box(wet=200.0)


def asking(on: Device, *lines: str, at: Terms = AT) -> Ranked | None:
    return next((one for one in given(on, *lines, at=at).ranked if one.move.kind == "ask"), None)


def given(on: Device, *lines: str, at: Terms = AT) -> Advice:
    return advise(on, log(on, *lines), at)


def test_the_seller_is_asked_where_a_yes_would_change_what_is_done() -> None:
    ask = asking(DRENCHED)
    assert ask is not None
    assert given(DRENCHED).best == ask
    assert (ask.move.log, ask.move.minutes, ask.move.wait) == ("asked seller", 2.0, 720.0)
    yes, no = ask.outcomes
    assert (yes.outcome, yes.probability) == ("past wet", pytest.approx(HAPPENED["wet"]))
    assert no.probability == pytest.approx(1 - HAPPENED["wet"])
    assert yes.known_good == pytest.approx(given(DRENCHED, "past wet").belief.known_good)
    assert ask.worth > given(DRENCHED, at=bench()).best.worth


def test_it_gains_no_more_than_giving_up_sooner_where_the_answer_is_yes() -> None:
    """With a yes the job is given up at once; without it what it would have lost is at most what was then spent."""
    ask = asking(DRENCHED)
    assert ask is not None
    saved = ask.worth + ask.cost - given(DRENCHED, at=bench()).best.worth
    assert 0.0 < saved < HAPPENED["wet"] * (60.0 + 0.5 * 100.0)


def test_the_seller_is_not_asked_what_changes_nothing() -> None:
    assert asking(box()) is None
    assert asking(box(wet=1.01)) is None


def test_the_seller_is_asked_once_and_not_when_it_is_known_or_something_was_found() -> None:
    for lines in (("asked seller",), ("past wet",), ("tried works fails",), ("saw fan fine",)):
        assert asking(DRENCHED, *lines) is None
    assert asking(DRENCHED, "noted a scratched lid") is not None
    assert asking(DRENCHED, at=bench()) is None
