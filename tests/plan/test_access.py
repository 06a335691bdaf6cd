"""What the way to a part costs: paid once while open, and closing where it must be closed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from small import TINY, bench, device, found, log, part, remedy, step, tried, wanted

from knowngood.belief.believe import believe
from knowngood.log.events import parse
from knowngood.log.misfit import misfit
from knowngood.maps.device import Fastener
from knowngood.plan.access import after_access, closing_minutes, way
from knowngood.plan.choose import Ranked, advise
from knowngood.plan.judge import Judge
from knowngood.plan.moves import test_move as move_of
from knowngood.plan.value import one_by_one

SWAP = remedy("replace", part=True, minutes=6.0)
SCREWS = (Fastener(4, "M3", None, "cross-head", None),)
BOX = device(
    [
        part("fan", SWAP, base=0.4, used="EUR 8", behind="lid"),
        part("board", SWAP, base=0.4, used="EUR 20", behind="shield"),
        part("lid-plug", base=0.01, joins=("fan", "board")),
        part("knob", base=0.1),
    ],
    [wanted("works", "fan", "board", "knob", "lid-plug"), wanted("glows", "knob")],
    [
        tried("works", closed=True),
        found("spin", "fan", behind="lid"),
        found("probe", "board", behind="shield"),
        found("turn", "knob"),
        tried("glows", behind="lid"),
    ],
    [
        step("lid", 10.0, 6.0, fasteners=SCREWS, unplugs=("lid-plug",), wait=45.0),
        step("shield", 3.0, 2.0, "lid"),
    ],
)
OPEN = ("opened lid",)


def ranked(*lines: str) -> dict[str, Ranked]:
    given = advise(BOX, log(BOX, "tried works fails", *lines), bench())
    return {one.move.name: one for one in given.ranked}


def test_the_way_to_a_part_names_what_it_takes_and_disturbs() -> None:
    there = way(BOX, log(BOX).state, "shield")
    assert (there.opens, there.closes, there.minutes, there.wait) == (("lid", "shield"), (), 13.0, 45.0)
    assert (there.tools, there.disturbs) == (("cross-head",), ("lid-plug",))
    back = way(BOX, log(BOX, "opened shield").state, None, closed=True)
    assert (back.opens, back.closes, back.minutes, back.disturbs) == ((), ("lid", "shield"), 8.0, ("lid-plug",))


def test_what_is_open_is_cheap_to_look_at_now() -> None:
    """Ten minutes at 0.50 that the lid takes are paid by what opens it, and by nothing after that."""

    def cost(test: str, *lines: str) -> float:
        return move_of(BOX, log(BOX, *lines).state, BOX.tests[test]).cost(bench())

    assert cost("spin") - cost("spin", *OPEN) == pytest.approx(0.5 * 10.0)
    assert cost("turn") == cost("turn", *OPEN)
    assert cost("probe", *OPEN) == pytest.approx(0.5 * (3.0 + 1.0))
    assert ranked(*OPEN)["test spin"].worth - ranked()["test spin"].worth == pytest.approx(0.5 * 10.0)


def test_a_step_that_was_closed_again_is_paid_again() -> None:
    assert ranked(*OPEN, "closed all")["replace fan"].cost == ranked()["replace fan"].cost


def test_a_check_that_needs_it_closed_pays_for_closing() -> None:
    works = ranked(*OPEN, "fitted fan from used for EUR 8")["try works"]
    assert works.move.closes == ("lid",)
    assert works.cost == pytest.approx(0.5 * (6.0 + 2.0))
    assert ranked(*OPEN, "fitted fan from used for EUR 8", "closed all")["try works"].cost == pytest.approx(0.5 * 2.0)


def test_selling_as_it_is_pays_for_closing_and_parting_out_does_not() -> None:
    shut, open_ = ranked(), ranked("opened shield")
    assert shut["sell-as-is"].worth - open_["sell-as-is"].worth == pytest.approx(0.5 * (6.0 + 2.0))
    assert shut["part-out"].worth == open_["part-out"].worth


def judge(*lines: str) -> Judge:
    told = log(BOX, *lines)
    return Judge(BOX, told.state, bench(), believe(BOX, told))


def test_the_plan_pays_for_opening_only_what_is_closed_and_for_closing_what_is_open() -> None:
    shut, open_ = judge().outlook, judge(*OPEN).outlook
    assert shut.access is not None
    assert open_.access is not None
    assert sorted(shut.access.cost) == [0.5 * (3.0 + 2.0), 0.5 * (10.0 + 6.0)]  # opening and closing, each step once
    assert list(open_.access.cost) == [0.5 * (3.0 + 2.0)]
    assert (shut.closing, open_.closing) == (0.0, pytest.approx(0.5 * 6.0))
    fan, board = (BOX.parts[name] for name in ("fan", "board"))
    index = {part.id: number for number, part in enumerate(BOX.parts.values())}
    assert shut.access.behind[index[fan.id]].sum() == 1
    assert shut.access.behind[index[board.id]].sum() == 2


def test_access_is_counted_from_the_state_at_the_end_of_the_way() -> None:
    state = after_access(log(BOX, *OPEN).state, ("shield",))
    assert closing_minutes(BOX, state) == 8.0
    assert after_access(state, (), ("lid", "shield")).open_steps == frozenset()


def test_what_a_move_opened_is_open_for_the_plan_after_it() -> None:
    """After a try behind the lid the plan is worth what it is with the lid open: no way is paid twice."""
    shut, open_ = judge("tried works fails"), judge("tried works fails", *OPEN)
    glow = move_of(BOX, shut.state, BOX.tests["glows"])
    [answer] = shut.answers([glow])
    known = np.nan_to_num(answer.no_unknown)
    outlook = replace(open_.outlook, shown=shut._shown_after(glow, answer), no_unknown=known)
    shut._plan_now = shut.stop  # so that the plan after it counts, whether it pays or not
    then = one_by_one(outlook, np.nan_to_num(answer.p_blocks), np.nan_to_num(answer.known_good))
    [told] = shut.informing([glow], [answer])
    assert told.worth == pytest.approx(float(answer.probability @ then.worth) - glow.cost(bench()))
    assert told.worth > shut.stop


def test_opening_further_comes_right_after_what_it_makes_way_for_and_counts_as_that() -> None:
    order = list(ranked())
    best_behind = next(name for name in order if ranked()[name].move.opens[:1] == ("lid",))
    opening = ranked()["open lid"]
    assert opening.worth == ranked()[best_behind].worth
    assert order.index("open lid") > order.index(best_behind)
    assert (opening.move.minutes, opening.move.wait, opening.move.log) == (10.0, 45.0, "opened lid")
    assert opening.why.startswith("Behind it: ")
    assert "open lid" not in ranked(*OPEN)
    assert "open shield" in ranked(*OPEN)
    assert "open lid" not in ranked("deferred lid")
    assert "open lid" not in ranked("lacks tool cross-head")


def test_closing_up_is_proposed_where_what_needs_it_closed_pays() -> None:
    mended = (*OPEN, "fitted fan from used for EUR 8", "found probe ok", "found turn ok")
    closing = ranked(*mended)["close unit"]
    proving = advise(BOX, log(BOX, "tried works fails", *mended), bench()).judge.closed_to_prove
    assert closing.worth == proving
    assert closing.worth > ranked(*mended)["try works"].worth > ranked(*mended)["part-out"].worth
    assert (closing.move.minutes, closing.move.log) == (6.0, "closed all")
    assert "close unit" not in ranked()


TWO_WAYS = device(
    [part("board", SWAP, base=0.4, used="EUR 20", behind="shield"), part("glass", base=0.1, behind="front")],
    [wanted("works", "board", "glass")],
    [tried("works", closed=True), found("probe", "board", behind="shield"), found("tilt", "glass", behind="front")],
    [
        step("back", 10.0, 6.0, fasteners=SCREWS),
        step("front", 2.0, 2.0, holds="glue", risk="The glass cracks at a corner"),
        step("shield", 3.0, 2.0, any_of=(("back", "front"),)),
    ],
)


def test_the_planner_goes_in_by_the_least_cost_and_never_through_glue_without_need() -> None:
    def opens(test: str, *lines: str) -> tuple[str, ...]:
        return move_of(TWO_WAYS, log(TWO_WAYS, *lines).state, TWO_WAYS.tests[test]).opens

    assert opens("probe") == ("back", "shield")
    assert opens("probe", "opened front") == ("shield",)
    assert log(TWO_WAYS, "opened shield").state.open_steps == {"back", "shield"}
    tilt = move_of(TWO_WAYS, log(TWO_WAYS).state, TWO_WAYS.tests["tilt"])
    assert tilt.opens == ("front",)
    assert "Glued: 'front'. The glass cracks at a corner." in tilt.cautions


def test_a_step_that_leads_to_an_open_one_is_closed_first_only_if_another_still_does() -> None:
    both = ("opened front", "opened back", "opened shield")
    assert log(TWO_WAYS, *both, "closed back").state.open_steps == {"front", "shield"}
    alone = log(TWO_WAYS, "opened shield").state
    assert misfit(TWO_WAYS, alone, parse("closed back")) == (
        "'shield' lies behind 'back' and is still open. Close it first."
    )


@pytest.mark.parametrize(
    "lines",
    [
        ("saw supply fine", "tried starts works", "tried cooled fails", "read rail 4.926 V"),
        ("saw supply fine", "tried starts works", "tried cooled fails", "read rail 4.926 V", "found flick ok"),
    ],
)
def test_what_was_opened_is_not_closed_again_for_a_trial_that_would_fail_as_before(lines: tuple[str, ...]) -> None:
    """Once it is open for the fan, the fan comes next: to close it and show the rest would bring nothing."""
    opened = [lines[:3], ("opened lid",), lines[3:]]
    given = advise(TINY, log(TINY, *(line for some in opened for line in some)), bench())
    assert given.best.move.target == "fan"
    assert not given.best.move.closes


def test_what_lies_behind_something_open_has_its_way_to_pay_once_a_trial_has_closed_it() -> None:
    """The fan, which is bad, is mended at once while it is open, not after the lid was closed for a trial."""
    given = advise(BOX, log(BOX, "opened lid", "found spin bad"), bench())
    judged = {one.move.name: one for one in given.ranked}
    closing = [one for one in given.ranked if one.move.closes and not one.move.act.ends]
    assert closing
    assert all(one.worth < judged["replace fan"].worth for one in closing)
    shut = given.judge._ways_after(replace(given.best.move, opens=(), closes=("lid",)))
    assert list(shut) == [0.0, 0.5 * (10.0 + 6.0), 0.5 * (3.0 + 2.0)]
