"""The moves that a map and a state allow: what they cost, what they say, and when they are offered."""

from __future__ import annotations

from dataclasses import replace

import pytest
from small import bench, device, found, log, part, remedy, step, tried, usual, wanted

from knowngood.handbook.quantities import Money
from knowngood.log.events import parse
from knowngood.maps import load
from knowngood.maps.device import AnyMode, Married
from knowngood.plan.access import closing_minutes
from knowngood.plan.choose import Advice, Ranked, advise
from knowngood.plan.moves import look_move, possible_tests, remedy_moves
from knowngood.plan.moves import test_move as move_of
from knowngood.plan.terms import InStock, Terms

SWAP = remedy("replace", part=True, minutes=6.0)
GLUE = remedy("glue", minutes=7.0, materials=Money("EUR", 150), tools=("press",))
BOX = device(
    [
        part("board", SWAP, base=0.3, used="EUR 20", new="EUR 35", behind="shield"),
        part("keys", SWAP, base=0.2, new="EUR 9", behind="lid"),
        part("lens", GLUE, SWAP, base=0.2),
    ],
    [wanted("starts", "board"), wanted("types", "starts", "keys", "lens")],
    [
        tried("starts"),
        tried("types", closed=True),
        found("continuity", "keys", behind="lid", tools=("meter",)),
        found("tap", "lens"),
        found("shake", AnyMode((("lens", ("dead",)), ("keys", ("dead",))))),
    ],
    [step("lid", 3.0, 4.0), step("shield", 1.0, 2.0, "lid")],
)
SHOWN = ("tried starts works", "tried types works")


def ranked(*lines: str, at: Terms | None = None) -> dict[str, Ranked]:
    return {one.move.name: one for one in advise(BOX, log(BOX, *lines), at or bench()).ranked}


def replacing(slot: str, at: Terms | None = None) -> tuple[float, str, str]:
    """Materials, line and remark of a part's replacement."""
    moves = remedy_moves(BOX, log(BOX).state, at or bench(), BOX.parts[slot])
    move = next(move for move in moves if move.kind == "replace")
    return move.materials, move.log, move.remark


@pytest.mark.parametrize(
    ("lines", "minutes", "opens"),
    [
        ((), 3.0 + 1.0 + 6.0, ("lid", "shield")),
        (("opened lid",), 1.0 + 6.0, ("shield",)),
        (("opened shield",), 6.0, ()),
        (("opened shield", "closed shield"), 1.0 + 6.0, ("shield",)),
    ],
)
def test_the_way_is_counted_as_far_as_it_is_closed(
    lines: tuple[str, ...], minutes: float, opens: tuple[str, ...]
) -> None:
    state = log(BOX, *lines).state
    (move,) = remedy_moves(BOX, state, bench(), BOX.parts["board"])
    assert move.minutes == minutes
    assert move.opens == opens
    assert move.cost(bench()) == pytest.approx(0.5 * minutes + 20.0)
    assert look_move(BOX, state, BOX.parts["board"]).minutes == minutes - 6.0 + 0.5


def test_a_test_that_means_something_only_closed_closes_all_that_is_open() -> None:
    state = log(BOX, "opened shield").state
    closing = move_of(BOX, state, BOX.tests["types"])
    assert closing.closes == ("lid", "shield")
    assert closing.minutes == 2.0 + 4.0 + 2.0
    assert move_of(BOX, state, BOX.tests["starts"]).closes == ()
    assert move_of(BOX, log(BOX).state, BOX.tests["types"]).minutes == 2.0
    assert closing_minutes(BOX, state) == 6.0


def test_every_line_that_a_move_gives_is_one_that_fits() -> None:
    on = load("some-mains-device")
    for lines in ((), ("past wet",), ("opened cover-off", "saw supply dented")):
        told = log(on, *lines)
        given = advise(on, told, usual(on))
        for move in [*(one.move for one in given.ranked), *(move for move, _ in given.held)]:
            more = {"look": " dusty", "discharge": " 3 V", "measure": " 5.1 V"}.get(move.kind, "")
            if move.test is not None and move.kind != "measure":
                more = f" {move.test.outcomes[0]}"
            parse(move.log + more)


def test_a_replacement_is_the_one_that_costs_least_for_its_chance_to_be_fine() -> None:
    shelf = bench(stock={"board": InStock("D1", 4.0)})
    assert replacing("board", shelf)[:2] == (4.0, "fitted board from D1 for EUR 4")
    assert replacing("board")[:2] == (20.0, "fitted board from used for EUR 20")
    assert replacing("keys")[:2] == (9.0, "fitted keys from new for EUR 9")
    assert replacing("keys")[2] == ""
    assert "The one from D1 is 70 % likely to be fine itself." in replacing("board", shelf)[2]
    # At 7 for a fifth it is dearer than a bought one at 23.
    poor = bench(stock={"board": InStock("D1", 4.0, (0.2, 0.8))})
    assert replacing("board", poor)[1] == "fitted board from used for EUR 20"
    sound = bench(stock={"board": InStock("D1", 4.0, (0.95, 0.05))})
    assert "The one from D1 is 95 % likely to be fine itself." in replacing("board", sound)[2]
    unread = bench(stock={"board": InStock("D1", 4.0, (0.95, 0.05), "revision not known")})
    assert replacing("board", unread)[2].endswith("is 95 % likely to be fine itself; revision not known.")


def test_a_price_that_is_not_known_is_taken_from_the_unit_and_said() -> None:
    materials, line, remark = replacing("lens")
    assert materials == 20.0  # a tenth of a working one
    assert line == "fitted lens from used for EUR 20"
    assert remark == "The map gives no price for it: taken as EUR 20."


def test_a_plug_or_a_set_of_screws_without_a_price_is_taken_to_cost_little() -> None:
    plug = replace(BOX.parts["lens"], joins=("board", "keys"))
    screws = replace(BOX.parts["lens"], kind="fasteners")
    for small in (plug, screws):
        (swap,) = (one for one in remedy_moves(BOX, log(BOX).state, bench(), small) if one.kind == "replace")
        assert swap.materials == 2.0  # a hundredth of a working one
        assert swap.remark == "The map gives no price for it: taken as EUR 2."


@pytest.mark.parametrize(
    ("currency", "price", "written"),
    [
        ("JPY", 1234.6, "JPY 1235"),
        ("KWD", 1.2345678, "KWD 1.235"),
        ("EUR", 12.346, "EUR 12.35"),
        ("KRW", 300.0, "KRW 300"),
    ],
)
def test_a_price_is_written_to_the_digits_of_its_currency(currency: str, price: float, written: str) -> None:
    at = replace(bench(stock={"lens": InStock("D1", price)}), currency=currency)
    assert replacing("lens", at)[1] == f"fitted lens from D1 for {written}"
    assert f"taken as {currency} 20." in replacing("lens", replace(at, stock={}))[2]


def test_a_married_part_is_never_to_be_replaced_alone() -> None:
    pair = replace(BOX, married=(Married(("board", "lens"), "keys", ("types",)),))
    shelf = bench(stock={"lens": InStock("D1", 4.0)})
    for lines, proposed in ((), False), (("fitted board from D1",), True), (("fitted board from used",), False):
        given = advise(pair, log(pair, "tried types fails", *lines, "tried types fails"), shelf)
        assert ("replace lens" in {one.move.name for one in given.ranked}) == proposed
        assert proposed or "Works only with its own: board." in {why.why for _, why in given.ruled_out}


def test_a_replacement_cures_only_as_far_as_it_is_fine_itself() -> None:
    """A lens from the shelf that is bad with a fifth leaves a fifth of what was wrong."""
    for states, left in (((0.8, 0.2), 0.2), ((1.0, 0.0), 0.0)):
        told = ranked("tried types fails", at=bench(stock={"lens": InStock("D1", 0.0, states)}))["replace lens"]
        cured, not_cured, _ = told.outcomes
        assert not_cured.probability == pytest.approx(left * (cured.probability + not_cured.probability))


def test_what_cures_is_left_alone_and_waited_for() -> None:
    slow = replace(GLUE, wait=720.0, cures=(("dead", 0.95),), tools=())
    glued = device(
        [part("lens", slow, base=0.4), part("keys", base=0.01)],
        [wanted("sees", "lens"), wanted("types", "keys")],
        [tried("sees"), tried("types")],
    )

    def given(*lines: str) -> Advice:
        return advise(glued, log(glued, "tried sees fails", *lines), bench())

    gluing = next(one.move for one in given().ranked if one.move.kind == "mend")
    assert gluing.wait == 720.0
    waiting = given(gluing.log, "tried types works")
    assert waiting.best.move.kind == "wait"
    assert (waiting.best.move.do, waiting.best.move.log) == ("Let it cure. Then: sees", "waited 12 h")
    assert waiting.best.why == "Still curing: lens, 12 h 00 min left."
    assert "try sees" not in {one.move.name for one in waiting.ranked}
    assert given(gluing.log, "tried types works", "waited 5 h").best.move.log == "waited 7 h"
    assert given(gluing.log, "tried types works", "waited 12 h").best.move.name == "try sees"
    assert "try types" in {one.move.name for one in given(gluing.log).ranked}


def test_nothing_is_mended_only_to_be_busy_while_something_cures() -> None:
    """What is to be shown anyway comes first, then the wait; a remedy of a part that is hardly at fault does not."""
    slow = replace(GLUE, wait=720.0, cures=(("dead", 0.95),), tools=())
    quick = replace(slow, wait=0.0, minutes=1.0)
    glued = device(
        [part("lens", slow, base=0.4), part("keys", quick, base=0.05)],
        [wanted("sees", "lens", "keys"), wanted("types", "keys")],
        [tried("sees"), tried("types")],
    )
    found = advise(glued, log(glued, "tried sees fails", "mended lens glue"), bench())
    names = [one.move.name for one in found.ranked]
    assert "mend keys" in names
    assert names[0] == "try types"
    assert names[1] == "wait lens"
    assert found.ranked[1].worth > max(one.worth for one in found.ranked if one.move.kind == "mend") > found.stop_worth


def test_tools_that_are_not_at_hand_rule_out_what_needs_them() -> None:
    def offered(at: Terms) -> tuple[set[str], set[str]]:
        state = log(BOX).state
        moves = remedy_moves(BOX, state, at, BOX.parts["lens"])
        return {test.id for test in possible_tests(BOX, state, at)}, {move.kind for move in moves}

    assert offered(bench()) == ({"starts", "types", "continuity", "tap", "shake"}, {"mend", "replace"})
    assert offered(bench(lacks=frozenset({"meter", "press"}))) == ({"starts", "types", "tap", "shake"}, {"replace"})
    assert offered(bench(lacks=frozenset({"oscilloscope"}))) == offered(bench())


def test_a_remedy_costs_its_material_and_says_so_in_its_line() -> None:
    gluing = remedy_moves(BOX, log(BOX).state, bench(), BOX.parts["lens"])[0]
    assert (gluing.minutes, gluing.materials, gluing.log) == (7.0, 1.5, "mended lens glue for EUR 1.50")


def test_it_is_sold_as_working_only_when_all_that_is_promised_was_shown_since_the_last_act() -> None:
    assert "sell" in ranked(*SHOWN)
    assert "sell" not in ranked()
    assert "sell" not in ranked(SHOWN[0])
    assert "sell" not in ranked(*SHOWN, "tried starts fails")
    assert "sell" not in ranked(*SHOWN, "mended lens glue")
    assert "sell" not in ranked("mended lens glue", SHOWN[0])
    assert "sell" in ranked("mended lens glue", *SHOWN)
    assert "sell" in ranked(SHOWN[0], "declared types")


def test_it_is_not_sold_as_working_while_something_is_open() -> None:
    assert "sell" not in ranked("opened lid", *SHOWN)
    assert "sell" not in ranked("opened lid", *SHOWN, "closed all")
    assert "sell" in ranked("opened lid", "closed all", *SHOWN)


def test_what_a_way_out_brings() -> None:
    ways, at = ranked(*SHOWN), bench()
    given = advise(BOX, log(BOX, *SHOWN), at)
    good = given.belief.known_good
    assert ways["sell"].worth == pytest.approx(200 * good - 60 * (1 - good) - 15)
    assert ways["sell-as-is"].worth == 40 - 15
    assert ways["part-out"].worth == given.stop_worth == 25
    assert ranked("opened shield")["sell-as-is"].worth == 40 - 15 - 3
    assert ranked("opened shield")["part-out"].worth == 25


def test_a_test_is_not_offered_again_while_nothing_has_changed() -> None:
    assert {"test tap", "try starts"} <= set(ranked())
    assert "test tap" not in ranked("found tap bad")
    assert "try starts" not in ranked("tried starts fails")
    assert "try starts" not in ranked("tried starts works")
    assert "try starts" in ranked("tried starts fails", "fitted board from used for EUR 20")
    assert "try starts" in ranked("tried starts works", "fitted lens from used for EUR 20")  # to be shown again


def test_a_function_that_only_a_test_senses_can_be_shown_too() -> None:
    plain = device([part("fan", base=0.2)], [wanted("cooled", "fan")], [found("feel", tried("cooled").senses, "mains")])
    assert "sell" in {one.move.kind for one in advise(plain, log(plain, "found feel ok"), bench()).ranked}
    assert "sell" not in {one.move.kind for one in advise(plain, log(plain, "found feel bad"), bench()).ranked}


def test_a_remedy_is_not_offered_again_before_something_was_found() -> None:
    assert "replace keys" in ranked("tried types fails")
    assert "replace keys" not in ranked("tried types fails", "fitted keys from new for EUR 9")
    again = ("tried types fails", "fitted keys from new for EUR 9", "tried types fails")
    assert "replace keys" not in ranked(*again)  # the lens is likelier now
    assert "replace keys" in ranked(
        "tried starts works", *again, "tried starts works", "found continuity bad", "found tap ok"
    )
    assert "mend lens" not in ranked("tried types fails", "mended lens glue")
    assert "mend lens" in ranked("tried types fails", "fitted keys from new for EUR 9")


def test_a_part_that_was_looked_at_closely_is_not_looked_at_again_until_it_is_another() -> None:
    assert "look lens" in ranked("tried types fails")
    assert "look lens" not in ranked("tried types fails", "saw lens fine close")
    assert "look lens" in ranked("tried types fails", "saw lens fine glance")
    again = advise(BOX, log(BOX, "tried types fails", "saw lens fine close", "fitted lens from used"), bench())
    assert not again.belief.looked_at("lens")


def test_a_part_that_was_taken_out_can_be_replaced_and_nothing_else() -> None:
    out = ranked("tried types fails", "removed lens")
    assert "replace lens" in out
    assert not {"look lens", "test tap", "mend lens"} & set(out)
    back = ranked("tried types fails", "removed lens", "fitted lens from back")
    assert {"mend lens", "test tap"} <= set(back)
