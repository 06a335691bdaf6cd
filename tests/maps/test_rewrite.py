"""Single values of a map changed in its text, all else left as it was."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from knowngood.errors import MapError
from knowngood.maps.load import load_text
from knowngood.maps.read import read_text
from knowngood.maps.rewrite import Changes, block, flow, rewritten

MAP = """
map: radio
what: Radio   # as written
power: adaptor
worth: {working: EUR 20, as_is: EUR 5, parts: EUR 2}
parts: {source: {what: Source, kind: button}}
functions:
  main:
    # the first rail
    what: main rail
    needs: [source]
    nominal: '12 V +/- 5 %'   # quoted
    probe: {where: the terminals, power: adaptor}
  core: {what: core rail, needs: [main], nominal: 1.2 V, probe: {where: the coil, power: adaptor}}
  works: {what: it works, needs: [core], wanted: true, tried: {do: Try it, minutes: 1 min, power: adaptor}}
  long:
    what: long rail
    needs: [main]
    nominal: 5 V
      +/- 5 %
    probe: {where: the pin, power: adaptor}
"""


def test_values_are_replaced_and_added_where_they_stand() -> None:
    values = {
        ("main", "nominal"): "12.1 V +/- 2 %",
        ("core", "nominal"): "1.19 V to 1.21 V",
        ("core", "to_ground"): "30 ohm to 90 ohm",
        ("main", "to_ground"): "100 ohm to 900 ohm",
    }
    changed = rewritten(MAP, "radio.yaml", values)
    before, after = MAP.splitlines(), changed.splitlines()
    assert "    nominal: '12.1 V +/- 2 %'   # quoted" in after
    assert "    to_ground: 100 ohm to 900 ohm" in after
    assert [line for line in after if line.startswith("  core")] == [
        "  core: {to_ground: 30 ohm to 90 ohm, what: core rail, needs: [main], nominal: 1.19 V to 1.21 V, "
        "probe: {where: the coil, power: adaptor}}"
    ]
    assert len([line for line in after if line not in before]) == 3
    device = load_text(changed, "radio.yaml")
    assert device.functions["main"].to_ground is not None
    assert (device.functions["main"].to_ground.low, device.functions["main"].to_ground.high) == (100.0, 900.0)
    assert device.functions["core"].nominal is not None
    assert device.functions["core"].nominal.low == 1.19


def test_a_value_that_is_not_written_in_one_piece_is_left_to_the_hand() -> None:
    with pytest.raises(MapError, match=r"radio.yaml:19:14: '5 V \+/- 5 %' is not written here in one piece"):
        rewritten(MAP, "radio.yaml", {("long", "nominal"): "5 V +/- 3 %"})


def test_a_value_that_would_make_the_map_wrong_changes_nothing() -> None:
    with pytest.raises(MapError, match=r"radio.yaml:"):
        rewritten(MAP, "radio.yaml", {("main", "nominal"): "12 bananas"})


LISTS = """map: radio
starter: true
parts:
  source:
    what: Source
    kind: button   # of many

  # the last
  knob: {what: Knob, on: [a]}

access:
  lid-off:
    unplugs:
    - one   # first
    - two

    removes: [knob, "x, ]y"]   # both
    after:
      - base-off
  base-off: {after: [], open: 4 min}
tests: {}
"""


def test_lists_grow_where_they_stand_and_entries_come_at_the_end_of_their_section() -> None:
    changes = Changes(LISTS, "radio.yaml")
    changes.listed(("access", "lid-off", "unplugs"), ["one", "two", "three"])
    changes.listed(("access", "lid-off", "removes"), ["knob", "x, ]y", "cap"])
    changes.listed(("access", "lid-off", "after"), ["feet-off"])
    changes.listed(("access", "base-off", "after"), ["feet-off"])
    changes.listed(("access", "base-off", "removes"), ["foot"])
    changes.entries("parts", "parts", [block("foot", {"what": "Foot"}, "U1, line 2")])
    changes.entries("connections", "parts", [block("lead", {"joins": ["knob"]}, "U1, line 3")])
    changes.entries("tests", "parts", [block("shake", {"do": "Shake: twice"}, "U1")])
    changes.without("starter")
    made = changes.made()
    data = read_text(made, "radio.yaml").data
    assert data["access"] == {
        "lid-off": {"unplugs": ["one", "two", "three"], "removes": ["knob", "x, ]y", "cap"], "after": ["feet-off"]},
        "base-off": {"removes": ["foot"], "after": ["feet-off"], "open": "4 min"},
    }
    assert list(data) == ["map", "parts", "connections", "access", "tests"]
    assert list(data["parts"]) == ["source", "knob", "foot"]
    assert (data["connections"], data["tests"]) == ({"lead": {"joins": ["knob"]}}, {"shake": {"do": "Shake: twice"}})
    for kept in ("kind: button   # of many", "  # the last", "- one   # first", "# both"):
        assert kept in made


def test_a_section_in_one_line_is_left_to_the_hand() -> None:
    changes = Changes(MAP, "radio.yaml")
    with pytest.raises(MapError, match=r"'parts' is written in one line\. Give each entry its own line first"):
        changes.entries("parts", "parts", [block("foot", {"what": "Foot"}, "U1")])


PLAIN = st.from_regex(r"[A-Za-z0-9][A-Za-z0-9 .:#,%-]{0,12}", fullmatch=True) | st.sampled_from(["true", "null", "5"])


@given(st.recursive(PLAIN | st.booleans(), lambda inner: st.lists(inner) | st.dictionaries(st.just("key"), inner)))
def test_what_is_written_in_one_line_is_read_back(value: object) -> None:
    text = value.strip() if isinstance(value, str) else value
    assert read_text(f"key: {flow(text)}\n", "a.yaml").data == {"key": text}
