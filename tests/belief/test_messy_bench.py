"""The example log of a messy bench, held to what its headings say, point by point."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from knowngood.belief import priors
from knowngood.belief.believe import Belief, believe
from knowngood.belief.explanations import explain
from knowngood.belief.surprise import surprise
from knowngood.belief.what_if import ask, everything, query_test
from knowngood.log.lines import understand
from knowngood.log.state import Line, Replay, replay
from knowngood.maps.load import load

LOG = Path(__file__).parents[2] / "examples" / "messy-bench.log"
DEVICE = load("ceiling-projector")


def lines() -> list[str]:
    text = LOG.read_text(encoding="utf-8")
    return [line for line in text.splitlines() if line and not line.startswith("#")]


def told(texts: list[str]) -> Replay:
    made: list[Line] = []
    for text in texts:
        made.append(Line(len(made) + 1, "", understand(DEVICE, replay(DEVICE, made).state, text)))
    return replay(DEVICE, made)


@cache
def up_to(text: str, nth: int = 1, *more: str) -> Belief:
    """The belief after the nth line that begins so, with more lines at its end."""
    given = lines()
    places = [number for number, line in enumerate(given, 1) if line.startswith(text)]
    return believe(DEVICE, told([*given[: places[nth - 1]], *more]))


def mode(belief: Belief, part: str, name: str) -> float:
    return next(one.modes[name] for one in belief.suspects if one.part == part)


def p_bad(belief: Belief, part: str) -> float:
    return next(one.p_bad for one in belief.suspects if one.part == part)


def test_it_has_at_least_fifty_lines_and_each_one_fits() -> None:
    assert len(lines()) >= 50
    assert told(lines()).flags == ()


def test_the_past_and_what_was_seen_move_the_odds() -> None:
    cover = DEVICE.parts["top-cover"]
    assert p_bad(up_to("past aged"), "top-cover") > 1.3 * (1 - priors.bought(cover, ())[0])
    slight, severe = (up_to("past aged", 1, f"saw exhaust-fan cracked {degree}") for degree in ("slight", "severe"))
    assert p_bad(severe, "exhaust-fan") > 1.3 * p_bad(slight, "exhaust-fan")
    found, fine = up_to("saw top-cover dented"), up_to("saw mains-inlet fine")
    up = p_bad(found, "top-cover") / p_bad(up_to("past aged"), "top-cover")
    down = p_bad(fine, "mains-inlet") / p_bad(up_to("past aged"), "mains-inlet")
    assert up > 1.0 > down
    before, glance = up_to("saw mains-inlet fine"), up_to("saw keypad-board fine glance")
    close = up_to("saw mains-inlet fine", 1, "saw keypad-board fine close")
    assert p_bad(close, "keypad-board") < p_bad(glance, "keypad-board") < p_bad(before, "keypad-board")


def test_a_shorted_load_takes_its_rail_down_and_unplugged_it_does_not() -> None:
    dead, short = up_to("read rail-12v 0.03"), up_to("read rail-12v-to-ground 0.4")
    assert p_bad(short, "supply-12v") < 0.2 * p_bad(dead, "supply-12v")
    assert mode(up_to("read rail-12v-to-ground 2.2"), "exhaust-fan-plug", "short") > 0.7
    assert mode(up_to("read rail-12v 12.03"), "exhaust-fan-plug", "short") > 0.9


def test_another_plug_is_another_plug_and_the_old_readings_keep_their_meaning() -> None:
    fitted = up_to("fitted exhaust-fan-plug")
    assert p_bad(fitted, "exhaust-fan-plug") < 0.1
    assert p_bad(fitted, "supply-12v") < 0.2 * p_bad(up_to("read rail-12v 0.03"), "supply-12v")


def test_a_touch_leaves_a_chance_and_its_check_takes_most_of_it() -> None:
    made, checked = up_to("plugged exhaust-fan-plug"), up_to("found exhaust-fan-plug.seated")
    assert mode(made, "exhaust-fan-plug", "unseated") == pytest.approx(0.03, abs=0.003)
    assert mode(checked, "exhaust-fan-plug", "unseated") < 0.2 * mode(made, "exhaust-fan-plug", "unseated")


def test_a_remedy_that_failed_is_believed_to_have_failed() -> None:
    failed, worked = up_to("tried picture-colours fails -- still"), up_to("tried picture-colours works")
    assert p_bad(failed, "green-flex-socket") + p_bad(failed, "green-panel") > 0.2
    assert p_bad(worked, "green-flex-socket") < 0.5 * p_bad(failed, "green-flex-socket")


def test_the_same_trial_again_is_news_of_what_comes_and_goes() -> None:
    once, again = up_to("tried picture-colours works"), up_to("tried picture-colours fails", 3)
    socket = ("green-flex-socket", "poor-contact")
    assert mode(again, *socket) > 3 * mode(once, *socket)
    assert p_bad(again, "main-board") == pytest.approx(p_bad(once, "main-board"), rel=0.2)


def test_the_slip_of_the_pen_is_named_to_be_rechecked() -> None:
    found = surprise(up_to("read rail-3v3"))
    assert found is not None
    slip = next(number for number, line in enumerate(lines(), 1) if line == "read rail-3v3 33.1 V")
    assert found.recheck == slip


def test_what_is_left_has_its_reasons_and_its_explanations() -> None:
    belief = up_to("tried stays-lit")
    first = belief.suspects_with_reasons()[0]
    assert first.movers
    assert any("stays-lit" in mover.text for mover in first.movers)
    found = explain(belief)
    assert len(found) == 5
    assert [one.likeliest for one in found] == sorted((one.likeliest for one in found), reverse=True)
    assert len({one.faults for one in found}) == 5


def test_all_that_could_be_asked_is_answered_at_once_and_after_an_unplugging() -> None:
    now = up_to("read rail-12v 0.03")
    for answer in ask(now, everything(now)):
        assert answer.probability.sum() == pytest.approx(1.0, abs=1e-9)
    off = up_to("read rail-12v 0.03", 1, "unplugged exhaust-fan-plug")
    answer = ask(off, [query_test(off, DEVICE.tests["rail-12v"])])[0]
    good = answer.query.outcomes.index("good")
    plug = off.index["exhaust-fan-plug"]
    before = next(one.p_blocks for one in off.suspects if one.part == "exhaust-fan-plug")
    assert answer.p_blocks[good, plug] > 2 * before
