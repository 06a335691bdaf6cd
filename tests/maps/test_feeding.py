"""What feeds what in the maps that come along, by hand from their own lines."""

from __future__ import annotations

import pytest

from knowngood.maps.feeding import feeds, rails
from knowngood.maps.kinds import shipped_maps
from knowngood.maps.load import load

BY_HAND = {
    ("mains-switch", "mains-in"),
    ("supply-12v", "supply-lead"),
    ("supply-lead", "rail-12v"),
    ("rail-12v", "main-board"),
    ("main-board", "exhaust-fan-plug"),
    ("exhaust-fan-plug", "exhaust-fan"),
    ("rail-12v", "buck-3v3"),
    ("buck-3v3", "rail-3v3"),
    ("bulk-380v", "ballast-feed-lead"),
    ("panel-bias", "red-flex-socket"),
}
SAID_BY_OTHERS = {
    ("supply-12v", "rail-12v"),  # by its lead
    ("rail-12v", "exhaust-fan"),  # by its plug, which the board feeds
    ("rail-12v", "rail-3v3"),  # by the regulator that makes it
    ("supply-lead", "main-board"),  # by the rail
    ("supply-primary", "ballast-feed-lead"),  # by the rail that it makes
}


def test_feeds_of_the_projector_are_those_of_its_lines() -> None:
    found = set(feeds(load("ceiling-projector")))
    assert found >= BY_HAND
    assert not found & SAID_BY_OTHERS


@pytest.mark.parametrize("name", shipped_maps())
def test_each_feed_is_of_two_things_of_the_map_and_no_load_is_forgotten(name: str) -> None:
    device = load(name)
    found = feeds(device)
    known = {*device.parts, *rails(device)}
    assert len(set(found)) == len(found)
    assert all(start in known and end in known and start != end for start, end in found)
    fed = {end for _, end in found}
    assert [part.id for part in device.parts.values() if part.on and not part.joins and part.id not in fed] == []
