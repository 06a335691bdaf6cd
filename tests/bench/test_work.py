"""What a person does at the bench: typed lines, undo, donors, the shelf."""

from __future__ import annotations

import numpy as np
import pytest

from knowngood.belief import priors
from knowngood.belief.believe import believe
from knowngood.bench import donors, work
from knowngood.bench.stock import stock
from knowngood.bench.store import Store
from knowngood.errors import ContradictionError, KnowngoodError, LineError, NotFoundError, QuantityError
from knowngood.log import events as ev
from knowngood.log.state import replay

MAP = "ceiling-projector"


def texts(store: Store, unit: str) -> list[str]:
    return [ev.render(line.event) for line in store.lines(unit)]


def on_shelf(store: Store) -> list[tuple[str, str]]:
    return [(one.part, one.unit) for one in stock(store)]


# ---- buying and logging ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("map_name", "paid", "past", "error", "message"),
    [
        ("ceiling-projecter", "EUR 5", [], NotFoundError, "Similar: 'ceiling-projector'"),
        (MAP, "5", [], QuantityError, "Write the currency's code first"),
        (MAP, "USD 5", [], LineError, "USD 5 is not in EUR, the bench's currency"),
        (MAP, "EUR 5", ["droped"], LineError, "No past 'droped'. Similar: 'dropped'"),
    ],
)
def test_a_purchase_that_is_wrong_stores_nothing(
    store: Store, map_name: str, paid: str, past: list[str], error: type[KnowngoodError], message: str
) -> None:
    with pytest.raises(error, match=message):
        work.new_unit(store, map_name, paid, past)
    assert store.units() == []


def test_shorthand_is_stored_as_the_canonical_line(store: Store, unit: str) -> None:
    stored = work.log_lines(store, "u1", ["exhaust fan missing", "", "opened cover-off", "rail-12v 0.03"])
    assert [line.seq for line in stored] == [2, 3, 4]
    assert texts(store, unit)[1:] == ["saw exhaust-fan missing", "opened cover-off", "read rail-12v 0.03 V"]


def test_each_line_is_understood_after_those_before_it(store: Store, unit: str) -> None:
    work.log_lines(store, unit, ["opened cover-off", "undid 2", "opened cover-off", "closed all"])
    device, told = work.replayed(store, unit)
    assert told.flags == ()
    assert told.state.closed
    assert device.id == MAP


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ("exhaust fan mising", "Line 2 of 3: .* Nothing was stored"),
        ("opened cover-off", "'opened cover-off': 'cover-off' is open already"),
        ("undo", "'undo' is a command of its own"),
        ("Redo", "'Redo' is a command of its own"),
        ("bought x for EUR 3", "U1 was bought already"),
        ("paid USD 3 for tape", "USD 3 is not in EUR, the currency U1 was bought in"),
        ("undid 9", "there is no line 9 in U1 that holds"),
        ("undid 1", "there is no line 1 in U1 that holds"),
        ("redid 1", "line 1 of U1 was not undone"),
        ("noted a\x07", "is not text"),
        ("fitted lamp-door from U1", "that is this unit. For the part that came out of it write 'from back'"),
        ("fitted lamp-door from U7", "no unit 'U7'.*There are: 'back', 'new', 'used'"),
    ],
)
def test_one_wrong_line_and_none_is_stored(store: Store, unit: str, wrong: str, message: str) -> None:
    with pytest.raises(LineError, match=message):
        work.log_lines(store, unit, ["opened cover-off", wrong, "noted after"])
    assert len(store.lines(unit)) == 1


def test_a_single_wrong_line_is_not_numbered(store: Store, unit: str) -> None:
    with pytest.raises(LineError, match=r"^No condition 'mising'\. Similar: 'missing'") as caught:
        work.log_lines(store, unit, ["saw exhaust-fan mising"])
    assert caught.value.similar[0] == "missing"
    with pytest.raises(LineError, match="There is no line to log"):
        work.log_lines(store, unit, ["  ", ""])


# ---- undo -----------------------------------------------------------------------------------------------------------


def test_undo_and_redo_step_back_and_forth(store: Store, unit: str) -> None:
    work.log_lines(store, unit, ["opened cover-off", "exhaust fan missing"])
    taken = [ev.render(work.undo(store, unit).event) for _ in range(2)]
    assert taken == ["undid 3", "undid 2"]
    assert work.replayed(store, unit)[1].state.closed
    with pytest.raises(LineError, match="nothing to undo in U1: only its purchase is left"):
        work.undo(store, unit)
    again = [ev.render(work.redo(store, unit).event) for _ in range(2)]
    assert again == ["redid 2", "redid 3"]
    with pytest.raises(LineError, match="nothing to redo in U1"):
        work.redo(store, unit)
    assert work.replayed(store, unit)[1].state.seen == {"exhaust-fan": ("missing",)}
    assert len(store.lines(unit)) == 7


def test_a_later_line_that_no_longer_fits_is_kept_and_flagged(store: Store, unit: str) -> None:
    work.log_lines(store, unit, ["opened cover-off", "closed all", "undid 2"])
    _, told = work.replayed(store, unit)
    assert [(flag.seq, flag.message) for flag in told.flags] == [(3, "Nothing is open.")]
    assert len(store.lines(unit)) == 4


# ---- donors and the shelf -------------------------------------------------------------------------------------------


def test_a_part_goes_from_its_donor_over_the_shelf_into_a_unit(store: Store, unit: str, donor: str) -> None:
    work.log_lines(store, donor, ["harvested lamp-door"])
    [part] = stock(store)
    assert (part.part, part.what, part.unit, part.seq, part.map_name) == ("lamp-door", "Lamp door", "D1", 2, MAP)
    work.log_lines(store, unit, ["swapped lamp door from d1 for EUR 8"])
    assert texts(store, unit)[-1] == "fitted lamp-door from D1 for EUR 8"
    assert on_shelf(store) == []
    work.undo(store, unit)
    assert on_shelf(store) == [("lamp-door", "D1")]
    work.redo(store, unit)
    assert on_shelf(store) == []


def test_a_part_cannot_be_fitted_twice_or_from_where_it_was_not_taken(store: Store, unit: str, donor: str) -> None:
    with pytest.raises(LineError, match=r"D1 gave no 'lamp-door'\. On the shelf from D1: nothing\. Log 'harvested"):
        work.log_lines(store, unit, ["fitted lamp-door from D1"])
    work.log_lines(store, donor, ["harvested lamp-door", "harvested air-filter"])
    other = work.new_unit(store, MAP, "EUR 9")
    with pytest.raises(LineError, match=r"Line 2 of 2: .*'lamp-door' of D1 is in U2 now\. On the shelf from D1: air"):
        work.log_lines(store, other, ["fitted lamp-door from D1", "fitted lamp-door from D1"])
    work.log_lines(store, unit, ["fitted lamp-door from D1"])
    work.undo(store, unit)
    work.log_lines(store, other, ["fitted lamp-door from D1"])
    with pytest.raises(LineError, match="'lamp-door' of D1 is in U2 now"):
        work.redo(store, unit)
    with pytest.raises(LineError, match="'lamp-door' of D1 is in U2 now"):
        work.log_lines(store, unit, ["redid 2"])


def test_new_used_and_back_need_no_unit(store: Store, unit: str) -> None:
    work.log_lines(store, unit, ["fitted lamp-door from NEW", "fitted air-filter from used", "removed exhaust-fan"])
    work.log_lines(store, unit, ["fitted exhaust-fan from Back"])
    assert [text.rpartition(" ")[2] for text in texts(store, unit)[1:]] == ["new", "used", "exhaust-fan", "back"]
    assert donors.donor_priors(store, unit) == {}


def test_a_harvested_part_that_goes_back_into_its_own_unit_leaves_the_shelf(store: Store, donor: str) -> None:
    work.log_lines(store, donor, ["harvested lamp-door", "fitted lamp-door from back"])
    assert on_shelf(store) == []
    assert donors.donor_priors(store, donor) == {}


def test_a_harvest_taken_back_flags_the_unit_that_has_the_part(store: Store, unit: str, donor: str) -> None:
    work.log_lines(store, donor, ["harvested lamp-door"])
    work.log_lines(store, unit, ["fitted lamp-door from D1"])
    work.undo(store, donor)
    flags = work.replayed(store, unit)[1].flags
    assert [flag.seq for flag in flags] == [2]
    assert "The log of D1 no longer has 'lamp-door' leaving it" in flags[0].message
    assert donors.donor_priors(store, unit) == {}
    # Logged again it is the same part, though that line is younger than the one that fitted it.
    work.log_lines(store, donor, ["harvested lamp-door"])
    assert work.replayed(store, unit)[1].flags == ()
    assert on_shelf(store) == []


def test_a_part_brings_along_what_its_donor_s_log_says_of_it(store: Store, unit: str, donor: str) -> None:
    work.log_lines(store, donor, ["saw lamp-door cracked", "harvested lamp-door", "saw air-filter missing"])
    work.log_lines(store, unit, ["fitted lamp-door from D1"])
    prior = donors.donor_priors(store, unit)[2]
    device = store.device(unit)
    lines = store.lines(donor)
    then = believe(device, replay(device, lines[:2]))
    expected = then.posterior[then.story.now["lamp-door"]][0].copy()
    expected[device.parts["lamp-door"].states.index("missing")] = 0
    np.testing.assert_allclose(prior, expected / expected.sum())
    with_prior = {one.part: one.p_bad for one in donors.belief(store, unit).suspects}
    without = {one.part: one.p_bad for one in believe(device, work.replayed(store, unit)[1]).suspects}
    assert with_prior["lamp-door"] > 2 * without["lamp-door"]


def test_a_past_learned_late_counts_for_the_part_that_left_before(store: Store, unit: str, donor: str) -> None:
    work.log_lines(store, donor, ["harvested main-board"])
    work.log_lines(store, unit, ["fitted main-board from D1"])
    before = donors.donor_priors(store, unit)[2]
    work.log_lines(store, donor, ["past wet"])
    assert donors.donor_priors(store, unit)[2][0] < before[0]


def test_a_part_that_moved_twice_carries_what_both_logs_say(store: Store, unit: str, donor: str) -> None:
    between = work.new_unit(store, MAP, "EUR 9")
    work.log_lines(store, donor, ["saw lamp-door cracked", "harvested lamp-door"])
    work.log_lines(store, between, ["fitted lamp-door from D1", "harvested lamp-door"])
    work.log_lines(store, unit, ["fitted lamp-door from U2"])
    assert donors.donor_priors(store, unit)[2][0] == pytest.approx(donors.donor_priors(store, between)[2][0], abs=1e-3)


def test_parts_that_went_in_a_circle_come_to_an_end(store: Store, unit: str) -> None:
    other = work.new_unit(store, MAP, "EUR 9")
    work.log_lines(store, unit, ["harvested lamp-door"])
    work.log_lines(store, other, ["fitted lamp-door from U1", "harvested lamp-door"])
    work.log_lines(store, unit, ["fitted lamp-door from U2", "undid 2"])
    work.log_lines(store, unit, ["harvested lamp-door"])
    work.replayed(store, unit)
    for one in (unit, other):
        for prior in donors.donor_priors(store, one).values():
            assert prior.sum() == pytest.approx(1)


def test_states_are_carried_over_by_name(store: Store, unit: str) -> None:
    part = store.device(unit).parts["lamp-door"]
    carried = donors.as_fitted({"fine": 0.5, "shell-cracked": 0.1, "missing": 0.3, "of-another-map": 0.1}, part)
    assert carried is not None
    assert dict(zip(part.states, carried, strict=True)) == pytest.approx(
        {state: {"fine": 5 / 6, "shell-cracked": 1 / 6}.get(state, 0) for state in part.states}
    )
    assert donors.as_fitted({"missing": 1.0}, part) is None


def test_a_contradiction_in_a_donor_s_log_names_the_donor(
    store: Store, unit: str, donor: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    work.log_lines(store, donor, ["saw lamp-door fine", "harvested lamp-door"])
    work.log_lines(store, unit, ["fitted lamp-door from D1"])

    def contradicted(*_: object, **__: object) -> None:
        raise ContradictionError("These lines cannot all be true.", [2])

    monkeypatch.setattr(donors, "believe", contradicted)
    with pytest.raises(ContradictionError, match="In D1, where 'lamp-door' came from: These lines"):
        donors.belief(store, unit)


def test_a_part_on_the_shelf_is_as_likely_fine_as_its_unit_s_log_says(
    store: Store, donor: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    work.log_lines(
        store, donor, ["past dropped", "harvested lamp-door", "tried fans-turn fails", "harvested exhaust-fan"]
    )
    door, fan = sorted(stock(store), key=lambda one: one.seq)
    told = donors.on_shelf(store, [door, fan])
    slot = store.device(donor).parts["exhaust-fan"]
    assert told[fan][0] < priors.bought(slot, ["dropped"])[0] - 0.05  # a fan that did not turn
    monkeypatch.setattr(donors, "NOTHING_FOUND", ())  # the same by the whole network
    assert donors.on_shelf(store, [door])[door] == pytest.approx(told[door], abs=1e-9)
