"""Replaying a log: what each line changes, undo, and lines that no longer fit."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from knowngood.log.events import parse
from knowngood.log.state import (
    Line,
    Replay,
    as_of,
    considered,
    last_effective,
    last_undone,
    replay,
)
from knowngood.maps import load

DEVICE = load("ceiling-projector")


def log(*texts: str) -> list[Line]:
    return [Line(seq, "", parse(text)) for seq, text in enumerate(texts, start=1)]


def told(*texts: str) -> Replay:
    return replay(DEVICE, log("bought ceiling-projector for EUR 45 past dropped", *texts))


def test_opening_opens_the_way_and_takes_its_connections_apart() -> None:
    state = told("opened board-up").state
    assert state.open_steps == {"lamp-out", "cover-off", "board-up"}
    assert {"supply-lead", "keypad-ribbon", "lamp-hv-plug"} <= state.loose
    assert not state.unplugged


def test_closing_makes_them_again_and_says_they_were_touched() -> None:
    state = told("opened cover-off", "closed all").state
    assert state.closed
    assert not state.loose
    assert state.touched == ("keypad-ribbon", "lamp-hv-plug", "loudspeaker-lead")


def test_what_was_mended_is_known_until_the_part_is_another_or_was_made_again() -> None:
    done = ("opened cover-off", "mended keypad-ribbon reseat", "mended exhaust-fan clean")
    assert told(*done).state.mended == {"keypad-ribbon": ("reseat",), "exhaust-fan": ("clean",)}
    assert told(*done, "closed all").state.mended == {"exhaust-fan": ("clean",)}
    assert told(*done, "fitted exhaust-fan from new").state.mended == {"keypad-ribbon": ("reseat",)}


def test_minutes_are_those_of_the_lines_and_else_those_of_the_map() -> None:
    state = told("opened lamp-out in 9 min", "opened cover-off", "worked 5 min").state
    assert state.minutes_logged == 14.0
    assert state.minutes_assumed == DEVICE.steps["cover-off"].open_minutes


def test_what_was_worked_on_cures_for_as_long_as_its_remedy_says() -> None:
    [(part, remedy)] = [
        (part.id, remedy.name)
        for part in DEVICE.parts.values()
        for remedy in part.remedies
        if remedy.wait == 720.0 and not remedy.part
    ][:1]
    done = f"mended {part} {remedy}"
    assert told(done).state.curing == {part: 720.0}
    assert told(done, "waited 5 h").state.curing == {part: 420.0}
    assert told(done, "waited 12 h").state.curing == {}
    assert told(done, f"fitted {part} from new").state.curing == {}


def test_what_cures_cures_while_nobody_types_and_a_wait_is_not_counted_twice() -> None:
    [(part, remedy)] = [
        (part.id, one.name) for part in DEVICE.parts.values() for one in part.remedies if one.wait == 720.0
    ][:1]

    def curing(*lines: tuple[str, str]) -> dict[str, float]:
        return replay(DEVICE, [Line(seq, time, parse(text)) for seq, (time, text) in enumerate(lines, 1)]).state.curing

    start = (
        ("2030-01-01T20:00:00Z", "bought ceiling-projector for EUR 45"),
        ("2030-01-01T21:00:00Z", f"mended {part} {remedy}"),
    )
    assert curing(*start, ("2030-01-02T03:00:00Z", "noted six hours later")) == {part: 360.0}
    assert curing(*start, ("2030-01-02T03:00:00Z", "waited 6 h")) == {part: 360.0}
    assert curing(*start, ("2030-01-01T21:01:00Z", "waited 6 h")) == {part: 360.0}
    assert curing(*start, ("yesterday", "noted no time")) == {part: 720.0}


def test_money_is_booked_with_its_line() -> None:
    state = told(
        "paid EUR 12 for collection", "fitted exhaust-fan from used for EUR 9", "sold working for EUR 215"
    ).state
    assert [(one.seq, str(one.amount)) for one in state.bookings] == [
        (1, "EUR -45"),
        (2, "EUR -12"),
        (3, "EUR -9"),
        (4, "EUR 215"),
    ]
    assert state.exit == "working"


def test_what_a_thing_was_thought_worth_is_no_cash() -> None:
    state = told("fitted lamp-door from D1 for EUR 8", "parted worth EUR 60").state
    assert [(one.kind, str(one.amount)) for one in state.bookings] == [
        ("cash", "EUR -45"),
        ("valuation", "EUR -8"),
        ("valuation", "EUR 60"),
    ]


def test_a_unit_is_scrapped_but_not_once_it_was_sold_whole() -> None:
    assert told("parted worth EUR 3", "scrapped unit").state.exit == "scrapped"
    assert told("scrapped lamp-door").state.exit is None
    sold = told("sold as-is for EUR 3", "scrapped unit")
    assert sold.state.exit == "as-is"
    assert [flag.message for flag in sold.flags] == ["It was sold as is."]


def test_what_was_shown_has_to_be_shown_again_after_an_act() -> None:
    shown = ("tried standby-light works", "tried picture works")
    assert told(*shown).state.proven == {"standby-light", "picture"}
    assert told(*shown, "tried picture fails").state.proven == {"standby-light"}
    assert not told(*shown, "mended top-cover bend-back").state.proven
    assert not told(*shown, "opened lamp-out").state.proven


def test_a_charge_let_off_is_there_again_after_power() -> None:
    assert told("discharged supply-primary 3 V").state.discharged == {"supply-primary"}
    assert not told("discharged supply-primary 300 V").state.discharged
    assert not told("discharged supply-primary 48 V").state.discharged
    assert not told("discharged supply-primary 3 A").state.discharged
    assert not told("discharged supply-primary 3 V", "tried standby-light works").state.discharged


def test_a_charge_is_measured_for_all_that_is_plugged_together_on_a_rail() -> None:
    assert told("discharged ballast-feed-lead 3 V").state.discharged == {"ballast-feed-lead", "ballast"}
    assert told("opened engine-out", "discharged ballast-feed-lead 3 V").state.discharged == {"ballast-feed-lead"}
    again = ("discharged ballast-feed-lead 3 V", "discharged ballast 90 V")
    assert not told(*again).state.discharged


def test_a_unit_is_wet_from_whatever_says_so_until_it_is_dried() -> None:
    assert told("past wet").state.wet
    assert told("saw red-panel wet").state.wet
    assert not told("saw red-panel wet", "dried unit").state.wet
    assert told("dried unit", "saw red-panel wet").state.wet
    assert not told("past dropped", "saw red-panel tide-line").state.wet


def test_a_unit_has_first_power_again_after_an_act() -> None:
    assert not told().state.powered
    assert told("tried standby-light works").state.powered
    assert not told("found intake-fan.bench-run ok").state.powered  # fed apart from the unit
    assert not told("tried standby-light works", "mended top-cover bend-back").state.powered


def test_a_short_is_known_until_something_is_done_about_it() -> None:
    assert told("read rail-12v-to-ground 0.4 ohm").state.shorted == {"rail-12v"}
    assert not told("read rail-12v-to-ground OL ohm").state.shorted
    assert not told("read rail-12v-to-ground 0.4 ohm", "fitted exhaust-fan from new").state.shorted


def test_another_assembly_brings_what_sits_on_it_but_for_what_was_taken_off_to_stay() -> None:
    lines = ("saw lamp-door-tab broken-off", "mended lamp-door-tab bend-back", "identified lamp-door-tab as B")
    state = told(*lines, "fitted lamp-door from D1").state
    assert state.origin == {"lamp-door": "D1", "lamp-door-tab": "D1"}
    assert not state.seen["lamp-door-tab"]
    assert not state.mended
    assert not state.revisions
    kept = told(*lines, "removed lamp-door-tab", "fitted lamp-door from D1").state
    assert kept.origin == {"lamp-door": "D1"}
    assert kept.removed == {"lamp-door-tab"}
    assert kept.seen["lamp-door-tab"] == ("broken-off",)


def test_a_harvested_slot_can_be_filled_again() -> None:
    assert told("harvested lamp-door").state.harvested == {"lamp-door"}
    state = told("harvested lamp-door", "fitted lamp-door from used").state
    assert not state.harvested
    assert state.origin == {"lamp-door": "used", "lamp-door-tab": "used"}
    assert not told("removed lamp-door", "harvested lamp-door").flags


def test_undo_takes_back_what_holds_and_redo_brings_it_again() -> None:
    lines = log("bought ceiling-projector for EUR 45", "saw top-cover dented", "opened cover-off", "undid 3")
    assert not replay(DEVICE, lines).state.open_steps
    target = last_effective(lines)
    assert target is not None
    assert target.seq == 2
    undone = last_undone(lines)
    assert undone is not None
    assert undone.seq == 3
    again = [*lines, Line(5, "", parse("redid 3"))]
    assert replay(DEVICE, again).state.open_steps
    assert last_undone([*lines, Line(5, "", parse("noted later"))]) is None
    assert last_effective(log("bought ceiling-projector for EUR 45")) is None


def test_a_later_line_that_no_longer_fits_is_kept_and_flagged() -> None:
    lines = log("bought ceiling-projector for EUR 45", "opened cover-off", "closed cover-off", "undid 2", "undid 99")
    result = replay(DEVICE, lines)
    assert {flag.seq: flag.message for flag in result.flags} == {
        3: "'cover-off' is not open.",
        5: "There is no line 99 that could be taken back.",
    }
    assert [line.seq for line in result.lines] == [1]
    assert result.seq == 5


ANY = [
    *("opened cover-off", "closed all", "closed cover-off", "unplugged supply-lead", "plugged supply-lead"),
    *("removed exhaust-fan", "fitted exhaust-fan from back", "fitted exhaust-fan from D1", "harvested lamp-door"),
    *(
        "saw nothing-known dented",
        "found nowhere ok",
        "opened nowhere",
        "mended exhaust-fan nothing",
        "undid 3",
        "redid 3",
    ),
    *("read rail-12v 3 V", "tried picture works", "declared picture", "parted worth EUR 3"),
]


@given(st.lists(st.sampled_from(ANY), max_size=14))
def test_replay_never_fails_and_never_loses_a_line(texts: list[str]) -> None:
    lines = log("bought ceiling-projector for EUR 45", *texts)
    result = replay(DEVICE, lines)
    assert result.seq == len(lines)
    assert len(result.lines) == len(result.before)
    assert replay(DEVICE, lines) == result


def test_a_part_is_reserved_ordered_arrived_and_fitted_and_paid_once() -> None:
    replayed = told(
        "reserved exhaust-fan from D1",
        "ordered exhaust-fan new from northparts for EUR 8 due 2026-12-03",
        "arrived exhaust-fan",
        "fitted exhaust-fan from new",
    )
    reserved, ordered, arrived, fitted = (state.incoming for state in (*replayed.before[2:], replayed.state))
    assert reserved.reserved == {"exhaust-fan": "D1"}
    assert not ordered.reserved
    assert ordered.ordered["exhaust-fan"].due == "2026-12-03"
    assert not arrived.ordered
    assert arrived.arrived["exhaust-fan"].supplier == "northparts"
    assert not fitted.arrived
    assert [str(booking.amount) for booking in replayed.state.bookings] == ["EUR -45", "EUR -8"]


def test_an_ordered_part_stays_in_the_hand_if_another_one_went_in() -> None:
    replayed = told(
        "ordered exhaust-fan used from northparts for EUR 8", "arrived exhaust-fan", "fitted exhaust-fan from D1"
    )
    assert list(replayed.state.incoming.arrived) == ["exhaust-fan"]


def test_ordering_twice_does_not_fit() -> None:
    line = "ordered exhaust-fan new from northparts for EUR 8"
    [flag] = told(line, line).flags
    assert flag.message == "'exhaust-fan' is on order from northparts already. Log 'released exhaust-fan' first."


def test_a_revision_belongs_to_what_sits_there() -> None:
    replayed = told("identified main-board as B", "fitted main-board from used")
    assert replayed.before[2].revisions == {"main-board": "B"}
    assert replayed.state.revisions == {}


def test_what_cured_meanwhile_has_cured_under_a_line_that_is_only_thought_of() -> None:
    lines = [
        Line(1, "2026-11-01T10:00:00Z", parse("bought ceiling-projector for EUR 45")),
        Line(2, "2026-11-01T11:00:00Z", parse("mended mounting-bosses glue-boss")),
    ]
    wait = replay(DEVICE, lines).state.curing["mounting-bosses"]
    for now, left in (("2026-11-01T12:00:00Z", {"mounting-bosses": wait - 60}), ("2026-11-09T12:00:00Z", {})):
        assert considered(DEVICE, as_of(replay(DEVICE, lines), now), [parse("opened cover-off")]).state.curing == left
