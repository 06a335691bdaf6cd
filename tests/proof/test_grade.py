"""The grade from the facts, what a person's grade does to it, and what of the flaws is left after work on them."""

from __future__ import annotations

from datetime import date

import pytest

from knowngood.belief.believe import believe
from knowngood.log import events as ev
from knowngood.log.state import Line, Replay, replay
from knowngood.maps import load
from knowngood.maps.words import CONDITIONS
from knowngood.proof.account import Claim, account
from knowngood.proof.flaws import looks, outside
from knowngood.proof.grade import BROKEN, LIGHT, MEANS, ORDER, Graded, grade
from knowngood.proof.safety_test import Instrument, safety_test
from knowngood.proof.standing import standing

DEVICE = load("some-battery-device")
PROJECTOR = load("ceiling-projector")
ALL_WORK = [f"{test.verb} {test.id} {test.outcomes[0]}" for test in DEVICE.tests.values() if test.verb == "tried"]
ALL_FINE = [f"saw {part.id} fine" for part in outside(DEVICE)]
FLUXA = Instrument("fluxa", date(2026, 3, 1), 0.05, 12)


def told(*texts: str, device=DEVICE) -> Replay:  # type: ignore[no-untyped-def]
    first = f"bought {device.id} for EUR 9"
    lines = [Line(seq, "2026-06-01T10:00:00Z", ev.parse(text)) for seq, text in enumerate([first, *texts], start=1)]
    log = replay(device, lines)
    assert not log.flags
    return log


def graded(*texts: str) -> Graded:
    log = told(*texts)
    belief = believe(DEVICE, log)
    return grade(DEVICE, log, standing(belief, log), safety_test(DEVICE, log, [FLUXA]), belief.wanted)


def claims(*texts: str, device=DEVICE) -> list[Claim]:  # type: ignore[no-untyped-def]
    log = told(*texts, device=device)
    belief = believe(device, log)
    stands, test = standing(belief, log), safety_test(device, log, [FLUXA])
    return list(account(device, log, stands, test, {"S3": "resistor 10 ohm"}, belief.wanted))


def said(subject: str, *texts: str) -> list[tuple[str, tuple[int, ...]]]:
    return [(one.says, one.lines) for one in claims(*texts) if one.subject == subject]


def test_every_grade_is_explained_and_every_condition_counts_once() -> None:
    assert set(MEANS) == set(ORDER)
    assert CONDITIONS.keys() >= LIGHT | BROKEN
    assert not LIGHT & BROKEN


@pytest.mark.parametrize(
    ("more", "by_facts", "reason"),
    [
        ([], "unmarked", None),
        (["saw back-cover scratched"], "marked", "scratched"),
        (["saw back-cover scratched severe"], "scarred", "severe scratched"),
        (["saw back-cover cracked"], "scarred", "cracked"),
        (["saw back-cover cracked slight"], "marked", "slight cracked"),
        (["saw back-cover broken-off"], "faulty", "broken-off"),
        (["saw main-board corroded"], "scarred", "inside: corroded"),
        (["saw main-board dusty"], "unmarked", None),
        (["declared sound"], "faulty", "declared as not working: sound"),
        (["tried sound weak"], "unproved", "does not work fully: sound"),
    ],
)
def test_the_gravest_fact_decides(more: list[str], by_facts: str, reason: str | None) -> None:
    found = graded(*ALL_FINE, *ALL_WORK, *more)
    assert found.by_facts == found.grade == by_facts
    assert not found.not_looked
    if reason is None:
        assert found.reasons == ()
    else:
        assert reason in found.reasons[0].says
        assert found.reasons[0].lines == (1 + len(ALL_FINE) + len(ALL_WORK) + 1,)


def test_what_nobody_looked_at_is_not_called_unmarked() -> None:
    found = graded(*ALL_FINE[1:], *ALL_WORK)
    assert (found.by_facts, found.not_looked) == ("marked", (outside(DEVICE)[0].id,))
    assert "not all of the outside was looked at" in found.reasons[0].says


def test_work_on_it_makes_all_unproved_until_it_is_tried_again() -> None:
    work = ["opened back-off", "mended pack-plug reseat", "closed all"]
    before = graded(*ALL_FINE, *ALL_WORK, *work)
    assert before.by_facts == "unproved"
    assert before.reasons[0].says.startswith("not shown to work since the last act on it")
    assert graded(*ALL_FINE, *work, *ALL_WORK).by_facts == "unmarked"


def test_a_persons_grade_wins_and_facts_that_do_not_go_with_it_are_named() -> None:
    log = [*ALL_FINE, *ALL_WORK, "saw back-cover cracked"]
    better = graded(*log, "graded marked -- one cannot see it from the front")
    assert (better.grade, better.by_facts, better.why) == ("marked", "scarred", "one cannot see it from the front")
    assert [one.says for one in better.against] == [f"{DEVICE.parts['back-cover'].what}: cracked"]
    worse = graded(*log, "graded faulty -- smells of smoke")
    assert (worse.grade, worse.against) == ("faulty", ())


def left(*texts: str) -> list[tuple[str, str, bool]]:
    found = looks(PROJECTOR, told(*texts, device=PROJECTOR))
    return [(one.part, one.condition, one.mended is not None) for one in found.flaws]


def test_a_remedy_ends_the_flaws_it_is_against_and_no_others() -> None:
    assert left("saw top-cover dented", "saw top-cover scratched", "mended top-cover bend-back") == [
        ("top-cover", "dented", True),
        ("top-cover", "scratched", False),
    ]
    assert left("saw top-cover dented", "fitted top-cover from used") == []
    assert left("saw lamp-door-tab broken-off", "fitted lamp-door from used") == []  # it sits in the door
    assert left("saw top-cover dented", "saw top-cover fine glance") == [("top-cover", "dented", False)]
    assert left("saw top-cover dented", "saw top-cover fine") == []
    assert left("saw optical-engine wet", "dried unit") == []


def test_a_connection_made_again_is_seated() -> None:
    again = ["opened board-up", "saw green-flex-socket unseated", "saw green-flex-socket corroded"]
    assert ("green-flex-socket", "unseated", False) in left(*again)
    assert left(*again, "closed all") == [("green-flex-socket", "corroded", False)]


def test_each_function_is_claimed_by_its_last_test_or_not_at_all() -> None:
    assert ("sound (tried 2026-06-01)", (2,)) in said("works", "tried sound works")
    assert not said("works", "tried sound works", "opened back-off", "closed all")
    assert ("sound: not tried since the last work on it (last on 2026-06-01)", (2,)) in said(
        "not-shown", "tried sound works", "opened back-off", "closed all"
    )
    assert not said("works", "opened back-off", "tried sound works")  # shown with the case open
    assert said("not-working", "tried sound weak", "declared takes-pictures") == [
        ("camera takes pictures: declared as not working", (3,)),
        ("sound: works only in part (tried 2026-06-01)", (2,)),
    ]
    assert ("starts: not tried", ()) in said("not-shown", "tried sound works")


def test_what_a_fault_hides_is_said_to_be_hidden() -> None:
    hidden = [says for says, _ in said("not-shown", "tried starts fails")]
    assert any(says.startswith("sound: nobody can tell, because of: ") and "starts" in says for says in hidden)


def test_repairs_name_where_parts_came_from_and_end_with_the_part() -> None:
    found = said("repaired", "used 2 of S3 on main-board", "fitted touch from new")
    assert [says for says, _ in found] == [
        f"{DEVICE.parts['main-board'].what}: 2 x resistor 10 ohm from stock (2026-06-01)",
        f"{DEVICE.parts['touch'].what}: a new one was fitted (2026-06-01)",
    ]
    assert said("repaired", "mended pack-plug reseat", "fitted pack-plug from used") == [
        (f"{DEVICE.parts['pack-plug'].what}: a used one was fitted (2026-06-01)", (3,))
    ]


def test_what_is_missing_does_not_come_along() -> None:
    found = claims("saw remote-control missing", "harvested air-filter", device=PROJECTOR)
    assert [one.says for one in found if one.subject == "not-along"] == ["Remote control", "Filter tray with filter"]
    assert not [one for one in found if one.subject == "comes-along"]
    found = claims("saw remote-control fine", "stated cord detachable 1.8 m", device=PROJECTOR)
    assert [one.says for one in found if one.subject == "comes-along"] == ["Mains cord, 1.8 m", "Remote control"]


def test_a_seal_that_was_opened_is_told() -> None:
    found = claims("opened engine-open", device=PROJECTOR)
    assert any("do not count on it being tight" in one.says and one.lines == (2,) for one in found)
