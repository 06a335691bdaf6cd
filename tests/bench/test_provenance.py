"""What is known of a part on the shelf: from the logs of the units it was in, and from nothing else."""

from __future__ import annotations

import re

import pytest

from knowngood.belief.priors import bought
from knowngood.bench import loose, provenance, reservations, work
from knowngood.bench.donors import Origins, on_shelf
from knowngood.bench.history import PAST_WORDS
from knowngood.bench.stays import stays
from knowngood.bench.stock import stock
from knowngood.bench.store import Store
from knowngood.errors import LineError, NotFoundError
from knowngood.maps.words import PASTS

MAP = "ceiling-projector"


def facts(store: Store, *words: str, map_name: str | None = None) -> list[provenance.Facts]:
    """Of what was asked for, first what is on the shelf."""
    found = provenance.stock_facts(store, provenance.narrowed(store, words, map_name)[0])
    return [*found.shelf, *found.inside]


def fact(store: Store, name: str) -> provenance.Facts:
    return facts(store, name)[0]


@pytest.mark.parametrize("words", [(), ("exhaust-fan", "lamp-door"), ("D1",)])
def test_a_part_of_the_list_is_that_part_of_the_whole(store: Store, words: tuple[str, ...]) -> None:
    for number in range(5):
        name = work.new_unit(store, MAP, "EUR 20", donor=number < 3)
        work.log_lines(store, name, ["harvested lamp-door", "harvested exhaust-fan"][: 1 + number % 2])
        if number > 2:
            work.log_lines(store, name, ["parted worth EUR 3"])
    asked = provenance.narrowed(store, words, None)[0]
    whole = provenance.stock_facts(store, asked)
    found: list[provenance.Stock] = []
    while not found or found[-1].more:
        found.append(provenance.stock_facts(store, asked, 2 * len(found), 2))
    for sort in ("shelf", "inside", "donors"):
        assert [one for part in found for one in getattr(part, sort)] == list(getattr(whole, sort))
        assert max(len(getattr(part, sort)) for part in found) <= 2
    assert len(found) == (max(len(whole.shelf), len(whole.inside), len(whole.donors)) + 1) // 2
    assert not whole.more


# ---- where it came from and where it lies ---------------------------------------------------------------------------


def test_a_harvested_part_lies_where_its_lines_say(store: Store, donor: str) -> None:
    work.log_lines(store, donor, ["harvested lamp-door in drawer 3 in 5 min", "harvested exhaust-fan"])
    assert (fact(store, "lamp-door").place, fact(store, "exhaust-fan").place) == ("drawer 3", "")
    work.log_lines(store, donor, ["put lamp door in Tin 4", "put exhaust-fan in tin 4"])
    assert (fact(store, "lamp-door").place, fact(store, "exhaust-fan").place) == ("Tin 4", "tin 4")
    work.undo(store, donor)
    work.undo(store, donor)
    assert (fact(store, "lamp-door").place, fact(store, "exhaust-fan").place) == ("drawer 3", "")


@pytest.mark.parametrize(
    ("line", "message"),
    [
        (
            "put air-filter in drawer 3",
            "'air-filter' has not left this unit. If it has, log 'harvested air-filter in dr",
        ),
        ("put lamp-door in drawer 3", "'lamp-door' of D1 is in U1 now, not on the shelf"),
        ("put lamp-dor in drawer 3", "No part, or 'unit' 'lamp-dor'. Similar: 'lamp-door'"),
        ("put lamp-door in 3", "is not understood. Write: put PART|unit in PLACE"),
        ("harvested air-filter in 3", r"is not understood. Write: harvested PART \[in PLACE\]"),
    ],
)
def test_only_what_is_on_the_shelf_is_put_somewhere(
    store: Store, unit: str, donor: str, line: str, message: str
) -> None:
    work.log_lines(store, donor, ["harvested lamp-door"])
    work.log_lines(store, unit, ["fitted lamp-door from D1"])
    with pytest.raises(LineError, match=message):
        work.log_lines(store, donor, [line])


def test_what_is_still_in_a_donor_lies_where_the_donor_does(store: Store, unit: str, donor: str) -> None:
    work.log_lines(store, donor, ["put unit in shelf 2", "saw air-filter missing", "harvested main-board"])
    held = {one.came.part: one for one in facts(store, "D1") if one.inside}
    assert held["lamp-door"].place == "shelf 2"
    gone = {"air-filter", "main-board", "image-processor"}
    assert store.device(donor).parts["image-processor"].parent == "main-board"
    assert not gone & set(held), "what is missing, harvested, or on a board that was harvested"
    assert not facts(store, "U1")
    work.log_lines(store, unit, ["parted worth EUR 30"])
    assert {one.inside for one in facts(store, "U1")} == {True}
    work.log_lines(store, donor, ["wiped unit by clear", "sold as-is for EUR 5"])
    assert [one.came.part for one in facts(store, "D1")] == ["main-board"]


def test_a_unit_that_was_parted_gives_parts_like_a_donor(store: Store, unit: str) -> None:
    work.log_lines(store, unit, ["tried fans-turn works", "parted worth EUR 30", "harvested exhaust-fan in tin 2"])
    found = fact(store, "exhaust-fan")
    assert (found.inside, found.place, found.route) == (False, "tin 2", ("U1",))
    assert found.tested is not None
    work.undo(store, unit)
    assert fact(store, "exhaust-fan").inside


def test_a_part_harvested_again_from_another_unit_brings_its_history(store: Store, unit: str, donor: str) -> None:
    work.log_lines(store, donor, ["past surged", "saw supply-primary burnt", "saw exhaust-fan dusty slight"])
    work.log_lines(store, donor, ["harvested exhaust-fan in drawer 3"])
    work.log_lines(store, unit, ["fitted exhaust-fan from D1", "tried fans-turn works", "harvested exhaust-fan"])
    found = fact(store, "exhaust-fan")
    assert found.route == ("D1", "U1")
    assert found.history == "from a unit that had a surge, whose supply-primary was seen burnt (D1 line 3)"
    assert found.seen == (provenance.SeenOn("D1", 4, "dusty", "slight"),)
    assert found.tested is not None
    assert (found.tested.unit, found.tested.line) == ("U1", "tried fans-turn works")
    assert found.place == "", "it left that drawer"
    work.undo(store, unit)
    assert facts(store, "exhaust-fan") == [], "the harvest taken back, it is in U1, which is no donor"
    work.redo(store, unit)
    work.log_lines(store, unit, ["undid 2"])
    assert fact(store, "exhaust-fan").route == ("D1",)


def test_what_was_bought_for_a_unit_has_no_part_in_its_past(store: Store, unit: str) -> None:
    work.log_lines(store, unit, ["fitted exhaust-fan from used", "harvested exhaust-fan", "harvested intake-fan"])
    assert fact(store, "exhaust-fan").route == ("used", "U1")
    assert fact(store, "exhaust-fan").history == ""
    assert fact(store, "intake-fan").history == "from a unit that was dropped"


def test_a_circle_of_fits_comes_to_an_end(store: Store, unit: str) -> None:
    other = work.new_unit(store, MAP, "EUR 9")
    work.log_lines(store, unit, ["harvested lamp-door"])
    work.log_lines(store, other, ["fitted lamp-door from U1", "harvested lamp-door"])
    work.log_lines(store, unit, ["fitted lamp-door from U2", "undid 2", "harvested lamp-door"])
    origins = Origins.of(store, [unit])
    routes = [[stay.unit for stay in stays(origins, came)] for came in origins.moved.taken.values()]
    assert sorted(routes) == [["U1", "U2"], ["U2", "U1"]]


# ---- what happened to it --------------------------------------------------------------------------------------------


def test_every_past_has_words() -> None:
    assert set(PAST_WORDS) == set(PASTS)


def test_history_tells_of_a_probable_fault_with_its_chance_and_of_no_other(store: Store, donor: str) -> None:
    work.log_lines(store, donor, ["harvested exhaust-fan"])
    assert fact(store, "exhaust-fan").history == "", "an unknown unit's odds are no history"
    work.log_lines(
        store, donor, ["tried standby-light fails", "found supply-fuse.continuity bad", "harvested intake-fan"]
    )
    told = re.fullmatch(
        r"from a unit whose supply-fuse was probably open-blackened \((\d+) %\)", fact(store, "intake-fan").history
    )
    assert told is not None
    assert 50 <= int(told[1]) < 100


def test_a_rail_that_read_too_high_is_history(store: Store, donor: str) -> None:
    work.log_lines(store, donor, ["read rail-12v 19 V", "harvested exhaust-fan", "harvested air-filter"])
    assert fact(store, "exhaust-fan").history.startswith("from a unit whose rail-12v once read too high")
    assert "rail-12v" not in fact(store, "air-filter").history


def test_chances_are_those_that_the_planner_uses_and_what_was_taken_out_first_keeps_them(
    store: Store, donor: str
) -> None:
    work.log_lines(store, donor, ["saw lamp-door cracked", "removed lamp-door", "harvested lamp-door"])
    [part] = stock(store)
    good = fact(store, "lamp-door").good
    assert good == pytest.approx(on_shelf(store, [part])[part][0])
    assert good is not None
    assert good < 0.9 < 0.99 < bought(store.device(donor).parts["lamp-door"], ())[0]


def test_a_log_that_cannot_be_true_gives_no_chance(store: Store, donor: str, monkeypatch: pytest.MonkeyPatch) -> None:
    from knowngood.bench import donors
    from knowngood.errors import ContradictionError

    def impossible(*_: object, **__: object) -> None:
        raise ContradictionError("These lines", [1])

    work.log_lines(store, donor, ["saw lamp-door cracked", "harvested lamp-door"])
    monkeypatch.setattr(donors, "believe", impossible)
    assert fact(store, "lamp-door").good is None


def test_parts_of_one_unit_share_one_belief(store: Store, donor: str, monkeypatch: pytest.MonkeyPatch) -> None:
    from knowngood.bench import donors

    made = []

    def counted(*given: object, **more: object) -> object:
        made.append(given)
        return believed(*given, **more)

    believed = donors.believe
    work.log_lines(store, donor, ["past dropped", "harvested lamp-door", "opened cover-off", "harvested exhaust-fan"])
    monkeypatch.setattr(donors, "believe", counted)
    assert len(facts(store, "D1")) > 50
    assert len(made) == 1


# ---- what shows it to work ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("lines", "shown"),
    [
        (["tried fans-turn works"], "tried fans-turn works"),
        (["read rail-12v 12.1 V"], None),  # a fan that stands still does not pull it down
        (["tried fans-turn fails"], None),
        (["tried fans-turn works", "tried fans-turn weak"], None),
        (["tried fans-turn works", "saw exhaust-fan cracked"], None),
        (["tried fans-turn works", "saw exhaust-fan dusty"], "tried fans-turn works"),
        (["tried fans-turn works", "mended exhaust-fan clean"], None),
        (["tried fans-turn works", "dried unit"], None),
        (["tried fans-turn works", "read rail-12v 19 V"], None),
        (["read rail-12v 19 V", "tried fans-turn works"], "tried fans-turn works"),
        (["tried fans-turn works", "fitted exhaust-fan from new"], None),
        (["tried fans-turn works", "removed exhaust-fan", "fitted exhaust-fan from back"], "tried fans-turn works"),
        (["removed exhaust-fan", "tried fans-turn works"], None),
        (["tried fans-turn works", "undid 2"], None),
    ],
)
def test_a_line_shows_a_part_to_work_if_nothing_since_could_have_changed_that(
    store: Store, donor: str, lines: list[str], shown: str | None
) -> None:
    work.log_lines(store, donor, [*lines, "harvested exhaust-fan"])
    tested = fact(store, "exhaust-fan").tested
    assert (tested.line if tested else None) == shown


def test_a_rail_in_its_limits_shows_what_feeds_it(store: Store, donor: str) -> None:
    work.log_lines(store, donor, ["read rail-12v 12.1 V", "harvested supply-12v"])
    tested = fact(store, "supply-12v").tested
    assert tested is not None
    assert (tested.unit, tested.seq) == ("D1", 2)


def test_washing_the_donor_later_does_not_touch_what_had_left_it_and_a_hurt_seen_on_the_shelf_does(
    store: Store, donor: str
) -> None:
    work.log_lines(store, donor, ["tried fans-turn works", "harvested exhaust-fan", "dried unit"])
    assert fact(store, "exhaust-fan").tested is not None
    work.log_lines(store, donor, ["saw exhaust-fan cracked"])
    assert fact(store, "exhaust-fan").tested is None
    assert [one.condition for one in fact(store, "exhaust-fan").seen] == ["cracked"]


def test_the_revision_is_the_one_read_last(store: Store, unit: str, donor: str) -> None:
    part = "main-board"
    work.log_lines(store, donor, [f"identified {part} as A", f"harvested {part}"])
    assert fact(store, part).revision == "A"
    work.log_lines(store, unit, [f"fitted {part} from D1", f"harvested {part}", f"identified {part} as B"])
    assert fact(store, part).revision == "B"


# ---- reserved -------------------------------------------------------------------------------------------------------


def test_a_reservation_holds_as_long_as_its_unit_is_here(store: Store, unit: str, donor: str) -> None:
    work.log_lines(store, unit, ["reserved lamp-door from D1", "reserved exhaust-fan from new"])
    assert fact(store, "lamp-door").reserved_for == ("U1",), "still inside"
    work.log_lines(store, donor, ["harvested lamp-door"])
    assert fact(store, "lamp-door").reserved_for == ("U1",)
    work.log_lines(store, unit, ["wiped unit by clear", "sold as-is for EUR 9"])
    assert fact(store, "lamp-door").reserved_for == ()


def test_a_part_reserved_for_another_unit_is_warned_of_and_fitted_all_the_same(
    store: Store, unit: str, donor: str
) -> None:
    work.log_lines(store, donor, ["harvested lamp-door"])
    work.log_lines(store, unit, ["reserved lamp-door from D1"])
    other = work.new_unit(store, MAP, "EUR 9")
    warning = "'lamp-door' from D1 is reserved for U1 too. If U1 is not to have it, log 'released lamp-door' there."
    for line in ("reserved lamp-door from D1", "fitted lamp-door from D1"):
        assert reservations.taken_from_others(store, other, work.log_lines(store, other, [line])) == [warning]
    assert reservations.not_there(store) == ["U1 has 'lamp-door' from D1 reserved, and it is in U2 now."]
    added = work.log_lines(store, unit, ["fitted exhaust-fan from new", "released lamp-door"])
    assert reservations.taken_from_others(store, unit, added) == []
    assert reservations.not_there(store) == []


def test_a_reservation_from_a_unit_that_was_sold_or_never_was_is_told(store: Store, unit: str, donor: str) -> None:
    work.log_lines(store, unit, ["reserved lamp-door from D1", "reserved air-filter from D7"])
    work.log_lines(store, donor, ["wiped unit by clear", "sold as-is for EUR 5"])
    assert reservations.not_there(store) == [
        "U1 has 'lamp-door' from D1 reserved, and D1 was sold.",
        "U1 has 'air-filter' from D7 reserved, and there is no D7.",
    ]


# ---- what is asked for ----------------------------------------------------------------------------------------------


def test_names_narrow_and_lines_are_lines(store: Store, unit: str, donor: str) -> None:
    loose.change(store, ["9 x resistor 10 ohm"])
    asked, lines = provenance.narrowed(store, ["Lamp Door", "d1", "s1", "2 x resistor 1k", "10x10R", "used s1"], MAP)
    assert asked == provenance.Narrowed(frozenset({"lamp-door"}), frozenset({"D1"}), frozenset({"S1"}), MAP)
    assert lines == ["2 x resistor 1k", "10x10R", "used s1"]
    assert [one.came.part for one in facts(store, "lamp-door", "D1")] == ["lamp-door"]
    assert facts(store, "S1") == []
    everything = provenance.stock_facts(store, provenance.Narrowed())
    assert everything.inside == ()
    assert [(one.unit, one.place, one.parts > 50) for one in everything.donors] == [("D1", "", True)]
    assert facts(store, map_name=MAP)


@pytest.mark.parametrize(
    ("words", "map_name", "error", "message"),
    [
        (
            ["lamp-dor"],
            None,
            LineError,
            "No part, unit or lot 'lamp-dor' in stock. Similar: 'lamp-door'.*say how many: sto",
        ),
        (
            [],
            "ceiling-projecter",
            NotFoundError,
            "No unit was bought by a map 'ceiling-projecter'. Similar: 'ceiling-p",
        ),
    ],
)
def test_what_is_nowhere_is_refused_with_the_nearest(
    store: Store, donor: str, words: list[str], map_name: str | None, error: type[Exception], message: str
) -> None:
    with pytest.raises(error, match=message):
        provenance.narrowed(store, words, map_name)
