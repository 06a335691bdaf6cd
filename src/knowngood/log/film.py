"""Where the lines of a log are in a film of the work: marks align the two, and what was done makes the chapters."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby

from knowngood.errors import LineError
from knowngood.log import events as ev
from knowngood.log.events.filming import seconds
from knowngood.log.state import Line, Replay, State
from knowngood.log.takes import expected_minutes
from knowngood.maps.device import Device, FunctionLevel
from knowngood.maps.shape import similar

MOST_DRIFT = 0.05
"""How far the clocks of log and film may run apart before a mark counts as wrong: a line is typed within seconds, and
no clock is off by a twentieth (our own judgement)."""

LEAST_SPAN = 60.0
"""Seconds between the first and the last mark below which they say nothing of drift."""

PAUSE = 3600.0
"""Seconds without a line after which a film of unknown length counts as over (our own judgement)."""

MARGIN = 15.0
"""Seconds before and after what is not to be published (our own judgement)."""

SHOWN_DATA = "data of whoever had it may be in view"
PRIVATE = {
    "recorded": "a serial number is read out",
    "wiped": SHOWN_DATA,
    "checked account-lock": SHOWN_DATA,
    "photographed serial": "a serial number is in view",
}
"""Lines at which private things are seen or said, by how they start."""


@dataclass(frozen=True)
class Mark:
    """One moment in log and film."""

    seq: int
    moment: float
    """Seconds since 1970, UTC."""
    at: float
    """Seconds from the start of the film."""


@dataclass(frozen=True)
class Alignment:
    """A film against the log: film time = rate x (moment - start)."""

    film: str
    marks: tuple[Mark, ...]
    start: float
    """The moment of the film's first picture, seconds since 1970, UTC."""
    rate: float
    """Seconds of film for each second of the log; 1.0 unless two marks say otherwise."""

    def at(self, moment: float) -> float:
        """Where a moment is in the film, s."""
        return self.rate * (moment - self.start)

    @property
    def worst(self) -> float:
        """By how many seconds the mark that fits worst is off."""
        return max(abs(self.at(one.moment) - one.at) for one in self.marks)


@dataclass(frozen=True)
class Span:
    """A line of the log and the time in which was done what it says, seconds since 1970."""

    line: Line
    begin: float
    end: float


@dataclass(frozen=True)
class Chapter:
    """What was done in a stretch of the film, in seconds of it."""

    title: str
    start: float
    end: float
    lines: tuple[int, ...]


@dataclass(frozen=True)
class Hidden:
    """A stretch that is not to be published, in seconds of the film, and why."""

    start: float
    end: float
    why: str
    seq: int
    by_itself: bool
    """No person hid it: the line tells that something private is seen or said there."""


def films(told: Replay) -> tuple[str, ...]:
    """The films that a log names, in order."""
    return tuple(dict.fromkeys(line.event.film for line in told.lines if isinstance(line.event, (ev.Clapped, ev.Hid))))


def alignment(told: Replay, film: str | None = None) -> Alignment:
    """How a film lies against the log; without a name the only one there is. Raises LineError."""
    named = films(told)
    if not named:
        raise LineError(
            "No line joins a film with this log. Clap or say something as you log it, find that in the film, and log "
            "'clapped line NUMBER at HH:MM:SS of FILM'."
        )
    if film is None and len(named) > 1:
        raise LineError(f"Which film? This log has {', '.join(named)}. Name one: --film {named[0]}")
    name = named[0] if film is None else film
    if name not in named:
        raise LineError(f"No film '{name}' in this log. {similar(name, named)}")
    marks = tuple(_mark(told, line) for line in told.lines if _claps(line, name))
    if not marks:
        raise LineError(f"No mark aligns {name} with this log. Log 'clapped line NUMBER at HH:MM:SS of {name}'.")
    return _fitted(name, marks)


def _claps(line: Line, film: str) -> bool:
    return isinstance(line.event, ev.Clapped) and line.event.film == film


def _mark(told: Replay, line: Line) -> Mark:
    event = line.event
    assert isinstance(event, ev.Clapped)
    time = event.moment or line.time
    if event.line is not None:
        meant = next((one for one in told.lines if one.seq == event.line), None)
        if meant is None:
            raise LineError(f"Line {line.seq} claps with line {event.line}, and there is no such line that holds.")
        time = meant.time
    return Mark(line.seq, _moment(time), seconds(event.at))


def _moment(time: str) -> float:
    return datetime.fromisoformat(time).timestamp()


def _fitted(film: str, marks: tuple[Mark, ...]) -> Alignment:
    """By least squares: from one mark, or from marks close together, the offset alone; else the rate, too."""
    count = len(marks)
    mean, middle = sum(one.moment for one in marks) / count, sum(one.at for one in marks) / count
    span = max(one.moment for one in marks) - min(one.moment for one in marks)
    rate = 1.0
    if span >= LEAST_SPAN:
        spread = sum((one.moment - mean) ** 2 for one in marks)
        rate = sum((one.moment - mean) * (one.at - middle) for one in marks) / spread
    elif count > 1 and (apart := max(abs(one.at - middle - one.moment + mean) for one in marks)) > LEAST_SPAN:
        raise LineError(
            f"{_of(marks)}: these marks of {film} are {apart:.0f} s off one another. One is wrong: undo it."
        )
    if abs(rate - 1.0) > MOST_DRIFT:
        raise LineError(
            f"{_of(marks)}: by these marks {film} runs {rate:.2f} times as fast as the clock. One is wrong: undo it."
        )
    return Alignment(film, marks, mean - middle / rate, rate)


def _of(marks: Sequence[Mark]) -> str:
    return f"Lines {', '.join(str(one.seq) for one in marks)}"


def spans(device: Device, told: Replay) -> tuple[Span, ...]:
    """When each line was done. It is logged once it is done; lines that were logged together share the time before, by
    their minutes."""
    found: list[Span] = []
    pairs = zip(told.lines, told.before, strict=True)
    previous: float | None = None
    for time, group in groupby(pairs, key=lambda pair: pair[0].time):
        end, together = _moment(time), list(group)
        took = [60.0 * _minutes(device, line, before) for line, before in together]
        room = end - previous if previous is not None else sum(took)
        scale = min(1.0, max(0.0, room) / sum(took)) if sum(took) else 0.0
        begin = end - scale * sum(took)
        for (line, _), long in zip(together, took, strict=True):
            found.append(Span(line, begin, begin + scale * long))
            begin += scale * long
        if sum(took):  # what takes no time of its own may be logged in the middle of other work
            previous = end
    return tuple(found)


def _minutes(device: Device, line: Line, before: State) -> float:
    if isinstance(line.event, ev.Waited):
        return line.event.wait
    given = line.event.minutes
    return given if given is not None else expected_minutes(device, before, line.event)


def ends(aligned: Alignment, done: Sequence[Span], length: float | None) -> float:
    """Where the film ends, s: its ``length`` if it is known, else at the last line before a pause of an hour."""
    if length is not None:
        return length
    last = max(one.at for one in aligned.marks)
    for one in done:
        begin, end = aligned.at(one.begin), aligned.at(one.end)
        if end < 0.0 or isinstance(one.line.event, ev.Waited):
            continue
        if begin - last > PAUSE:
            break
        last = max(last, end)
    return last


def chapters(device: Device, aligned: Alignment, done: Sequence[Span], end: float) -> tuple[Chapter, ...]:
    """The chapters of a film, one after another: each goes on until the next begins."""
    runs: list[tuple[str, list[Span]]] = []
    for one in done:
        topic = _topic(device, one.line.event)
        if topic and (not runs or runs[-1][0] != topic):
            runs.append((topic, []))
        if runs:
            runs[-1][1].append(one)
    starts = [aligned.at(own[0].begin) for _, own in runs]
    stops = [*starts[1:], aligned.at(runs[-1][1][-1].end)] if runs else []
    found = []
    for (topic, own), start, stop in zip(runs, starts, stops, strict=True):
        first, last = max(0.0, start), min(end, stop)
        if last - first >= 1.0:
            found.append(Chapter(_title(device, topic, own), first, last, tuple(one.line.seq for one in own)))
    return tuple(found)


def hidden(told: Replay, aligned: Alignment, done: Sequence[Span], end: float) -> tuple[Hidden, ...]:
    """What is not to be published: ranges that a person hid, and those of lines that tell of private things."""
    found = [
        Hidden(seconds(line.event.start), seconds(line.event.end), line.event.note, line.seq, by_itself=False)
        for line in told.lines
        if isinstance(line.event, ev.Hid) and line.event.film == aligned.film
    ]
    for one in done:
        text = ev.render(one.line.event)
        why = next((why for start, why in PRIVATE.items() if text.startswith(f"{start} ")), None)
        first, last = max(0.0, aligned.at(one.begin) - MARGIN), min(end, aligned.at(one.end) + MARGIN)
        if why and first < last:
            found.append(Hidden(first, last, why, one.line.seq, by_itself=True))
    return tuple(sorted(found, key=lambda one: (one.start, one.seq)))


TRYING, LOOKING, OPENING = "Trying it", "Looking and measuring", "Opening"
MENDING, CLOSING, SAFETY = "Mending", "Putting it together", "Safety test"

TOPICS: dict[type[ev.Event], str] = {
    **dict.fromkeys((ev.Bought, ev.Offered, ev.Past, ev.Asked, ev.Received, ev.Returned, ev.Recorded), "How it came"),
    **dict.fromkeys((ev.Tried,), TRYING),
    **dict.fromkeys((ev.Saw, ev.Read, ev.Found, ev.Discharged, ev.Checked, ev.Identified), LOOKING),
    **dict.fromkeys((ev.Opened, ev.Unscrewed, ev.Unplugged, ev.Removed, ev.Harvested, ev.Met), OPENING),
    **dict.fromkeys((ev.Mended, ev.Fitted, ev.Used, ev.Dried), MENDING),
    **dict.fromkeys((ev.Closed, ev.Screwed, ev.Plugged), CLOSING),
    **dict.fromkeys((ev.Stated, ev.Inspected, ev.Measured), SAFETY),
    **dict.fromkeys((ev.Wiped,), "Removing data"),
    **dict.fromkeys((ev.Waited,), "Waiting"),
}
"""What a line is about. All others go with what is done around them."""


def _topic(device: Device, event: ev.Event) -> str | None:
    match event:
        case ev.Fitted(origin=ev.BACK):
            return CLOSING
        case ev.Found(test=test) if isinstance(device.tests[test].senses, FunctionLevel):
            return TRYING
        case ev.Checked(lock=str()):
            return TOPICS[ev.Wiped]
        case _:
            return TOPICS.get(type(event))


def _title(device: Device, topic: str, own: Iterable[Span]) -> str:
    """The topic and what it was about, without figures of money, remarks or numbers that tell a unit."""
    named = list(dict.fromkeys(words for one in own if (words := _about(device, one.line.event))))
    shown = named[:3] + ([f"and {len(named) - 3} more"] if len(named) > 3 else [])
    return f"{topic}: {', '.join(shown)}" if shown else topic


def _about(device: Device, event: ev.Event) -> str:
    match event:
        case ev.Tried(test=test, outcome=outcome) | ev.Found(test=test, outcome=outcome):
            words = f"{test} {outcome}"
        case ev.Read(test=test, reading=reading):
            return f"{test.replace('-', ' ')} {reading}"
        case ev.Saw(part=part, condition=condition):
            words = f"{part} {condition}"
        case ev.Opened(step=step) | ev.Unscrewed(step=step) | ev.Screwed(step=step):
            words = step
        case ev.Closed(step=step) if step != ev.ALL:
            words = step
        case ev.Mended(part=part, remedy=remedy):
            words = f"{part} {remedy}"
        case ev.Unplugged(connection=name) | ev.Plugged(connection=name):
            words = name
        case ev.Fitted(part=part, origin=origin) if origin != ev.BACK:
            words = f"another {part}"
        case ev.Fitted(part=name) | ev.Removed(part=name) | ev.Harvested(part=name) | ev.Discharged(part=name):
            words = name
        case ev.Measured(quantity=quantity, reading=reading):
            return f"{quantity.replace('-', ' ')} {reading}"
        case _:
            return ""
    return words.replace("-", " ").replace(".", " ")
