"""What the person rules out is not proposed from then on, and comes back when it is lifted."""

from __future__ import annotations

from dataclasses import replace

import pytest
from small import bench, device, found, log, part, remedy, step, tried, wanted

from knowngood.maps.device import Fastener
from knowngood.plan.choose import Advice, Ranked, advise
from knowngood.plan.terms import InStock, Terms

SWAP = remedy("replace", part=True, minutes=6.0)
BOX = device(
    [
        part("board", SWAP, base=0.5, used="EUR 20", behind="shield"),
        part("keys", remedy("resolder", tools=("Soldering iron",)), SWAP, base=0.5, used="EUR 9", behind="lid"),
        part("lens", SWAP, base=0.2, used="EUR 9"),
    ],
    [wanted("starts", "board"), wanted("types", "starts", "keys", "lens")],
    [tried("starts"), tried("types"), found("beep", "keys", behind="lid", tools=("meter",)), found("tap", "lens")],
    [
        step("lid", 1.0, 1.0, fasteners=(Fastener(4, "M3", None, "cross-head", None),)),
        step("shield", 1.0, 1.0, "lid"),
    ],
)
BROKEN = ("tried starts fails",)


def advice(*lines: str, at: Terms | None = None) -> Advice:
    return advise(BOX, log(BOX, *BROKEN, *lines), at or bench())


def proposed(given: Advice) -> set[str]:
    return {one.move.name for one in given.ranked}


def reasons(given: Advice) -> dict[str, str]:
    return {move.name: why.why for move, why in given.ruled_out}


@pytest.mark.parametrize(
    ("rules_out", "lifts", "gone", "why"),
    [
        ("lacks tool meter", "has tool meter", {"test beep"}, "No such tool: meter."),
        ("lacks tool soldering iron", "has tool soldering iron", {"mend keys"}, "No such tool: Soldering iron."),
        (
            "lacks tool cross-head",
            "has tool cross-head",
            {"test beep", "look keys", "look board", "mend keys", "replace keys", "replace board"},
            "No such tool: cross-head.",
        ),
        ("lacks part keys", "has part keys", {"replace keys"}, "No such part to be had: keys."),
        ("deferred beep", "resumed beep", {"test beep"}, "Not now: beep."),
        (
            "deferred keys",
            "resumed keys",
            {"test beep", "look keys", "mend keys", "replace keys"},
            "Not now: keys.",
        ),
        ("deferred shield", "resumed shield", {"look board", "replace board"}, "Not now: shield."),
    ],
)
def test_what_is_ruled_out_is_not_proposed_until_it_is_lifted(
    rules_out: str, lifts: str, gone: set[str], why: str
) -> None:
    everything = proposed(advice())
    assert gone & everything
    without = advice(rules_out)
    assert not gone & proposed(without)
    assert reasons(without) == dict.fromkeys(gone, why)
    assert proposed(advice(rules_out, lifts)) == everything
    assert reasons(advice(rules_out, lifts)) == {}


def test_a_tool_that_the_bench_has_not_rules_out_the_same_as_a_line_of_the_log() -> None:
    by_bench, by_line = advice(at=bench(lacks=frozenset({"meter"}))), advice("lacks tool meter")
    assert proposed(by_bench) == proposed(by_line)
    assert reasons(by_bench) == reasons(by_line)


def test_a_step_that_is_open_is_no_longer_put_off() -> None:
    assert "replace board" in proposed(advice("deferred shield", "opened shield"))


def test_going_on_is_worth_less_without_a_part_and_as_much_when_it_is_only_put_off() -> None:
    plain = device([part("board", SWAP, base=0.5, used="EUR 20")], [wanted("starts", "board")], [tried("starts")])

    def best(*lines: str) -> Ranked:
        return advise(plain, log(plain, *BROKEN, *lines), bench()).best

    assert best().move.name == "replace board"
    assert best("lacks part board").move.kind == "part-out"
    assert best("lacks part board").worth == 25.0
    later = best("deferred board")
    assert (later.move.name, later.move.log, later.why) == ("wait board", "resumed board", "Not now: board.")
    assert later.worth == best().worth > 100.0


def test_it_waits_only_when_nothing_else_is_worth_more_than_a_way_out() -> None:
    assert advice("deferred lens").best.move.kind not in ("wait", "part-out", "sell-as-is")


def test_undoing_the_line_lifts_it_too() -> None:
    assert "replace keys" in proposed(advice("lacks part keys", "undid 3"))


def test_a_part_on_order_is_waited_for_and_not_bought_again() -> None:
    """Meanwhile the rest goes on; what is here costs nothing more, and its line books nothing more."""
    ordered = "ordered board used from northparts for EUR 20 due 2026-12-03"
    given = advice(ordered)
    assert reasons(given)["replace board"] == "On order: board from northparts, due 2026-12-03."
    assert "replace board" not in proposed(given)
    waiting = next(one.move for one in given.ranked if one.move.kind == "wait")
    assert waiting.log == "arrived board"
    assert waiting.do == "Wait for the board that is on order. Then: replace (board, used)"
    here = advice(ordered, "arrived board", at=bench(stock={"board": InStock("used", 0.0)}))
    assert here.best.move.log == "fitted board from used"
    assert here.best.move.materials == 0.0
    assert "replace board" in proposed(advice("ordered board used from northparts for EUR 20", "released board"))


# --- quarantine ---


def test_in_quarantine_nothing_is_proposed_but_its_end() -> None:
    given = advice("quarantined unit -- insects")
    assert [one.move.kind for one in given.ranked] == ["wait"]
    assert given.best.move.log == "cleared unit"
    assert given.best.move.do.startswith("Keep it apart until the reason is gone. Then: ")
    assert given.best.why == "In quarantine: insects."
    assert set(reasons(given).values()) == {"In quarantine: insects."}
    assert proposed(advice("quarantined unit -- insects", "cleared unit")) == proposed(advice())


def test_a_wet_unit_is_dried_in_quarantine_and_a_hurt_cell_goes_out() -> None:
    given = advice("past wet", "quarantined unit -- damp")
    assert [one.move.kind for one in given.ranked] == ["dry", "wait"]
    assert given.best.move.log == "dried unit"
    cell = replace(BOX, parts={**BOX.parts, "keys": replace(BOX.parts["keys"], hazards=("cell",))})
    told = log(cell, *BROKEN, "saw keys swollen", "quarantined unit -- smells sweet")
    kinds = [(one.move.kind, one.move.target) for one in advise(cell, told, bench()).ranked]
    assert kinds[0] == ("take-out", "keys")
    assert {kind for kind, _ in kinds} == {"take-out", "wait"}
