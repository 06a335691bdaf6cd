"""Keeps the logs. What is appended and returned is on the disk; nothing is ever changed or taken away."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import lru_cache
from pathlib import Path
from types import TracebackType
from typing import Any

from django.db import connections, transaction
from django.db.models import Count, Max, Min, Q
from django.db.models.functions import Length

from knowngood import __version__
from knowngood.bench.django_setup import Place, configure, home_directory, open_place, said_plainly
from knowngood.errors import KnowngoodError, LineError, MapError, NotFoundError
from knowngood.log import events as ev
from knowngood.log.state import Line
from knowngood.maps.device import Device
from knowngood.maps.load import load_text
from knowngood.maps.shape import similar

configure()  # Django's model classes cannot be imported before it is set up.

from knowngood.bench.models import BenchLine, MapText, Unit, UnitLine  # noqa: E402


@dataclass(frozen=True)
class UnitSummary:
    """A unit as a list shows it."""

    id: str
    map_name: str
    map_hash: str
    donor: bool
    lines: int
    first_time: str
    last_time: str

    @property
    def candidate(self) -> bool:
        """Whether it is only offered."""
        return self.id.startswith("C")


@dataclass(frozen=True)
class UnitGlance:
    """A unit as a long list shows it: with the last line of its log."""

    id: str
    map_name: str
    last_time: str
    last_text: str


@dataclass(frozen=True)
class BenchEntry:
    """One line of the bench's own log."""

    seq: int
    time: str
    text: str

    def __str__(self) -> str:
        return f"{self.seq} {self.time} {self.text}"


_event = lru_cache(maxsize=8192)(ev.parse)
"""The event of a line as stored: the same words are read once, whatever log they stand in."""

LINE = ("seq", "time", "text", "bench_seq", "map_hash", "version")
"""The columns of a line, in their order in ``Line``."""


@dataclass(frozen=True)
class _Known:
    """A unit's row, with the name of its map."""

    id: str
    map_id: str
    map_name: str


def utc_now() -> str:
    """The time as logs hold it: ISO 8601, UTC, whole seconds."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


class Store:
    """The logs of one bench, in ``home`` (else KNOWNGOOD_HOME, else the user's data directory).

    Created when first opened. Use it in a ``with`` block or close it. Raises StoreError when it cannot be used.
    """

    def __init__(self, home: Path | None = None, *, clock: Callable[[], str] = utc_now) -> None:
        self.place: Place = open_place(home)
        self._home = home
        self._clock = clock
        self._texts: dict[str, str] = {}

    def __enter__(self) -> Store:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()

    def now(self) -> str:
        """The time as a line that is appended now would have it."""
        return self._clock()

    @property
    def home(self) -> Path:
        """The folder of what is kept beside the logs. Created if need be; raises StoreError if it cannot be."""
        return home_directory(self._home)

    def close(self) -> None:
        """Lets go of this thread's connection; the next question opens it again."""
        connections[self.place.alias].close()

    @property
    def is_writing(self) -> bool:
        """Whether this thread is inside ``writing``: what it reads may never come to be."""
        return bool(connections[self.place.alias].in_atomic_block)

    @contextmanager
    def writing(self) -> Iterator[None]:
        """All that is read and appended inside happens at one moment, and all of it or nothing is kept."""
        with said_plainly(self.place), transaction.atomic(using=self.place.alias):
            connection = connections[self.place.alias]
            if connection.vendor == "postgresql":
                # SQLite has one writer at a time by itself; here this lock lets readers on and other writers wait.
                with connection.cursor() as cursor:
                    cursor.execute("LOCK TABLE bench_unit IN SHARE ROW EXCLUSIVE MODE")
            yield

    # ---- units --------------------------------------------------------------------------------------------------

    def new_unit(self, device: Device, first: ev.Bought | ev.Offered, donor: bool = False) -> str:
        """Stores a unit with its purchase as line 1. Returns its id: the next free "U" number, or "D" for a donor.

        One that is only offered has its offer as line 1 and gets a "C" number: it is a candidate, and no unit yet.
        """
        with self.writing():
            unit = self._free("C" if isinstance(first, ev.Offered) else "D" if donor else "U")
            self._begin(unit, device)
            self.append(unit, [first])
        return unit

    def take_in(self, unit: str, device: Device, lines: Sequence[Line]) -> str:
        """Stores a unit with its whole log as it is: numbers, times, and what each line was logged against. Returns its
        id: ``unit``, or the next free number of its letter if that is taken."""
        texts = [_written(line.event) for line in lines]
        with self.writing():
            taken = self._rows(Unit).filter(id=unit).exists()
            name = self._free(unit[0]) if taken else unit
            self._begin(name, device)
            rows = [
                UnitLine(
                    unit_id=name,
                    seq=line.seq,
                    time=line.time,
                    text=text,
                    bench_seq=line.bench_seq,
                    map_hash=line.map_hash,
                    version=line.version,
                )
                for line, text in zip(lines, texts, strict=True)
            ]
            self._rows(UnitLine).bulk_create(rows)
        return name

    def _free(self, letter: str) -> str:
        taken = self._rows(Unit).filter(id__startswith=letter).values_list("id", flat=True)
        return f"{letter}{max((_number(one) for one in taken), default=0) + 1}"

    def _begin(self, unit: str, device: Device) -> None:
        self._rows(MapText).get_or_create(
            content_hash=device.content_hash,
            defaults={"name": device.id, "text": device.text, "first_stored": self._clock()},
        )
        self._rows(Unit).create(id=unit, map_id=device.content_hash)

    def units(self) -> list[UnitSummary]:
        """Every unit and donor, in the order of their numbers; no candidates."""
        return [one for one in self._summaries() if not one.candidate]

    def units_page(self, search: str = "", first: int = 0, most: int = 50) -> tuple[list[UnitGlance], int]:
        """A page of the units and donors whose number or map has the words in it, the newest first, and how many there
        are of them."""
        words = search.strip()
        wanted = ~Q(id__startswith="C")
        if words:
            wanted &= Q(id__istartswith=words) | Q(map__name__icontains="-".join(words.split()))
        with said_plainly(self.place):
            rows = self._rows(Unit).filter(wanted)
            shown = list(rows.order_by(Length("id").desc(), "-id").values_list("id", "map__name")[first : first + most])
            lasts = self._rows(UnitLine).filter(unit_id__in=[unit for unit, _ in shown]).order_by()
            seqs = lasts.values("unit_id").annotate(last=Max("seq")).values_list("unit_id", "last")
            each = Q(pk__in=[])
            for unit, seq in seqs:
                each |= Q(unit_id=unit, seq=seq)
            told = {
                unit: (time, text) for unit, time, text in lasts.filter(each).values_list("unit_id", "time", "text")
            }
            return [UnitGlance(unit, name, *told[unit]) for unit, name in shown], rows.count()

    def candidates(self) -> list[UnitSummary]:
        """Every candidate, in the order of their numbers."""
        return [one for one in self._summaries() if one.candidate]

    def _summaries(self) -> list[UnitSummary]:
        with said_plainly(self.place):
            rows = list(
                self._rows(Unit)
                .annotate(count=Count("lines"), first=Min("lines__time"), last=Max("lines__time"))
                .values_list("id", "map__name", "map_id", "count", "first", "last")
            )
        found = [UnitSummary(unit, name, text, unit.startswith("D"), *rest) for unit, name, text, *rest in rows]
        return sorted(found, key=lambda one: (one.donor, _number(one.id)))

    def names(self) -> dict[str, str]:
        """By unit and donor, in the order of their numbers, the name of its map; no candidates."""
        with said_plainly(self.place):
            rows = self._rows(Unit).exclude(id__startswith="C").values_list("id", "map__name")
            return dict(sorted(rows, key=lambda one: donors_last(one[0])))

    def has(self, unit: str) -> bool:
        """Whether there is a unit or donor of exactly this name."""
        with said_plainly(self.place):
            return bool(unit[:1] != "C" and self._rows(Unit).filter(id=unit).exists())

    def map_marks(self, units: Iterable[str] | None = None) -> dict[str, str]:
        """By unit, of all or of some, the mark of its map's text."""
        with said_plainly(self.place):
            rows = self._rows(Unit) if units is None else self._rows(Unit).filter(id__in=units)
            return dict(rows.values_list("id", "map_id"))

    def unit_id(self, unit: str) -> str:
        """The id as stored, for "u1" too. Raises NotFoundError that names the units there are."""
        return str(self._unit(unit).id)

    def device(self, unit: str) -> Device:
        """The device of a unit, from the map as it was when the unit was bought and the kinds as they are now."""
        row = self._unit(unit)
        try:
            return load_text(self._text(row.map_id), f"map '{row.map_name}' as stored ({row.map_id})")
        except MapError as error:
            why = f"{row.id} was bought by this map, and the kinds that it uses have changed since."
            raise MapError([*error.findings, why]) from None

    def devices(self, units: Iterable[str]) -> dict[str, Device | None]:
        """The devices of some units; None where this version cannot read the map."""
        marks, found = self.map_marks(units), dict[str, Device | None]()
        for unit, mark in marks.items():
            if mark not in found:
                try:
                    found[mark] = self.device(unit)
                except KnowngoodError:
                    found[mark] = None
        return {unit: found[mark] for unit, mark in marks.items()}

    def map_text(self, unit: str) -> MapText:
        """The map of a unit as it was when the unit was bought, whatever the kinds are now."""
        row = self._unit(unit)
        with said_plainly(self.place):
            found: MapText = self._rows(MapText).get(content_hash=row.map_id)
        return found

    # ---- unit logs ----------------------------------------------------------------------------------------------

    def lines(self, unit: str) -> list[Line]:
        """The whole log of a unit, undone lines and undos included."""
        row = self._unit(unit)
        with said_plainly(self.place):
            told = self._rows(UnitLine).filter(unit_id=row.id).order_by("seq").values_list(*LINE)
            return [_line(row.id, *one) for one in told]

    def logs(self, units: Sequence[str]) -> dict[str, list[Line] | LineError]:
        """The whole logs of some units as stored, in one go; of one with a line that cannot be read, what is wrong."""
        found: dict[str, list[Line] | LineError] = {unit: [] for unit in units}
        with said_plainly(self.place):
            rows = self._rows(UnitLine).filter(unit_id__in=units).order_by("unit_id", "seq")
            for unit, *told in rows.values_list("unit_id", *LINE):
                log = found[unit]
                if isinstance(log, list):
                    try:
                        log.append(_line(unit, *told))
                    except LineError as error:
                        found[unit] = error
        return found

    def whole_logs(self, units: Sequence[str]) -> dict[str, list[Line]]:
        """The same; raises LineError for a line that cannot be read."""
        found = self.logs(units)
        for log in found.values():
            if isinstance(log, LineError):
                raise log
        return {unit: log for unit, log in found.items() if isinstance(log, list)}

    def texts(self, verb: str) -> list[tuple[str, str]]:
        """The lines that start with a verb, taken back or not, each with its unit."""
        with said_plainly(self.place):
            rows = self._rows(UnitLine).filter(text__startswith=f"{verb} ").order_by("unit_id", "seq")
            return list(rows.values_list("unit_id", "text"))

    def last_seqs(self, units: Iterable[str]) -> dict[str, int]:
        """Number of the last line of some units' logs."""
        with said_plainly(self.place):
            rows = self._rows(UnitLine).filter(unit_id__in=list(units)).order_by()
            return dict(rows.values("unit_id").annotate(last=Max("seq")).values_list("unit_id", "last"))

    def units_with(self, *verbs: str, since: str = "") -> list[str]:
        """Ids of the units whose log has a line that starts with one of the verbs, at some time or later, in the order
        of their numbers."""
        wanted = Q()
        for verb in verbs:
            wanted |= Q(text__startswith=f"{verb} ", time__gte=since)
        with said_plainly(self.place):
            found = set(self._rows(UnitLine).filter(wanted).order_by().values_list("unit_id", flat=True))
        return sorted(found, key=in_order)

    def last_seq(self, unit: str) -> int:
        """Number of the last line of a unit's log, for a question that is asked every second."""
        with said_plainly(self.place):
            return int(self._rows(UnitLine).filter(unit_id=unit.upper()).aggregate(last=Max("seq"))["last"] or 0)

    def others_stand(self, unit: str) -> tuple[int, int]:
        """Two numbers that change with any line of the bench's log and of every unit's but this one's."""
        with said_plainly(self.place):
            newest = self._rows(UnitLine).order_by("-pk").exclude(unit_id=unit.upper()).values_list("pk", flat=True)
            return self.bench_seq(), newest.first() or 0

    def units_since(self, newest: int, *verbs: str) -> tuple[set[str], int]:
        """Units with a line later than number ``newest`` in the whole store, and the number of the last line now; at
        first (0) only units with a line that starts with one of the verbs."""
        wanted = Q(pk__gt=newest)
        if not newest:
            for number, verb in enumerate(verbs):
                starts = Q(text__startswith=f"{verb} ")
                wanted = starts if number == 0 else wanted | starts
        with said_plainly(self.place):
            last = self._rows(UnitLine).aggregate(last=Max("pk"))["last"] or 0
            return set(self._rows(UnitLine).filter(wanted).order_by().values_list("unit_id", flat=True)), int(last)

    def append(self, unit: str, events: Sequence[ev.Event]) -> list[Line]:
        """Adds events to a log, all or none. Returns their lines once they are on the disk.

        Inside ``writing`` they are on the disk when that block has ended.
        """
        texts = [_written(event) for event in events]
        with self.writing():
            row = self._unit(unit)
            last = self._rows(UnitLine).filter(unit_id=row.id).aggregate(last=Max("seq"))["last"] or 0
            bench_seq = self.bench_seq()
            time = self._clock()
            rows = [
                UnitLine(
                    unit_id=row.id,
                    seq=seq,
                    time=time,
                    text=text,
                    bench_seq=bench_seq,
                    map_hash=row.map_id,
                    version=__version__,
                )
                for seq, text in enumerate(texts, start=last + 1)
            ]
            self._rows(UnitLine).bulk_create(rows)
        return [
            Line(one.seq, one.time, event, one.bench_seq, one.map_hash, one.version)
            for one, event in zip(rows, events, strict=True)
        ]

    # ---- the bench's own log --------------------------------------------------------------------------------------

    def bench_lines(self) -> list[BenchEntry]:
        """The bench's log, oldest first."""
        with said_plainly(self.place):
            return [BenchEntry(*row) for row in self._rows(BenchLine).values_list("seq", "time", "text")]

    def bench_seq(self) -> int:
        """Number of the last line of the bench's log; 0 before the first."""
        with said_plainly(self.place):
            return int(self._rows(BenchLine).aggregate(last=Max("seq"))["last"] or 0)

    def bench_append(self, text: str) -> BenchEntry:
        """Adds a line to the bench's log. Returns it once it is on the disk."""
        line = one_line(text)
        with self.writing():
            row = self._rows(BenchLine).create(seq=self.bench_seq() + 1, time=self._clock(), text=line)
        return BenchEntry(row.seq, row.time, row.text)

    # ---- inside -------------------------------------------------------------------------------------------------

    def _rows(self, table: Any) -> Any:
        return table.objects.using(self.place.alias)

    def _text(self, mark: str) -> str:
        """A map's text by its mark, which is a hash of it: it is read once."""
        if mark not in self._texts:
            with said_plainly(self.place):
                self._texts[mark] = self._rows(MapText).values_list("text", flat=True).get(content_hash=mark)
        return self._texts[mark]

    def _unit(self, unit: str) -> _Known:
        asked = unit.encode(errors="replace").decode().strip()  # what is no text is no unit's name, either
        with said_plainly(self.place):
            for row in self._rows(Unit).filter(id=asked.upper()).values_list("id", "map_id", "map__name"):
                return _Known(*row)
            there_are = [one.id for one in self.units()]
        listed = f"There are: {', '.join(there_are)}." if len(there_are) <= 12 else similar(asked.upper(), there_are)
        raise NotFoundError(f"No unit '{asked}'. {listed if there_are else 'There are none yet: buy one first.'}")


def in_order(unit: str) -> tuple[str, int]:
    """Sorts names of units by their numbers, donors first."""
    return unit[0], _number(unit)


def donors_last(unit: str) -> tuple[bool, tuple[str, int]]:
    """Sorts names of units by their numbers, donors after all others."""
    return unit.startswith("D"), in_order(unit)


def one_line(text: str) -> str:
    """The text with its blanks made single. Raises LineError for what no plain-text file should hold."""
    for place, sign in enumerate(text, start=1):
        if not sign.isspace() and (ord(sign) < 32 or 127 <= ord(sign) < 160 or 0xD800 <= ord(sign) < 0xE000):
            raise LineError(f"{text!a}: character {place} ({sign!a}) is not text. Leave it out.")
    return " ".join(text.split())


def _number(unit: str) -> int:
    return int(unit[1:])


def _written(event: ev.Event) -> str:
    """The event's line, if reading it gives the same event back; else what is stored would not be what was meant."""
    text = one_line(ev.render(event))
    if ev.parse(text) != event:
        raise LineError(f"'{text}' would be read back as something else. Say it in other words.")
    return text


def _line(unit: str, seq: int, time: str, text: str, bench_seq: int, map_hash: str, version: str) -> Line:
    try:
        event = _event(text)
    except LineError as error:
        where = f"{unit} line {seq}, written by knowngood {version}"
        raise LineError(f"{where}: {error} This is knowngood {__version__}; update it.", error.similar) from None
    return Line(seq, time, event, bench_seq, map_hash, version)
