"""What a line at the bench means, on a shipped map: sentences that a repairer would say, as small tests."""

from __future__ import annotations

import math
from collections.abc import Mapping

import devices as dv
import numpy as np
import pytest
from numpy.typing import NDArray

from knowngood.belief import priors, sensing
from knowngood.belief.believe import Belief, believe
from knowngood.belief.suspects import Suspect
from knowngood.handbook.human_error import CHECKED_FACTOR, UNSEATED_PER_TOUCH
from knowngood.log import events as ev
from knowngood.maps.load import load
from knowngood.maps.words import HARMLESS, MISSING

PROJECTOR = load("ceiling-projector")


def after(*lines: str, donors: Mapping[int, NDArray[np.float64]] | None = None) -> Belief:
    """The belief of a projector after these lines; the first of them has number 1."""
    return believe(PROJECTOR, dv.log(PROJECTOR, lines), donors=donors)


def suspect(belief: Belief, part: str) -> Suspect:
    return next(one for one in belief.suspects if one.part == part)


def odds(belief: Belief, part: str) -> float:
    chance = suspect(belief, part).p_bad
    return chance / (1.0 - chance)


def first(belief: Belief) -> str:
    """The part that most probably stops something."""
    return belief.suspects[0].part


def test_before_anything_is_seen_each_part_has_the_odds_of_its_past() -> None:
    for lines in ((), ("past dropped",), ("past dropped", "past wet")):
        belief = after(*lines)
        for part in PROJECTOR.parts.values():
            expected = priors.bought(part, [line.split()[1] for line in lines])
            # On average: how hard an event was in the part's zone, and what others did to it, move it a little.
            off = 0.25 if lines else 0.06
            assert list(suspect(belief, part.id).modes.values()) == pytest.approx(list(expected[1:]), rel=off)


def test_a_past_learned_late_holds_from_the_start() -> None:
    early = after("past dropped", "tried fans-turn fails", "saw exhaust-fan fine")
    late = after("tried fans-turn fails", "saw exhaust-fan fine", "past dropped")
    assert [one.p_bad for one in late.suspects] == pytest.approx([one.p_bad for one in early.suspects], rel=1e-12)


def test_a_working_function_clears_its_whole_path() -> None:
    """All colours in the picture: from the mains inlet to the panels everything is good; what is beside it keeps its
    odds."""
    before, working = after(), after("tried picture-colours works")
    path = ["mains-inlet", "supply-primary", "supply-12v", "main-board", "ballast", "lamp-module"]
    for part in [*path, "image-processor", "green-panel", "green-flex-socket"]:
        assert odds(working, part) < 0.2 * odds(before, part), part
    for part in ["loudspeaker", "mounting-bosses", "remote-control"]:
        assert odds(working, part) == pytest.approx(odds(before, part), rel=1e-10), part


def test_what_a_dead_function_masks_keeps_its_odds() -> None:
    """With no standby light nothing is known of lamp, panels, ports and sound."""
    before, dead = after(), after("tried standby-light fails")
    assert odds(dead, "supply-primary") > 5 * odds(before, "supply-primary")
    for part in ["lamp-module", "red-panel", "digital-port", "loudspeaker", "wireless-module"]:
        assert odds(dead, part) == pytest.approx(odds(before, part), rel=1e-10), part
    masked = after("tried standby-light fails", "tried sound fails")
    assert odds(masked, "loudspeaker") < 1.2 * odds(dead, "loudspeaker")


def test_not_looked_at_is_not_fine_and_a_glance_is_less_than_a_close_look() -> None:
    failing = "tried fans-turn fails"
    steps = [(failing,), (failing, "saw exhaust-fan fine glance"), (failing, "saw exhaust-fan fine close")]
    chances = [suspect(after(*lines), "exhaust-fan").p_bad for lines in steps]
    assert chances[0] > chances[1] > chances[2]
    assert chances[0] - chances[1] < 0.5 * (chances[0] - chances[2])
    both = after(failing, "saw exhaust-fan fine close", "saw exhaust-fan fine glance")
    assert suspect(both, "exhaust-fan").p_bad == pytest.approx(chances[2], rel=1e-12)


def test_no_sign_of_harm_speaks_for_a_part_and_the_worse_it_is_the_more_it_speaks_against_it() -> None:
    """Of every sort of part in three maps, every mode in which it is there at all, and every such condition."""
    maps = [load(name) for name in ("ceiling-projector", "some-mains-device", "some-battery-device")]
    sorts = {(part.kind, part.looks, part.modes): part for device in maps for part in device.parts.values()}
    for part in sorts.values():
        there = [0, *(state for state, mode in enumerate(part.modes, start=1) if mode.name != MISSING)]
        marks = {one for looks in (part.looks, *(mode.looks for mode in part.modes)) for one, _ in looks}
        for condition in marks - HARMLESS - {MISSING}:
            degrees = ("slight", None, "clear", "severe")
            weights = [sensing.look_weights(part, condition, "close", degree)[there] for degree in degrees]
            odds = np.array([each / each[0] for each in weights])
            assert (odds >= 1.0 - 1e-12).all(), (part.id, condition)
            assert (np.diff(odds, axis=0) >= -1e-12).all(), (part.id, condition)


def test_degrees_share_out_a_condition_and_a_slight_browning_is_weak_evidence() -> None:
    part = PROJECTOR.parts["exhaust-fan-plug"]
    each = [sensing.look_weights(part, "browned", "close", degree) for degree in sensing.DEGREES]
    assert np.sum(each, axis=0) == pytest.approx(sensing.look_weights(part, "browned", "close", None))
    seen = [odds(after(f"saw exhaust-fan-plug browned{degree}"), part.id) for degree in (" slight", "", " severe")]
    assert odds(after(), part.id) < seen[0] < seen[1] < seen[2]


@pytest.mark.parametrize("look", [None, "glance"])
def test_nothing_is_noted_on_a_faulty_part_as_often_as_its_kind_says(look: str | None) -> None:
    """Raising marks to what a fine part shows takes from what the fault adds, and nothing from 'fine'."""
    marked = dv.mode(looks=(("cracked", 0.6), ("bent", 0.01)))
    part = dv.part("lid", marked, dv.mode("quiet"), looks=(("bent", 0.1), ("dusty", 0.2)))
    table = sensing.look_table(part, look)
    bare = sensing.look_table(dv.part("lid", marked, dv.mode("quiet")), look)
    assert table[1, 0] == pytest.approx(bare[1, 0])
    assert table.sum(axis=1) == pytest.approx(np.ones(3))
    bent = table[:, sensing.LOOKS.index("bent")]
    assert bent == pytest.approx(np.full(3, bent[0]))


def test_a_fan_seen_missing_is_missing_and_explains_the_rest() -> None:
    belief = after("tried fans-turn fails", "saw exhaust-fan missing")
    assert suspect(belief, "exhaust-fan").modes[MISSING] > 0.95
    assert first(belief) == "exhaust-fan"
    before = after()
    for part in ["intake-fan", "lamp-blower", "main-board", "supply-12v"]:
        assert odds(belief, part) == pytest.approx(odds(before, part), rel=0.05), part


def test_stops_only_when_closed_is_news_and_points_to_the_cover() -> None:
    lines = ("opened cover-off", "tried stays-lit works", "closed all", "tried lamp-lights works")
    belief = after(*lines, "tried stays-lit fails")
    assert first(belief) == "top-cover"
    assert suspect(belief, "top-cover").modes["grille-dented"] > 0.5
    assert suspect(belief, "lamp-duct").p_bad < suspect(belief, "top-cover").p_bad / 10


def test_the_same_trial_with_two_answers_in_one_state_settles_nothing() -> None:
    """No condition differs, so one of the two is a slip and nobody knows which."""
    both = after("opened cover-off", "tried stays-lit works", "tried stays-lit fails")
    works, fails = (after("opened cover-off", f"tried stays-lit {word}") for word in ("works", "fails"))
    for part in ["top-cover", "lamp-module", "intake-fan"]:
        assert odds(works, part) < odds(both, part) < odds(fails, part), part


def test_a_dead_rail_points_to_what_feeds_it_and_what_drags_it_down() -> None:
    belief = after("opened cover-off", "read rail-5v-standby 5.02 V", "read rail-12v 0.03 V")
    blamed = {one.part for one in belief.suspects if one.p_blocks > 0.1}
    assert {"supply-12v", "main-board", "ballast"} <= blamed  # the ballast shorts the 380 V that the 12 V is made from
    before = after()
    for part in ["mains-inlet", "supply-standby"]:
        assert odds(belief, part) < 0.2 * odds(before, part), part
    healthy = after("opened cover-off", "read rail-12v 11.9 V")
    assert odds(healthy, "supply-12v") < 0.1 * odds(before, "supply-12v")


def test_a_reading_is_never_worth_a_million() -> None:
    """One reading in a hundred is a slip, so even one far off leaves room for it."""
    before = after("opened cover-off")
    dead = after("opened cover-off", "read rail-12v 0.00 V")
    for part in PROJECTOR.parts:
        assert odds(dead, part) < 1e5 * odds(before, part)


def test_a_brown_ballast_moves_little_a_burnt_one_much() -> None:
    """Heat browns the sound ones too."""
    before, brown, burnt = after(), after("saw ballast browned"), after("saw ballast burnt")
    assert 1.0 < odds(brown, "ballast") / odds(before, "ballast") < 2.5
    assert odds(burnt, "ballast") > 20 * odds(before, "ballast")


def test_after_closing_up_a_dead_unit_points_at_what_was_touched() -> None:
    lines = ("tried starts-by-key works", "tried picture works", "opened board-up", "closed all")
    belief = after(*lines, "tried starts-by-key fails")
    touched = [one for step in PROJECTOR.path_to["board-up"] for one in PROJECTOR.steps[step].unplugs]
    assert {one.part for one in belief.suspects[:2]} == {"keypad-ribbon", "supply-lead"}
    assert {one.part for one in belief.suspects[:2]} <= set(touched)
    for board in ["main-board", "supply-primary", "keypad-board"]:
        assert suspect(belief, board).p_bad < 0.02, board


def test_each_connection_made_again_is_drawn_again() -> None:
    """It was good for certain, nearly; after a touch it is unseated as often as hands leave one so."""
    working = "tried picture-colours works"
    touched = after(working, "unplugged green-flex-socket", "plugged green-flex-socket")
    modes = suspect(touched, "green-flex-socket").modes
    assert modes["unseated"] + modes["half-latched"] == pytest.approx(UNSEATED_PER_TOUCH, rel=0.01)
    again = ("unplugged green-flex-socket", "plugged green-flex-socket", "found green-flex-socket.seated right")
    checked = suspect(after(working, *again), "green-flex-socket").modes
    by_hand = checked["unseated"] + checked["half-latched"]
    assert by_hand == pytest.approx(UNSEATED_PER_TOUCH * CHECKED_FACTOR, rel=0.05)
    assert suspect(after(working), "green-flex-socket").modes["unseated"] < 0.001
    twice = after(working, "opened board-up", "plugged green-flex-socket", "closed all")
    assert sum(link.part == "green-flex-socket" for link in twice.story.links) == 2  # bought, and made once


def test_an_unplugged_load_cannot_pull_its_rail_down() -> None:
    """The 12 V is made from the 380 V that a dead ballast shorts."""
    dead = ("opened board-up", "read rail-5v-standby 5.02 V", "read rail-12v 0.03 V", "unplugged ballast-feed-lead")
    still = after(*dead, "read rail-12v 0.03 V")
    assert odds(still, "ballast") < 0.2 * odds(after(*dead), "ballast")
    revived = after(*dead, "read rail-12v 12.03 V")
    assert first(revived) == "ballast"
    assert suspect(revived, "ballast").modes["dead"] > 0.8


def test_a_split_pair_fails_for_certain_and_accuses_no_part() -> None:
    """The shading table belongs to the engine it was measured with."""
    split = after("fitted optical-engine from D2")
    assert split.known_good == 0.0
    assert split.good["even-shade"] == 0.0
    failing = after("fitted optical-engine from D2", "tried even-shade fails")
    for part in PROJECTOR.parts:
        assert odds(failing, part) == pytest.approx(odds(split, part), rel=1e-10), part
    together = after("fitted optical-engine from D2", "fitted config-store from D2")
    assert together.known_good > 0.0


def test_a_harvested_part_leaves_a_hole_until_another_is_fitted() -> None:
    assert after("harvested lamp-module").known_good == 0.0
    assert suspect(after("harvested lamp-module"), "lamp-module").modes[MISSING] == 1.0
    again = after("harvested lamp-module", "fitted lamp-module from new")
    assert again.known_good > after().known_good
    assert suspect(again, "lamp-module").p_bad < suspect(after(), "lamp-module").p_bad


def test_a_donor_part_carries_its_own_odds() -> None:
    lamp = PROJECTOR.parts["lamp-module"]
    swap = next(one for one in lamp.remedies if one.part)
    brought = np.array([0.7, *([0.3 / len(lamp.modes)] * len(lamp.modes))])
    fitted = after("fitted lamp-module from D1", donors={1: brought})
    expected = priors.bought(lamp, ()) @ priors.replaced(lamp, swap, brought)
    assert list(suspect(fitted, "lamp-module").modes.values()) == pytest.approx(list(expected[1:]), rel=1e-10)
    works = after("fitted lamp-module from D1", "tried lamp-lights works", donors={1: brought})
    assert odds(works, "lamp-module") < 0.2 * odds(fitted, "lamp-module")


def test_a_fitted_part_renews_its_slot_and_what_was_found_before_keeps_its_meaning() -> None:
    dark = after("tried lamp-lights fails")
    renewed = after("tried lamp-lights fails", "fitted lamp-module from new")
    assert suspect(renewed, "lamp-module").p_bad < 0.2 * suspect(dark, "lamp-module").p_bad
    for part in ["ballast", "lamp-door-tab", "thermal-cut-out"]:  # it failed with the old lamp: still their failure too
        assert odds(renewed, part) == pytest.approx(odds(dark, part), rel=1e-10), part
    still = after("tried lamp-lights fails", "fitted lamp-module from new", "tried lamp-lights fails")
    lights = after("tried lamp-lights fails", "fitted lamp-module from new", "tried lamp-lights works")
    assert odds(still, "ballast") > 1.1 * odds(dark, "ballast")
    assert odds(lights, "ballast") < 0.2 * odds(dark, "ballast")


def test_a_remedy_cures_with_its_odds_and_leaves_the_past_as_it_was() -> None:
    seen = after("saw green-flex-socket unseated")
    reseated = after("saw green-flex-socket unseated", "mended green-flex-socket reseat")
    cures = dict(next(one.cures for one in PROJECTOR.parts["green-flex-socket"].remedies if one.name == "reseat"))
    before, left = (suspect(one, "green-flex-socket").modes["unseated"] for one in (seen, reseated))
    assert left == pytest.approx(before * (1.0 - cures["unseated"]), rel=1e-10)


def test_a_declared_function_is_asked_of_nobody() -> None:
    silent = ("tried sound fails", "saw loudspeaker torn")
    assert suspect(after(*silent), "loudspeaker").p_blocks > 0.3
    declared = after(*silent, "declared sound")
    assert suspect(declared, "loudspeaker").p_blocks == 0.0
    assert suspect(declared, "loudspeaker").p_bad == pytest.approx(suspect(after(*silent), "loudspeaker").p_bad)
    assert declared.known_good > 10 * after(*silent).known_good


def test_nothing_ever_reaches_certainty() -> None:
    """Every function has a small unknown, so proof of all functions leaves the tests' own misses."""
    lines = [f"tried {name} works" for name in PROJECTOR.wanted]
    belief = after(*lines)
    assert 0.9 < belief.known_good < 1.0
    assert all(0.0 < chance < PROJECTOR.unknown_per_function for chance in belief.unknown.values())


def test_when_the_unknown_is_the_best_explanation_it_shows() -> None:
    """Everything that the sound needs was looked at, measured and found good, and still there is none."""
    lines = ["tried picture works", "tried sound fails"]
    parts = [one for one in PROJECTOR.functions["sound"].needs if one in PROJECTOR.parts]
    tests = [one for one in PROJECTOR.tests.values() if getattr(one.senses, "part", "") in parts]
    before = after(*lines)
    checked = after(*lines, *(f"found {one.id} {one.outcomes[0]}" for one in tests))
    assert checked.unknown["sound"] > 1.5 * before.unknown["sound"]


def test_reasons_are_exact() -> None:
    """The factor of a line is the odds with it over the odds without it, all other lines being kept."""
    lines = [
        "past dropped",
        "tried standby-light works",
        "opened cover-off",
        "saw exhaust-fan bent",
        "read rail-12v 0.03 V",
        "unplugged exhaust-fan-plug",
        "read rail-12v 11.9 V",
        "tried fans-turn fails",
        "tried fans-turn fails",
    ]
    belief = after(*lines)
    checked = 0
    for one in belief.suspects_with_reasons(most=99, at_least=0.002):
        assert [abs(mover.log10_factor) for mover in one.movers] == sorted(
            (abs(mover.log10_factor) for mover in one.movers), reverse=True
        )
        for mover in one.movers:
            assert mover.text == lines[mover.seq - 1]
            same = [number for number, line in enumerate(lines) if line == mover.text]
            left_out = ["noted nothing" if number in same else line for number, line in enumerate(lines)]
            factor = odds(belief, one.part) / odds(after(*left_out), one.part)
            assert mover.log10_factor == pytest.approx(math.log10(factor), abs=1e-9), (one.part, mover)
            checked += 1
    assert checked > 10
    assert suspect(belief, "exhaust-fan").movers == ()  # only where they are asked for


def test_a_line_that_changes_nothing_gives_no_reason() -> None:
    reasons = after("tried sound works", "tried may-hang fails").suspects_with_reasons(at_least=0.0001)
    bosses = next(one for one in reasons if one.part == "mounting-bosses")
    assert [mover.text for mover in bosses.movers] == ["tried may-hang fails"]


def test_the_rules_of_these_tests_hold_on_every_line_they_use() -> None:
    """A line that did not fit would be left out without a word, and prove nothing."""
    assert ev.parse("noted nothing") == ev.Noted(text="nothing")
    for lines in (["opened cover-off", "unplugged exhaust-fan-plug", "closed all"], ["harvested lamp-module"]):
        assert dv.log(PROJECTOR, lines).flags == ()
