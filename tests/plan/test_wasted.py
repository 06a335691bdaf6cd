"""Work that a practised hand would not do: each test is one such waste, and fails if the planner does it again."""

from __future__ import annotations

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
