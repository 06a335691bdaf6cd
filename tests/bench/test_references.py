"""Which readings of which units count as references, and which meter a reading was made with."""

from __future__ import annotations

import pytest

from knowngood.bench import questions, work
from knowngood.bench.donors import belief
from knowngood.bench.references import measuring, meters, references
from knowngood.bench.store import Store
from knowngood.handbook.readings import DEFAULT_METER, Reference
from knowngood.maps import load

MAP = "some-battery-device"
DEVICE = load(MAP)
ALL_WORKS = [f"tried {name} works" for name in DEVICE.wanted]


def unit_with(store: Store, *lines: str, map_name: str = MAP) -> str:
    unit = work.new_unit(store, map_name, "EUR 5")
    if lines:
        work.log_lines(store, unit, lines)
    return unit


def of_io_rail(store: Store, but_not: str = "") -> Reference | None:
    return references(store, DEVICE, but_not=but_not).get("io-rail")


READ = ("opened board-out", "read io-rail 3.30 V", "closed all")


@pytest.mark.parametrize(
    "lines",
    [
        (*READ, *ALL_WORKS),
        (*READ, "wiped unit by clear", "sold working for EUR 90"),
        ("opened board-out", "read io-rail 0.02 V", "fitted io-buck from new", "read io-rail 3.30 V", *ALL_WORKS),
        ("opened board-out", "read io-rail 3.20 V", "read io-rail 3.30 V", *ALL_WORKS),
        (*READ, "read io-rail OL V", *ALL_WORKS),
        ("opened board-out", "read io-rail -3.30 V", *ALL_WORKS),
    ],
)
def test_the_last_number_since_the_last_repair_of_a_unit_proved_good_counts(
    store: Store, lines: tuple[str, ...]
) -> None:
    unit_with(store, *lines)
    assert of_io_rail(store) == Reference(3.30, 0.0, 1)


@pytest.mark.parametrize(
    "lines",
    [
        READ,
        (*READ, *ALL_WORKS[1:]),
        (*READ, "wiped unit by clear", "sold as-is for EUR 20"),
        (*READ, "declared sound", "wiped unit by clear", "sold working for EUR 60"),
        (*READ, *ALL_WORKS, "tried sound fails"),
        ("opened board-out", "read io-rail 0.02 V", "fitted io-buck from new", *ALL_WORKS),
        ("opened board-out", "unplugged pack-plug", "read io-rail 3.30 V", "plugged pack-plug", *ALL_WORKS),
        (*READ, *ALL_WORKS, "undid 3"),
    ],
)
def test_what_was_not_read_of_a_unit_proved_good_does_not(store: Store, lines: tuple[str, ...]) -> None:
    unit_with(store, *lines)
    assert of_io_rail(store) is None


def test_a_unit_is_no_reference_for_itself_and_none_for_another_map(store: Store) -> None:
    unit = unit_with(store, *READ, *ALL_WORKS)
    assert of_io_rail(store, but_not=unit) is None
    assert measuring(store, unit).references == {}
    other = unit_with(store, map_name="ceiling-projector")
    assert measuring(store, other).references == {}


def test_a_rail_that_another_edition_of_the_map_had_otherwise_is_left_out(store: Store, tmp_path: object) -> None:
    from pathlib import Path

    changed = DEVICE.text.replace("nominal: 1.8 V to 3.4 V", "nominal: 4.5 V to 5.5 V")
    assert changed != DEVICE.text
    assert isinstance(tmp_path, Path)
    file = tmp_path / "other.yaml"
    file.write_text(changed, encoding="utf-8")
    unit_with(store, *READ, *ALL_WORKS, map_name=str(file))
    assert of_io_rail(store) is None


def test_three_good_units_change_the_belief_of_a_fourth_and_flag_its_reading(store: Store) -> None:
    fourth = unit_with(store, "opened board-out", "read io-rail 1.90 V")
    before = belief(store, fourth)
    assert questions.readings_of(store, fourth)[0].flag is None
    for volts in ("3.30", "3.32", "3.29"):
        unit_with(store, "opened board-out", f"read io-rail {volts} V", "closed all", *ALL_WORKS)
    [found] = questions.readings_of(store, fourth)
    assert found.reference == Reference(3.30, pytest.approx(0.01), 3)  # type: ignore[arg-type]
    assert found.flag == (
        "io-rail 1.90 V fits the map only: map says 1.8 V to 3.4 V, 3 known-good units read 3.3 V (MAD 10 mV)"
    )
    after = belief(store, fourth)
    assert suspect(after.suspects, "io-buck") > suspect(before.suspects, "io-buck")
    advice, *_ = questions.advice_for(store, fourth)
    assert advice.belief.measuring.references["io-rail"].count == 3


def suspect(suspects: object, part: str) -> float:
    return next(one.p_bad for one in suspects if one.part == part)  # type: ignore[attr-defined]


# ---- meters ----


def test_a_reading_keeps_the_meter_of_its_time(store: Store) -> None:
    unit = unit_with(store, "opened board-out", "read io-rail 3.30 V")
    work.bench_set(store, "meter-volts", "60 V 3 % + 9")
    work.bench_set(store, "rate-floor", "11")
    work.log_lines(store, unit, ["read io-rail 3.3 V"])
    now, by_line = meters(store.bench_lines(), store.lines(unit))
    assert now.top("V") == 60.0
    assert by_line == dict.fromkeys((1, 2, 3), DEFAULT_METER)
    first, second = questions.readings_of(store, unit, [3, 4])
    assert first.zones != second.zones


def test_a_setting_that_is_no_meter_leaves_the_readings_alone(store: Store) -> None:
    unit = unit_with(store, "read io-rail 3.30 V")
    work.bench_set(store, "rate-floor", "11")
    assert meters(store.bench_lines(), store.lines(unit)) == (DEFAULT_METER, {})
