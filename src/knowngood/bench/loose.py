"""Loose small parts on the shelf: lots put there by lines of the bench's own log, taken from by lines of any log.

A lot is named after its line: what line 3 stocked is S3. What is left is what was stocked less what was used.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import ClassVar, Literal

from pydantic import Field

from knowngood.bench import corrections, gists
from knowngood.bench.store import BenchEntry, Store, one_line
from knowngood.errors import LineError, QuantityError
from knowngood.handbook.small_parts import SmallPart, read
from knowngood.log import events as ev
from knowngood.log.state import Line, effective
from knowngood.maps.shape import similar

LOT = re.compile(r"S\d+")
"""What the name of a lot looks like."""

MOST = 1_000_000
"""Parts in one lot."""

VERBS = ("stocked", "used", "undid", "redid")
"""The verbs of the bench's log that are about loose parts."""

_STOCKED = re.compile(r"(?:stocked )?(\d+)(?: ?[x×] ?| )(.+?)(?: in (.+?))?(?: -- (\S.*))?", re.IGNORECASE)


class Stocked(ev.Event):
    """Loose parts were put on the shelf."""

    form: ClassVar[str] = "stocked COUNT x KIND VALUE [RATINGS AND SIZE] [in PLACE]"
    example: ClassVar[str] = "stocked 25 x resistor 10 ohm 1 % 0805 in drawer 3"
    pattern: ClassVar[str] = _STOCKED.pattern
    verb: Literal["stocked"] = "stocked"
    count: int = Field(ge=1)
    part: SmallPart
    place: str = ""

    def words(self) -> str:
        return f"{self.count} x {self.part.text()}" + (f" in {self.place}" if self.place else "")


@dataclass(frozen=True)
class Lot:
    """Loose parts of one sort that were stocked by one line."""

    id: str
    part: SmallPart
    place: str
    stocked: int
    used: int
    time: str
    """When it was stocked."""
    note: str
    """What its line remarks: where it came from."""

    @property
    def left(self) -> int:
        return self.stocked - self.used


def is_line(text: str) -> bool:
    """Whether a text is meant as a line about loose parts, right or wrong, and not as a name."""
    return bool(re.match(rf"\d+ ?[x×]|\d+ |({'|'.join(VERBS)})\b", text.strip(), re.IGNORECASE)) or " " in text.strip()


def parse(text: str) -> ev.Event:
    """The event of a line about loose parts, with or without its verb ``stocked``. Raises LineError."""
    line = one_line(text)
    verb, _, rest = line.partition(" ")
    if verb.lower() in VERBS and verb.lower() != "stocked":
        return ev.parse(_short(f"{verb.lower()} {rest}"))
    found = _STOCKED.fullmatch(line)
    if found is None or not 1 <= int(found[1]) <= MOST:
        raise LineError(f"'{line}' is not understood. Write: {Stocked.form}. For example: {Stocked.example}")
    try:
        part = read(found[2])
    except QuantityError as error:
        raise LineError(f"'{line}': {error}") from None
    return Stocked(count=int(found[1]), part=part, place=found[3] or "", note=found[4] or "")


def _short(line: str) -> str:
    """``used 2 of S3`` from "used 2 x s3" or "used s3"."""
    found = re.match(r"used (?:(\d+) ?x? (?:of )?)?(S\d+)\b", line, re.IGNORECASE)
    return f"used {found[1] or 1} of {found[2].upper()}{line[found.end() :]}" if found else line


def change(store: Store, texts: Iterable[str]) -> list[BenchEntry]:
    """Stores lines about loose parts, all or none. Raises LineError."""
    with store.writing():
        return [store.bench_append(_checked(store, text)) for text in texts if text.strip()]


def _checked(store: Store, text: str) -> str:
    event = parse(text)
    match event:
        case ev.Used():
            enough(text, event, lots(store))
        case ev.Undid(line=seq):
            corrections.target(text, event, _lines(store.bench_lines()), "loose parts")
            lot = lots(store).get(f"S{seq}")
            if lot and lot.used:
                raise LineError(f"'{text}': {lot.used} of S{seq} were used. Take these lines back first.")
        case ev.Redid():
            again = corrections.target(text, event, _lines(store.bench_lines()), "loose parts")
            if isinstance(again, ev.Used):
                enough(ev.render(again), again, lots(store))
        case _:
            pass
    return ev.render(event)


def enough(text: str, event: ev.Used, there: Mapping[str, Lot]) -> None:
    """Raises LineError if a line uses more than its lot has left; ``there`` are the lots without it."""
    lot = there.get(event.lot)
    if lot is None:
        raise LineError(f"'{text}': no lot '{event.lot}' on the shelf. {similar(event.lot, there)}")
    if event.count > lot.left:
        raise LineError(f"'{text}': {event.lot} ({lot.part.text()}) has {lot.left} left. Count them: knowngood stock")


def lots(store: Store, logs: Mapping[str, list[Line]] | None = None) -> dict[str, Lot]:
    """Every lot by its name, empty ones too; ``logs`` are units' logs in place of those that are stored."""
    bench = effective(_lines(store.bench_lines()))[0]
    given = dict(logs or {})
    taken = gists.used(store, but_not=given)
    for line in [*bench, *(line for lines in given.values() for line in effective(lines)[0])]:
        if isinstance(line.event, ev.Used):
            taken[line.event.lot] = taken.get(line.event.lot, 0) + line.event.count
    return {
        (name := f"S{line.seq}"): Lot(
            name, event.part, event.place, event.count, taken.get(name, 0), line.time, event.note
        )
        for line in bench
        if isinstance(event := line.event, Stocked)
    }


def _lines(entries: Iterable[BenchEntry]) -> list[Line]:
    """The lines of the bench's log that are about loose parts."""
    return [Line(one.seq, one.time, parse(one.text)) for one in entries if one.text.partition(" ")[0] in VERBS]
