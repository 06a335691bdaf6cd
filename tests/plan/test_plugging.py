"""Unplugging a load and trying again, and plugging back: proposed for what the next test then tells."""

from __future__ import annotations

from pathlib import Path

import pytest
from small import bench, log

from knowngood.maps import load
from knowngood.maps.device import Device
from knowngood.plan.choose import Advice, advise
from knowngood.plan.safety import Checker

LAMP = """
  {side}: {{what: The {side} lamp, kind: button, base: 30 %, on: [rail], price: {{new: EUR 30}}, modes: {{
    shorted: {{says: it shorts the rail, ratio: 8, takes: short}}}}}}"""
PLUG = """
  {side}-plug: {{what: Plug of the {side} lamp, kind: plug, joins: [{side}, source], carries: [power]}}"""
LIGHT = """
  {side}-lights:
    what: the {side} lamp lights
    needs: [rail, {side}, {side}-plug]
    wanted: true
    tried: {{do: See the {side} one light, minutes: 1 min, power: adaptor}}"""


def both(text: str) -> str:
    return "".join(text.format(side=side) for side in ("left", "right"))


MAP = f"""
map: two-lamps
what: Two lamps on one rail, each behind its plug
power: adaptor
unknown: 1 %
worth: {{working: EUR 220, as_is: EUR 50, parts: EUR 45}}
parts:
  source: {{what: Source, kind: button, base: 4 %}}{both(LAMP)}
connections:{both(PLUG)}
functions:
  rail:
    what: rail
    carries: power
    needs: [source]
    nominal: 12 V +/- 5 %
    to_ground: 10 ohm to 900 ohm
    short_below: 1 ohm
    probe: {{where: the terminals of the source, power: adaptor}}{both(LIGHT)}
"""


@pytest.fixture(scope="module")
def lamps(tmp_path_factory: pytest.TempPathFactory) -> Device:
    file: Path = tmp_path_factory.mktemp("maps") / "two-lamps.yaml"
    file.write_text(MAP, encoding="utf-8")
    return load(str(file))


def advice(device: Device, *lines: str) -> Advice:
    return advise(device, log(device, *lines), bench())


def names(found: Advice) -> list[str]:
    return [one.move.name for one in found.ranked]


def test_a_load_that_may_short_its_rail_is_unplugged_and_the_rail_measured_again(lamps: Device) -> None:
    shorted = "read rail-to-ground 0.1 ohm"
    found = advice(lamps, shorted)
    first = next(one for one in found.ranked if one.move.kind == "unplug")
    assert first.move.log in ("unplugged left-plug", "unplugged right-plug")
    assert first.why.startswith("Then: power off: resistance to ground of the rail")
    assert "(measure rail-to-ground)" in first.why
    assert first.worth > found.stop_worth
    then = advice(lamps, shorted, "unplugged left-plug")
    assert then.best.move.name == "measure rail-to-ground"
    told = {one.outcome: dict(one.suspects) for one in then.best.outcomes}
    assert told["clear"]["left"] > 0.9 > 0.5 > told["clear"].get("right", 0.0)


def test_unplugging_is_worth_what_the_test_after_it_is_less_its_minute(lamps: Device) -> None:
    shorted = "read rail-to-ground 0.1 ohm"
    unplugging = next(one for one in advice(lamps, shorted).ranked if one.move.name == "unplug left-plug")
    after = next(
        one for one in advice(lamps, shorted, "unplugged left-plug").ranked if one.move.name == "measure rail-to-ground"
    )
    assert unplugging.move.minutes == 1.0
    assert unplugging.worth == pytest.approx(after.worth - unplugging.cost)


def test_what_is_unplugged_is_plugged_back_before_it_is_tried(lamps: Device) -> None:
    found = advice(lamps, "unplugged left-plug", "read rail-to-ground 100 ohm", "tried right-lights works")
    back = next(one for one in found.ranked if one.move.kind == "plug")
    assert back.move.log == "plugged left-plug"
    assert "try left-lights" not in names(found)[: names(found).index("plug left-plug")]
    assert found.best.move.name == "plug left-plug"


def test_nothing_is_unplugged_where_nothing_may_drag_a_rail_down(lamps: Device) -> None:
    fine = ("read rail-to-ground 100 ohm", "tried left-lights works", "tried right-lights works")
    assert not [one for one in advice(lamps, *fine).ranked if one.move.kind in ("plug", "unplug")]


def test_the_checker_passes_what_is_proposed(lamps: Device) -> None:
    for lines in (("read rail-to-ground 0.1 ohm",), ("read rail-to-ground 0.1 ohm", "unplugged left-plug")):
        checker = Checker(lamps, log(lamps, *lines))
        assert all(not checker.broken(one.move) for one in advice(lamps, *lines).ranked)
