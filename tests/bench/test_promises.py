"""A part that is reserved comes from where it is reserved, and goes to nobody else."""

from __future__ import annotations

import pytest

from knowngood.bench import questions, work
from knowngood.bench.reservations import reserved
from knowngood.bench.store import Store

PART = "exhaust-fan"


@pytest.fixture
def other(store: Store) -> str:
    return work.new_unit(store, "ceiling-projector", "EUR 45")


def offered(store: Store, unit: str) -> tuple[str, str]:
    """Line and remark of the move that puts another exhaust fan in."""
    advice = questions.advice_for(store, unit)[0]
    move = next(one.move for one in advice.ranked if one.move.name == f"replace {PART}")
    return move.log, move.remark


def test_a_reserved_part_comes_from_where_it_is_and_is_offered_to_nobody_else(
    store: Store, unit: str, other: str, donor: str
) -> None:
    for one in (unit, other):
        work.log_lines(store, one, [f"saw {PART} missing"])
    assert offered(store, unit)[0] == f"fitted {PART} from new for EUR 17"
    work.log_lines(store, unit, [f"reserved {PART} from {donor.lower()}"])
    assert reserved(store) == {(donor, PART): (unit,)}
    line, remark = offered(store, unit)
    assert line == f"fitted {PART} from D1"
    assert remark.endswith("; it is reserved and still in D1: harvest it there first.")
    work.log_lines(store, donor, [f"harvested {PART}"])
    assert offered(store, unit)[1].endswith("; it is reserved for this unit.")
    assert offered(store, other)[0] == f"fitted {PART} from new for EUR 17"
    work.log_lines(store, unit, [f"released {PART}"])
    assert offered(store, other)[0] == f"fitted {PART} from D1 for EUR 5"


def test_what_has_arrived_costs_nothing_more(store: Store, unit: str) -> None:
    work.log_lines(store, unit, [f"saw {PART} missing", f"ordered {PART} new from northparts for EUR 8"])
    work.log_lines(store, unit, [f"arrived {PART}"])
    assert offered(store, unit)[0] == f"fitted {PART} from new"


def test_what_is_reserved_and_gone_is_bought_again(store: Store, unit: str, donor: str) -> None:
    work.log_lines(store, donor, [f"removed {PART}"])
    work.log_lines(store, unit, [f"saw {PART} missing", f"reserved {PART} from {donor}"])
    assert offered(store, unit)[0] == f"fitted {PART} from new for EUR 17"
