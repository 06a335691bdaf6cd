"""What ships is right: every map and kind loads, ratios are the published ones, and no chance exceeds one."""

from __future__ import annotations

import csv
from collections import defaultdict
from pathlib import Path

import pytest

import knowngood.handbook
from knowngood.belief.evaluate import effects
from knowngood.belief.priors import bought
from knowngood.maps import findings_in, load, load_text
from knowngood.maps.device import Device
from knowngood.maps.kinds import LIBRARY, hazards, kinds, read_kinds, shipped_maps
from knowngood.maps.read import read_file
from knowngood.maps.schema import KindTable
from knowngood.maps.words import CONDITIONS, FINE, LEVEL_WORDS, PASTS, Level

TABLE = Path(knowngood.handbook.__file__).parent / "tables" / "failure_mode_ratios.csv"
KINDS = kinds()
MEMORY = "from memory"


def published() -> dict[str, dict[str, float]]:
    ratios: dict[str, dict[str, float]] = defaultdict(dict)
    with TABLE.open(encoding="utf-8", newline="") as lines:
        for row in csv.DictReader(lines):
            ratios[row["part_type"]][row["mode"]] = float(row["ratio"])
    return ratios


def from_memory() -> set[str]:
    with TABLE.open(encoding="utf-8", newline="") as lines:
        return {row["part_type"] for row in csv.DictReader(lines) if row["status"] == MEMORY}


RATIOS = published()


def is_cosmetic(kind: KindTable) -> bool:
    return all(LEVEL_WORDS[mode.gives or "none"] == Level.GOOD and not mode.takes for mode in kind.modes.values())


@pytest.mark.parametrize("name", shipped_maps())
def test_every_shipped_map_has_no_findings_and_the_name_of_its_file(name: str) -> None:
    assert findings_in(shipped_maps()[name]) == []
    assert load(name).id == name


@pytest.mark.parametrize("path", sorted((LIBRARY / "kinds").glob("*.yaml")), ids=lambda path: path.stem)
def test_every_file_of_kinds_has_no_findings(path: Path) -> None:
    document = read_file(path)
    assert read_kinds(document)
    assert document.findings == []


def test_there_are_many_kinds() -> None:
    assert len(KINDS) >= 30


def test_the_starter_maps_and_the_worked_one_ship() -> None:
    worked = {"ceiling-projector", "pocket-navigator"}
    assert set(shipped_maps()) >= {"some-mains-device", "some-battery-device", *worked}


@pytest.mark.parametrize("name", KINDS)
def test_a_kind_that_names_a_published_row_has_exactly_its_modes(name: str) -> None:
    kind = KINDS[name]
    taken = [(mode.published, mode.ratio) for mode in kind.modes.values() if mode.published is not None]
    if kind.ratios is None:
        assert taken == []
        return
    assert len(taken) == len(dict(taken))
    assert dict(taken) == RATIOS[kind.ratios]


@pytest.mark.parametrize("name", KINDS)
def test_a_kind_says_where_its_ratios_come_from(name: str) -> None:
    kind = KINDS[name]
    if kind.ratios is None:
        assert "common practice, no source" in kind.ratios_source
        return
    assert f"'{kind.ratios}'" in kind.ratios_source
    assert (MEMORY in kind.ratios_source) == (kind.ratios in from_memory())
    if any(mode.published is None for mode in kind.modes.values()):
        assert "practice" in kind.ratios_source, "modes beside the published ones have no source: say so"


def test_some_kind_uses_a_confirmed_row_and_some_one_from_memory() -> None:
    used = {kind.ratios for kind in KINDS.values() if kind.ratios}
    assert used & from_memory()
    assert used - from_memory()


@pytest.mark.parametrize("name", KINDS)
def test_a_kind_is_complete(name: str) -> None:
    kind = KINDS[name]
    assert kind.says.strip()
    assert kind.base_source.strip()
    assert kind.past_source.strip()
    assert kind.modes
    assert kind.remedies
    assert kind.tests or is_cosmetic(kind)
    assert 0 < kind.base < 1
    assert 0 <= kind.missing < 0.5
    for mode in kind.modes.values():
        assert mode.says
        assert mode.says.strip()
        assert mode.limits is None, "a kind knows no functions"
    for test in kind.tests.values():
        assert test.behind is None, "a kind knows no access steps"


@pytest.mark.parametrize("name", KINDS)
def test_looks_sum_to_at_most_one_and_leave_room_for_fine(name: str) -> None:
    kind = KINDS[name]
    for looks in (kind.looks, *(mode.looks or {} for mode in kind.modes.values())):
        assert sum(looks.values()) <= 1 + 1e-9
        assert set(looks) <= set(CONDITIONS) - {FINE}


@pytest.mark.parametrize("name", KINDS)
def test_every_fault_of_a_kind_can_be_cured(name: str) -> None:
    cured = {mode for remedy in KINDS[name].remedies.values() for mode, chance in remedy.cures.items() if chance > 0}
    assert "any" in cured or cured >= set(KINDS[name].modes)


@pytest.mark.parametrize("name", KINDS)
def test_a_test_says_bad_more_often_of_what_it_detects_than_of_a_fine_part(name: str) -> None:
    for test in KINDS[name].tests.values():
        assert test.detects
        assert min(test.detects.values()) > test.false_alarm


def test_hazards_use_words_that_a_log_can_say() -> None:
    for hazard in hazards().values():
        assert hazard.caution.strip()
        assert hazard.source.strip()
        for rule in hazard.rules:
            assert set(rule.if_seen) <= set(CONDITIONS) - {FINE}
            assert rule.if_seen or rule.if_wet or rule.if_power or rule.if_touched or rule.if_short


BOARD = """\
map: dc-board
what: A board on an adaptor
power: adaptor
worth: {{working: EUR 30, as_is: EUR 6, parts: EUR 5}}
parts:
  jack: {{what: Jack, kind: dc-jack}}
  pulse: {{what: Pulse transformer, kind: transformer}}
  fuse: {{what: Fuse, kind: fuse}}
  low-caps: {{what: Capacitors of the rail, kind: electrolytics, on: [low]}}
  high-caps: {{what: Capacitors of the feed, kind: electrolytics, on: [high]}}
  coil: {{what: Relay, kind: relay}}
functions:
  high: {{what: feed, needs: [jack, fuse, high-caps], nominal: 48 V +/- 5 %}}
  low: {{what: rail, needs: [high, pulse, low-caps, coil], nominal: 5 V +/- 5 %}}
  runs: {{what: runs, needs: [low], wanted: true, tried: {{do: Try it, minutes: 1 min, power: {power}}}}}
"""


def test_what_mains_and_high_voltage_bring_stays_away_where_neither_can_be() -> None:
    board = load_text(BOARD.format(power="adaptor"), "board.yaml")
    assert not any("mains" in part.hazards for part in board.parts.values())
    assert board.tests["coil.tap"].power == "adaptor"
    assert board.tests["coil.tap"].hazards == ()
    assert board.parts["low-caps"].hazards == ()
    assert board.tests["low-caps.ohms"].hazards == ()
    assert board.parts["high-caps"].hazards == ("stored-charge",)
    on_mains = load_text(BOARD.format(power="mains"), "board.yaml")
    assert {name for name, part in on_mains.parts.items() if "mains" in part.hazards} == {"pulse", "fuse"}
    assert on_mains.tests["coil.tap"].power == "mains"
    assert on_mains.tests["coil.tap"].hazards == ("mains",)


def test_an_injection_feeds_the_rail_of_its_part() -> None:
    device = load("some-mains-device")
    assert device.tests["io-ceramics.inject"].feeds == "io-rail"
    assert device.tests["fan.bench-run"].feeds == "fan"
    assert device.tests["processor.heat-view"].feeds is None


def test_every_kind_is_used_by_a_map_or_at_least_ready_to_be() -> None:
    used = {part.kind for name in shipped_maps() for part in load(name).parts.values()}
    assert used <= set(KINDS)
    assert len(used) >= 30


# --- the worked map ---


def test_the_ceiling_projector_is_a_whole_device() -> None:
    device = load("ceiling-projector")
    assert len(device.parts) >= 60
    assert device.parts["exhaust-fan"].kind == "fan"
    rail = device.functions["rail-12v"]
    assert rail.nominal is not None
    assert rail.nominal.nominal == 12.0
    assert {"rail-12v", "rail-12v-to-ground", "exhaust-fan.flick"} <= set(device.tests)


def test_the_pocket_navigator_is_a_whole_device_of_another_family() -> None:
    device = load("pocket-navigator")
    assert len(device.parts) >= 60
    assert {married.parts for married in device.married} == {
        ("satellite-receiver", "secure-chip"),
        ("finger-reader", "secure-chip"),
    }
    assert [part.id for part in device.parts.values() if part.reversible] == ["keys-flex", "finger-flex"]
    assert device.parts["cell-pack"].hazards == ("cell",)
    priced = [part for part in device.parts.values() if part.price.new or part.price.used or part.price.donor]
    assert len(priced) > 0.7 * len(device.parts)


@pytest.mark.parametrize("name", ["ceiling-projector", "pocket-navigator"])
def test_the_worked_maps_have_parts_in_revisions_that_interchange_one_way_only(name: str) -> None:
    in_revisions = [part for part in load(name).parts.values() if part.revisions]
    assert len(in_revisions) >= 2
    board = load(name).parts["main-board"]
    assert board.takes("B") == ("B", "A")
    assert board.takes("A") == ("A",)
    assert board.takes("of-another-map") == ("of-another-map",)


@pytest.mark.parametrize("name", shipped_maps())
def test_a_device_is_joined_whole(name: str) -> None:
    device = load(name)
    assert device.wanted
    for part in device.parts.values():
        assert sum(mode.share for mode in part.modes) == pytest.approx(1.0)
        assert 0 < part.base < 1
        assert part.behind is None or part.behind in device.steps
    for test in device.tests.values():
        assert test.behind is None or test.behind in device.steps
        assert set(test.hazards) <= set(device.hazards)
    order = list(device.functions)
    for function in device.functions.values():
        assert all(one in device.parts or order.index(one) < order.index(function.id) for one in function.needs)
    for step, path in device.path_to.items():
        assert path[-1] == step
        assert len(path) == len(set(path))


@pytest.mark.parametrize("name", shipped_maps())
def test_a_drawn_unit_has_a_sensible_number_of_faults(name: str) -> None:
    """With no history, a bought broken unit has on average between half a fault and four."""
    assert 0.5 < sum(part.base for part in load(name).parts.values()) < 4.0


def stopping_faults(device: Device, *past: str) -> float:
    """Expected number of parts with a fault that stops a wanted function by itself."""
    stops = effects(device).alone
    return sum(
        float(chance)
        for part in device.parts.values()
        for mode, chance in zip(part.modes, bought(part, past)[1:], strict=True)
        if stops[part.id, mode.name]
    )


@pytest.mark.parametrize(
    ("name", "past", "fewest", "most"),
    [
        ("ceiling-projector", "dropped", 1.0, 3.0),
        ("pocket-navigator", "dropped", 1.0, 3.0),
        ("pocket-navigator", "wet", 2.0, 6.0),
        ("some-battery-device", "wet", 2.0, 6.0),
    ],
)
def test_what_happened_to_a_unit_leaves_a_sensible_number_of_stopping_faults(
    name: str, past: str, fewest: float, most: float
) -> None:
    """Bounds: common practice, no source. An exact expectation; nothing is drawn."""
    assert fewest < stopping_faults(load(name), past) < most


@pytest.mark.parametrize("past", PASTS)
@pytest.mark.parametrize("name", shipped_maps())
def test_nothing_that_happens_to_a_unit_mends_it(name: str, past: str) -> None:
    device = load(name)
    assert stopping_faults(device, past) > stopping_faults(device)


def test_bonds_with_a_part_in_common_move_as_one_group() -> None:
    device = load("pocket-navigator")
    assert len(device.married) == 2
    [group] = device.moving_together
    assert set(group.parts) == {part for bond in device.married for part in bond.parts}
    assert set(group.spoils) == {name for bond in device.married for name in bond.spoils}
