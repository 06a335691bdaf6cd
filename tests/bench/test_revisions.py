"""Revisions: which one a part is by the logs, what fits where, and what is said where it does not or is not known."""

from __future__ import annotations

import pytest

from knowngood.bench import questions, revisions, work
from knowngood.bench.stock import Logs, moves_about
from knowngood.bench.store import Store
from knowngood.errors import LineError
from knowngood.plan.terms import InStock

# On this map the place of a main board B takes an A, not the other way round; a C fits only where a C was.
MAP = "ceiling-projector"
PART = "main-board"


def offered(store: Store, unit: str) -> InStock | None:
    """What the planner is told of a main board on the shelf for this unit."""
    device, log = work.replayed(store, unit)
    return questions.terms_for(store, device, but_not=unit, log=log).stock.get(PART)


def shelf(store: Store) -> list[str | None]:
    moved = moves_about(store)
    return [revisions.Reader(Logs(store), moved).of(one) for one in moved.shelf]


@pytest.mark.parametrize(
    ("place", "came", "fits"), [("B", "A", True), ("A", "B", False), ("C", "C", True), ("B", "C", False)]
)
def test_a_part_of_a_known_revision_is_offered_and_fitted_only_where_it_fits(
    store: Store, unit: str, donor: str, place: str, came: str, fits: bool
) -> None:
    work.log_lines(store, donor, [f"identified {PART} as {came}", f"harvested {PART}"])
    work.log_lines(store, unit, [f"identified {PART} as {place}"])
    found = offered(store, unit)
    assert (found and (found.origin, found.remark)) == (("D1", "") if fits else None)
    if fits:
        work.log_lines(store, unit, [f"fitted {PART} from D1"])
        assert work.replayed(store, unit)[1].flags == ()
        return
    with pytest.raises(LineError) as caught:
        work.log_lines(store, unit, [f"fitted {PART} from D1"])
    takes = {"A": "A", "B": "B or A"}[place]
    assert str(caught.value) == (
        f"'fitted main-board from D1': This 'main-board' is revision {came}; the place of a {place} takes {takes}. "
        "If one was misread, log 'identified main-board as ...' again where it was read."
    )
    # What the person does all the same is logged as a used part.
    work.log_lines(store, unit, [f"fitted {PART} from used"])


@pytest.mark.parametrize("known", ["nothing", "place", "part"])
def test_where_one_of_two_revisions_is_not_known_it_is_offered_and_said(
    store: Store, unit: str, donor: str, known: str
) -> None:
    work.log_lines(store, donor, ["harvested lamp-door", f"harvested {PART}"])
    if known != "nothing":
        work.log_lines(store, unit if known == "place" else donor, [f"identified {PART} as C"])
    assert shelf(store) == [None, "C" if known == "part" else None]
    found = offered(store, unit)
    assert found
    assert found.remark == "revision not known"
    work.log_lines(store, unit, [f"fitted {PART} from D1"])
    assert work.replayed(store, unit)[1].flags == ()


def test_one_that_is_known_to_fit_is_offered_before_one_that_may(store: Store, unit: str, donor: str) -> None:
    other = work.new_unit(store, MAP, "EUR 9")
    work.log_lines(store, donor, [f"harvested {PART}"])
    work.log_lines(store, other, [f"harvested {PART}", f"identified {PART} as A"])
    work.log_lines(store, unit, [f"identified {PART} as B"])
    found = offered(store, unit)
    assert found
    assert (found.origin, found.remark) == (other, "")


def test_a_place_stays_what_it_was_bought_as(store: Store, unit: str, donor: str) -> None:
    """An A sits in the place of a B now; another B still fits there."""
    other = work.new_unit(store, MAP, "EUR 9")
    work.log_lines(store, donor, [f"identified {PART} as A", f"harvested {PART}"])
    work.log_lines(store, other, [f"identified {PART} as B", f"harvested {PART}"])
    work.log_lines(store, unit, [f"identified {PART} as B", f"fitted {PART} from D1", f"identified {PART} as A"])
    work.log_lines(store, unit, [f"fitted {PART} from {other}"])
    assert work.replayed(store, unit)[1].flags == ()


def test_what_is_read_later_flags_the_line_that_put_it_where_it_does_not_fit(
    store: Store, unit: str, donor: str
) -> None:
    work.log_lines(store, donor, [f"harvested {PART}"])
    work.log_lines(store, unit, [f"identified {PART} as B", f"fitted {PART} from D1"])
    assert work.replayed(store, unit)[1].flags == ()
    work.log_lines(store, donor, [f"identified {PART} as C"])
    log = work.replayed(store, unit)[1]
    assert [(flag.seq, flag.message) for flag in log.flags] == [
        (3, "This 'main-board' is revision C; the place of a B takes B or A. It counts as fitted all the same.")
    ]
    assert log.state.origin[PART] == "D1"
    work.log_lines(store, unit, [f"identified {PART} as A"])  # read again where it sits now
    assert work.replayed(store, unit)[1].flags == ()


def test_a_part_keeps_its_revision_through_two_units_and_a_new_one_has_none(
    store: Store, unit: str, donor: str
) -> None:
    between = work.new_unit(store, MAP, "EUR 9")
    work.log_lines(store, donor, [f"identified {PART} as C", f"harvested {PART}"])
    work.log_lines(store, between, [f"fitted {PART} from D1", f"harvested {PART}", f"fitted {PART} from new"])
    work.log_lines(store, between, [f"identified {PART} as A"])  # the new one
    assert shelf(store) == ["C"]
    work.log_lines(store, between, [f"harvested {PART}"])
    assert shelf(store) == ["C", "A"]


def test_parts_that_went_in_a_circle_have_no_revision_and_come_to_an_end(store: Store, unit: str) -> None:
    other = work.new_unit(store, MAP, "EUR 9")
    work.log_lines(store, unit, [f"harvested {PART}"])
    work.log_lines(store, other, [f"fitted {PART} from U1", f"harvested {PART}"])
    work.log_lines(store, unit, [f"fitted {PART} from U2", "undid 2", f"harvested {PART}"])
    moved = moves_about(store, ["U1"])
    assert [revisions.Reader(Logs(store), moved).of(came) for came in moved.taken.values()] == [None, None]
