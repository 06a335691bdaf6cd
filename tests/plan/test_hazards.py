"""Hard rules and cautions: when each rule holds, what lifts it, and that no proposed move breaks one."""

from __future__ import annotations

from dataclasses import replace

import pytest
from small import bench, device, found, log, ohms, part, rail, remedy, step, tried, usual, volts, wanted

from knowngood.log import events as ev
from knowngood.log.state import Replay
from knowngood.maps import load
from knowngood.maps.device import Device
from knowngood.maps.words import CONDITIONS, POWERS
from knowngood.plan.choose import Advice, advise
from knowngood.plan.hazards import Act, breaches, cautions
from knowngood.plan.moves import Move, look_move, remedy_moves
from knowngood.plan.moves import test_move as move_of
from knowngood.plan.rehearse import rehearse_unit
from knowngood.plan.terms import Terms

SWAP = remedy("replace", part=True, minutes=6.0)
ALL = device(
    [
        part(
            "supply",
            remedy("resolder"),
            SWAP,
            base=0.3,
            used="EUR 15",
            behind="lid",
            hazards=("mains", "stored-charge"),
        ),
        part("pack", remedy("wake", 0.3), SWAP, used="EUR 12", behind="lid", hazards=("cell",)),
        part("beam", SWAP, used="EUR 30", behind="lid", hazards=("laser",)),
        part("load", remedy("mend"), behind="lid", on=("rail",)),
        part("knob", remedy("glue")),
    ],
    [rail("rail", "supply"), wanted("works", "rail", "pack", "beam", "load", "knob")],
    [tried("works"), volts("rail", behind="lid"), ohms("rail", behind="lid"), found("charge", "pack", "battery")],
    [step("lid", 3.0, 4.0, hazards=("stored-charge", "sharp"))],
)
"""A device that carries every hazard with a hard rule."""

SUPPLY, PACK = frozenset({"supply"}), frozenset({"pack"})
CASES = [
    ("damaged-supply", ("saw supply dented",), Act("mains"), ("fitted supply from new",)),
    ("not-discharged", (), Act(touches=SUPPLY), ("discharged supply 3 V",)),
    ("hurt-cell", ("saw pack swollen",), Act(), ("removed pack",)),
    ("hurt-cell", ("saw pack swollen",), Act("battery"), ("fitted pack from new",)),
    ("not-dried", ("past wet",), Act("bench"), ("dried unit",)),
    ("known-short", ("read rail-to-ground 0.3 ohm",), Act("mains"), ("read rail-to-ground 300 ohm",)),
    ("known-short", ("read rail-to-ground 0.3 ohm",), Act("adaptor"), ("mended load mend",)),
    ("open-laser", ("opened lid",), Act("battery"), ("closed lid",)),
    ("open-laser", ("opened lid",), Act("battery"), ("closed all",)),
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
    assert not held(Act("mains"), f"saw load {condition}")


@pytest.mark.parametrize("power", POWERS)
def test_which_powers_a_rule_forbids(power: str) -> None:
    own = power in ("mains", "battery", "adaptor")
    assert bool(held(Act(power), "saw supply dented")) == (power == "mains")
    assert bool(held(Act(power), "past wet")) == (power != "off")
    assert bool(held(Act(power), "read rail-to-ground 0.3 ohm")) == own
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
    assert held(Act(touches=SUPPLY), "discharged supply 60 V") == ["not-discharged"]
    assert not held(Act(touches=SUPPLY), "discharged supply 59 V")
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
    for act in (Act(), Act("mains"), Act(touches=PACK), Act(touches=SUPPLY, takes_out="supply"), Act(closed=True)):
        assert "hurt-cell" in held(act, *lines)
    assert not held(Act(touches=PACK, takes_out="pack"), *lines)


def test_no_rule_of_the_bench_stands_in_the_way_out() -> None:
    assert not held(Act(ends=True), "saw pack swollen", "saw supply burnt", "past wet", "opened lid")


# ---- what the planner proposes ------------------------------------------------------------------------------------


def broken_rules(on: Device, told: Replay, move: Move) -> list[str]:
    """The rules that a proposed move would break, straight from the lines of the log and the text of the rules."""
    if move.kind in ("sell", "sell-as-is", "part-out"):
        return []
    seen: dict[str, set[str]] = {part: set() for part in on.parts}
    gone: set[str] = set()
    discharged: set[str] = set()
    shorted: set[str] = set()
    wet = False
    for line in told.lines:
        match line.event:
            case ev.Bought(past=past):
                wet = wet or "wet" in past
            case ev.Past(what="wet"):
                wet = True
            case ev.Dried():
                wet = False
            case ev.Saw(part=name, condition=condition):
                seen[name].add(condition)
            case ev.Removed(part=name) | ev.Harvested(part=name):
                gone.add(name)
            case ev.Fitted(part=name, origin=origin):
                gone.discard(name)
                if origin != ev.BACK:
                    seen[name].clear()
                    discharged.discard(name)
                    shorted -= set(on.parts[name].on)
            case ev.Mended(part=name):
                shorted -= set(on.parts[name].on)
            case ev.Discharged(part=name, reading=reading):
                discharged = discharged | {name} if float(reading.split()[0]) < 60 else discharged - {name}
            case ev.Read(test=name, reading=reading) if name.endswith("-to-ground"):
                of = name.removesuffix("-to-ground")
                low = not reading.startswith("OL") and float(reading.split()[0]) < on.functions[of].short_below
                shorted = shorted | {of} if low else shorted - {of}
            case ev.Read(test=name) | ev.Found(test=name) | ev.Tried(test=name) if on.tests[name].power != "off":
                discharged = set()
            case _:
                pass
    power = move.test.power if move.test else "off"
    hands_on = {move.target} if move.kind in ("mend", "replace", "take-out") else set()
    if move.test is not None and power == "off" and hasattr(move.test.senses, "part"):
        hands_on = {move.test.senses.part}
    if move.test is not None and power == "off" and hasattr(move.test.senses, "modes"):
        hands_on = {part for part, _ in move.test.senses.modes}
    open_then = (told.state.open_steps | set(move.opens)) - set(move.closes)
    broken = []
    for slot in on.parts.values():
        if "mains" in slot.hazards and seen[slot.id] & MAINS_HURT and power == "mains":
            broken.append(f"mains on a hurt {slot.id}")
        if "stored-charge" in slot.hazards and slot.id in hands_on and slot.id not in discharged:
            broken.append(f"hands on a charged {slot.id}")
        way_out = move.kind in ("take-out", "replace") and move.target == slot.id
        if "cell" in slot.hazards and slot.id not in gone and seen[slot.id] & CELL_HURT and not way_out:
            broken.append(f"something else than taking out the hurt {slot.id}")
        if "laser" in slot.hazards and power != "off" and open_then:
            broken.append(f"power on the open {slot.id}")
    if wet and power != "off":
        broken.append("power on a wet unit")
    if shorted and power in ("mains", "battery", "adaptor"):
        broken.append("a supply without limit on a known short")
    return broken


def advice(on: Device, *lines: str, at: Terms | None = None) -> Advice:
    """The advice in a state, each of its moves checked."""
    told = log(on, *lines)
    given = advise(on, told, at or bench())
    assert {one.move.name: rules for one in given.ranked if (rules := broken_rules(on, told, one.move))} == {}
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
    wet, dry = advice(ALL, "past wet"), advice(ALL, "past wet", "dried unit")
    assert powers(wet) == {"off"}
    drying = next(one for one in wet.ranked if one.move.kind == "dry")
    freed = max(one.worth for one in dry.ranked if one.move.act.power != "off")
    assert drying.worth == pytest.approx(freed - drying.cost, rel=1e-9)
    assert drying.cost == pytest.approx(25 * 0.5)
    assert "dry unit" not in proposed(dry)
    assert "dry unit" not in proposed(advice(ALL))


def test_a_swollen_pack_goes_out_before_anything_else() -> None:
    handheld = load("some-battery-device")
    at = usual(handheld)
    given = advice(handheld, "saw pack swollen", at=at)
    assert proposed(given) == {"take-out pack", "replace pack", "sell-as-is", "part-out"}
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


class Watched:
    """The program's own advice, each proposed move checked; gives up after ``most`` moves."""

    def __init__(self, most: int = 120) -> None:
        self.most = most
        self.kinds: list[str] = []

    def __call__(self, on: Device, told: Replay, at: Terms) -> Move:
        given = advise(on, told, at)
        for one in given.ranked:
            assert broken_rules(on, told, one.move) == [], (one.move.name, told.lines)
        move = given.best.move
        if len(self.kinds) >= self.most:
            move = next(one.move for one in given.ranked if one.move.kind == "part-out")
        self.kinds.append(move.kind)
        return move


@pytest.mark.parametrize(
    ("name", "past", "unit"), [("some-mains-device", ("wet",), 0), ("some-battery-device", ("dropped", "wet"), 3)]
)
def test_no_move_proposed_in_a_job_breaks_a_rule(name: str, past: tuple[str, ...], unit: int) -> None:
    on, watched = load(name), Watched(most=8)
    rehearse_unit(unit, on, replace(usual(on), working=250.0), past, seed=4, policy=watched)
    assert len(watched.kinds) == 9
    assert "dry" in watched.kinds


def test_no_move_proposed_in_jobs_full_of_hazards_breaks_a_rule() -> None:
    watched = Watched()
    for unit in range(6):
        rehearse_unit(unit, ALL, bench(), ("wet",), seed=1, policy=watched)
    assert {"dry", "discharge", "replace", "close"} <= set(watched.kinds)


# ---- cautions -----------------------------------------------------------------------------------------------------


def remedy_at(on: Device, slot: str, *lines: str) -> Move:
    return remedy_moves(on, log(on, *lines).state, bench(), on.parts[slot])[0]


def as_move(on: Device, name: str, *lines: str) -> Move:
    return move_of(on, log(on, *lines).state, on.tests[name])


def text(*names: str) -> set[str]:
    return {ALL.hazards[name].caution for name in names}


def test_cautions_stand_at_the_step_itself() -> None:
    assert as_move(ALL, "works").cautions == ()
    assert set(as_move(ALL, "rail").cautions) == text("stored-charge", "sharp", "mains", "laser")
    assert text("cell") < set(remedy_at(ALL, "pack").cautions)
    assert remedy_at(ALL, "knob").cautions == ()
    assert set(remedy_at(ALL, "supply").cautions) == text("stored-charge", "sharp", "mains")


def test_what_opening_calls_for_is_shown_where_it_is_opened_and_not_again() -> None:
    load_ = ALL.parts["load"]
    assert set(remedy_at(ALL, "load").cautions) == text("stored-charge", "sharp")
    assert set(look_move(ALL, log(ALL).state, load_).cautions) == text("stored-charge", "sharp")
    assert remedy_at(ALL, "load", "opened lid").cautions == ()
    assert look_move(ALL, log(ALL, "opened lid").state, load_).cautions == ()


def test_live_mains_is_warned_of_only_where_something_is_open() -> None:
    on = load("some-mains-device")
    assert text("mains") <= set(as_move(on, "main-rail", "opened cover-off").cautions)
    assert not text("mains") & set(as_move(on, "starts", "opened cover-off").cautions)  # it is closed first


def test_a_wet_or_shorted_unit_is_warned_of_until_it_is_not() -> None:
    def said(act: Act, *lines: str) -> set[str]:
        return set(cautions(ALL, log(ALL, *lines).state, act, ()))

    assert said(Act("mains"), "past wet") == text("wet")
    assert said(Act("mains"), "past wet", "dried unit") == set()
    assert said(Act("bench"), "read rail-to-ground 0.3 ohm") == text("short")
    assert said(Act("bench"), "read rail-to-ground 0.3 ohm", "mended load mend") == set()
    assert said(Act(), "past wet", "read rail-to-ground 0.3 ohm") == set()
