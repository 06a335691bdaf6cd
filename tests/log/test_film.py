"""Where lines are in a film: marks, drift, chapters, and what is not to be published."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from knowngood.errors import LineError
from knowngood.log import events as ev
from knowngood.log.film import Chapter, alignment, chapters, ends, hidden, spans
from knowngood.log.state import Line, Replay, replay
from knowngood.maps import load

DEVICE = load("ceiling-projector")
START = datetime(2026, 6, 1, 10, 0, tzinfo=UTC)


def told(*rows: tuple[float, str]) -> Replay:
    """A log of lines, each so many seconds after ten o'clock."""
    lines = [
        Line(seq, (START + timedelta(seconds=at)).strftime("%Y-%m-%dT%H:%M:%SZ"), ev.parse(text))
        for seq, (at, text) in enumerate(rows, start=1)
    ]
    found = replay(DEVICE, lines)
    assert not found.flags
    return found


def made(log: Replay, length: float | None = None) -> tuple[Chapter, ...]:
    aligned, done = alignment(log), spans(DEVICE, log)
    return chapters(DEVICE, aligned, done, ends(aligned, done, length))


def test_one_mark_gives_the_offset_by_its_own_moment_by_a_line_or_by_a_time_said_aloud() -> None:
    job = ((0, "noted begins"), (600, "tried sound works"))
    own = alignment(told(*job, (700, "clapped at 00:10:00 of a.mp4")))
    by_line = alignment(told(*job, (700, "clapped line 2 at 00:08:20 of a.mp4")))
    said = alignment(told(*job, (700, "clapped 2026-06-01T10:11:40Z at 00:10:00 of a.mp4")))
    for one in (own, by_line, said):
        assert one.at((START + timedelta(seconds=100)).timestamp()) == pytest.approx(0.0)
        assert one.rate == 1.0


def test_two_marks_take_out_the_drift_and_a_third_shows_how_well_they_fit() -> None:
    two = ((0, "clapped at 00:01:00 of a.mp4"), (3600, "clapped at 01:01:36 of a.mp4"))
    found = alignment(told(*two))
    assert found.rate == pytest.approx(1.01)
    assert found.at((START + timedelta(seconds=1800)).timestamp()) == pytest.approx(60 + 1818)
    assert found.worst == pytest.approx(0.0, abs=1e-6)
    off = alignment(told(two[0], (1800, "clapped at 00:31:24 of a.mp4"), two[1]))
    assert off.rate == pytest.approx(1.01)
    assert off.worst == pytest.approx(4.0)


def test_marks_within_a_minute_say_nothing_of_drift() -> None:
    found = alignment(told((0, "clapped at 00:01:00 of a.mp4"), (20, "clapped at 00:01:24 of a.mp4")))
    assert (found.rate, found.worst) == (1.0, pytest.approx(2.0))


@pytest.mark.parametrize(
    ("rows", "film", "message"),
    [
        ([(0, "noted x")], None, "No line joins a film with this log."),
        ([(0, "clapped at 00:01:00 of a.mp4"), (9, "clapped at 00:01:00 of b.mp4")], None, "Which film?"),
        ([(0, "clapped at 00:01:00 of a.mp4")], "c.mp4", "No film 'c.mp4' in this log."),
        ([(0, "hid 00:01:00 to 00:02:00 of a.mp4 -- x")], None, "No mark aligns a.mp4 with this log."),
        ([(0, "clapped line 7 at 00:01:00 of a.mp4")], None, "Line 1 claps with line 7, and there is no such line"),
        (
            [(0, "clapped at 00:01:00 of a.mp4"), (600, "clapped at 00:02:00 of a.mp4")],
            None,
            "Lines 1, 2: by these marks a.mp4 runs 0.10 times as fast as the clock. One is wrong: undo it.",
        ),
        (
            [(0, "clapped at 00:01:00 of a.mp4"), (10, "clapped at 00:31:00 of a.mp4")],
            None,
            "Lines 1, 2: these marks of a.mp4 are 895 s off one another. One is wrong: undo it.",
        ),
    ],
)
def test_what_does_not_align_is_said(rows: list[tuple[float, str]], film: str | None, message: str) -> None:
    with pytest.raises(LineError, match=message):
        alignment(told(*rows), film)


JOB = (
    (0, "clapped at 00:00:10 of a.mp4"),
    (60, "tried sound fails in 0.5 min"),
    (90, "saw loudspeaker torn in 0.5 min"),
    (390, "opened cover-off in 5 min"),
    (690, "saw exhaust-fan dusty in 1 min"),
    (690, "read rail-12v 12.1 V in 1 min"),
    (690, "fitted loudspeaker from new in 3 min"),
    (990, "closed all in 5 min"),
    (1050, "tried sound works in 1 min"),
)


def test_chapters_say_what_was_done_and_follow_one_another() -> None:
    found = made(told(*JOB))
    assert [(one.title, one.start, one.end) for one in found] == [
        ("Trying it: sound fails", 40.0, 70.0),
        ("Looking and measuring: loudspeaker torn", 70.0, 100.0),
        ("Opening: cover off", 100.0, 400.0),
        ("Looking and measuring: exhaust fan dusty, rail 12v 12.1 V", 400.0, 520.0),
        ("Mending: another loudspeaker", 520.0, 700.0),
        ("Putting it together", 700.0, 1000.0),
        ("Trying it: sound works", 1000.0, 1060.0),
    ]
    assert [seq for one in found for seq in one.lines] == list(range(2, 10))


def test_chapters_end_with_the_film_and_before_a_pause() -> None:
    assert [one.end for one in made(told(*JOB), length=450.0)][-1] == 450.0
    later = (*JOB, (1050 + 13 * 3600, "tried sound works in 1 min"))
    assert made(told(*later))[-1].end == pytest.approx(1060.0)


def test_lines_before_the_film_are_in_no_chapter() -> None:
    log = told((0, "tried sound fails"), (600, "opened cover-off in 5 min"), (600, "clapped at 00:01:00 of a.mp4"))
    assert [(one.title, one.start, one.end) for one in made(log)] == [("Opening: cover off", 0.0, 60.0)]


def test_what_a_person_hid_and_what_is_private_by_itself_is_kept_back() -> None:
    log = told(
        (0, "clapped at 00:00:00 of a.mp4"),
        (300, "wiped unit by clear with factory reset in 2 min"),
        (400, "checked account-lock none in 0.5 min"),
        (500, "hid 00:00:30 to 00:00:40 of a.mp4 -- a face"),
        (500, "hid 00:00:30 to 00:00:40 of b.mp4 -- another film"),
    )
    aligned, done = alignment(log, "a.mp4"), spans(DEVICE, log)
    found = hidden(log, aligned, done, ends(aligned, done, None))
    assert [(one.start, one.end, one.seq, one.by_itself) for one in found] == [
        (30.0, 40.0, 4, False),
        (165.0, 315.0, 2, True),
        (355.0, 415.0, 3, True),
    ]
