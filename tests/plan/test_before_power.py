"""Before power: cut to what was touched, dearest first, each line ticked by the log, none against a hard rule."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from small import those_that_fit, told, usual

from knowngood.belief.believe import believe
from knowngood.log import events as ev
from knowngood.log.lines import understand
from knowngood.log.state import Line, Replay, replay
from knowngood.maps import load
from knowngood.maps.device import Device
from knowngood.maps.words import CHECKS
from knowngood.plan.before_power import GENERAL, HARM, PRACTICE, BeforePower, before_power
from knowngood.plan.before_power import Line as PowerLine
from knowngood.plan.moves import test_move as move_of
from knowngood.plan.safety import Checker

PROJECTOR, BATTERY = load("ceiling-projector"), load("some-battery-device")


def listed(on: Device, log: Replay) -> BeforePower:
    return before_power(on, log, usual(on), believe(on, log))


def of(found: BeforePower, target: str) -> PowerLine:
    return next(one for one in (*found.lines, *found.closed_in, *found.held) if one.target == target)


def targets(*lines: str, on: Device = PROJECTOR) -> set[str]:
    found = listed(on, told(on, *lines))
    return {one.target for one in (*found.lines, *found.closed_in, *found.held)}


def test_a_unit_that_nobody_touched_asks_only_for_the_set_up() -> None:
    assert targets() == {"set-up"}
    assert targets("tried lamp-lights fails") == set()


def test_only_what_was_touched_is_listed_and_only_until_it_is_shown() -> None:
    touched = ("opened cover-off", "unplugged exhaust-fan-plug", "plugged exhaust-fan-plug")
    assert {"exhaust-fan-plug", "rail-12v"} <= targets(*touched)
    assert "intake-fan-plug" not in targets(*touched)
    assert "exhaust-fan-plug" not in targets(*touched, "found exhaust-fan-plug.seated right")
    assert "exhaust-fan-plug" in targets(*touched, "found exhaust-fan-plug.seated wrong")
    assert "exhaust-fan-plug" not in targets(*touched, "tried fans-turn works")


def test_the_odds_are_those_of_the_belief_now() -> None:
    """A touch leaves about 0.03 (bench mapping on CREAM, action missed); a fan that stands points at it."""
    lines = ("tried fans-turn works", "opened cover-off", "unplugged exhaust-fan-plug", "plugged exhaust-fan-plug")
    fresh, still = (listed(PROJECTOR, told(PROJECTOR, *lines, *more)) for more in ((), ("tried fans-turn fails",)))
    assert of(fresh, "exhaust-fan-plug").odds == pytest.approx(0.03, abs=0.003)
    assert of(still, "exhaust-fan-plug").odds > 0.3


def test_what_can_hurt_a_person_or_a_board_is_dearer_than_lost_time() -> None:
    found = listed(PROJECTOR, told(PROJECTOR, "opened cover-off", "plugged keypad-ribbon", "plugged loudspeaker-lead"))
    ribbon, lead, covers = (of(found, one) for one in ("keypad-ribbon", "loudspeaker-lead", "covers"))
    assert ribbon.damage > lead.damage
    assert (ribbon.hurts, lead.hurts) == ("keypad-board, main-board, time", "time")
    assert covers.damage > HARM * PROJECTOR.worth.working.major
    assert covers.source == PRACTICE
    assert found.lines[0] == covers


def test_a_screw_that_was_not_counted_in_stands_with_the_line_that_finds_it() -> None:
    lost = ("opened cover-off", "screwed cover-off 6 x M3x8", "closed all")
    found = listed(PROJECTOR, told(PROJECTOR, *lost))
    assert of(found, "cover-off").log == "screwed cover-off 1 x M3x8"
    assert "cover-off" not in targets(*lost, "screwed cover-off 1 x M3x8")


def test_what_is_closed_in_names_the_steps_and_the_try_that_shows_it() -> None:
    found = listed(PROJECTOR, told(PROJECTOR, "opened cover-off", "closed all"))
    lead = of(found, "loudspeaker-lead")
    assert lead in found.closed_in
    assert (lead.opens, lead.shown_by) == (("lamp-out", "cover-off"), "sound")


def test_what_a_hard_rule_forbids_is_not_asked_for() -> None:
    worked = ("opened engine-out", "plugged ballast-feed-lead")
    found = listed(PROJECTOR, told(PROJECTOR, *worked))
    held = of(found, "ballast-feed-lead")
    assert held in found.held
    assert held.held.startswith("Nobody has measured the capacitor")
    assert held.first.startswith("discharged ")
    safe = listed(PROJECTOR, told(PROJECTOR, *worked, "discharged supply-primary 3 V", "discharged ballast 3 V"))
    assert of(safe, "ballast-feed-lead") in safe.lines


def test_a_hurt_cell_stops_the_whole_list_and_the_power() -> None:
    found = listed(BATTERY, told(BATTERY, "opened back-off", "saw pack swollen"))
    assert found.lines == ()
    assert any("hurt lithium cell" in one for one in found.no_power)


def test_power_waits_for_what_is_wet_or_cures_and_says_what_is_apart() -> None:
    wet = listed(PROJECTOR, told(PROJECTOR, "past wet"))
    assert any("wet board" in one for one in wet.no_power)
    apart = listed(PROJECTOR, told(PROJECTOR, "opened cover-off", "unplugged exhaust-fan-plug"))
    assert apart.apart[0] == "open: cover-off, lamp-out"
    assert "without exhaust-fan it overheats" in apart.apart[-1]
    assert any(one.startswith("First power") for one in apart.with_power)


def test_every_general_check_has_odds_and_comes_up_somewhere() -> None:
    assert set(GENERAL) == set(CHECKS)
    opened = ("opened engine-out", "closed all", "fitted supply-fuse from new", "fitted exhaust-fan from used")
    met = targets(*opened) | targets("opened board-out", "closed all", on=BATTERY)
    assert met >= set(CHECKS)
    assert "shaken" not in targets(*opened, "checked shaken")
    assert "shaken" in targets(*opened, "checked shaken", "opened lamp-out")


# --- drawn logs ---


def worked_on(on: Device) -> list[ev.Event]:
    plugs = [one.id for one in on.parts.values() if one.is_connection]
    found: list[ev.Event] = [ev.Opened(step=one) for one in on.steps] * 4 + [ev.Closed(step=one) for one in on.steps]
    found += [event(connection=one) for one in plugs for event in (ev.Unplugged, ev.Plugged, ev.Plugged)]
    found += [ev.Screwed(step=one, count=1) for one in on.steps]
    found += [ev.Fitted(part=one.id, origin="used") for one in on.parts.values() if one.swap]
    found += [
        ev.Mended(part=one.id, remedy=each.name) for one in on.parts.values() for each in one.remedies if not each.part
    ]
    stores = [one.id for one in on.parts.values() if "stored-charge" in one.hazards]
    return found + [ev.Discharged(part=one, reading="3 V") for one in stores]


@st.composite
def logs(draw: st.DrawFn, on: Device, events: list[ev.Event]) -> Replay:
    drawn = draw(st.lists(st.sampled_from(events), min_size=3, max_size=10))
    return those_that_fit(on, [ev.parse(f"bought {on.id} for EUR 5"), *drawn])


WORK = {on.id: (on, worked_on(on)) for on in (PROJECTOR, BATTERY)}


@pytest.mark.parametrize("name", WORK)
@settings(max_examples=12)
@given(data=st.data())
def test_a_ticked_line_is_gone_and_nothing_else_comes(name: str, data: st.DataObject) -> None:
    on, events = WORK[name]
    log = data.draw(logs(on, events))
    found = listed(on, log)
    for lines in (found.lines, found.closed_in, found.held):
        assert [one.at_stake for one in lines] == sorted((one.at_stake for one in lines), reverse=True)
    checker = Checker(on, log)
    for one in found.lines:
        if one.kind in ("seated", "cold"):
            move = move_of(on, log.state, on.tests[one.log.split()[1]])
            assert checker.broken(move) == (), one
    if found.lines:
        line = data.draw(st.sampled_from(found.lines))
        typed = f"{line.log} 4.7 kohm" if line.kind == "cold" else line.log
        event = understand(on, log.state, typed)
        ticked = listed(on, replay(on, [*log.lines, Line(log.seq + 1, "", event)]))
        before, left = (
            {(one.kind, one.target) for one in (*all_.lines, *all_.closed_in, *all_.held)} for all_ in (found, ticked)
        )
        assert left == before - {(line.kind, line.target)}
