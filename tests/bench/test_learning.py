"""What known-good units read, beside the map, and the map after learning from them."""

from __future__ import annotations

from pathlib import Path

import pytest

from knowngood.bench import learning, work
from knowngood.bench.store import Store
from knowngood.errors import NotFoundError
from knowngood.maps import load
from knowngood.maps.load import load_text

MAP = "some-battery-device"
DEVICE = load(MAP)
ALL_WORKS = [f"tried {name} works" for name in DEVICE.wanted]


def read_io_rail(store: Store, *volts: str) -> None:
    for one in volts:
        unit = work.new_unit(store, MAP, "EUR 5")
        work.log_lines(store, unit, ["opened board-out", f"read io-rail {one} V", "closed all", *ALL_WORKS])


def io_rail(store: Store) -> learning.Row:
    return next(row for row in learning.rows(store, DEVICE) if row.test.id == "io-rail")


def test_few_units_are_drawn_to_the_map_and_six_stand_alone(store: Store) -> None:
    read_io_rail(store, "3.30", "3.32")
    assert io_rail(store).units is not None
    assert io_rail(store).learned is None
    read_io_rail(store, "3.29")
    row = io_rail(store)
    assert row.learned is not None
    assert row.units is not None
    # Three units count 3 / 8 beside the map's five: 1.8 V to 3.4 V.
    spread = row.units.spread
    assert row.learned.low == pytest.approx(3 / 8 * (3.30 - 3 * spread) + 5 / 8 * 1.8, abs=0.01)
    assert row.learned.high == pytest.approx(3 / 8 * (3.30 + 3 * spread) + 5 / 8 * 3.4, abs=0.01)
    read_io_rail(store, "3.30", "3.31", "3.30")
    alone = io_rail(store)
    assert alone.learned is not None
    assert alone.learned.low > 3.2
    assert alone.learned.high < 3.4


def test_no_spread_counts_as_less_than_the_meter_can_tell(store: Store) -> None:
    read_io_rail(store, *["3.30"] * 7)
    row = io_rail(store)
    assert row.units is not None
    assert row.units.mad == 0.0
    assert row.learned is not None
    assert row.learned.high - row.learned.low > 0.02


def test_the_learned_map_is_shown_as_a_difference_and_written_on_acceptance(store: Store, tmp_path: Path) -> None:
    read_io_rail(store, *["3.30"] * 7)
    text, changed, file = learning.relearned(MAP, learning.rows(store, DEVICE))
    shown = learning.difference(text, changed, file)
    assert [line for line in shown.splitlines() if line.startswith("-    nominal")] == ["-    nominal: 1.8 V to 3.4 V"]
    into = tmp_path / "learned.yaml"
    learning.write(changed, into)
    nominal = load_text(into.read_text(encoding="utf-8"), str(into)).functions["io-rail"].nominal
    assert nominal is not None
    assert nominal.low > 3.2
    assert work.new_unit(store, str(into), "EUR 5")


def test_without_readings_nothing_changes(store: Store) -> None:
    text, changed, file = learning.relearned(MAP, learning.rows(store, DEVICE))
    assert changed == text
    assert learning.difference(text, changed, file) == ""


def test_a_file_that_cannot_be_written_is_named(tmp_path: Path) -> None:
    with pytest.raises(NotFoundError, match=r"The map cannot be written to '.*gone/x.yaml': No such file or directory"):
        learning.write("map: x\n", tmp_path / "gone" / "x.yaml")
