"""Work that a practised hand would not do: each test is one such waste, and fails if the planner does it again."""

from __future__ import annotations

import pytest
from small import bench, device, found, log, part, remedy, step, tried, wanted

from knowngood.plan.choose import Ranked, advise

SWAP = remedy("replace", part=True, minutes=2.0)
NAMES = ("sings", "glows", "spins")
BOX = device(
    [part("board", SWAP, base=0.3, used="EUR 60", behind="lid"), *(part(f"{one}-part", base=0.002) for one in NAMES)],
    [wanted("starts", "board"), *(wanted(one, f"{one}-part") for one in NAMES)],
    [tried("starts"), *(tried(one) for one in NAMES)],
    [step("lid", 6.0, 4.0)],
)
ALL = ("starts", *NAMES)


def ranked(*lines: str) -> list[Ranked]:
    return list(advise(BOX, log(BOX, *lines), bench()).ranked)


def test_nothing_is_shown_for_a_sale_while_it_is_open() -> None:
    """Closing it is an act after which all has to be shown again, so it is closed first."""
    mended = ("tried starts fails", "opened lid", "fitted board from used for EUR 60", "tried starts works")
    assert ranked(*mended)[0].move.kind == "close"
    assert ranked(*mended, "closed all")[0].move.kind == "try"


def test_nothing_is_shown_for_a_sale_while_something_is_known_to_fail() -> None:
    for shown in ((), ("tried sings works",)):
        assert ranked(*shown, "tried starts fails")[0].move.target == "board"


def test_a_part_that_is_probably_at_fault_is_tested_before_it_is_replaced() -> None:
    """The test has the way to it no more to itself than the part of EUR 60 has, and tells for a minute."""
    pair = device(
        [part(name, SWAP, base=base, used="EUR 60", behind="lid") for name, base in (("left", 0.3), ("right", 0.15))],
        [wanted("starts", "left", "right")],
        [tried("starts"), found("tap", "left", behind="lid")],
        [step("lid", 6.0, 4.0)],
    )
    best = advise(pair, log(pair, "tried starts fails"), bench()).best.move
    assert (best.name, best.opens) == ("test tap", ("lid",))


@pytest.mark.parametrize(("cures", "price"), [(0.15, 20), (0.3, 40), (0.5, 70)])
def test_a_plug_is_reseated_before_it_is_replaced(cures: float, price: int) -> None:
    """A minute may save the dear part; if it does not help, the dear part is still there to be bought."""
    reseat = remedy("reseat", cures, minutes=1.0)
    lamp = device(
        [part("plug", reseat, SWAP, base=0.3, used=f"EUR {price}"), part("board", base=0.02)],
        [wanted("starts", "plug", "board")],
        [tried("starts")],
    )
    seen = ("tried starts fails", "saw plug fine", "saw board fine")
    assert advise(lamp, log(lamp, *seen), bench()).best.move.log == "mended plug reseat"
    in_vain = (*seen, "mended plug reseat", "tried starts fails", "saw plug fine")
    assert advise(lamp, log(lamp, *in_vain), bench()).best.move.name == "replace plug"


def test_what_the_map_does_not_know_ends_the_job_and_is_named() -> None:
    """Where all that the map knows was cleared or replaced and it still fails, no more is done, and it is said why."""
    pair = [part(name, SWAP, base=0.1, used="EUR 20") for name in ("board", "lamp")]
    small = device(pair, [wanted("starts", "board", "lamp")], [tried("starts")])
    renewed = ("tried starts fails", "fitted board from new", "fitted lamp from new", "tried starts fails")
    cleared = ("saw board fine", "saw lamp fine")
    best = advise(small, log(small, *renewed, *cleared), bench()).best
    assert best.move.act.ends
    assert "Something that this map does not know is 8" in best.why
    assert "most likely in: starts" in best.why
    before = advise(small, log(small, "tried starts fails"), bench()).ranked
    assert not any("does not know" in one.why for one in before)
