"""Parts that fail together: how hard an event was on a zone, rails driven too high, fuses that a short has blown."""

from __future__ import annotations

import devices as dv
import numpy as np
import pytest

from knowngood.belief import causes, priors
from knowngood.belief.believe import Belief, believe
from knowngood.maps.device import Device, PartModes, RailVoltage
from knowngood.maps.load import load
from knowngood.maps.words import Level


def p_bad(belief: Belief, part: str) -> float:
    return next(one.p_bad for one in belief.suspects if one.part == part)


def after(device: Device, *lines: str) -> Belief:
    return believe(device, dv.log(device, lines))


FELL = (("dropped", 5.0),)
CORNER = dv.device(
    [
        *(dv.part(name, past=FELL, zone="corner") for name in ("fan", "plug")),
        dv.part("port", past=FELL, zone="back"),
        dv.part("chip", zone="corner"),
    ],
    [dv.function("run", "fan", "plug", "port", "chip", wanted=True)],
    [dv.found("fan.check", PartModes("fan", (("dead", 1.0),)), false_alarm=0.0)],
)


def test_a_part_found_hurt_by_a_fall_raises_those_near_it() -> None:
    fell = after(CORNER, "past dropped")
    found = after(CORNER, "past dropped", "found fan.check bad")
    assert p_bad(found, "plug") > 1.15 * p_bad(fell, "plug")
    assert p_bad(found, "port") == pytest.approx(p_bad(fell, "port"), rel=1e-12)  # alone in its zone
    assert p_bad(found, "chip") == pytest.approx(p_bad(fell, "chip"), rel=1e-12)  # a fall does nothing to it
    by_hand = [
        share * priors.bought(CORNER.parts["fan"], ["dropped"], {"dropped": worth})[1]
        for share, worth in zip((1 - causes.HARD, causes.HARD), causes.SEVERITIES, strict=True)
    ]
    hard = by_hand[1] / sum(by_hand)
    bad = [priors.bought(CORNER.parts["plug"], ["dropped"], {"dropped": worth})[1] for worth in causes.SEVERITIES]
    assert p_bad(found, "plug") == pytest.approx(bad[0] * (1 - hard) + bad[1] * hard, rel=1e-12)


def test_a_severity_is_one_on_average() -> None:
    mild, hard = causes.SEVERITIES
    assert mild * (1 - causes.HARD) + hard * causes.HARD == pytest.approx(1.0, rel=1e-12)


OVER = dv.mode("over", 0.5, gives=Level.GOOD, high=True)
SHORT = dv.mode("short", 0.5, takes="short")
RAIL = dv.device(
    [
        dv.part("fuse", dv.mode("blown", 0.5, blows=True), dv.mode("holder", 0.5)),
        dv.part("regulator", OVER, dv.mode("dead", 0.5)),
        dv.part("chip", SHORT, dv.mode("missing", 0.5), on=("rail",)),
        dv.part("radio", dv.mode("deaf", 0.5), dv.mode("missing", 0.5), on=("rail",)),
        dv.part("lamp"),
    ],
    [dv.function("rail", "fuse", "regulator", rail=True), dv.function("light", "rail", "lamp", wanted=True)],
    [
        dv.found("regulator.check", PartModes("regulator", (("over", 1.0),)), false_alarm=0.0),
        dv.found("chip.check", PartModes("chip", (("short", 1.0),)), false_alarm=0.0),
        dv.read("rail.volts", RailVoltage("rail")),
    ],
    unknown=0.0,
)


def times(how: str, chance: float) -> float:
    """What harm that was done makes of odds, if it was done with this chance: the mean over all units stays one."""
    return causes.HARMED[how] / (1 - chance + chance * causes.HARMED[how])


def modes(belief: Belief, part: str) -> dict[str, float]:
    return next(one.modes for one in belief.suspects if one.part == part)


def test_a_rail_driven_too_high_has_hurt_what_hangs_on_it() -> None:
    unread = after(RAIL, "found regulator.check bad")
    assert p_bad(unread, "radio") == pytest.approx(0.1, rel=1e-9)
    found = modes(after(RAIL, "found regulator.check bad", "read rail.volts 7.4 V"), "radio")
    odds = 0.1 / 0.9 * 0.5
    harmed = odds * times("high", 0.05)
    assert found["deaf"] == pytest.approx(harmed / (1 + harmed + odds), rel=1e-12)
    assert found["missing"] == pytest.approx(odds / (1 + harmed + odds), rel=1e-12)  # a hand's work, not the rail's


def test_it_stays_so_when_the_cause_is_gone() -> None:
    lines = ["read rail.volts 7.4 V", "fitted regulator from new"]
    assert p_bad(after(RAIL, *lines), "radio") == pytest.approx(p_bad(after(RAIL, lines[0]), "radio"), rel=1e-9)


def test_a_short_has_blown_the_fuse_that_feeds_it() -> None:
    found = modes(after(RAIL, "found chip.check bad"), "fuse")
    odds = 0.1 / 0.9 * 0.5
    blown = odds * times("short", 0.05)
    assert found["blown"] == pytest.approx(blown / (1 + odds + blown), rel=1e-12)
    assert found["holder"] == pytest.approx(odds / (1 + odds + blown), rel=1e-12)


def test_a_ring_of_parts_that_harm_each_other_is_cut_at_its_last_link() -> None:
    parts = [dv.part(name, OVER, dv.mode("dead", 0.5), on=(rail,)) for name, rail in (("a", "two"), ("b", "one"))]
    ring = dv.device(parts, [dv.function("one", "a", rail=True), dv.function("two", "b", rail=True, wanted=True)])
    links = {link.name: link for link in causes.bought(ring, (), ("one", "two"))}
    assert links["a#0"].parents == ()
    assert links["b#0"].parents == ("high>b<a",)


def test_variables_come_after_their_parents_on_the_shipped_maps() -> None:
    for name in ("ceiling-projector", "some-mains-device", "some-battery-device"):
        device = load(name)
        known: set[str] = set()
        for link in causes.bought(device, ("dropped", "wet", "surged"), device.functions):
            assert set(link.parents) <= known
            assert np.allclose(link.table.sum(axis=-1), 1.0)
            known.add(link.name)
        assert {causes.first(part) for part in device.parts} <= known
    assert "short>supply-fuse<ballast" in {link.name for link in causes.bought(load("ceiling-projector"), ())}
