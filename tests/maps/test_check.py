"""Every rule of the checker fires on a small wrong map, with its exact message; nothing a file can hold is a traceback.

The wrong maps are in ``broken/``, each the map of ``right.yaml`` with one thing changed. ``broken/findings.txt`` holds
what a person must read for each, as ``file:line:column: [rule] message``; it is written and judged by hand.
"""

from __future__ import annotations

import difflib
import io
import re
from collections import defaultdict
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from ruamel.yaml import YAML

from knowngood.errors import MapError, NotFoundError
from knowngood.maps import findings_in, load, load_text
from knowngood.maps import kinds as kinds_module
from knowngood.maps.build import build
from knowngood.maps.check import RULES, check
from knowngood.maps.kinds import hazards, kinds, read_kinds
from knowngood.maps.read import DEEPEST, Document, Finding, read_text

HERE = Path(__file__).parent
RIGHT = HERE / "right.yaml"
RIGHT_TEXT = RIGHT.read_text(encoding="utf-8")
BROKEN = {path.name: path for path in sorted((HERE / "broken").glob("*.yaml"))}
NOT_ONE_CHANGE = {"empty.yaml", "not-a-table.yaml", "readable-not-utf-8.yaml", "nothing-wanted.yaml"}


def expected() -> dict[str, list[str]]:
    lines: dict[str, list[str]] = defaultdict(list)
    for line in (HERE / "broken" / "findings.txt").read_text(encoding="utf-8").splitlines():
        lines[line.partition(":")[0]].append(line)
    return lines


def written(path: Path, findings: list[Finding]) -> list[str]:
    return [f"{path.name}:{one.place.line}:{one.place.column}: [{one.rule}] {one.message}" for one in findings]


def checked(text: str) -> list[Finding]:
    """The findings of a text; a text without any is built, too, which must not fail."""
    document = read_text(text, "drawn.yaml")
    table = check(document)
    assert (table is None) == bool(document.findings)
    if table is not None:
        device = build(table, text)
        assert set(device.functions) == set(table.functions)
        for part in device.parts.values():
            assert sum(mode.share for mode in part.modes) == pytest.approx(1.0)
    assert {one.rule for one in document.findings} <= set(RULES)
    return document.findings


# --- the rules, one by one ---


def test_the_right_map_has_no_findings() -> None:
    assert findings_in(RIGHT) == []
    assert len(load(str(RIGHT)).parts) == 8


@pytest.mark.parametrize("name", BROKEN)
def test_a_wrong_map_gets_exactly_its_findings(name: str) -> None:
    assert written(BROKEN[name], findings_in(BROKEN[name])) == expected()[name]


def test_each_wrong_map_has_its_findings_written_down() -> None:
    assert set(expected()) == set(BROKEN)
    assert len(BROKEN) >= 25


def test_every_rule_fires_and_no_other() -> None:
    fired = {rule for lines in expected().values() for line in lines for rule in re.findall(r": \[([a-z-]+)\] ", line)}
    assert fired == set(RULES)
    assert len(RULES) == len(set(RULES))


def test_no_rule_is_used_in_the_source_that_is_not_listed() -> None:
    source = "".join(path.read_text(encoding="utf-8") for path in Path(kinds_module.__file__).parent.glob("*.py"))
    used = set(re.findall(r'Finding\(\s*"([a-z-]+)"', source)) | set(re.findall(r'known\(\s*\*?\(?"([a-z-]+)"', source))
    used |= set(re.findall(r'_circle\(\s*document, "([a-z-]+)"', source))
    assert used == set(RULES)


@pytest.mark.parametrize("name", sorted(set(BROKEN) - NOT_ONE_CHANGE))
def test_each_wrong_map_is_the_right_one_with_one_thing_changed(name: str) -> None:
    right, wrong = RIGHT_TEXT.splitlines(), BROKEN[name].read_text(encoding="utf-8").splitlines()
    changes = [
        one for one in difflib.SequenceMatcher(None, right, wrong, autojunk=False).get_opcodes() if one[0] != "equal"
    ]
    assert len(changes) == 1


def test_each_wrong_map_has_one_finding() -> None:
    assert {name: len(lines) for name, lines in expected().items() if len(lines) > 1} == {}


def test_a_file_that_is_not_there_is_a_finding(tmp_path: Path) -> None:
    missing = tmp_path / "no-such.yaml"
    [finding] = findings_in(missing)
    assert str(finding) == f"{missing}:1:1: The file cannot be read: No such file or directory. Check its name."


def test_the_name_of_a_rails_diode_reading_is_taken_too() -> None:
    with_diode = RIGHT_TEXT.replace("short_below: 5 ohm", "short_below: 5 ohm\n    diode: 0.45 V +/- 15 %")
    assert checked(with_diode) == []
    [found] = checked(with_diode.replace("  shake: {do", "  rail-12v-diode: {do"))
    assert found.rule == "same-name-twice"
    assert "'rail-12v-diode' is declared twice, here under 'tests' and at line 43" in found.message


# --- passes ---

THREE_MISTAKES = (
    RIGHT_TEXT.replace("kind: fan,", "kind: fann,")
    .replace("senses: cooled", "senses: cold")
    .replace("after: [screws-out]", "after: [screw-out]")
)


def test_several_mistakes_of_one_pass_are_all_reported_in_the_order_of_the_file() -> None:
    with pytest.raises(MapError) as caught:
        load_text(THREE_MISTAKES, "three.yaml")
    assert caught.value.findings == [
        "three.yaml:30:26: No part kind 'fann'. Similar: 'fan'.",
        "three.yaml:40:39: No access step 'screw-out'. Similar: 'screws-out'. "
        "Correct the name, or declare it under 'access'.",
        "three.yaml:65:40: No function 'cold'. Similar: 'cooled'. Correct the name, or declare it under 'functions'.",
    ]
    assert str(caught.value) == "\n".join(caught.value.findings)


LATER_MISTAKE = RIGHT_TEXT.replace("donor: EUR 4", "donor: USD 4")  # found by the last pass, 'whole'


@pytest.mark.parametrize(
    ("earlier", "rule"),
    [
        (("map: desk-light", "map: desk-light\nmap: desk-light"), "declared-twice"),
        (("map: desk-light", "mapp: desk-light\nmap: desk-light"), "unknown-key"),
        (("kind: fan,", "kind: fann,"), "no-such-kind"),
        (("[blows, still]", "[blows, blows]"), "same-outcomes"),
    ],
    ids=["read", "shape", "references", "conflicts"],
)
def test_a_later_pass_does_not_run_when_an_earlier_one_failed(earlier: tuple[str, str], rule: str) -> None:
    assert [one.rule for one in checked(LATER_MISTAKE)] == ["currencies"]
    assert [one.rule for one in checked(LATER_MISTAKE.replace(*earlier))] == [rule]


def test_a_mistake_of_a_part_and_one_of_a_test_are_both_reported_by_the_shape_pass() -> None:
    text = RIGHT_TEXT.replace("lid: {what: Lid, ", "lid: {").replace("do: Shake it", "doo: Shake it")
    assert [str(one) for one in sorted(checked(text), key=lambda one: one.place.line)] == [
        "drawn.yaml:31:3: 'what' is missing here. Add 'what: ...' (the part in words).",
        "drawn.yaml:66:3: 'do' is missing here. Add 'do: ...' (what the hands do).",
        "drawn.yaml:66:11: No key 'doo' here. Similar: 'do'.",
    ]


# --- the library of kinds ---

WRONG_KINDS = """\
Rubber foot:
  says: Foot
  base: 1 %
  base_source: common practice, no source
  ratios_source: common practice, no source
  past: {dropt: 2}
  looks: {worn: 60 %, torn: 50 %}
  modes:
    gone: {ratio: 1}
  tests:
    look: {do: Look at it, detects: {gon: 90 %}, minutes: 1 min, outcomes: [ok, ok]}
  remedies:
    glue: {do: Glue it, cures: {any: 90 %, lost: 10 %}, minutes: 1 min, spoils: {any: 1 %}, hazards: [smoke]}
  charge: {capacitance: 1 uF, charged_to: 400 V}
wheel: {says: Wheel}
"""
WRONG_KINDS_FINDINGS = [
    "kinds.yaml:1:1: 'Rubber foot' is not a name: lower-case words joined by hyphens. Right would be 'rubber-foot'.",
    "kinds.yaml:7:3: The chances of what an eye may find sum to 110 %. They must leave room for 'fine': at most 100 %.",
    "kinds.yaml:6:10: No past 'dropt'. Similar: 'dropped'.",
    "kinds.yaml:14:3: A 'charge' stands here, but no hazard that warns of it. Add 'stored-charge' to its 'hazards'.",
    "kinds.yaml:9:5: The mode 'gone' lacks 'says'.",
    "kinds.yaml:11:38: No mode 'gon' of this part. Similar: 'gone'.",
    "kinds.yaml:11:76: Both outcomes are 'ok'. The first word means ok, the second bad: they must differ.",
    "kinds.yaml:13:44: No mode 'lost' of this part. There are: 'any', 'gone', 'missing'.",
    "kinds.yaml:13:82: No mode 'any' of this part. There are: 'gone', 'missing'.",
    "kinds.yaml:13:103: No hazard 'smoke'. There are: 'cell', 'eyes', 'first-power', 'fumes', 'glass', 'hot', "
    "'lamp', 'laser' and 10 more.",
    "kinds.yaml:15:1: 'base' is missing here. Add 'base: ...' (chance of at least one fault in a bought broken unit, "
    "history unknown).",
    "kinds.yaml:15:1: 'base_source' is missing here. Add 'base_source: ...' (where the base comes from).",
    "kinds.yaml:15:1: 'ratios_source' is missing here. Add 'ratios_source: ...' (where the ratios come from).",
    "kinds.yaml:15:1: 'modes' is missing here. Add 'modes: ...' (the ways in which it can be faulty).",
]


def test_a_wrong_kind_file_gets_all_its_findings() -> None:
    document = read_text(WRONG_KINDS, "kinds.yaml")
    found = read_kinds(document)
    assert [str(one) for one in document.findings] == WRONG_KINDS_FINDINGS
    assert {one.rule for one in document.findings} <= set(RULES)
    assert list(found) == ["Rubber foot"]


def test_a_wrong_library_is_an_error_that_lists_the_findings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    hazards()  # the shipped ones, read before the library is another
    (tmp_path / "kinds").mkdir()
    (tmp_path / "kinds" / "feet.yaml").write_text(WRONG_KINDS, encoding="utf-8")
    monkeypatch.setattr(kinds_module, "LIBRARY", tmp_path)
    with pytest.raises(MapError) as caught:
        kinds.__wrapped__()
    assert [one.rpartition("/feet.yaml")[2] for one in caught.value.findings] == [
        one.removeprefix("kinds.yaml") for one in WRONG_KINDS_FINDINGS
    ]


def test_a_kind_that_two_files_declare_is_an_error(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    hazards()
    (tmp_path / "kinds").mkdir()
    foot = WRONG_KINDS[: WRONG_KINDS.index("  past:")].replace("Rubber foot", "foot")
    foot += "  modes: {gone: {says: gone, ratio: 1}}\n"
    for name in ("a", "b"):
        (tmp_path / "kinds" / f"{name}.yaml").write_text(foot, encoding="utf-8")
    monkeypatch.setattr(kinds_module, "LIBRARY", tmp_path)
    with pytest.raises(MapError) as caught:
        kinds.__wrapped__()
    assert caught.value.findings == [
        f"{tmp_path}/kinds/b.yaml:1:1: The kind 'foot' is declared twice, here and in another file. "
        "Give each its own name."
    ]


def test_wrong_hazards_are_an_error_that_lists_the_findings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "hazards.yaml").write_text("steam: {caution: Hot., source: none, rules: {a: {forbids: all, why: x}}}\n")
    monkeypatch.setattr(kinds_module, "LIBRARY", tmp_path)
    with pytest.raises(MapError) as caught:
        hazards.__wrapped__()
    assert caught.value.findings == [
        f"{tmp_path}/hazards.yaml:1:59: forbids: 'all' is not one of its words. Choose: power, touch, everything else."
    ]


# --- what a file can hold ---


def aliases_of_aliases() -> str:
    levels = ["a0: &a0 [x, x]"]
    levels += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 9)}]" for n in range(1, 40)]
    return "\n".join(levels)


@pytest.mark.parametrize(
    ("text", "rules"),
    [
        ("", {"empty"}),
        ("   \n\n", {"empty"}),
        ("---\n", {"not-a-table"}),
        ("null", {"not-a-table"}),
        ("just words", {"not-a-table"}),
        ("map:\n\tx: 1", {"yaml"}),
        ("\0", {"yaml"}),
        ("%YAML 9.9\n---\nmap: x", {"yaml"}),
        ("map: @x", {"yaml"}),
        (aliases_of_aliases(), {"alias"}),
        ("map: &x\n  what: *x", {"alias"}),
        ("map: *nowhere", {"alias"}),
        ("&x map: 1", {"alias"}),
        ("<<: *x", {"alias"}),
        ("*x : 1", {"alias", "not-a-key"}),
        ("map: !!python/name:os.system x", {"tag"}),
        ("? {a: b}\n: {c: [d]}\n", {"not-a-key"}),
        ("map: " + "[" * 20000 + "]" * 20000, {"too-deep"}),
        ("map: " + "{a: " * 20000 + "}" * 20000, {"too-deep"}),
        ("map: " + "[" * 1_000_000, {"too-deep"}),
        ("\n".join(" " * depth + "a:" for depth in range(1500)), {"too-deep"}),
    ],
)
def test_what_is_no_map_gets_its_findings(text: str, rules: set[str]) -> None:
    assert {one.rule for one in checked(text)} == rules


def test_nesting_is_read_down_to_the_limit() -> None:
    deep = "map: " + "[" * (DEEPEST - 1) + "]" * (DEEPEST - 1)
    assert read_text(deep, "f").findings == []
    assert [one.rule for one in read_text(deep.replace("[]", "[[]]"), "f").findings] == ["too-deep"]


def test_a_byte_order_mark_and_the_line_ends_of_other_systems_change_nothing() -> None:
    assert checked("\ufeff" + RIGHT_TEXT.replace("\n", "\r\n")) == []
    assert [str(one) for one in checked("\ufeffmap: @x")] == [
        "drawn.yaml:1:6: A text cannot begin with '@'. Put it in quotes."
    ]


LONG = "9" * 6000


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (
            "EUR 30",
            f"EUR {LONG}",
            "working: a quantity of 6004 characters. Write it shorter, with a prefix, as '4.7 k'.",
        ),
        (
            "unknown: 4 %",
            f"unknown: {LONG}",
            "unknown: a quantity of 6000 characters. Write it shorter, with a prefix, as '4.7 k'.",
        ),
        ("count: 4", f"count: {LONG}", f"count: '{LONG[:60]}...' stands where a whole number belongs."),
        ("ratio: 0.1", f"ratio: {LONG}", f"ratio: '{LONG[:60]}...' is too large or no number at all."),
        ("ratio: 0.1", "ratio: inf", "ratio: 'inf' is too large or no number at all."),
        ("ratio: 0.1", "ratio: nan", "ratio: 'nan' is too large or no number at all."),
        ("minutes: 20 min", "minutes: 1e999 min", "minutes: '1e999 min' is too large."),
        ("minutes: 20 min", "minutes: 1e999", "minutes: '1e999' is too large."),
        ("minutes: 20 min", "minutes: true", "minutes: true stands where a number with its unit belongs."),
        ("minutes: 20 min", "minutes: null", "minutes: nothing stands where a number with its unit belongs."),
        ("minutes: 20 min", "minutes: [1]", "minutes: a table or list stands where a number with its unit belongs."),
        ("minutes: 20 min", "minutes: -3", "minutes: -3 is a negative time."),
        (
            "bond: calibration",
            "bond: {a: 1}",
            "bond: a table is not one of its words. Choose: cryptographic, serial, calibration, keys.",
        ),
        (
            "protection_class: III",
            "protection_class: IV",
            "protection_class: 'IV' is not one of its words. Similar: 'I'. All: I, II, III, none.",
        ),
        ("wanted: true", "wanted: perhaps", "wanted: 'perhaps' stands where true or false belongs."),
        (
            "lid: {what: Lid",
            "Lüfter: {what: Lid",
            "'Lüfter' is not a name: lower-case words joined by hyphens. Right would be 'lufter'.",
        ),
        (
            "lid: {what: Lid",
            f"{'L' * 500}: {{what: Lid",
            f"'{'L' * 60}...' is not a name: lower-case words joined by hyphens. Right would be '{'l' * 60}'.",
        ),
        ("minutes: 20 min", "minutes: .inf", "minutes: '.inf' does not start with a number. Write it as '12 minute'."),
        ("nominal: 12 V +/- 5 %", "nominal: 1e308 V +/- 1e308 V", "nominal: '1e308 V +/- 1e308 V' is too large."),
    ],
)
def test_a_wrong_value_is_shown_with_what_would_be_right(old: str, new: str, message: str) -> None:
    assert message in [one.message for one in checked(RIGHT_TEXT.replace(old, new, 1))]


@pytest.mark.parametrize("chain", ["functions", "steps"])
def test_a_chain_of_thousands_is_no_trouble(chain: str) -> None:
    count = 1500
    if chain == "functions":
        links = "".join(f"  f{n}: {{what: f, needs: [f{n + 1}]}}\n" for n in range(count))
        text = RIGHT_TEXT.replace("  light:\n", f"{links}  f{count}: {{what: f, needs: [lamp]}}\n  light:\n")
    else:
        links = "".join(f"  s{n}: {{do: s, open: 1, close: 1, after: [s{n + 1}]}}\n" for n in range(count))
        text = RIGHT_TEXT.replace("  lid-off:", f"{links}  s{count}: {{do: s, open: 1, close: 1}}\n  lid-off:")
    assert checked(text) == []
    device = load_text(text, "chain.yaml")
    if chain == "steps":
        assert len(device.path_to["s0"]) == count + 1
    else:
        order = list(device.functions)
        assert order.index("f0") > order.index(f"f{count}")


def test_functions_come_after_all_that_they_need() -> None:
    device = load(str(RIGHT))
    order = list(device.functions)
    for function in device.functions.values():
        for needed in (*function.needs, *(one for group in function.any_of for one in group), *function.spoiled_by):
            assert needed not in order or order.index(needed) < order.index(function.id)


def test_a_part_that_can_never_be_faulty_still_has_shares_that_sum_to_one() -> None:
    assert checked(RIGHT_TEXT.replace("kind: cosmetic-shell", "kind: cosmetic-shell, base: 0, missing: 0")) == []


def test_a_name_that_no_file_system_takes_is_not_found() -> None:
    with pytest.raises(
        NotFoundError, match=r"No map 'ceiling-projectr', and no file of that name\. Similar: 'ceiling-p"
    ):
        load("ceiling-projectr")
    with pytest.raises(NotFoundError):
        load("x" * 5000)
    with pytest.raises(NotFoundError):
        load("\0")


def test_a_map_file_that_is_not_text_is_an_error_with_its_line() -> None:
    with pytest.raises(MapError, match=r"not-utf-8.yaml:3:1: This line is not UTF-8 text. Save the file as UTF-8."):
        load(str(BROKEN["readable-not-utf-8.yaml"]))


# --- drawn junk ---

WORDS = st.sampled_from(
    [
        *(
            "rail-12v",
            "light",
            "board",
            "lid-off",
            "fan-lead",
            "short",
            "missing",
            "any",
            "fine",
            "[key]",
            "what",
            "kind",
        ),
        *("fan", "plug", "none", "good", "weak", "closed", "off", "mains", "browned", "wet", "EUR 5", "5 V", "3 ohm"),
        *(
            "100 %",
            "0 %",
            "1e999",
            "nan",
            "inf",
            "-1",
            "5 V to 1 V",
            "0 ohm to 0 ohm",
            "12 min",
            "4k7",
            "&a",
            "!t",
            "*a",
        ),
    ]
)
SCALARS = st.one_of(
    st.none(), st.booleans(), st.integers(), st.floats(), WORDS, st.text(max_size=8), st.just(10**400), st.just(LONG)
)
JUNK = st.recursive(
    SCALARS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(WORDS | st.text(max_size=5), inner, max_size=3),
    max_leaves=6,
)


def right_data() -> Any:
    return YAML(typ="safe", pure=True).load(RIGHT_TEXT)


def places(data: Any) -> list[tuple[Any, Any]]:
    """Every (container, key) of nested data."""
    found: list[tuple[Any, Any]] = []
    items = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    for key, value in items:
        found += [(data, key), *places(value)]
    return found


def dumped(data: Any) -> str:
    yaml = YAML(typ="safe", pure=True)
    yaml.representer.ignore_aliases = lambda _: True
    out = io.StringIO()
    yaml.dump(data, out)
    return out.getvalue()


RIGHT_DATA = right_data()


def draw_mutated(data: st.DataObject, change: st.SearchStrategy[Any]) -> Any:
    table = deepcopy(RIGHT_DATA)
    for _ in range(data.draw(st.integers(1, 3))):
        container, key = data.draw(st.sampled_from(places(table)))
        action = data.draw(st.sampled_from(["put", "put", "drop", "add"]))
        if action == "put":
            container[key] = data.draw(change)
        elif action == "drop":
            del container[key]
        elif isinstance(container, dict):
            container[data.draw(WORDS)] = data.draw(change)
        else:
            container.append(data.draw(change))
        if not places(table):
            break
    return table


@settings(max_examples=250, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_a_map_with_junk_anywhere_gets_findings_or_builds(data: st.DataObject) -> None:
    checked(dumped(draw_mutated(data, JUNK)))


@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_a_map_with_its_own_values_in_wrong_places_gets_findings_or_builds(data: st.DataObject) -> None:
    own = [deepcopy(container[key]) for container, key in places(RIGHT_DATA)]
    checked(dumped(draw_mutated(data, st.sampled_from(own).map(deepcopy) | WORDS)))


@settings(max_examples=150, deadline=None)
@given(st.text(max_size=60))
@example("a: \x85b: @x")
@example("a: \u2028\t@")
@example("\ufeff@")
def test_any_text_gets_findings(text: str) -> None:
    assert checked(text)


@settings(max_examples=150, deadline=None)
@given(
    st.integers(0, len(RIGHT_TEXT) - 1), st.integers(0, 30), st.text(alphabet="ab:-[]{}'\"#&*!|>%@\t\n ,?1", max_size=5)
)
def test_a_map_with_a_piece_of_its_text_changed_gets_findings_or_builds(start: int, length: int, junk: str) -> None:
    checked(RIGHT_TEXT[:start] + junk + RIGHT_TEXT[start + length :])


@settings(max_examples=100, deadline=None)
@given(st.data())
def test_a_kind_file_with_junk_anywhere_gets_findings_or_kinds(data: st.DataObject) -> None:
    text = WRONG_KINDS.replace("Rubber foot", "foot")
    table = YAML(typ="safe", pure=True).load(text)
    container, key = data.draw(st.sampled_from(places(table)))
    container[key] = data.draw(JUNK)
    document: Document = read_text(dumped(table), "kinds.yaml")
    read_kinds(document)
    assert {one.rule for one in document.findings} <= set(RULES)
