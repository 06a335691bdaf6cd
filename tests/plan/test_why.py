"""Explanations of an advice: each is what asking again in its case would give."""

from __future__ import annotations

from dataclasses import replace

import pytest
from small import bench, device, found, log, part, rail, remedy, tried, volts, wanted

from knowngood.plan.choose import advise, ranked_under
from knowngood.plan.moves import Move
from knowngood.plan.terms import Terms
from knowngood.plan.why.change import change
from knowngood.plan.why.thresholds import Threshold, thresholds
from knowngood.plan.why.tree import tree, typical

SWAP = remedy("replace", part=True, minutes=6.0)
SET = device(
    [
        part("supply", SWAP, base=0.3, used="EUR 15"),
        part("board", SWAP, base=0.3, used="EUR 30"),
        part("keys", remedy("clean", 0.6), SWAP, base=0.2, used="EUR 9"),
    ],
    [rail("rail", "supply"), wanted("starts", "rail", "board"), wanted("types", "starts", "keys")],
    [tried("starts"), tried("types"), volts("rail"), found("beep", "keys")],
)
AT = bench(price=200.0)
FAILS = ("tried starts fails",)


BOARD = (*FAILS, "read rail 5.0 V", "found beep ok")
"""Lines after which the board is to be replaced."""


def terms_at(one: Threshold, at: float, best: Move) -> Terms:
    return {
        "hour": replace(AT, rate=at / 60.0),
        "working": AT.at_price(at),
        "minutes": replace(AT, dearer={best.log: (at - best.minutes) * AT.rate}),
        "price": replace(AT, dearer={best.log: at - best.materials}),
    }[one.of]


@pytest.mark.parametrize("lines", [FAILS, BOARD])
def test_beyond_a_threshold_another_move_comes_first_and_before_it_the_same(lines: tuple[str, ...]) -> None:
    given = advise(SET, log(SET, *lines), AT)
    first = given.best.move.log
    told = thresholds(given, AT)
    assert {one.of for one in told} == {"hour", "working", "price" if lines == BOARD else "minutes"}
    assert any(one.then for one in told)
    for one in told:
        short_of_it = one.at + 0.02 * (one.now - one.at)
        again = advise(SET, log(SET, *lines), terms_at(one, short_of_it, given.best.move))
        # A question that the quick estimate no longer has followed stands in no ranking; a threshold follows it.
        assert again.best.move.log == first or first not in {one.move.log for one in again.ranked}
        there = ranked_under(given.asked, terms_at(one, one.at, given.best.move))[0].move.log
        assert there == (one.then.move.log if one.then else first)
        assert (there == first) == (one.then is None)


def test_a_part_that_costs_too_much_is_no_longer_bought() -> None:
    """The price at which the swap no longer comes first leaves it worth as much as what does then."""
    given = advise(SET, log(SET, *BOARD), AT)
    assert given.best.move.name == "replace board"
    [dear] = [one for one in thresholds(given, AT) if one.of == "price" and one.at > one.now]
    assert dear.then is not None
    swap = next(
        one
        for one in ranked_under(given.asked, terms_at(dear, dear.at, given.best.move))
        if one.move.name == "replace board"
    )
    assert swap.worth == pytest.approx(dear.then.worth, abs=1.0)


def test_a_unit_that_sells_for_more_brings_more_after_its_fees() -> None:
    dear = replace(AT, kept=0.84).at_price(300.0)
    assert (dear.price, dear.working, dear.come_back) == (300.0, pytest.approx(284.0), pytest.approx(90.0))


@pytest.mark.parametrize("lines", [(), FAILS])
def test_a_branch_is_the_advice_that_its_line_would_bring(lines: tuple[str, ...]) -> None:
    given = advise(SET, log(SET, *lines), AT)
    branches = tree(given, AT)
    assert [one.outcome for one in branches] == [
        one.outcome for one in sorted(given.best.outcomes, key=lambda one: -one.probability) if one.probability >= 0.02
    ]
    for one in branches:
        after = advise(SET, log(SET, *lines, one.line), AT)
        assert one.then.move == after.best.move
        assert one.known_good == pytest.approx(after.belief.known_good)


def test_a_remedy_shows_nothing_by_itself_so_it_has_one_branch() -> None:
    given = advise(SET, log(SET, *BOARD), AT)
    [after] = tree(given, AT)
    assert (after.outcome, after.probability, after.line) == ("done", 1.0, given.best.move.log)
    assert tree(advise(SET, log(SET), bench(working=0.0, price=0.0)), AT) == ()


def test_a_typical_reading_speaks_for_its_state() -> None:
    """Logged, it makes the supply likelier to be dead the lower it is."""
    probe = SET.tests["rail"]
    chances = []
    for state in ("none", "good"):
        told = advise(SET, log(SET, f"read rail {typical(SET, probe, state)}"), AT).belief
        chances.append(next(one.p_blocks for one in told.suspects if one.part == "supply"))
    assert chances[0] > 0.9
    assert chances[1] < 0.05


def test_the_line_that_changed_the_advice_is_named_with_what_it_moved() -> None:
    told = log(SET, *FAILS, "read rail 0.02 V", "noted a remark")
    given = advise(SET, told, AT)
    found_ = change(given, told.lines, AT)
    assert found_ is not None
    assert found_.line.seq == 3
    assert found_.before.move == advise(SET, log(SET, *FAILS), AT).best.move
    assert found_.followed
    assert found_.part == "supply"
    assert found_.p_before < 0.6
    assert found_.p_after > 0.9


def test_a_line_that_changes_nothing_is_not_blamed() -> None:
    told = log(SET, "waited 1 h", "priced parts at EUR 25")
    assert change(advise(SET, told, AT), told.lines, AT) is None
