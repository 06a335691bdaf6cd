"""A try on a bench supply says nothing of the pack whose place it takes: against all worlds of a small unit, summed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import product

import pytest
from devices import device, function, mode, part
from devices import log as logged

from knowngood.belief import sensing
from knowngood.belief.believe import believe
from knowngood.belief.evaluate import World, behave
from knowngood.errors import LineError
from knowngood.log.lines import understand
from knowngood.log.state import State
from knowngood.maps.device import FunctionLevel, Test

PACK = part("pack", mode(takes="short", gives=0), base=0.2, hazards=("cell",), on=("node",))
UNIT = device(
    [
        PACK,
        part("pack-plug", base=0.05, joins=("pack", "board")),
        part("charger", base=0.3),
        part("board", base=0.1),
    ],
    [
        function("pack-power", "pack", "pack-plug"),
        function("charge-power", "charger"),
        function("node", any_of=(("pack-power", "charge-power"),), rail=True),
        function("starts", "node", "board", wanted=True),
        function("charges", "charge-power"),
    ],
    [
        Test("starts", "tried", "starts", FunctionLevel("starts"), ("works", "weak", "fails"), 1.0, "battery"),
        Test("charges", "tried", "charges", FunctionLevel("charges"), ("works", "weak", "fails"), 1.0, "adaptor"),
    ],
    unknown=0.0,
)
FAILS = ("tried starts fails", "unplugged pack-plug")


def bad(*lines: str) -> dict[str, float]:
    return {one.part: one.p_bad for one in believe(UNIT, logged(UNIT, lines)).suspects}


def worlds(*seen: tuple[str, frozenset[str], frozenset[str]]) -> dict[str, float]:
    """P(bad) of each part, by every combination of faults; ``seen`` are the outcome, what is unplugged, what is fed."""
    table = sensing.outcome_table(UNIT, UNIT.tests["starts"])
    total, of = 0.0, dict.fromkeys(UNIT.parts, 0.0)
    for faults in _combinations():
        weight = 1.0
        for name, one in UNIT.parts.items():
            weight *= one.base if name in faults else 1.0 - one.base
        for outcome, unplugged, fed in seen:
            world = World(dict.fromkeys(faults, "dead"), unplugged=unplugged, fed=fed)
            level = behave(UNIT, world).level["starts"]
            weight *= table[level, ("works", "weak", "fails").index(outcome)]
        total += weight
        for name in faults:
            of[name] += weight
    return {name: chance / total for name, chance in of.items()}


def _combinations() -> Iterator[tuple[str, ...]]:
    for which in product((False, True), repeat=len(UNIT.parts)):
        yield tuple(name for name, faulty in zip(UNIT.parts, which, strict=True) if faulty)


def test_what_works_on_the_bench_and_not_on_its_pack_points_at_the_pack_as_the_sum_over_all_worlds_does() -> None:
    on_pack = ("fails", frozenset[str](), frozenset[str]())
    on_bench = ("works", frozenset({"pack-plug"}), frozenset({"node"}))
    assert bad(*FAILS) == pytest.approx(worlds(on_pack))
    after = bad(*FAILS, "tried starts works on bench")
    assert after == pytest.approx(worlds(on_pack, on_bench))
    assert after["pack"] > bad(*FAILS)["pack"]
    assert after["board"] < 0.02


def test_what_fails_on_the_bench_leaves_the_pack_as_it_was() -> None:
    first = bad("unplugged pack-plug")
    fails = bad("unplugged pack-plug", "tried starts fails on bench")
    assert fails["board"] > 0.7
    assert (fails["pack"], fails["charger"]) == pytest.approx((first["pack"], first["charger"]))


@pytest.mark.parametrize(
    ("lines", "typed", "message"),
    [
        ((), "tried starts works on bench", "The pack is plugged in: a bench supply beside it would charge it."),
        (FAILS, "tried charges works on bench", "this is not tried on one. Leave 'on bench' out."),
    ],
)
def test_a_bench_supply_where_none_can_be_is_refused(lines: tuple[str, ...], typed: str, message: str) -> None:
    state = logged(UNIT, lines).state if lines else State()
    with pytest.raises(LineError, match=message):
        understand(UNIT, state, typed)


def test_on_a_device_without_a_pack_there_is_none_to_stand_in_for() -> None:
    mains = replace(UNIT, parts={**UNIT.parts, "pack": replace(PACK, hazards=())}, content_hash="mains")
    with pytest.raises(LineError, match="Leave 'on bench' out"):
        understand(mains, State(unplugged=frozenset({"pack-plug"})), "tried starts works on bench")
