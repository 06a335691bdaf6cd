"""The independent check of proposals: it catches what is planted, and finds nothing in what the program proposes."""

from __future__ import annotations

import ast
from dataclasses import replace
from pathlib import Path

import pytest
from dangerous import ALL, TWO_CELLS
from small import bench, log, usual

from knowngood.maps import load
from knowngood.maps.device import Device
from knowngood.maps.kinds import shipped_maps
from knowngood.plan import safety
from knowngood.plan.drill import Drilled, advised, any_allowed, drill
from knowngood.plan.hazards import Act
from knowngood.plan.moves import Move
from knowngood.plan.safety import SENTENCES, Checker

LIMITS = "on the rail alone, at most 5 V; current limit 0.5 A"
BURNT, OPEN = "saw supply burnt", "opened lid"
SHORT = "read rail-to-ground 0.3 ohm"


def move(kind: str, target: str, *precautions: str, **changes: object) -> Move:
    """A move as it might be proposed, whose own account of itself says that it does nothing."""
    test = ALL.tests.get(target)
    plain = Move(kind, target, "", 1.0, 0.0, Act(), precautions=precautions, test=test)
    return replace(plain, **changes)  # type: ignore[arg-type]


PLANTED = [
    ("supply", (BURNT,), move("try", "works")),
    ("supply", ("saw supply wet", "dried unit"), move("try", "works")),
    ("supply", ("saw supply dented", "mended supply resolder"), move("try", "works")),
    ("supply", ("fitted supply from D1", "saw supply cracked"), move("try", "works")),
    ("charge", (), move("mend", "supply")),
    ("charge", ("discharged supply 12 V",), move("replace", "supply")),
    ("charge", ("discharged supply 3 V", "tried works fails"), move("take-out", "supply")),
    ("charge", ("discharged supply 3 V", "fitted supply from D1"), move("mend", "supply")),
    ("charge", ("past wet", "removed pack"), move("dry", "unit")),
    ("cell", ("saw pack swollen",), move("wait", "knob")),
    ("cell", ("saw pack swollen",), move("look", "knob")),
    ("cell", ("saw pack punctured", "removed pack", "fitted pack from back"), move("mend", "knob")),
    ("cell", ("saw pack wet", "dried unit"), move("try", "works")),
    ("cell", ("saw pack swollen",), move("sell-as-is", "")),
    ("cell", ("saw pack swollen",), move("discharge", "supply")),
    ("wet", ("past wet",), move("try", "works")),
    ("wet", ("past wet", "discharged supply 3 V"), move("dry", "unit")),
    ("wet", ("saw knob wet",), move("test", "charge")),
    ("wet", ("past wet", "dried unit", "past wet"), move("try", "works")),
    ("laser", (OPEN,), move("test", "charge")),
    ("laser", (), move("measure", "rail", opens=("lid",))),
    ("laser", ("saw knob missing",), move("try", "works")),
    ("laser", ("removed knob",), move("try", "works")),
    ("short", (SHORT,), move("try", "works")),
    ("short", (SHORT, "mended knob glue"), move("test", "charge")),
    ("short", (SHORT,), move("test", "inject")),
    ("short", (SHORT,), move("test", "inject", LIMITS.replace("5 V", "5.5 V"))),
    ("short", (SHORT,), move("test", "inject", LIMITS.replace("0.5 A", "6 A"))),
    ("short", (), move("test", "inject", "on the rail alone, at most 5 V")),
]


@pytest.mark.parametrize(("word", "lines", "planted"), PLANTED)
def test_a_planted_breach_is_caught_and_named(word: str, lines: tuple[str, ...], planted: Move) -> None:
    assert Checker(ALL, log(ALL, *lines)).broken(planted) == (word,)


def test_every_sentence_has_planted_breaches() -> None:
    assert {word for word, *_ in PLANTED} == set(SENTENCES)


SAFE = [
    ((BURNT, "fitted supply from new"), move("try", "works")),
    (("discharged supply 9 V",), move("mend", "supply")),
    (("saw pack swollen",), move("take-out", "pack")),
    (("saw pack swollen",), move("part-out", "")),
    (("saw pack swollen", "removed pack"), move("try", "works")),
    (("saw knob wet", "dried unit"), move("try", "works")),
    (("past wet", "discharged supply 3 V", "removed pack"), move("dry", "unit")),
    ((OPEN,), move("try", "works", closes=("lid",))),
    ((OPEN, "removed beam"), move("test", "charge")),
    ((SHORT, "mended load mend"), move("try", "works")),
    ((SHORT,), move("test", "inject", LIMITS)),
]


@pytest.mark.parametrize(("lines", "safe"), SAFE)
def test_what_is_safe_is_let_pass(lines: tuple[str, ...], safe: Move) -> None:
    assert Checker(ALL, log(ALL, *lines)).broken(safe) == ()


def test_a_hurt_supply_has_mains_only_if_no_other_can_be_had_and_isolated_and_limited() -> None:
    stated = "an isolating transformer and a series lamp or another current limit"
    told, trying = log(ALL, BURNT), move("try", "works")
    assert Checker(ALL, told, frozenset()).broken(trying) == ("supply",)
    assert Checker(ALL, told, frozenset()).broken(replace(trying, precautions=("with care",))) == ("supply",)
    assert Checker(ALL, told, frozenset()).broken(replace(trying, precautions=(stated,))) == ()
    assert Checker(ALL, told, {"supply"}).broken(replace(trying, precautions=(stated,))) == ("supply",)


def test_of_two_hurt_cells_either_goes_first_after_the_charge_on_the_way() -> None:
    hurt = ("saw left swollen", "saw right swollen")
    out = Move("take-out", "left", "", 1.0, 0.0, Act(), opens=("lid",))
    assert Checker(TWO_CELLS, log(TWO_CELLS, *hurt)).broken(out) == ("charge",)
    assert Checker(TWO_CELLS, log(TWO_CELLS)).broken(move("open", "lid")) == ("charge",)
    assert Checker(TWO_CELLS, log(TWO_CELLS, "opened lid")).broken(move("close", "unit")) == ("charge",)
    assert Checker(TWO_CELLS, log(TWO_CELLS, *hurt)).broken(move("discharge", "store")) == ()
    assert Checker(TWO_CELLS, log(TWO_CELLS, *hurt, "discharged store 1 V")).broken(out) == ()


def test_the_checker_shares_nothing_with_what_it_checks() -> None:
    tree = ast.parse(Path(safety.__file__).read_text(encoding="utf-8"))
    imported = {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom) and node.module}
    assert not {name for name in imported if name.startswith(("knowngood.plan", "knowngood.maps.kinds"))}
    names = {node.attr for node in ast.walk(tree) if isinstance(node, ast.Attribute)}
    assert not names & {"act", "rules", "hard_rules"}


# ---- a rule taken out of the data -----------------------------------------------------------------------------------

WITHOUT = [
    ("damaged-supply", "supply", (BURNT,)),
    ("not-discharged", "charge", (OPEN,)),
    ("hurt-cell", "cell", ("saw pack swollen",)),
    ("not-dried", "wet", ("past wet",)),
    ("pack-in-the-wet", "wet", ("past wet", "discharged supply 3 V")),
    ("open-laser", "laser", (OPEN,)),
    ("known-short", "short", (SHORT,)),
]


def without(rule: str) -> Device:
    kept = {
        name: replace(hazard, rules=tuple(one for one in hazard.rules if one.id != rule))
        for name, hazard in ALL.hazards.items()
    }
    return replace(ALL, hazards=kept)


@pytest.mark.parametrize(("rule", "word", "lines"), WITHOUT)
def test_what_the_planner_would_propose_without_a_rule_is_caught(rule: str, word: str, lines: tuple[str, ...]) -> None:
    for on, words in ((ALL, set()), (without(rule), {word})):
        told = log(on, *lines)
        for proposing in (advised, any_allowed):
            moves, _ = proposing(on, told, bench())
            assert {one for proposed in moves for one in Checker(on, told).broken(proposed)} == words


def test_every_rule_of_the_library_was_taken_out() -> None:
    assert {rule for rule, *_ in WITHOUT} == {rule.id for one in ALL.hazards.values() for rule in one.rules}


@pytest.mark.parametrize("word", ["wet", "charge"])
def test_a_drill_without_a_rule_ends_in_breaches(word: str) -> None:
    on = without({"wet": "not-dried", "charge": "not-discharged"}[word])
    found = drilled(on, 6)
    assert {broken for broken, _, _ in found.breaches} == {word}


# ---- what the program proposes --------------------------------------------------------------------------------------


def drilled(on: Device, units: int, moves: int = 3, **how: object) -> Drilled:
    found = Drilled()
    at = bench() if on.id == "small" else usual(on)
    for unit in range(units):
        found.add(drill(unit, on, at, 11, moves=moves, **how))  # type: ignore[arg-type]
    return found


def test_a_hundred_plans_over_every_shipped_map_break_no_sentence() -> None:
    found = Drilled()
    for name, units in zip(shipped_maps(), (5, 5, 45, 45), strict=True):
        found.add(drilled(load(name), units))
    assert found.breaches == []
    assert found.plans == 100
    assert found.proposals > 20_000
    assert set(found.meetings) == {rule.id for one in ALL.hazards.values() for rule in one.rules} - {"open-laser"}


def test_plans_on_a_device_with_every_hazard_break_no_sentence_and_meet_every_rule() -> None:
    found = drilled(ALL, 40, moves=6)
    assert found.breaches == []
    assert set(found.meetings) == {rule.id for one in ALL.hazards.values() for rule in one.rules}


def test_what_the_planner_advises_breaks_no_sentence() -> None:
    for on in (load("some-mains-device"), load("some-battery-device"), ALL, TWO_CELLS):
        found = drilled(on, 2, proposing=advised)
        assert found.breaches == []
        assert found.proposals > 4
