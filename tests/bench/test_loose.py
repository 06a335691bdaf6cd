"""Loose parts on the shelf, and what replaces a part whose mark was seen."""

from __future__ import annotations

import pytest

from knowngood.bench import loose, marks, questions, work
from knowngood.bench.store import Store
from knowngood.errors import LineError
from knowngood.log import events as ev

MAP = "some-mains-device"


@pytest.fixture
def mains(store: Store) -> str:
    return work.new_unit(store, MAP, "EUR 20")


def left(store: Store) -> dict[str, int]:
    return {name: lot.left for name, lot in loose.lots(store).items()}


def found(store: Store, unit: str, mark: str, part: str = "io-buck") -> marks.Proposal:
    """The first meaning of a mark on a burnt part."""
    [line] = work.log_lines(store, unit, [f"saw {part} burnt marked {mark}"])
    return marks.marks_of(store, unit, [line.seq])[0].proposals[0]


def taken(store: Store, unit: str, mark: str, part: str = "io-buck") -> tuple[str, list[str]]:
    instead = found(store, unit, mark, part).replacement
    assert instead is not None
    return instead.how, [one.id for one in instead.offers]


@pytest.mark.parametrize(
    ("typed", "line"),
    [
        ("25 10R resistors 1% 0805 in drawer 3", "stocked 25 x resistor 10 ohm 1 % 0805 in drawer 3"),
        ("10x10R", "stocked 10 x resistor 10 ohm"),
        ("Stocked 2x cap 1uF -- from an old lab", "stocked 2 x capacitor 1 uF -- from an old lab"),
        ("used s4", "used 1 of S4"),
        ("Used 3 x S4 -- lost", "used 3 of S4 -- lost"),
    ],
)
def test_a_line_about_loose_parts_has_one_form(typed: str, line: str) -> None:
    assert ev.render(loose.parse(typed)) == line
    assert loose.parse(line) == loose.parse(typed)


def test_the_count_follows_the_logs(store: Store, mains: str) -> None:
    work.bench_set(store, "rate-floor", "11")
    loose.change(store, ["5 x resistor 10 ohm", "used 1 of S2"])
    work.log_lines(store, mains, ["used 2 of S2 on io-buck", "used S2"])
    assert left(store) == {"S2": 1}
    work.undo(store, mains)
    assert left(store) == {"S2": 2}
    work.redo(store, mains)
    loose.change(store, ["undid 3"])
    assert left(store) == {"S2": 2}
    assert work.bench_settings(store).rate_floor.major == 11


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ("x", r"'x' is not understood\. Write: stocked COUNT x KIND VALUE"),
        ("0 x resistor 10 ohm", "is not understood"),
        ("9999999 x resistor 10 ohm", "is not understood"),
        ("2 x resistor 10", "'2 x resistor 10': 'resistor 10' has no value"),
        ("used 6 of S1", r"S1 \(resistor 10 ohm\) has 5 left"),
        ("used S7", "no lot 'S7' on the shelf"),
        ("undid 7", "line 7 of the bench's log is none about loose parts that holds"),
        ("redid 1", "line 1 of the bench's log was not undone"),
    ],
)
def test_one_wrong_line_and_nothing_is_stored(store: Store, wrong: str, message: str) -> None:
    loose.change(store, ["5 x resistor 10 ohm"])
    with pytest.raises(LineError, match=message):
        loose.change(store, ["9 x resistor 22 ohm", wrong])
    assert left(store) == {"S1": 5}


def test_nothing_is_used_that_is_not_there(store: Store, mains: str) -> None:
    loose.change(store, ["2 x resistor 10 ohm"])
    with pytest.raises(LineError, match=r"Line 2 of 2: .*S1 \(resistor 10 ohm\) has 1 left"):
        work.log_lines(store, mains, ["used 1 of S1", "used 2 of S1"])
    work.log_lines(store, mains, ["used 1 of S1"])
    with pytest.raises(LineError, match=r"1 of S1 were used\. Take these lines back first"):
        loose.change(store, ["undid 1"])
    work.undo(store, mains)
    loose.change(store, ["used 2 of S1"])
    with pytest.raises(LineError, match="has 0 left"):
        work.redo(store, mains)
    loose.change(store, ["undid 2", "used 1 of S1"])
    with pytest.raises(LineError, match=r"'used 2 of S1': S1 .* has 1 left"):
        loose.change(store, ["redid 2"])
    with pytest.raises(LineError, match=r"S1 is a lot of loose parts\. Log 'used 1 of S1 on io-buck'"):
        work.log_lines(store, mains, ["fitted io-buck from S1"])


def test_stocking_is_no_setting_that_changed_the_advice(store: Store, mains: str) -> None:
    loose.change(store, ["2 x resistor 10 ohm"])
    assert questions.why_of(store, mains)[0].settings == ()


# ---- what replaces a part ----


def test_the_same_value_goes_before_two_together_and_those_before_nothing(store: Store, mains: str) -> None:
    loose.change(store, ["1 x resistor 20 ohm", "3 x resistor 4.7 ohm"])
    assert found(store, mains, "resistor 10R").replacement is None  # one alone makes no pair; 9.4 is 6 % off
    loose.change(store, ["1 x resistor 20 ohm 1 W"])
    assert taken(store, mains, "resistor 10R") == ("in parallel", ["S3", "S1"])  # of S3 more is known
    loose.change(store, ["1 x resistor 9.76 ohm"])
    assert taken(store, mains, "resistor 10R") == ("one part", ["S4"])
    loose.change(store, ["1 x resistor 10 ohm", "used S4"])
    assert taken(store, mains, "resistor 10R") == ("one part", ["S5"])


def test_what_speaks_against_a_part_keeps_it_out_and_is_said(store: Store, mains: str) -> None:
    loose.change(store, ["9 x resistor 10 ohm 5 %", "9 x cap 10uF 16V"])
    proposal = found(store, mains, "resistor 10R 1%")
    assert proposal.replacement is None
    assert [(one.id, why) for one, why in proposal.near] == [("S1", "tolerance 5 %, above 1 %")]
    assert proposal.buy == "resistor 10 ohm 1 %"
    assert found(store, mains, "10uF 25V").near[0][1] == "voltage 16 V, below 25 V"
    assert taken(store, mains, "10uF 10V") == ("one part", ["S2"])


def test_a_jumper_is_replaced_by_a_jumper_only(store: Store, mains: str) -> None:
    loose.change(store, ["9 x resistor 0.1 ohm"])
    assert found(store, mains, "resistor 000").replacement is None
    loose.change(store, ["9 x jumper 0 ohm"])
    assert taken(store, mains, "resistor 000") == ("one part", ["S2"])


def test_a_harvested_part_counts_if_it_was_seen_fine_with_its_mark(store: Store, mains: str) -> None:
    donor = work.new_unit(store, MAP, "EUR 5", donor=True)
    work.log_lines(store, donor, ["saw io-ceramics fine marked 104", "harvested io-ceramics"])
    assert taken(store, mains, "104", "io-ceramics") == ("one part", ["D1 io-ceramics"])
    other = work.new_unit(store, MAP, "EUR 5", donor=True)
    work.log_lines(store, other, ["saw io-buck fine marked 10R", "harvested io-buck"])
    [offer] = found(store, mains, "resistor 10R").replacement.offers  # type: ignore[union-attr]
    assert (offer.id, offer.unsure) == ("D2 io-buck", "if 10R is to be read so; measure it")
    work.log_lines(store, other, ["undid 3", "saw io-buck cracked", "harvested io-buck"])
    assert found(store, mains, "resistor 10R").replacement is None


def test_a_mark_is_told_until_the_part_is_another(store: Store, mains: str) -> None:
    work.log_lines(store, mains, ["saw io-buck burnt marked 10R", "saw io-buck burnt marked 10R", "saw fuse fine"])
    assert [(one.seq, one.mark) for one in marks.marks_of(store, mains)] == [(3, "10R")]
    work.log_lines(store, mains, ["fitted io-buck from new"])
    assert marks.marks_of(store, mains) == []
