"""What has to hold on two units that were worked through by hand: a projector that fell, a navigator that lay in water.

Each test says in its name what must hold, and in its first line which of the fourteen points of the issue it is. The
units are invented; they are told by the maps that ship.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from functools import cache

import numpy as np
import pytest

from knowngood.belief.believe import Belief, believe
from knowngood.belief.surprise import surprise
from knowngood.belief.suspects import Suspect
from knowngood.log.lines import understand
from knowngood.log.state import Line, Replay
from knowngood.log.state import replay as replayed
from knowngood.maps import load
from knowngood.maps.device import Device
from knowngood.maps.words import Level
from knowngood.plan.before_power import before_power
from knowngood.plan.choose import Advice, advise
from knowngood.plan.safety import Checker
from knowngood.plan.terms import DEFAULTS, InStock, Terms, terms
from knowngood.plan.why.stop import said_before, standing
from knowngood.proof.acceptance import acceptance
from knowngood.proof.known import proof
from knowngood.proof.release import release
from knowngood.proof.safety_test import Instrument, safety_test

FALLEN, DROWNED = load("ceiling-projector"), load("pocket-navigator")
UNITS = {one.id: one for one in (FALLEN, DROWNED)}
BOUGHT = {
    "ceiling-projector": "bought ceiling-projector for EUR 35 past dropped",
    "pocket-navigator": "bought pocket-navigator for EUR 22 past wet",
}
STARTS = (
    "saw mains-inlet fine close",
    *("tried standby-light works", "tried starts-by-key works", "tried starts-by-remote works"),
    *("tried fans-turn works", "tried lamp-lights fails"),
)
SILENT = (*STARTS, "tried lamp-ticks fails")
LIT = ("standby-light", "starts-by-key", "starts-by-remote", "fans-turn", "lamp-ticks", "lamp-lights")
PICTURE = (*LIT, "picture", "picture-colours", "sharp")
INTERLOCK = ("lamp-door", "lamp-door-tab", "interlock-switch", "interlock-lead")
STRIPPED = ("opened rear-off", "removed cell-pack", "opened board-out", "dried unit")
SHORT = (*STRIPPED, "read rail-3v3-to-ground 0.4 ohm")


def told(on: Device, *lines: str) -> Replay:
    """The lines as they are typed, after the purchase; all of them fit."""
    return _told(on.id, lines)


@cache
def _told(name: str, lines: tuple[str, ...]) -> Replay:
    on, made = UNITS[name], list[Line]()
    for text in (BOUGHT[on.id], *lines):
        made.append(Line(len(made) + 1, "", understand(on, replayed(on, made).state, text)))
    found = replayed(on, made)
    assert not found.flags, found.flags
    return found


def belief(on: Device, *lines: str) -> Belief:
    return _belief(on.id, lines)


@cache
def _belief(name: str, lines: tuple[str, ...]) -> Belief:
    return believe(UNITS[name], _told(name, lines))


def at(on: Device, *lines: str, **changes: object) -> Terms:
    return terms(on, **{**DEFAULTS, "prices": told(on, *lines).state.prices, **changes})  # type: ignore[arg-type]


def advice(on: Device, *lines: str, **changes: object) -> Advice:
    return advise(on, told(on, *lines), at(on, *lines, **changes))


def suspect(on: Device, part: str, *lines: str) -> Suspect:
    return next(one for one in belief(on, *lines).suspects if one.part == part)


def blocks(on: Device, part: str, *lines: str) -> float:
    return suspect(on, part, *lines).p_blocks


def works(*functions: str) -> tuple[str, ...]:
    return tuple(f"tried {name} works" for name in functions)


def odds(chance: float) -> float:
    return chance / (1.0 - chance)


@pytest.mark.parametrize(
    ("on", "lines"),
    [(FALLEN, ("tried picture fails", *works(*LIT))), (DROWNED, ("dried unit", *works("starts")))],
    ids=["projector-lights", "navigator-starts"],
)
def test_it_never_ends_while_functions_that_something_hid_are_untried(on: Device, lines: tuple[str, ...]) -> None:
    """Point 1: what could not be tried before has to be tried now, and nobody is told to sell it as working."""
    found = proof(belief(on, *lines), told(on, *lines).state)
    assert len(found.unproven) > 10
    given = advice(on, *lines)
    assert "sell" not in {one.move.kind for one in given.ranked}
    todo = acceptance(belief(on, *lines), told(on, *lines), at(on, *lines))
    assert not todo.proved
    stops = release(on, told(on, *lines), safety_test(on, told(on, *lines), []), found, "working").warnings
    assert "not-proved" in [one.matter for one in stops]


def test_a_function_that_another_hides_is_named_as_hidden() -> None:
    """Point 1: before the lamp lights no picture can be judged, and the proof says what hides it."""
    lines = (*SILENT,)
    todo = acceptance(belief(FALLEN, *lines), told(FALLEN, *lines), at(FALLEN, *lines))
    hidden = {one.function for one in todo.standing.masked}
    assert {"picture-colours", "sharp", "usb-media", "stays-lit"} <= hidden
    assert "sound" not in hidden


def test_once_the_igniter_is_silent_the_permission_goes_above_lamp_and_ballast() -> None:
    """Point 2: no tick, so nobody asked it to strike; lamp and ballast are dearer and less likely."""
    for part in ("lamp-module", "ballast", "lamp-hv-plug"):
        assert blocks(FALLEN, "lamp-door-tab", *SILENT) > 2 * blocks(FALLEN, part, *SILENT)
    assert blocks(FALLEN, "lamp-module", *SILENT) < blocks(FALLEN, "lamp-module", *STARTS)
    moves = [one.move for one in advice(FALLEN, *SILENT).ranked]
    first_about = next(one for one in moves if one.target in ("door-look", "lamp-module", "ballast", "lamp-hv-plug"))
    assert first_about.target == "door-look"
    assert not [one for one in moves[:6] if one.kind == "replace"]


def test_what_stops_only_when_closed_is_a_new_condition_and_no_contradiction() -> None:
    """Point 3: it ran open and stops closed, so what acts only closed comes first, before what was touched."""
    ran = ("opened lamp-out", "fitted lamp-door-tab from used", "opened cover-off", "mended green-flex-socket reseat")
    lines = (*SILENT, *ran, "closed all", *works(*PICTURE), "tried stays-lit fails")
    assert surprise(belief(FALLEN, *lines)) is None
    modes = suspect(FALLEN, "top-cover", *lines).modes
    first = max(
        (one for one in belief(FALLEN, *lines).suspects if one.part != "mounting-bosses"), key=lambda one: one.p_blocks
    )
    assert first.part == "top-cover"
    assert modes["grille-dented"] > 0.5
    for part in ("exhaust-fan", "exhaust-fan-plug", "lamp-module", "lamp-door-tab"):
        assert blocks(FALLEN, part, *lines) < 0.1


def test_a_wet_unit_gets_no_power_as_a_first_step_and_its_pack_comes_out_first() -> None:
    """Point 4: the first move unplugs the pack, whatever else a try would tell; then it is dried."""
    given = advice(DROWNED)
    assert all(one.move.act.power == "off" for one in given.ranked)
    assert (given.best.move.kind, given.best.move.log) == ("open", "opened rear-off")
    assert "Unplug the pack" in given.best.move.do
    assert "pack-plug" in DROWNED.steps["rear-off"].unplugs
    assert "dry unit" not in {one.move.name for one in given.ranked}
    poor = advice(DROWNED, "priced working at EUR 60", "priced parts at EUR 50")
    assert poor.best.move == given.best.move  # even where it is to be parted out
    assert poor.ranked[1].move.act.ends
    assert {breach.rule.id for _, breach in given.held} >= {"not-dried", "pack-in-the-wet"}
    after = advice(DROWNED, "opened rear-off")
    assert after.best.move.name == "dry unit"
    for lines, moves in (((), given.ranked), (("opened rear-off",), after.ranked)):
        checker = Checker(DROWNED, told(DROWNED, *lines))
        assert not [one.move.name for one in moves if checker.broken(one.move)]


def test_a_married_board_is_not_swapped_to_try_and_the_parts_around_it_are() -> None:
    """Point 5: its own receiver would be refused, so the swap is held with that reason, and others are offered."""
    shelf = {name: InStock("D1", 20.0) for name in ("main-board", "screen", "wireless-module")}
    given = advice(DROWNED, *SHORT, stock=shelf)
    held = {move.name: why for move, why in given.ruled_out}
    assert held["replace main-board"].why == "Works only with its own: satellite-receiver."
    offered = {one.move.name for one in given.ranked}
    assert "replace main-board" not in offered
    assert {"unplug wireless-plug", "look ceramics-3v3", "replace wireless-module", "replace screen"} <= offered


def test_a_board_from_elsewhere_loses_what_its_own_partners_did() -> None:
    """Point 5: what a person does all the same is believed as it is: no position, by no fault of the receiver."""
    lines = (*STRIPPED, "fitted main-board from D1")
    state = told(DROWNED, *lines).state
    assert state.origin["secure-chip"] == "D1"
    todo = acceptance(belief(DROWNED, *lines), told(DROWNED, *lines), at(DROWNED))
    assert belief(DROWNED, *lines).good["finds-position"] == pytest.approx(0.0, abs=1e-9)
    assert ("finds-position", {"satellite-receiver", "secure-chip"}) in [
        (one.function, set(one.by)) for one in todo.standing.masked
    ]


def test_a_function_that_works_clears_all_on_its_path_with_nothing_opened() -> None:
    """Point 6: all three fans turn, so supply, fuse, controller and fan drives are good, by ear alone."""
    lines = ("tried fans-turn works",)
    assert not told(FALLEN, *lines).state.open_steps
    path = FALLEN.needed("fans-turn")
    assert {"supply-12v", "supply-fuse", "system-controller", "exhaust-fan", "exhaust-fan-plug"} <= set(path)
    for part in path:
        before, after = suspect(FALLEN, part).modes, suspect(FALLEN, part, *lines).modes
        for mode in FALLEN.parts[part].modes:
            if mode.gives == Level.NONE and mode.limits is None and not mode.when and not mode.shows:
                assert after[mode.name] < 0.25 * before[mode.name], (part, mode.name)


def test_a_remedy_that_does_not_cure_raises_what_stood_in_series_behind_it() -> None:
    """Point 7: another lamp and still no light: the plug, the ballast and the permission behind it rise."""
    swapped = (*STARTS, "opened lamp-out", "fitted lamp-module from new for EUR 62", "closed all")
    failed = (*swapped, "tried lamp-lights fails")
    for part in ("lamp-door-tab", "interlock-switch", "ballast", "ballast-signal-lead", "lamp-hv-plug"):
        assert blocks(FALLEN, part, *failed) > 1.1 * blocks(FALLEN, part, *swapped)
    assert blocks(FALLEN, "lamp-module", *failed) < 0.15
    assert blocks(FALLEN, "lamp-door-tab", *failed) == max(
        blocks(FALLEN, part, *failed) for part in FALLEN.needed("lamp-lights")
    )


@pytest.mark.parametrize(
    ("function", "touched"),
    [
        ("starts-by-key", {"keypad-ribbon"}),
        ("fans-turn", {"intake-fan-plug", "lamp-blower-plug", "exhaust-fan-plug"}),
        ("picture-colours", {"red-flex-socket", "green-flex-socket", "blue-flex-socket"}),
    ],
)
def test_after_reassembly_what_was_touched_ranks_first(function: str, touched: set[str]) -> None:
    """Point 8: it worked, it was opened and closed, now it fails: what the hand made again leads all that it needs."""
    before = works(*PICTURE)
    shut = (*before, "opened board-up", "closed all")
    hidden = PICTURE[: PICTURE.index(function)] if function != "starts-by-key" else ()
    lines = (*shut, *works(*hidden), f"tried {function} fails")
    ranked = sorted(FALLEN.needed(function), key=lambda part: -blocks(FALLEN, part, *lines))
    assert set(ranked[: len(touched)]) == touched
    assert touched <= set(told(FALLEN, *lines).state.touched)
    untouched = (*works(*hidden), f"tried {function} fails")
    for part in touched:
        assert blocks(FALLEN, part, *lines) > 1.5 * blocks(FALLEN, part, *untouched)


def test_before_power_after_reassembly_only_what_was_touched_is_listed_dearest_first() -> None:
    """Point 8: the list before power has the connections that closing made, and none that stayed made."""
    lines = ("opened cover-off", "closed all")
    found = before_power(FALLEN, told(FALLEN, *lines), at(FALLEN), belief(FALLEN, *lines))
    listed = {one.target for one in (*found.lines, *found.closed_in)}
    assert [one.at_stake for one in found.lines] == sorted((one.at_stake for one in found.lines), reverse=True)
    connections = {one.id for one in FALLEN.parts.values() if one.is_connection}
    assert listed & connections == {"lamp-hv-plug", "keypad-ribbon", "loudspeaker-lead"}


PRICES = ("priced working at EUR 108", "priced parts at EUR 50")
LOOKED = (
    *(*PRICES, "opened rear-off", "removed cell-pack", "opened board-out", "saw main-board tide-line"),
    *("saw touch-socket green", "saw charge-port green", "saw light-boost corroded", "dried unit"),
)
RAILS = (*LOOKED, "read rail-3v3-to-ground 0.4 ohm")


def test_parting_out_is_compared_with_going_on_when_the_short_is_read_and_said_once() -> None:
    """Point 9: at EUR 24 an hour the short makes it a job that loses; that is said there, and not again on going on."""

    def asked(*lines: str) -> tuple[Advice, bool]:
        bench = at(DROWNED, *lines, hour=24.0, carriage=5.0)
        given = advise(DROWNED, told(DROWNED, *lines), bench)
        return given, said_before(given, bench)

    given, said = asked(*RAILS)
    assert given.best.move.kind == "part-out"
    assert not said
    stands = standing(given, at(DROWNED, *RAILS, hour=24.0, carriage=5.0))
    assert stands.through is not None
    assert stands.through < 0 < stands.stop
    sentence = stands.sentence("EUR")
    assert f"Stop is worth EUR {stands.stop:.0f}" in sentence
    assert f"Seeing it through, whatever turns up, is worth about EUR {stands.through:.0f}." in sentence
    on = (*RAILS, "mended ceramics-3v3 remove")
    given, said = asked(*on)
    assert given.best.move.act.ends
    assert said
    assert not asked(*on, "priced parts at EUR 70")[1]  # a new price is news


def test_with_a_lower_floor_going_on_pays_from_the_start() -> None:
    """Point 9: the comparison hangs on what an hour must bring, as it should."""
    given = advice(DROWNED, *PRICES, hour=6.0, carriage=5.0)
    assert not given.best.move.act.ends


@pytest.mark.parametrize("lines", [(), STARTS, SILENT])
def test_an_old_brown_spot_is_weak_evidence_and_no_cause(lines: tuple[str, ...]) -> None:
    """Point 10: brown by years of heat: the odds go up by half to four times, and it does not lead."""
    before, after = (suspect(FALLEN, "ballast", *more).p_bad for more in (lines, (*lines, "saw ballast browned")))
    assert 1.5 <= odds(after) / odds(before) <= 4.0
    if lines == SILENT:
        assert (
            blocks(FALLEN, "lamp-door-tab", *SILENT, "saw ballast browned")
            > suspect(FALLEN, "ballast", *SILENT, "saw ballast browned").p_blocks
        )


def test_what_is_left_bad_is_a_declared_limit_that_the_listing_has_to_name() -> None:
    """Point 11: a wrong height is declared: nothing more is asked of it, and it may not be kept quiet."""
    left = ("dried unit", "tried altitude fails")
    lines = (*left, "declared altitude")
    todo = acceptance(belief(DROWNED, *lines), told(DROWNED, *lines), at(DROWNED))
    assert "altitude" not in [one.test.id for one in todo.due]
    assert "altitude" not in todo.standing.failing
    assert belief(DROWNED, *lines).known_good > 10 * belief(DROWNED, *left).known_good
    state = told(DROWNED, *lines).state
    found = proof(belief(DROWNED, *lines), state)
    assert found.declared == ("altitude",)
    held = release(DROWNED, told(DROWNED, *lines), safety_test(DROWNED, told(DROWNED, *lines), []), found, "working")
    assert "declared-faults" in [one.matter for one in held.warnings]
    assert any("altitude" in one.says for one in held.warnings)


SAFE = (
    *("wiped unit by clear verified first start", "checked account-lock none", "stated cord none"),
    *("stated metal earthed", "inspected visual passed"),
    "measured protective-earth 0.1 ohm by fluxa under german",
    "measured insulation 20 Mohm by fluxa at 500 V against 1 Mohm under german",
    *("measured protective-current 0.6 mA by fluxa under german", "inspected function passed"),
)
FLUXA = Instrument("fluxa", date(2026, 3, 1), 0.05, 12)


def test_an_electrical_safety_test_is_void_once_the_cover_came_off_afterwards() -> None:
    """Point 12: it passed; the cover comes off and on again; it does not count any more and nothing overrides that."""

    def held(*lines: str) -> list[str]:
        log = told_on(FALLEN, "2026-06-01T10:00:00Z", *lines)
        found = proof(believe(FALLEN, log), log.state)
        return [one.matter for one in release(FALLEN, log, safety_test(FALLEN, log, [FLUXA]), found, "working").stops]

    assert held(*SAFE) == []
    assert held(*SAFE, "opened cover-off", "closed all") == ["safety-test"]


def told_on(on: Device, time: str, *lines: str) -> Replay:
    """The lines at a time, by which an instrument's calibration is judged."""
    return replayed(on, [replace(line, time=time) for line in told(on, *lines).lines])


def without_some_needs(on: Device, draw: np.random.Generator) -> Device:
    """The device with a random fifth of what its functions need of parts deleted, as a careless map might have it."""
    needs = [(one.id, part) for one in on.functions.values() for part in one.needs if part in on.parts]
    gone = {needs[at] for at in draw.choice(len(needs), size=round(0.2 * len(needs)), replace=False)}
    functions = {
        name: replace(one, needs=tuple(need for need in one.needs if (name, need) not in gone))
        for name, one in on.functions.items()
    }
    return replace(on, functions=functions, content_hash=f"{on.content_hash} less {sorted(gone)}")


def first_looks(on: Device, most: int) -> list[str]:
    ranked = advise(on, replayed(on, told(FALLEN, *SILENT).lines), terms(on, **DEFAULTS)).ranked
    return [one.move.name for one in ranked if one.move.kind in ("look", "try", "test", "measure")][:most]


DELETIONS = 50


def test_it_stays_usable_on_a_map_that_lacks_a_fifth_of_its_needs() -> None:
    """Point 13: in nine of ten such maps two of the first three looks are among the whole map's first six."""
    draw, whole = np.random.default_rng(13), set(first_looks(FALLEN, 6))
    usable = sum(len(whole & set(first_looks(without_some_needs(FALLEN, draw), 3))) >= 2 for _ in range(DELETIONS))
    assert usable >= 0.9 * DELETIONS
