"""What later lines settle of a unit's parts, told from what was seen and brought about."""

from __future__ import annotations

import pytest

from knowngood.belief.hindsight import Settled, first_hands_on, settled
from knowngood.log import events as ev
from knowngood.log.state import Line, Replay, replay
from knowngood.maps import load

DEVICE = load("ceiling-projector")
PROOF = tuple(f"tried {name} works" for name in DEVICE.wanted)


def told(*lines: str) -> Replay:
    given = ("bought ceiling-projector for EUR 45", *lines)
    return replay(DEVICE, [Line(seq, "", ev.parse(text)) for seq, text in enumerate(given, start=1)])


@pytest.mark.parametrize(
    ("lines", "found"),
    [
        (["saw exhaust-fan missing"], [Settled("exhaust-fan", True, "look", 2)]),
        (["saw exhaust-fan dusty"], []),
        (["saw exhaust-fan fine glance"], []),
        (["fitted exhaust-fan from new", "saw exhaust-fan missing"], []),
        (
            ["tried fans-turn fails", "mended exhaust-fan clean", "tried fans-turn works"],
            [Settled("exhaust-fan", True, "cured", 3)],
        ),
        (
            ["tried fans-turn weak", "fitted exhaust-fan from new", "tried fans-turn works"],
            [Settled("exhaust-fan", True, "cured", 3)],
        ),
        (["tried fans-turn fails", "mended exhaust-fan clean", "tried fans-turn fails"], []),
        (["mended exhaust-fan clean", "tried fans-turn works"], []),
        (["tried fans-turn fails", "removed exhaust-fan", "fitted exhaust-fan from back", "tried fans-turn works"], []),
        (
            [
                *("tried fans-turn fails", "mended exhaust-fan clean", "fitted intake-fan from new"),
                "tried fans-turn works",
            ],
            [],
        ),
        (
            [
                "mended exhaust-fan clean",
                "tried fans-turn fails",
                "fitted exhaust-fan from new",
                "tried fans-turn works",
            ],
            [],
        ),
        ([*PROOF, "sold as-is for EUR 85"], []),
        ([*PROOF[1:], "sold working for EUR 215"], []),
    ],
)
def test_a_part_is_settled_by_a_look_or_a_cure_of_its_own(lines: list[str], found: list[Settled]) -> None:
    assert settled(DEVICE, told(*lines)) == found


def test_a_proof_clears_what_was_never_touched() -> None:
    log = told(
        "saw front-bezel cracked",
        "opened lamp-out",
        "mended lamp-door-tab glue",
        "closed all",
        *PROOF,
        "sold working for EUR 9",
    )
    found = {one.part: one for one in settled(DEVICE, log)}
    assert found["ballast"] == Settled("ballast", False, "shown", 3)
    assert found["front-bezel"] == Settled("front-bezel", True, "look", 2)
    assert "lamp-door-tab" not in found
    assert not any(part in found for part in DEVICE.steps["lamp-out"].unplugs), "made again, so not as it was bought"


def test_hands_go_in_with_the_first_act() -> None:
    assert first_hands_on(told("saw exhaust-fan missing", "tried fans-turn fails", "opened cover-off")) == 4
    assert first_hands_on(told("noted nothing yet")) == 3
    assert first_hands_on(told("sold as-is for EUR 85")) == 2
