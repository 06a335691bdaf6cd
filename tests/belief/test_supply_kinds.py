"""What a supply does when a load shorts its rail: gives nothing, pulses, folds back, or latches off."""

from __future__ import annotations

import devices as dv
import pytest
from test_oracle import check, check_what_if, corner, jointly

from knowngood.belief.believe import believe
from knowngood.belief.evaluate import World, behave, sensed_row
from knowngood.belief.sensing import reading_states
from knowngood.log import events as ev
from knowngood.maps.device import Device, RailToGround, RailVoltage
from knowngood.maps.words import Level

SHORTED = World({"motor": "short"})
OFF = "unplugged plug"
HOT = "unplugged plug with power on"


def fed_by(kind: str, shows: float | None = None) -> Device:
    """A motor on a plug hangs on a rail of a supply of this kind; a lamp needs the rail."""
    short = dv.mode("short", 0.5, takes="short", shows=shows)
    return dv.device(
        [
            dv.part("feed", dv.mode("dead", 0.7), dv.mode("over", 0.3, gives=Level.GOOD, high=True)),
            dv.part("motor", short, dv.mode("drags", 0.5, gives=Level.GOOD, takes="heavy"), on=("rail",)),
            dv.part("plug", dv.mode("out", seating=True), joins=("motor", "feed"), base=0.02),
            dv.part("lamp"),
        ],
        [
            dv.function("rail", "feed", rail=True, under_short=kind),
            dv.function("light", "rail", "lamp", wanted=True),
        ],
        [
            dv.tried("light.tried", "light", warm=False),
            dv.read("rail.volts", RailVoltage("rail")),
            dv.read("rail.ohms", RailToGround("rail")),
        ],
    )


def bad(kind: str, *lines: str, part: str = "motor") -> float:
    on = fed_by(kind)
    return next(one.p_bad for one in believe(on, dv.log(on, lines)).suspects if one.part == part)


@pytest.mark.parametrize(
    ("kind", "level", "row"),
    [("off", Level.NONE, "none"), ("hiccup", Level.NONE, "pulsing"), ("foldback", Level.WEAK, "weak")],
)
def test_a_short_takes_a_rail_down_as_its_supply_does_and_unplugging_the_load_restores_it(
    kind: str, level: Level, row: str
) -> None:
    on = fed_by(kind)
    assert behave(on, SHORTED).level == {"rail": level, "light": level}
    sensed = sensed_row(on, on.tests["rail.volts"], SHORTED)
    assert sensed is not None
    assert reading_states(on, on.tests["rail.volts"])[sensed] == row
    assert behave(on, World({"motor": "short"}, unplugged=frozenset({"plug"}))).level["rail"] == Level.GOOD


def test_a_supply_that_latches_off_is_off_with_the_load_unplugged_until_its_input_was_away() -> None:
    on, unplugged = fed_by("latched-off"), frozenset({"plug"})
    still = World({"motor": "short"}, unplugged=unplugged, latched=frozenset({"rail"}))
    assert behave(on, still).level["light"] == Level.NONE
    assert behave(on, World({"motor": "short"}, unplugged=unplugged)).level["light"] == Level.GOOD


def test_what_has_no_feed_does_not_pulse() -> None:
    on = fed_by("hiccup")
    dead = World({"motor": "short", "feed": "dead"})
    assert sensed_row(on, on.tests["rail.volts"], dead) == 0


def test_pulses_tell_a_short_from_a_supply_that_is_dead() -> None:
    """1 V on a 5 V rail: too much for an absent one, and pulses show it; on a supply that only shuts off it is none."""
    assert bad("hiccup", "read rail.volts 1.0 V") > bad("off", "read rail.volts 1.0 V")
    assert bad("hiccup", "read rail.volts 1.0 V") > bad("hiccup", "read rail.volts 0.03 V")
    assert bad("foldback", "read rail.volts 2.0 V") > bad("foldback", "read rail.volts 0.03 V")


def test_still_dead_without_the_load_clears_it_only_if_the_supply_could_have_come_back() -> None:
    """Unplugged with power on: a latched supply is off either way, so nothing is learned of the motor."""
    first, still = "tried light.tried fails", "tried light.tried fails"
    assert bad("latched-off", first, OFF, still) < 0.5 * bad("latched-off", first)
    assert bad("latched-off", first, HOT, still) > 0.9 * bad("latched-off", first)
    assert bad("hiccup", first, HOT, still) == pytest.approx(bad("hiccup", first, OFF, still), rel=1e-12)
    back = (HOT, "read rail.ohms 1.5 kohm", still)  # measured with power off: the input was away
    assert bad("latched-off", first, *back) < 0.5 * bad("latched-off", first)


LOGS = {
    "read under a short": ("read rail.volts 0.7 V", OFF, "read rail.volts 5.01 V"),
    "read pulsing, then too high": ("read rail.volts 1.2 V", "read rail.volts 7.4 V"),
    "still off, power on": ("tried light.tried fails", HOT, "tried light.tried fails", "read rail.volts 0.03 V"),
    "off and on": ("read rail.volts 0.03 V", HOT, "read rail.ohms 47 ohm", "read rail.volts 4.74 V", "plugged plug"),
    "plugged in with power on, no test before": (OFF, "plugged plug with power on", HOT, "read rail.volts 0.7 V"),
    "twice without it": ("read rail.volts 0.7 V", HOT, "tried light.tried fails", "plugged plug", HOT),
}


@pytest.mark.parametrize("kind", ["off", "hiccup", "foldback", "latched-off"])
@pytest.mark.parametrize("lines", LOGS.values(), ids=LOGS)
@pytest.mark.parametrize("shows", [None, 3.0], ids=["lasting", "comes and goes"])
def test_the_belief_is_that_of_the_sum_over_all_courses(kind: str, lines: tuple[str, ...], shows: float | None) -> None:
    case = corner(fed_by(kind, shows), *lines)
    assert case.replay.flags == ()
    check(case, jointly(case))
    check_what_if(case, jointly(case, asked=True))


def test_a_line_says_that_the_power_stayed_on() -> None:
    assert ev.parse(HOT) == ev.Unplugged(connection="plug", live=True)
    assert ev.render(ev.Plugged(connection="plug", live=True)) == "plugged plug with power on"
