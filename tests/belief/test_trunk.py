"""A fault on the trunk of a map that comes and goes, where the map says so."""

from __future__ import annotations

from dataclasses import replace

import pytest

from knowngood.belief.believe import Belief, believe
from knowngood.log.lines import understand
from knowngood.log.state import Line, replay
from knowngood.maps.device import Device
from knowngood.maps.load import load

PART, MODE = "supply-fuse", "open-sagged"


def comes_and_goes(device: Device) -> Device:
    part = device.parts[PART]
    modes = tuple(replace(mode, shows=6.0) if mode.name == MODE else mode for mode in part.modes)
    return replace(device, parts={**device.parts, PART: replace(part, modes=modes)})


def told(device: Device, *texts: str) -> Belief:
    made: list[Line] = []
    for text in ("bought ceiling-projector for EUR 45", *texts):
        made.append(Line(len(made) + 1, "", understand(device, replay(device, made).state, text)))
    return believe(device, replay(device, made))


def chance(belief: Belief) -> float:
    return next(one.modes[MODE] for one in belief.suspects if one.part == PART)


def test_a_repeat_is_news_of_a_fault_only_if_it_comes_and_goes() -> None:
    device = load("ceiling-projector")
    passing = comes_and_goes(device)
    once, thrice = ("tried standby-light works",), ("tried standby-light works",) * 3
    assert chance(told(passing, *once)) > 10.0 * chance(told(device, *once))
    assert chance(told(passing, *thrice)) < 0.6 * chance(told(passing, *once))
    assert chance(told(device, *thrice)) == pytest.approx(chance(told(device, *once)), rel=1e-9)
