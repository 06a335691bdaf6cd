"""The way back: nothing that the log left open is missing, each once, in an order that hands can follow."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from small import device, found, part, remedy, step, those_that_fit, told, usual, wanted
from small import log as small_log

from knowngood.log import events as ev
from knowngood.log.state import Line, Replay, State, replay
from knowngood.maps import load
from knowngood.maps.device import Device, Fastener
from knowngood.maps.words import SEATED
from knowngood.plan.reassembly import Sheet, SheetLine, reassembly

MAPS = {name: load(name) for name in ("ceiling-projector", "some-battery-device", "pocket-navigator")}


def sheet_of(on: Device, log: Replay) -> Sheet:
    return reassembly(on, log, usual(on))


# --- drawn logs ---


def candidates(on: Device) -> list[ev.Event]:
    """What may happen to what is open, plugged, in and screwed."""
    plugs = [one.id for one in on.parts.values() if one.is_connection]
    waits = [(one.id, each.name) for one in on.parts.values() for each in one.remedies if each.wait and not each.part]
    found: list[ev.Event] = [ev.Opened(step=one) for one in on.steps] * 3
    found += [ev.Closed(step=one) for one in (*on.steps, ev.ALL)]
    found += [event(connection=one) for one in plugs for event in (ev.Unplugged, ev.Plugged)]
    found += [event(part=one) for one in on.parts for event in (ev.Removed, ev.Harvested)]
    found += [ev.Fitted(part=one, origin=origin) for one in on.parts for origin in (ev.BACK, "used")]
    for name, one in on.steps.items():
        for sort in (None, *(each.sort for each in one.fasteners), "M3x30"):
            found += [
                event(step=name, count=count, sort=sort)
                for event in (ev.Unscrewed, ev.Screwed)
                for count in (1, 2, sum(each.count for each in one.fasteners))
            ]
    found += [ev.Mended(part=one, remedy=how) for one, how in waits] + [ev.Waited(wait=30.0)]
    found += [ev.Found(test=f"{one}.{SEATED}", outcome="right") for one in plugs if f"{one}.{SEATED}" in on.tests]
    return found


CANDIDATES = {name: candidates(one) for name, one in MAPS.items()}


@st.composite
def logs(draw: st.DrawFn, on: Device, events: Sequence[ev.Event]) -> Replay:
    """A log whose lines all fit."""
    return those_that_fit(on, draw(st.lists(st.sampled_from(events), max_size=25)))


def followed(on: Device, log: Replay, sheet: Sheet) -> list[State]:
    """The state before the sheet and after each of its lines, read as a person would type them."""
    lines = [Line(log.seq + number, "", ev.parse(line.log)) for number, line in enumerate(sheet.lines, 1)]
    again = replay(on, [*log.lines, *lines])
    assert not again.flags, again.flags
    return [*again.before[len(log.lines) :], again.state]


def once(lines: Sequence[SheetLine], kind: str) -> set[str]:
    """What lines of a kind are about, each once."""
    counted = Counter(line.log if kind in ("screw", "unscrew") else line.target for line in lines if line.kind == kind)
    assert all(count == 1 for count in counted.values()), (kind, counted)
    return set(counted)


@pytest.mark.parametrize("name", MAPS)
@settings(max_examples=60)
@given(data=st.data())
def test_nothing_that_a_log_left_open_is_missing_and_the_order_can_be_done(name: str, data: st.DataObject) -> None:
    on = MAPS[name]
    log = data.draw(logs(on, CANDIDATES[name]))
    sheet = sheet_of(on, log)
    lines, states = sheet.lines, followed(on, log, sheet)
    start, end = log.state, states[-1]

    # nothing is left open, and each thing stands once
    assert not (end.open_steps | end.unplugged | end.loose | end.removed | end.curing.keys())
    assert end.fasteners.balances(on, end.open_steps) == {}
    again = once(lines, "open")
    assert once(lines, "close") == start.open_steps | again
    loosened = {one for step_ in again for one in on.steps[step_].unplugs}
    assert once(lines, "plug") == start.unplugged | start.loose | loosened
    assert once(lines, "fit") == start.removed
    missing = start.fasteners.balances(on, start.open_steps | again)
    counts = {(step_, sort): n for step_, one in missing.items() for sort, n in one.missing.items()}
    written = {("screwed" if n > 0 else "unscrewed", step_, abs(n), sort) for (step_, sort), n in counts.items()}
    said = [ev.parse(line) for kind in ("screw", "unscrew") for line in once(lines, kind)]
    assert {(one.verb, one.step, one.count, one.sort or "") for one in said} == written  # type: ignore[attr-defined]

    # hands can follow it: what is behind a step is done while it is open, a plug when both its ends are in
    opened_here = start.open_steps | again
    for line, before in zip(lines, states, strict=False):
        about = on.parts.get(line.target)
        if line.kind in ("fit", "plug", "check") and about:
            if about.behind in opened_here or line.kind == "check":
                assert about.behind is None or about.behind in before.open_steps, line
            assert about.id not in before.curing, line
        if line.kind == "plug" and about:
            assert not before.removed & {about.id, *about.joins}, line
        if line.kind in ("plug", "fit"):
            taken_off_by = [
                one for one in opened_here if line.target in (*on.steps[one].unplugs, *on.steps[one].removes)
            ]
            assert before.open_steps >= set(taken_off_by), line

    # every connection that the sheet makes is checked after that, before it is out of reach
    last_made = {line.target: number for number, line in enumerate(lines) if line.kind == "plug"}
    checked = {line.target: number for number, line in enumerate(lines) if line.kind == "check"}
    for connection, number in last_made.items():
        if on.parts[connection].behind in {None, *opened_here}:
            assert checked[connection] > number
    once(lines, "check")


# --- the sheet in words ---

PROJECTOR = MAPS["ceiling-projector"]


def line_of(sheet: Sheet, log: str) -> SheetLine:
    return next(line for line in sheet.lines if line.log == log)


def test_a_unit_with_nothing_open_has_no_sheet() -> None:
    assert sheet_of(PROJECTOR, told(PROJECTOR, "opened cover-off", "closed all", "saw mains-inlet fine")).blocks == ()


def test_steps_close_in_the_reverse_of_their_opening_and_say_what_goes_on() -> None:
    sheet = sheet_of(PROJECTOR, told(PROJECTOR, "opened lens-out", "opened board-up"))
    assert [block.step for block in sheet.blocks] == ["board-up", "lens-out", "cover-off", "lamp-out"]
    assert sheet.blocks[0].puts == ("main-board", "lamp-duct")
    assert sheet.numbers == {"lamp-out": 1, "cover-off": 2, "lens-out": 3, "board-up": 4}


def test_marks_remarks_and_counts_stand_at_the_line() -> None:
    sheet = sheet_of(
        PROJECTOR,
        told(
            PROJECTOR,
            "opened cover-off -- photo 3",
            "unscrewed cover-off 6 x M3x8 -- one was gone",
            "unplugged exhaust-fan-plug -- photo 4",
            "opened board-up",
        ),
    )
    assert "orientation: its marks in line" in line_of(sheet, "plugged keypad-ribbon").notes
    flex = line_of(sheet, "plugged green-flex-socket").notes
    assert {"latch closed: flip", "not swapped with red-flex-socket, blue-flex-socket"} <= set(flex)
    assert line_of(sheet, "plugged exhaust-fan-plug").notes[-1] == "line 3: photo 4"
    assert sheet.blocks[1].remarks == ("line 1: photo 3", "line 2: one was gone")
    assert line_of(sheet, "screwed cover-off 6 x M3x8").notes[-1] == "as counted"
    long = line_of(sheet, "screwed cover-off 2 x M3x12").notes
    assert long[0] == "2 at rear"
    assert "2 odd ones of 'rear' among 7 x M3x8; too long for a shorter one's hole" in long
    assert long[-1] == "the map's figure: no line counted them"
    assert any(note.startswith("torque: at most 0.61 N m") for note in long)


def test_what_was_left_behind_a_closed_step_opens_it_again() -> None:
    log = told(PROJECTOR, "opened board-up", "unplugged red-flex-socket", "screwed board-up 10", "closed all")
    assert log.state.unplugged == {"red-flex-socket"}
    sheet = sheet_of(PROJECTOR, log)
    assert [line.log for line in sheet.blocks[0].lines] == ["opened lamp-out", "opened cover-off"]
    assert sheet.blocks[0].step is None
    assert "screwed board-up 1 x M3x6" in [line.log for line in sheet.blocks[1].lines]
    assert sheet.balances["board-up"].missing == {"M3x6": 1}


def test_what_left_the_unit_is_fitted_from_where_another_is_to_come_from() -> None:
    lines = ("opened board-up", "harvested lamp-blower", "removed exhaust-fan", "harvested intake-fan")
    sheet = sheet_of(PROJECTOR, told(PROJECTOR, *lines, "reserved intake-fan from D1"))
    fits = {line.log for line in sheet.lines if line.kind == "fit"}
    assert fits == {"fitted lamp-blower from used", "fitted exhaust-fan from back", "fitted intake-fan from D1"}


def test_what_left_the_unit_with_what_it_sat_on_has_a_line_of_its_own() -> None:
    assert "supply-standby" in PROJECTOR.carries["supply-primary"]
    sheet = sheet_of(PROJECTOR, told(PROJECTOR, "harvested supply-primary", "harvested supply-standby"))
    fits = [line.log for line in sheet.lines if line.kind == "fit"]
    assert fits == ["fitted supply-primary from used", "fitted supply-standby from used"]


def test_a_connection_made_while_a_step_was_open_is_checked_before_it_is_closed() -> None:
    lines = ("opened cover-off", "unplugged exhaust-fan-plug", "plugged exhaust-fan-plug")
    check = "found exhaust-fan-plug.seated right"
    assert check in [line.log for line in sheet_of(PROJECTOR, told(PROJECTOR, *lines)).lines]
    assert check not in [line.log for line in sheet_of(PROJECTOR, told(PROJECTOR, *lines, check)).lines]
    works = sheet_of(PROJECTOR, told(PROJECTOR, *lines, "tried fans-turn works"))
    assert check not in [line.log for line in works.lines]


def test_the_plug_of_a_pack_goes_in_last() -> None:
    battery = MAPS["some-battery-device"]
    sheet = sheet_of(battery, told(battery, "opened board-out", "unplugged camera-plug"))
    plugs = [line.target for line in sheet.lines if line.kind == "plug"]
    assert plugs[-1] == "pack-plug"


GLUED = device(
    [
        part("frame", remedy("glue", wait=90.0), base=0.2, behind="lid", used="EUR 3"),
        part("sink", remedy("repaste"), base=0.1, behind="lid"),
        part("lead", base=0.05, joins=("frame", "sink"), behind="lid"),
    ],
    [wanted("works", "frame", "lead", "sink")],
    [found("probe", "frame", behind="lid")],
    [step("lid", 2.0, 2.0, removes=("sink",), fasteners=(Fastener(2, "M2.5", "6 mm", "cross-head", None),))],
)


def test_what_cures_is_left_alone_until_it_has() -> None:
    sheet = sheet_of(GLUED, small_log(GLUED, "opened lid", "unplugged lead", "mended frame glue", "waited 20 min"))
    logs_ = [line.log for line in sheet.lines]
    assert logs_ == ["waited 70 min", "plugged lead", "screwed lid 2 x M2.5x6", "closed lid"]
    assert "thermal interface: repaste" in line_of(sheet, "closed lid").notes
    assert any("0.3 to 0.45 N m into metal" in note for note in line_of(sheet, logs_[2]).notes)


def test_a_line_that_a_hard_rule_forbids_says_so_and_stays_on_the_sheet() -> None:
    sheet = sheet_of(PROJECTOR, told(PROJECTOR, "opened engine-out"))
    held = line_of(sheet, "plugged ballast-feed-lead")
    assert held.held.startswith("Nobody has measured the capacitor since the unit last had power.")
    assert held.first.startswith("discharged ")


def test_one_too_many_is_taken_out_again() -> None:
    sheet = sheet_of(PROJECTOR, told(PROJECTOR, "opened cover-off", "screwed cover-off 3 x M3x12", "closed all"))
    assert "unscrewed cover-off 1 x M3x12" in [line.log for line in sheet.lines]
