"""Where Graphviz and we put the parts of a map: all of them, none upon another, the same each time."""

from __future__ import annotations

from itertools import combinations

import pytest

from knowngood.maps.device import Device
from knowngood.maps.kinds import shipped_maps
from knowngood.maps.load import load, load_text
from knowngood.pages.layout import Box, Layouts, laid_out

FED_BY_NOTHING = """
map: shelf-lamp
what: A lamp without a wire
power: off
worth: {working: EUR 9, as_is: EUR 3, parts: EUR 1}
parts:
  shade: {what: The shade, kind: cosmetic-shell}
functions:
  looks-good: {what: it looks good, needs: [shade], wanted: true, tried: {do: Look, minutes: 1 min, power: off}}
"""


def apart(one: Box, other: Box) -> bool:
    return (
        one.x + one.width <= other.x + 0.5
        or other.x + other.width <= one.x + 0.5
        or one.y + one.height <= other.y + 0.5
        or other.y + other.height <= one.y + 0.5
    )


@pytest.mark.parametrize("name", shipped_maps())
def test_every_part_has_its_own_place_inside_its_assembly(name: str) -> None:
    device = load(name)
    found = laid_out(device)
    assert set(device.parts) <= set(found.boxes)
    assert [
        (one, two) for one, two in combinations(found.boxes, 2) if not apart(found.boxes[one], found.boxes[two])
    ] == []
    for part in device.parts:
        box, board = found.boxes[part], found.groups.get(device.within(part)[-1])
        assert -0.5 <= box.x <= found.width - box.width + 0.5
        assert -0.5 <= box.y <= found.height - box.height + 0.5
        if len(device.within(part)) > 1:
            assert board is not None
            assert board.x <= box.x <= box.x + box.width <= board.x + board.width
            assert board.y <= box.y <= box.y + box.height <= board.y + board.height
    assert laid_out(device) == found


def test_a_map_is_laid_out_once_and_one_that_feeds_nothing_all_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    made: list[str] = []

    def counted(device: Device) -> object:
        made.append(device.id)
        return laid_out(device)

    monkeypatch.setattr("knowngood.pages.layout.laid_out", counted)
    layouts, lamp = Layouts(), load_text(FED_BY_NOTHING, "shelf-lamp.yaml")
    assert list(layouts.of(lamp).boxes) == ["shade"]
    assert layouts.of(lamp) is layouts.of(lamp)
    assert made == ["shelf-lamp"]
