"""From belief to shelf problem: what the ways of a unit are worth, and what a plan made of them does."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from small import usual

from knowngood.belief.believe import believe
from knowngood.belief.priors import fitted, mended, replaced
from knowngood.log.events import parse
from knowngood.log.lines import understand
from knowngood.log.state import Line, considered, replay
from knowngood.maps.load import load
from knowngood.money.choices import choices
from knowngood.money.shelf.build import AtHand, Outside, item_of, key_of, serves, unit_of, wanted
from knowngood.money.shelf.plan import tally
from knowngood.money.shelf.problem import Demand, Offer, Problem, Supplier, Unit, Way
from knowngood.money.shelf.solve import solve
from knowngood.plan.judge import try_minutes

PROJECTOR = load("ceiling-projector")
FALLEN = (
    *("bought ceiling-projector for EUR 45 past dropped", "tried standby-light works", "tried starts-by-key works"),
    *("tried starts-by-remote works", "tried fans-turn works", "tried lamp-lights fails"),
    *("saw lamp-door-tab broken-off close", "saw mounting-bosses broken-off close"),
)


def at_hand(name: str, lines: Iterable[str], *, donor: bool = False) -> AtHand:
    told = replay(PROJECTOR, [])
    for text in lines:
        told = considered(PROJECTOR, told, [understand(PROJECTOR, told.state, text)])
    return AtHand(name, PROJECTOR, told, believe(PROJECTOR, told), usual(PROJECTOR), donor)


def way(unit: Unit, name: str) -> Way:
    return next(one for one in unit.ways if one.id == name)


def left_bad(one: AtHand, name: str) -> float:
    """Chance that a part is bad after the course of the best choice: mended, else bought used, by its own base odds."""
    part = one.device.parts[name]
    mend = next(each for each in part.remedies if each.name in ("glue", "glue-boss"))
    now = one.belief.slot(one.belief.posterior, part)[0] @ mended(part, mend)
    bad = one.belief.stopping(part)
    assert part.swap is not None
    then = now * ~bad + (now * bad) @ replaced(part, part.swap, fitted(part, "used"))
    return float(then[bad].sum())


@pytest.fixture(scope="module")
def fallen() -> Unit:
    return unit_of(at_hand("U1", FALLEN), Outside())


def test_what_is_probably_bad_is_a_need_and_the_rest_is_in_the_way(fallen: Unit) -> None:
    finish = way(fallen, "finish")
    assert {need.id for need in finish.needs} == {"lamp-door-tab", "mounting-bosses"}
    tab = {one.id: one for one in finish.needs[0].alternatives}
    assert {"glue", "take", "buy", "glue, else buy", "leave"} <= tab.keys()
    assert tab["take"].takes == ("ceiling-projector/lamp-door-tab",)
    assert tab["take"].cost < tab["glue, else buy"].cost < tab["leave"].cost
    assert tab["glue"].minutes > tab["take"].minutes
    assert all(isinstance(figure, int) for figure in (finish.value, finish.minutes, tab["glue"].cost))
    assert way(fallen, "as-is").value == 6080
    assert way(fallen, "parts").value == 5280
    assert way(fallen, "wait").value == round(0.9 * 5480)


def test_the_best_plan_for_a_unit_alone_is_worth_about_what_the_best_choice_is(fallen: Unit) -> None:
    """Two routes: needs and alternatives in whole minor units, and every course tried on the joint of all faults."""
    one = at_hand("U1", FALLEN)
    best = choices(one.device, one.replay, one.belief, one.terms).best
    answer = solve(Problem((fallen,), hour=1200))
    assert answer.plan.ways == {"U1": "finish"}
    sums = tally(Problem((fallen,), hour=1200), answer.plan)
    assert sums.worth / 6000.0 == pytest.approx(best.worth, abs=4.0)
    # What 'leave' loses says how likely it works with all needs met in full; the best choice meets them less well.
    proving = sum(try_minutes(PROJECTOR, name) for name in PROJECTOR.wanted)
    lost = one.terms.working - one.terms.as_is - proving * one.terms.rate
    leave = next(each.cost for each in way(fallen, "finish").needs[0].alternatives if each.id == "leave")
    met = [1.0 - works for need in ("lamp-door-tab", "mounting-bosses") for works in [left_bad(one, need)]]
    assert best.works == pytest.approx(leave / 100.0 / lost * float(np.prod(met)), abs=0.02)


def test_a_donor_gives_its_parts_and_a_plan_takes_one_where_that_is_cheapest(fallen: Unit) -> None:
    donor = unit_of(at_hand("D1", ["bought ceiling-projector for EUR 20"], donor=True), Outside())
    assert {one.id for one in donor.ways} == {"parts", "donor", "wait"}
    gives = {item.id: item for item in way(donor, "parts").gives}
    assert gives["D1/lamp-door-tab"].serves == {"ceiling-projector/lamp-door-tab"}
    assert gives["D1/config-store+optical-engine"].serves == {"ceiling-projector/config-store+optical-engine"}
    assert not {"D1/config-store", "D1/optical-engine"} & gives.keys()
    assert gives["D1/lamp-door-tab"].cost == 400
    assert 0.9 < gives["D1/lamp-door-tab"].chance < 1.0
    answer = solve(Problem((fallen, donor), hour=1200))
    assert answer.plan.ways["U1"] == "finish"
    assert answer.plan.ways["D1"] == "parts"
    assert answer.plan.met["U1", "mounting-bosses"].sources in ((), ("D1/mounting-bosses",))


def test_what_a_supplier_offers_is_left_to_the_plan_and_what_is_ordered_costs_nothing_more() -> None:
    key = "ceiling-projector/lamp-door-tab"
    unit = unit_of(at_hand("U1", FALLEN), Outside(offered={key: 3.0}, days=14))
    tab = way(unit, "finish").needs[0]
    assert "buy" not in {one.id for one in tab.alternatives}
    assert way(unit, "finish").within == 14
    offers = (Offer("north", "north", frozenset({key}), 300, days=3),)
    problem = Problem((unit,), suppliers=(Supplier("north", 100),), offers=offers, hour=1200)
    assert solve(problem).plan.met["U1", "lamp-door-tab"].sources in (("north",), ())
    ordered = at_hand("U1", (*FALLEN, "ordered lamp-door-tab used from north for EUR 3"))
    tab = way(unit_of(ordered, Outside()), "finish").needs[0]
    assert next(one.id for one in tab.alternatives) == "bought already"
    assert not any(one.takes for one in tab.alternatives)


def test_a_hurt_mains_part_is_replaced_or_the_unit_is_not_finished() -> None:
    hurt = at_hand("U1", (*FALLEN, "saw supply-primary burnt close"))
    finish = next((one for one in unit_of(hurt, Outside()).ways if one.id == "finish"), None)
    assert finish is not None
    (need,) = (one for one in finish.needs if one.id == "supply-primary")
    assert {one.id for one in need.alternatives} <= {"take", "buy"}


def test_parts_kept_for_units_to_come_are_worth_the_chance_that_so_many_are_wanted() -> None:
    belief = believe(
        PROJECTOR, replay(PROJECTOR, [Line(1, "", parse("bought ceiling-projector for EUR 9 past dropped"))])
    )
    steps = wanted(belief, 3, {})["ceiling-projector/lamp-module"]
    chance = next(one.p_blocks for one in belief.suspects if one.part == "lamp-module")
    saved = 28.0 - 15.0
    for number, step in enumerate(steps, start=1):
        draws = product((True, False), repeat=3)
        enough = sum(np.prod([chance if hit else 1.0 - chance for hit in one]) for one in draws if sum(one) >= number)
        assert step == round(100.0 * saved * enough)
    assert list(steps) == sorted(steps, reverse=True)
    key = "ceiling-projector/lamp-module"
    outside = Outside(kept={key: steps}, demands=frozenset({f"kept {key}"}), loose={})
    item = item_of(PROJECTOR, ("lamp-module",), 0.9, outside, unit="D1")
    (outlet,) = item.outlets
    assert outlet.value == pytest.approx(-0.1 * steps[0], abs=0.5)
    kept = unit_of(at_hand("D1", ["bought ceiling-projector for EUR 20"], donor=True), outside)
    problem = Problem((kept,), demands=(Demand(f"kept {key}", 3, steps),))
    assert solve(problem).plan.ways["D1"] in ("parts", "donor")


def test_a_part_serves_the_slots_that_its_revision_fits() -> None:
    board = replace(PROJECTOR.parts["input-board"], revisions=(("A", ()), ("B", ("A",))))
    on = replace(PROJECTOR, parts={**PROJECTOR.parts, "input-board": board})
    name = ("input-board",)
    plain, a, b = (key_of(on, name, one) for one in (None, "A", "B"))
    assert serves(on, name, "A") == {plain, a, b}
    assert serves(on, name, "B") == {plain, b}
    assert serves(on, name, None) == {plain, a, b}
    lamp = ("lamp-door-tab",)
    assert serves(on, lamp, None) == {key_of(on, lamp)}


def test_each_part_of_a_unit_comes_out_of_it_in_one_item() -> None:
    """Two bonds of the navigator have a part in common."""
    device = load("pocket-navigator")
    log = replay(device, [Line(1, "", parse("bought pocket-navigator for EUR 20"))])
    at_hand = AtHand("U1", device, log, believe(device, log), usual(device))
    [parts] = [way for way in unit_of(at_hand, Outside()).ways if way.id == "parts"]
    given = [name for item in parts.gives for name in item.id.removeprefix("U1/").split("+")]
    assert len(given) == len(set(given))
    assert {"secure-chip", "satellite-receiver"} <= set(given)
