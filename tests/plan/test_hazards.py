"""Hard rules and cautions: when each rule holds, what lifts it, and that no proposed move breaks one."""

from __future__ import annotations

from dataclasses import replace

import pytest
from dangerous import ALL, IN_A_ROW, SWAP, TWO_CELLS
from small import bench, device, log, part, tried, usual, wanted

from knowngood.belief.believe import believe
from knowngood.maps import load
from knowngood.maps.device import Charge, Device
from knowngood.maps.words import CONDITIONS, POWERS
from knowngood.plan.choose import Advice, advise
from knowngood.plan.hazards import Act, breaches, cautions
from knowngood.plan.lifting import allowed, first_lift
from knowngood.plan.moves import Move, look_move, remedy_moves
from knowngood.plan.moves import test_move as move_of
from knowngood.plan.safety import Checker
from knowngood.plan.terms import Terms
from knowngood.proof.known import proof

BURNT = "saw supply burnt"
SUPPLY, PACK = frozenset({"supply"}), frozenset({"pack"})
CASES = [
    ("damaged-supply", ("saw supply dented",), Act("mains"), ("fitted supply from new",)),
    ("not-discharged", (), Act(touches=SUPPLY), ("discharged supply 3 V",)),
    ("hurt-cell", ("saw pack swollen",), Act(), ("removed pack",)),
    ("hurt-cell", ("saw pack swollen",), Act("battery"), ("fitted pack from new",)),
    ("pack-in-the-wet", ("past wet",), Act(touches=PACK), ("removed pack",)),
    ("pack-in-the-wet", ("saw knob wet",), Act(near=PACK), ("dried unit",)),
    ("not-dried", ("past wet",), Act("bench"), ("dried unit",)),
    ("not-dried", ("saw load wet",), Act("battery"), ("dried unit",)),
    ("known-short", ("read rail-to-ground 0.3 ohm",), Act("mains"), ("read rail-to-ground 300 ohm",)),
    ("known-short", ("read rail-to-ground 0.3 ohm",), Act("adaptor"), ("mended load mend",)),
    ("open-laser", ("opened lid",), Act("battery"), ("closed lid",)),
    ("open-laser", ("opened lid",), Act("battery"), ("closed all",)),
    ("open-laser", ("opened lid",), Act("battery"), ("removed beam",)),
    ("open-laser", ("removed knob",), Act("battery"), ("fitted knob from back",)),
    ("open-laser", ("saw knob missing",), Act("battery"), ("fitted knob from D1",)),
]


def held(act: Act, *lines: str) -> list[str]:
    return [breach.rule.id for breach in breaches(ALL, log(ALL, *lines).state, act)]


@pytest.mark.parametrize(("rule", "lines", "act", "lifted_by"), CASES)
def test_a_rule_holds_with_its_text_until_it_is_lifted(
    rule: str, lines: tuple[str, ...], act: Act, lifted_by: tuple[str, ...]
) -> None:
    (breach,) = breaches(ALL, log(ALL, *lines).state, act)
    whys = {one.id: one.why for hazard in ALL.hazards.values() for one in hazard.rules}
    assert breach.rule.id == rule
    assert str(breach) == whys[rule]
    assert len(whys[rule]) > 20
    if lines:
        assert not held(act)
    assert not held(act, *lines, *lifted_by)


def test_every_hard_rule_of_the_library_is_among_the_cases() -> None:
    assert {rule for rule, *_ in CASES} == {rule.id for one in ALL.hazards.values() for rule in one.rules}


MAINS_HURT = {
    *("dented", "bent", "cracked", "crushed", "burnt", "wet", "melted", "leaking", "corroded", "green", "tide-line"),
    "bulged",
}
CELL_HURT = {"swollen", "punctured", "dented", "crushed", "wet", "leaking", "bent", "torn"}


@pytest.mark.parametrize("condition", CONDITIONS)
def test_which_conditions_make_a_part_hurt(condition: str) -> None:
    assert bool(held(Act("mains"), f"saw supply {condition}")) == (condition in MAINS_HURT)
    assert bool(held(Act(), f"saw pack {condition}")) == (condition in CELL_HURT)
    assert not held(Act("mains"), f"saw load {condition}", "dried unit")


@pytest.mark.parametrize("power", POWERS)
def test_which_powers_a_rule_forbids(power: str) -> None:
    assert bool(held(Act(power), "saw supply dented")) == (power == "mains")
    assert bool(held(Act(power), "past wet")) == (power != "off")
    assert bool(held(Act(power), "read rail-to-ground 0.3 ohm")) == (power != "off")
    assert bool(held(Act(power), "opened lid")) == (power != "off")


@pytest.mark.parametrize("again", ["tried works fails", "read rail 5.0 V", "found charge ok"])
def test_a_store_that_had_power_again_is_charged_again(again: str) -> None:
    assert held(Act(touches=SUPPLY), "discharged supply 3 V", again) == ["not-discharged"]
    assert not held(Act(touches=SUPPLY), "discharged supply 3 V", "read rail-to-ground 300 ohm")


def test_a_bench_supply_charges_stores_too() -> None:
    tests = {**ALL.tests, "charge": replace(ALL.tests["charge"], power="bench")}
    fed = replace(ALL, tests=tests)
    state = log(fed, "discharged supply 3 V", "found charge ok").state
    assert [one.rule.id for one in breaches(fed, state, Act(touches=SUPPLY))] == ["not-discharged"]


def test_a_charge_is_off_below_the_limit_only_and_for_that_part_only() -> None:
    assert held(Act(touches=SUPPLY), "discharged supply 10 V") == ["not-discharged"]
    assert held(Act(touches=SUPPLY), "discharged supply 48 V") == ["not-discharged"]
    assert held(Act(touches=SUPPLY), "discharged supply 3 kV") == ["not-discharged"]
    assert not held(Act(touches=SUPPLY), "discharged supply 9.9 V")
    limit = ALL.hazards["stored-charge"].safe_below
    assert limit == 10.0
    assert f"below {limit:.0f} V" in ALL.hazards["stored-charge"].caution
    assert held(Act(touches=SUPPLY), "discharged supply 3 V", "discharged supply 300 V") == ["not-discharged"]
    assert held(Act(touches=SUPPLY), "discharged load 3 V") == ["not-discharged"]
    assert held(Act(touches=SUPPLY), "discharged supply 3 V", "fitted supply from D1") == ["not-discharged"]


def test_work_on_a_hurt_part_does_not_make_it_another_part() -> None:
    assert held(Act("mains"), "saw supply burnt", "mended supply resolder") == ["damaged-supply"]
    assert held(Act("mains"), "saw supply burnt", "saw supply fine") == ["damaged-supply"]
    assert held(Act(), "saw pack swollen", "mended pack wake") == ["hurt-cell"]
    assert held(Act(), "saw pack swollen", "removed pack", "fitted pack from back") == ["hurt-cell"]


def test_a_replacement_that_is_hurt_itself_is_held_back_like_the_first() -> None:
    assert held(Act("mains"), "fitted supply from D1", "saw supply dented") == ["damaged-supply"]
    assert held(Act(), "saw pack torn", "fitted pack from used", "saw pack swollen") == ["hurt-cell"]


def test_a_unit_that_got_wet_again_is_dried_again() -> None:
    assert held(Act("bench"), "past wet", "dried unit", "past wet") == ["not-dried"]
    assert not held(Act("bench"), "past wet", "dried unit", "past dropped")


def test_a_short_is_known_until_something_that_can_cause_it_was_worked_on() -> None:
    short = "read rail-to-ground 0.3 ohm"
    assert held(Act("mains"), short, "mended knob glue") == ["known-short"]
    assert held(Act("mains"), short, "fitted supply from new") == ["known-short"]
    assert not held(Act("mains"), short, "fitted load from new")
    assert held(Act("mains"), short, "fitted load from new", short) == ["known-short"]


def test_a_hurt_cell_forbids_all_but_its_way_out() -> None:
    lines = ("saw pack swollen", "discharged supply 3 V")
    for act in (Act(), Act("mains"), Act(touches=PACK), Act(touches=SUPPLY, takes_out="supply")):
        assert "hurt-cell" in held(act, *lines)
    assert not held(Act(touches=PACK, takes_out="pack"), *lines)


def test_no_rule_of_the_bench_stands_in_the_way_out() -> None:
    assert not held(Act(ends=True), "saw pack swollen", "saw supply burnt", "past wet", "opened lid")


# ---- what the planner proposes ------------------------------------------------------------------------------------


def advice(on: Device, *lines: str, at: Terms | None = None) -> Advice:
    """The advice in a state, each of its moves checked."""
    told = log(on, *lines)
    given = advise(on, told, at or bench())
    checker = Checker(on, told)
    assert {one.move.name: words for one in given.ranked if (words := checker.broken(one.move))} == {}
    return given


def proposed(given: Advice) -> set[str]:
    return {one.move.name for one in given.ranked}


def powers(given: Advice) -> set[str]:
    return {one.move.act.power for one in given.ranked}


def test_a_dented_supply_gets_no_mains_until_it_was_replaced() -> None:
    dented = advice(ALL, "saw supply dented")
    assert "mains" not in powers(dented)
    assert {breach.rule.id for move, breach in dented.held if move.act.power == "mains"} == {"damaged-supply"}
    assert "discharge supply" in proposed(dented)
    assert "replace supply" in proposed(advice(ALL, "saw supply dented", "discharged supply 3 V"))
    assert "try works" in proposed(
        advice(ALL, "saw supply dented", "discharged supply 3 V", "fitted supply from used for EUR 15")
    )


def test_the_replacement_that_lifts_a_rule_is_proposed_however_good_the_part_looks() -> None:
    plain = device(
        [part("inlet", SWAP, base=1e-4, used="EUR 5", hazards=("mains",)), part("board", base=0.5)],
        [wanted("works", "inlet", "board")],
        [tried("works")],
    )
    dented = advice(plain, "saw inlet dented")
    replacing = next(one for one in dented.ranked if one.move.name == "replace inlet")
    freed = next(one for one in advice(plain).ranked if one.move.name == "try works")
    assert replacing.why.endswith("It frees: works.")
    assert replacing.worth == pytest.approx(freed.worth - replacing.cost, rel=0.05)


def test_a_wet_unit_is_dried_before_power_and_drying_is_worth_what_it_frees() -> None:
    safe = ("past wet", "discharged supply 3 V", "removed pack")
    wet, dry = advice(ALL, *safe), advice(ALL, *safe, "dried unit")
    assert powers(wet) == {"off"}
    drying = next(one for one in wet.ranked if one.move.kind == "dry")
    freed = max(one.worth for one in dry.ranked if one.move.act.power != "off")
    assert drying.worth == pytest.approx(freed - drying.cost, rel=1e-9)
    assert drying.cost == pytest.approx(25 * 0.5)
    assert {"dry unit", "discharge supply"} & proposed(advice(ALL, "past wet")) == {"discharge supply"}
    assert "dry unit" not in proposed(dry)
    assert "dry unit" not in proposed(advice(ALL))


def test_a_swollen_pack_goes_out_before_anything_else() -> None:
    handheld = load("some-battery-device")
    at = usual(handheld)
    given = advice(handheld, "saw pack swollen", at=at)
    assert proposed(given) == {"take-out pack", "replace pack", "part-out"}
    assert all(handheld.hazards["cell"].caution in one.move.cautions for one in given.ranked)
    out = advice(handheld, "saw pack swollen", "opened back-off", "removed pack", at=at)
    assert len(out.ranked) > 20
    assert "take-out pack" not in proposed(out)
    assert "replace pack" in proposed(out)


def test_a_charged_supply_is_discharged_before_hands_go_there_and_again_after_power() -> None:
    charged = advice(ALL, "opened lid")
    assert {move.name for move, breach in charged.held if breach.hazard == "stored-charge"} == {
        "mend supply",
        "replace supply",
    }
    assert "discharge supply" in proposed(charged)
    safe = advice(ALL, "opened lid", "discharged supply 3 V")
    assert {"mend supply", "replace supply"} <= proposed(safe)
    assert "discharge supply" not in proposed(safe)
    assert "discharge supply" in proposed(advice(ALL, "opened lid", "discharged supply 3 V", "read rail 0.1 V"))


WAIT = (
    "supply, 330 uF at 400 V, falls below 10 V in 10 min through its own bleed of 470 kohm, in 3 s through 2.2 kohm. "
    "Measure it: a bleed resistor may have failed."
)
"""330 uF 470 kohm ln 40 = 572 s, and 330 uF 2.2 kohm ln 40 = 2.68 s, both rounded up."""


def charged(charge: Charge) -> Device:
    return replace(ALL, parts={**ALL.parts, "supply": replace(ALL.parts["supply"], charge=charge)})


def test_the_caution_of_a_stored_charge_says_how_long_it_takes_by_the_parts_values() -> None:
    on = charged(Charge(330e-6, 400.0, 470e3))
    held_back = advice(on, "opened lid")
    whys = {str(breach) for move, breach in held_back.held if move.target == "supply"}
    assert whys == {f"Nobody has measured the capacitor since the unit last had power. {WAIT}"}
    (discharge,) = [one.move for one in held_back.ranked if one.move.name == "discharge supply"]
    caution = on.hazards["stored-charge"].caution
    assert f"{caution} {WAIT}" in discharge.cautions
    assert caution in as_move(on, "rail").cautions  # no hand comes near the supply itself


def test_without_a_bleed_the_caution_says_that_nothing_drains_it() -> None:
    (breach,) = breaches(charged(Charge(330e-6, 400.0)), log(ALL).state, Act(touches=SUPPLY))
    assert breach.wait == (
        "supply, 330 uF at 400 V, falls below 10 V in 3 s through 2.2 kohm. Measure it: nothing drains it by itself."
    )


def test_no_time_however_long_lifts_the_rule_but_a_measurement_does() -> None:
    on = charged(Charge(1e-9, 11.0, 1.0))  # gone at once, by the figures
    assert breaches(on, log(on).state, Act(touches=SUPPLY))
    assert breaches(on, log(on, "noted waited for an hour").state, Act(touches=SUPPLY))
    assert breaches(on, log(on, "discharged supply 10.5 V").state, Act(touches=SUPPLY))
    assert not breaches(on, log(on, "discharged supply 3 V").state, Act(touches=SUPPLY))
    assert cautions(on, log(on, "discharged supply 3 V").state, Act(touches=SUPPLY), ()) == tuple(
        on.hazards[name].caution for name in on.parts["supply"].hazards
    )


def test_a_known_short_is_fed_from_nothing_without_a_limit() -> None:
    given = advice(ALL, "opened lid", "read rail-to-ground 0.3 ohm")
    assert powers(given) == {"off"}
    assert "mend load" in proposed(given)
    mended = ("opened lid", "read rail-to-ground 0.3 ohm", "mended load mend", "closed all")
    assert "mains" in powers(advice(ALL, *mended))


def test_an_open_laser_is_not_run() -> None:
    given = advice(ALL, "opened lid")
    assert not any(one.move.act.power != "off" and not one.move.act.closed for one in given.ranked)
    assert "try works" in {move.name for move, breach in given.held if breach.hazard == "laser"}
    closing = next(one for one in given.ranked if one.move.kind == "close")
    closed = next(one for one in advice(ALL, "opened lid", "closed all").ranked if one.move.name == "try works")
    assert closing.move.minutes == 4.0
    assert closing.worth == pytest.approx(closed.worth - closing.cost, abs=1.0)  # what it costs is seen twice or once


def test_a_charge_is_let_off_before_a_hurt_cell_if_it_lies_on_the_way_to_it() -> None:
    hurt = ("saw left swollen", "saw right punctured")
    assert proposed(advice(TWO_CELLS, *hurt)) == {"discharge store", "part-out"}
    either = advice(TWO_CELLS, *hurt, "discharged store 2 V")
    assert "take-out left" in proposed(either)
    assert proposed(either) <= {"take-out left", "take-out right", "replace left", "replace right", "part-out"}
    out = advice(TWO_CELLS, *hurt, "discharged store 2 V", "opened lid", "removed left")
    assert {"take-out right", "replace right"} & proposed(out)
    assert "try works" not in proposed(out)
    assert "try works" in proposed(advice(TWO_CELLS, *hurt, "discharged store 2 V", "removed left", "removed right"))


def near(on: Device, move: Move, *lines: str) -> set[str]:
    """Parts whose charge holds a move back."""
    return {breach.part or "" for _, breach in allowed(on, log(on, *lines).state, [move])[1]}


def test_hands_come_near_a_store_by_what_they_open_and_by_its_neighbours() -> None:
    lens = remedy_at(IN_A_ROW, "lens")
    assert near(IN_A_ROW, lens) == {"lead"}  # the step unplugs it and takes the igniter off
    assert near(IN_A_ROW, remedy_at(IN_A_ROW, "output")) == {"bulk-cap"}  # its assembly
    assert near(IN_A_ROW, remedy_at(IN_A_ROW, "fuse")) == {"bulk-cap"}  # its own hazard, in the same zone
    assert near(IN_A_ROW, remedy_at(IN_A_ROW, "fuse"), "discharged bulk-cap 1 V") == set()
    assert near(IN_A_ROW, as_move(IN_A_ROW, "bulk-to-ground")) == {"lead"}  # probes on its rail
    assert near(IN_A_ROW, look_move(IN_A_ROW, log(IN_A_ROW).state, IN_A_ROW.parts["fuse"])) == set()
    back = as_move(IN_A_ROW, "works", "opened second", "discharged lead 1 V")
    assert near(IN_A_ROW, back, "opened second", "discharged lead 1 V") == {"igniter"}  # closing puts it in again


def test_a_store_that_cannot_be_reached_is_measured_where_its_rail_can() -> None:
    state = log(IN_A_ROW).state
    lens = remedy_at(IN_A_ROW, "lens")
    breach = allowed(IN_A_ROW, state, [lens])[1][0][1]
    first = first_lift(IN_A_ROW, state, bench(), lens, breach)
    assert first is not None
    assert first.name == "discharge lead"
    measured = log(IN_A_ROW, "opened first", "discharged lead 2 V").state
    assert {"lead", "igniter"} == measured.discharged
    unplugged = log(IN_A_ROW, "opened first", "unplugged lead", "discharged lead 2 V").state
    assert unplugged.discharged == {"lead"}


def test_mains_on_a_hurt_supply_only_where_no_other_can_be_had_and_behind_what_is_stated() -> None:
    tools = (replace(SWAP, tools=("soldering iron",)),)
    on = replace(ALL, parts={**ALL.parts, "supply": replace(ALL.parts["supply"], remedies=tools)})
    text_ = next(rule.precaution.do for rule in on.hazards["mains"].rules if rule.precaution)
    with_iron = advise(on, log(on, "saw supply burnt"), bench())
    assert "mains" not in powers(with_iron)
    told = log(on, "saw supply burnt")
    without = advise(on, told, bench(lacks=frozenset({"soldering iron"})))
    mains = [one.move for one in without.ranked if one.move.act.power == "mains"]
    assert mains
    assert all(move.precautions == (text_,) for move in mains)
    checker = Checker(on, told, frozenset())
    assert not any(checker.broken(move) for move in mains)
    assert all(checker.broken(replace(move, precautions=())) == ("supply",) for move in mains)
    bare = [replace(move, act=replace(move.act, stated=frozenset())) for move in mains]
    assert {breach.rule.id for _, breach in allowed(on, told.state, bare, frozenset())[1]} == {"damaged-supply"}


def test_no_such_part_at_the_bench_is_what_lets_a_hurt_supply_be_powered_with_care() -> None:
    assert "mains" not in powers(advice(ALL, BURNT))
    told = log(ALL, BURNT, "lacks part supply")
    mains = [one.move for one in advise(ALL, told, bench()).ranked if one.move.act.power == "mains"]
    assert mains
    assert all("isolating transformer" in move.precautions[0] for move in mains)
    assert not any(Checker(ALL, told, frozenset()).broken(move) for move in mains)


def test_a_hurt_cell_is_not_left_for_later() -> None:
    told = log(ALL, "saw pack swollen", "deferred pack")
    assert {one.move.kind for one in advise(ALL, told, bench()).ranked} == {"part-out"}


def test_a_short_may_be_fed_on_its_rail_alone_with_the_limits_shown() -> None:
    covered = replace(ALL, parts={**ALL.parts, "beam": replace(ALL.parts["beam"], hazards=())})
    short = ("opened lid", "read rail-to-ground 0.3 ohm")
    told = log(covered, *short)
    inject = as_move(covered, "inject", *short)
    assert allowed(covered, told.state, [inject])[0] == [inject]
    (limits,) = inject.precautions
    assert "on the rail alone, at most 5 V; current limit 0.5 A" in limits
    whole = replace(covered.tests["inject"], feeds=None)
    assert allowed(covered, told.state, [move_of(covered, told.state, whole)])[1]
    apart = replace(covered.tests["inject"], feeds="load")
    assert not allowed(covered, told.state, [move_of(covered, told.state, apart)])[1]
    assert as_move(covered, "inject").precautions == (limits,)  # shown whether or not a short is known


def test_a_rail_given_as_a_range_is_fed_its_low_end() -> None:
    on = load("some-battery-device")
    test = replace(on.tests["io-ceramics.inject"], feeds="core-rail")
    assert "at most 600 mV;" in move_of(on, log(on).state, test).precautions[0]


def test_the_voltage_that_a_rail_may_be_fed_is_rounded_down() -> None:
    on = load("ceiling-projector")  # 0.8 V (1 + 31.6 / 10.1) = 3.30297 V, which is shown as 3.303 V elsewhere
    assert "at most 3.302 V;" in move_of(on, log(on).state, on.tests["ceramics-3v3.inject"]).precautions[0]


def test_a_proof_says_which_functions_nobody_may_try_yet_and_why() -> None:
    def held(*lines: str) -> str | None:
        told = log(ALL, *lines)
        (shown,) = proof(believe(ALL, told), told.state).functions
        return shown.held

    assert held("past wet") == "Power on a wet board turns a small fault into a lost board."
    assert held("past wet", "dried unit") is None
    assert held("saw supply burnt") == "A mains part that is visibly hurt is not powered. Fit a known-good one first."
    assert held("tried works works", "saw supply burnt") is None  # shown already


# ---- cautions -----------------------------------------------------------------------------------------------------


def remedy_at(on: Device, slot: str, *lines: str) -> Move:
    return remedy_moves(on, log(on, *lines).state, bench(), on.parts[slot])[0]


def as_move(on: Device, name: str, *lines: str) -> Move:
    return move_of(on, log(on, *lines).state, on.tests[name])


def text(*names: str) -> set[str]:
    return {ALL.hazards[name].caution for name in names}


def test_cautions_stand_at_the_step_itself() -> None:
    assert set(as_move(ALL, "rail").cautions) == text("stored-charge", "sharp", "mains", "laser", "first-power")
    assert text("cell") < set(remedy_at(ALL, "pack").cautions)
    assert remedy_at(ALL, "knob").cautions == ()
    assert set(remedy_at(ALL, "supply").cautions) == text("stored-charge", "sharp", "mains")


def test_what_opening_calls_for_is_shown_where_it_is_opened_and_not_again() -> None:
    load_ = ALL.parts["load"]
    assert set(remedy_at(ALL, "load").cautions) == text("stored-charge", "sharp")
    assert set(look_move(ALL, log(ALL).state, load_).cautions) == text("stored-charge", "sharp")
    assert remedy_at(ALL, "load", "opened lid").cautions == ()
    assert look_move(ALL, log(ALL, "opened lid").state, load_).cautions == ()


def test_the_first_power_since_work_is_warned_of_closed_or_open() -> None:
    assert set(as_move(ALL, "works").cautions) == text("first-power")
    assert as_move(ALL, "works", "tried works fails").cautions == ()
    assert set(as_move(ALL, "works", "tried works fails", "mended knob glue").cautions) == text("first-power")
    assert as_move(ALL, "works", "tried works fails", "saw knob fine").cautions == ()
    assert not text("first-power") & set(as_move(ALL, "inject").cautions)


def test_live_mains_is_warned_of_only_where_something_is_open() -> None:
    on = load("some-mains-device")
    assert text("mains") <= set(as_move(on, "main-rail", "opened cover-off").cautions)
    assert not text("mains") & set(as_move(on, "starts", "opened cover-off").cautions)  # it is closed first


def test_a_wet_or_shorted_unit_is_warned_of_until_it_is_not() -> None:
    def said(act: Act, *lines: str) -> set[str]:
        return set(cautions(ALL, log(ALL, *lines).state, act, ()))

    first = text("first-power")
    assert said(Act("mains"), "past wet") == text("wet") | first
    assert said(Act("mains"), "saw knob wet") == text("wet") | first
    assert said(Act("mains"), "past wet", "dried unit") == first
    assert said(Act("bench"), "read rail-to-ground 0.3 ohm") == text("short") | first
    assert said(Act("bench"), "read rail-to-ground 0.3 ohm", "mended load mend") == first
    assert said(Act(), "past wet", "read rail-to-ground 0.3 ohm") == set()
