"""A unit as a folder of plain files: how it leaves a bench, and how it comes back without loss.

What a folder holds, each thing once: ``log.txt`` the lines, ``stored.csv`` what each was logged against, ``map.yaml``
the map as it was at the purchase, ``photos/`` the pictures, byte for byte, ``SHA256SUMS`` the mark of each file (as
the tool ``sha256sum`` of GNU coreutils writes and checks it). ``readings.csv`` and ``README.txt`` are for people and
other programs; coming back, nothing is read from them.
"""

from __future__ import annotations

import csv
import hashlib
import io
import os
import re
import shutil
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import IO

from knowngood import __version__
from knowngood.bench import photos
from knowngood.bench.store import BenchEntry, Store, one_line
from knowngood.bench.work import replayed
from knowngood.errors import LineError, NotFoundError, StoreError
from knowngood.log import events as ev
from knowngood.log.events.intake import PHOTO
from knowngood.log.state import Line, effective
from knowngood.maps.device import Device
from knowngood.maps.load import load_text

FORM = "knowngood folder 1"
"""First words of ``log.txt``; another number is another layout."""

LOG, STORED, MAP, READINGS, README, SUMS = (
    *("log.txt", "stored.csv", "map.yaml", "readings.csv", "README.txt", "SHA256SUMS"),
)
NEEDED = (LOG, STORED, MAP, READINGS, README)
COLUMNS = ("line", "bench_line", "bench_mark", "map_mark", "version")
LARGEST_TEXT = 64 * 2**20
"""Bytes of a file that is no photo (own judgement)."""

UNIT_NAME = re.compile(r"[CDU][1-9]\d{0,8}")


@dataclass(frozen=True)
class Left:
    """A unit that was written down."""

    unit: str
    files: tuple[str, ...]
    lines: int
    photos: int
    missing: tuple[str, ...]
    """Photos that the log names and that are not stored."""
    films: tuple[str, ...]
    """Films that the log names: the bench does not keep them, so they are not among the files."""


@dataclass(frozen=True)
class Came:
    """A unit that came back."""

    unit: str
    was: str
    """The name that it had."""
    lines: int
    photos: int
    remarks: tuple[str, ...]
    """What to mind, one sentence each."""


# ---- a unit leaves ----------------------------------------------------------------------------------------------


def files_of(store: Store, unit: str) -> Iterator[tuple[str, bytes]]:
    """Name and content of each file of a unit's folder, the marks of all others last. Raises NotFoundError."""
    name = store.unit_id(unit)
    lines, map_ = store.lines(name), store.map_text(name)
    marks: dict[str, str] = {}
    named = [_name(one) for one in pictures(lines)]
    there = [one for one in named if (photos.folder(store, name) / one).is_file()]
    texts = {
        README: _readme(name, map_.name, lines, len(there), [one for one in named if one not in there]),
        LOG: "".join(
            [f"# {FORM}: unit {name}\n", *(f"{one.seq} {one.time} {ev.render(one.event)}\n" for one in lines)]
        ),
        STORED: _table(COLUMNS, _stored(lines, store.bench_lines())),
        MAP: map_.text,
        READINGS: _table(("line", "time", "holds", "what", "as_written", "by"), _readings(lines)),
    }
    for file, text in texts.items():
        content = text.encode()
        marks[file] = _mark(content)
        yield file, content
    for one in there:
        content = (photos.folder(store, name) / one).read_bytes()
        marks[f"photos/{one}"] = _mark(content)
        yield f"photos/{one}", content
    yield SUMS, "".join(f"{mark}  {file}\n" for file, mark in marks.items()).encode()


def leave(store: Store, unit: str, folder: Path) -> Left:
    """Writes a unit into a new folder, all of it or nothing. The unit stays here, too.

    Raises NotFoundError for no such unit, StoreError if the folder is there already or cannot be written.
    """
    name = store.unit_id(unit)
    if folder.exists() and not (folder.is_dir() and not any(folder.iterdir())):
        raise StoreError(f"'{folder}' is there already. Name a folder that is not, or an empty one.")
    beside = folder.with_name(f"{folder.name}.new-{os.getpid()}")
    written: list[str] = []
    try:
        for file, content in files_of(store, name):
            (beside / file).parent.mkdir(parents=True, exist_ok=True)
            (beside / file).write_bytes(content)
            written.append(file)
        beside.replace(folder)
    except OSError as error:
        raise StoreError(f"The folder '{folder}' cannot be written: {error.strerror}. Nothing is left of it.") from None
    finally:
        shutil.rmtree(beside, ignore_errors=True)
    lines = store.lines(name)
    wanted = [_name(one) for one in pictures(lines)]
    missing = tuple(one for one in wanted if f"photos/{one}" not in written)
    return Left(name, tuple(written), len(lines), len(wanted) - len(missing), missing, films(lines))


def zipped(store: Store, unit: str, out: IO[bytes]) -> None:
    """Writes the same folder, named by the unit, as a ZIP archive."""
    name = store.unit_id(unit)
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for file, content in files_of(store, name):
            archive.writestr(f"{name}/{file}", content)


def pictures(lines: Iterable[Line]) -> list[ev.Photographed]:
    """The photos that a log names, lines that were taken back among them; each file once."""
    found = {one.event.file: one.event for one in lines if isinstance(one.event, ev.Photographed)}
    return list(found.values())


def films(lines: Iterable[Line]) -> tuple[str, ...]:
    """The films that a log names, each once."""
    return tuple(dict.fromkeys(one.event.film for one in lines if isinstance(one.event, (ev.Clapped, ev.Hid))))


def _name(event: ev.Photographed) -> str:
    return str(event.file)


def _mark(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _table(columns: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """CSV (RFC 4180)."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(columns)
    writer.writerows(rows)
    return out.getvalue()


def _stored(lines: Sequence[Line], bench: Sequence[BenchEntry]) -> Iterator[tuple[object, ...]]:
    marks = {seq: bench_mark(bench, seq) for seq in {one.bench_seq for one in lines}}
    for one in lines:
        yield one.seq, one.bench_seq, marks[one.bench_seq], one.map_hash, one.version


def bench_mark(bench: Sequence[BenchEntry], upto: int) -> str:
    """What tells whether a bench's log up to a line is this one: its first sixteen letters of SHA-256."""
    return _mark("\n".join(str(one) for one in bench if one.seq <= upto).encode())[:16]


def _readings(lines: Sequence[Line]) -> Iterator[tuple[object, ...]]:
    holding = {one.seq for one in effective(list(lines))[0]}
    for one in lines:
        holds = "yes" if one.seq in holding else "no"
        if isinstance(one.event, ev.Read):
            yield one.seq, one.time, holds, one.event.test, one.event.reading, ""
        elif isinstance(one.event, ev.Measured):
            yield one.seq, one.time, holds, one.event.quantity, one.event.reading, one.event.instrument


def _readme(unit: str, map_name: str, lines: Sequence[Line], count: int, missing: Sequence[str]) -> str:
    lacks = "".join(f"Not stored at that bench any more: {one}\n" for one in missing)
    lacks += "".join(
        f"A film that the log names and that no bench keeps, to be brought along by hand: {one}\n"
        for one in films(lines)
    )
    return (
        f"Unit {unit}, map {map_name}: {len(lines)} lines from {lines[0].time} to {lines[-1].time}, {count} photos.\n"
        f"Written by knowngood {__version__}. All files are plain; the texts are UTF-8.\n\n"
        f"{LOG:<13} what happened: number, time (UTC) and line. A line 'undid 7' takes line 7 back.\n"
        f"{READINGS:<13} the readings among these lines, as a table.\n"
        f"{MAP:<13} what the device is made of, as it was known when the unit was bought.\n"
        f"{'photos/':<13} pictures, as they were taken: they may hold the place where that was.\n"
        f"{STORED:<13} the program's version and the bench's settings that each line rests on.\n"
        f"{SUMS:<13} marks of all files; 'sha256sum -c {SUMS}' in this folder finds a changed one.\n{lacks}\n"
        "Back into a bench: knowngood import FOLDER. Nothing may be changed before that.\n"
    )


# ---- and comes back ---------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Carried:
    """What a folder holds, found to be whole."""

    unit: str
    device: Device
    lines: tuple[Line, ...]
    bench_marks: tuple[str, ...]
    """By line: what tells whether the bench's log up to its ``bench_seq`` is this bench's."""
    photos: tuple[Path, ...]
    missing: tuple[str, ...]


def carried(folder: Path) -> Carried:
    """Reads a unit's folder. Raises NotFoundError if it or a file is missing, LineError for what was changed or is
    broken, MapError for a map that does not fit this program's kinds."""
    if not folder.is_dir():
        raise NotFoundError(f"There is no folder '{folder}'.")
    marks = _sums(folder)
    texts = {}
    for name in NEEDED:
        if name not in marks:
            raise LineError(f"'{folder / SUMS}' does not name {name}: this is no whole folder of a unit. {KEPT}")
        texts[name] = _text(folder, name, _checked(folder, name, marks[name]))
    unit, told = _log(folder, texts[LOG])
    device = load_text(texts[MAP], str(folder / MAP))
    lines, bench_marks = _with_stored(folder, told, texts[STORED], device)
    _first(folder, unit, lines, device)
    named = [_name(one) for one in pictures(lines)]
    there = [name.removeprefix("photos/") for name in marks if name.startswith("photos/")]
    if strange := sorted({*marks} - {*NEEDED, *(f"photos/{one}" for one in named)}):
        raise LineError(f"'{folder / SUMS}' names {strange[0]}, which no line of the log does. {KEPT}")
    for one in there:
        content = _checked(folder, f"photos/{one}", marks[f"photos/{one}"])
        if photos.kind_of(content) != one.rpartition(".")[2]:
            raise LineError(f"'{folder}/photos/{one}' is no whole picture of that kind. {KEPT}")
    missing = tuple(one for one in named if one not in there)
    return Carried(unit, device, lines, bench_marks, tuple(folder / "photos" / one for one in there), missing)


KEPT = "Nothing was kept of it."


def come_back(store: Store, folder: Path) -> Came:
    """Stores the unit of a folder, all of it or nothing, under its own name, or the next free one if that is taken.

    Raises what ``carried`` raises, and StoreError.
    """
    found = carried(folder)
    remarks = [f"The photo {one} was not in the folder." for one in found.missing]
    remarks += [f"Its log names the film {one}, which does not travel in the folder." for one in films(found.lines)]
    bench = store.bench_lines()
    own = {line.bench_seq: bench_mark(bench, line.bench_seq) for line in found.lines}
    foreign = [line for line, mark in zip(found.lines, found.bench_marks, strict=True) if own[line.bench_seq] != mark]
    lines = [replace(one, bench_seq=store.bench_seq()) if one in foreign else one for one in found.lines]
    if foreign:
        remarks.append(
            f"{len(foreign)} of its lines were logged at another bench, or before this one's log began anew: they rest "
            "on the settings of this bench as they are now."
        )
    new: list[Path] = []
    try:
        with store.writing():
            unit = store.take_in(found.unit, found.device, lines)
            there = photos.folder(store, unit)
            for file in found.photos:
                new += _placed(there / file.name, file.read_bytes())
    except BaseException:
        for file in new:
            with suppress(OSError):
                file.unlink()
        raise
    if unit != found.unit:
        remarks.insert(0, f"{found.unit} is taken here, so it is {unit}.")
    remarks += [f"Line {flag.seq} does not fit here: {flag.message}" for flag in replayed(store, unit)[1].flags]
    remarks += _borrowed(store, unit)
    return Came(unit, found.unit, len(lines), len(found.photos), tuple(remarks))


def _borrowed(store: Store, unit: str) -> Iterator[str]:
    """Names in its lines that mean something at this bench, and may have meant something else at another."""
    others = {one.id for one in store.units()} - {unit}
    for line in effective(store.lines(unit))[0]:
        if isinstance(line.event, ev.Fitted) and line.event.origin in others:
            yield f"Line {line.seq} takes {line.event.part} from {line.event.origin}: that is {line.event.origin} here."
        elif isinstance(line.event, ev.Used):
            yield f"Line {line.seq} takes loose parts from {line.event.lot}: that is this bench's lot."


def _placed(file: Path, content: bytes) -> list[Path]:
    """Writes a photo where none of that name is. Returns what is new. Raises StoreError."""
    try:
        if file.exists():
            if file.read_bytes() == content:
                return []
            raise StoreError(f"Another photo is stored as '{file}' already. {KEPT}")
        file.parent.mkdir(parents=True, exist_ok=True)
        with file.open("xb") as out:
            out.write(content)
            out.flush()
            os.fsync(out.fileno())
    except OSError as error:
        raise StoreError(f"The photo cannot be stored as '{file}': {error.strerror}. {KEPT}") from None
    return [file]


def _sums(folder: Path) -> dict[str, str]:
    text = _text(folder, SUMS, _bytes(folder, SUMS))
    marks = {}
    for number, line in enumerate(text.splitlines(), start=1):
        parts = re.fullmatch(rf"([0-9a-f]{{64}})  ((?:photos/{PHOTO})|[A-Za-z]+\.[a-z]+)", line)
        if parts is None:
            raise LineError(f"'{folder / SUMS}' line {number} is no mark of a file. {KEPT}")
        marks[parts[2]] = parts[1]
    return marks


def _bytes(folder: Path, name: str) -> bytes:
    file = folder / name
    most = photos.LARGEST if name.startswith("photos/") else LARGEST_TEXT
    try:
        if file.stat().st_size > most:
            raise LineError(f"'{file}' has more than {most // 2**20} MiB. {KEPT}")
        return file.read_bytes()
    except OSError as error:
        raise NotFoundError(f"'{file}' cannot be read: {error.strerror}. {KEPT}") from None


def _checked(folder: Path, name: str, mark: str) -> bytes:
    content = _bytes(folder, name)
    if _mark(content) != mark:
        raise LineError(f"'{folder / name}' was changed since it was written: its mark in {SUMS} is another. {KEPT}")
    return content


def _text(folder: Path, name: str, content: bytes) -> str:
    try:
        return content.decode()
    except UnicodeDecodeError:
        raise LineError(f"'{folder / name}' is not UTF-8 text. {KEPT}") from None


def _log(folder: Path, text: str) -> tuple[str, list[tuple[int, str, ev.Event]]]:
    head, *rows = text.splitlines() or [""]
    said = re.fullmatch(rf"# {FORM}: unit (\S+)", head)
    if said is None or not UNIT_NAME.fullmatch(said[1]):
        raise LineError(f"'{folder / LOG}' does not begin with '# {FORM}: unit U1'. {KEPT}")
    told = []
    for number, row in enumerate(rows, start=1):
        seq, _, rest = row.partition(" ")
        time, _, line = rest.partition(" ")
        where = f"'{folder / LOG}' line {number + 1}"
        if seq != str(number):
            raise LineError(f"{where}: it has number {seq!a} in the log and should have {number}. {KEPT}")
        try:
            known = datetime.strptime(time, "%Y-%m-%dT%H:%M:%SZ").strftime("%Y-%m-%dT%H:%M:%SZ")
        except ValueError:
            known = ""
        if known != time:
            raise LineError(f"{where}: {time!a} is no time as 2026-03-01T09:30:00Z. {KEPT}")
        try:
            event = ev.parse(one_line(line))
        except LineError as error:
            raise LineError(f"{where}: {error} {KEPT}") from None
        if ev.render(event) != line:
            raise LineError(f"{where}: it would be read back as '{ev.render(event)}'. {KEPT}")
        told.append((number, time, event))
    if not told:
        raise LineError(f"'{folder / LOG}' holds no line. {KEPT}")
    return said[1], told


def _with_stored(
    folder: Path, told: Sequence[tuple[int, str, ev.Event]], text: str, device: Device
) -> tuple[tuple[Line, ...], tuple[str, ...]]:
    rows = list(csv.DictReader(io.StringIO(text)))
    where = f"'{folder / STORED}'"
    if len(rows) != len(told):
        raise LineError(f"{where} has {len(rows)} rows and {LOG} {len(told)} lines. {KEPT}")
    lines, marks = [], []
    for (seq, time, event), row in zip(told, rows, strict=True):
        said = [row.get(name) or "" for name in COLUMNS]
        number, bench, mark, map_mark, version = said
        if number != str(seq) or not re.fullmatch(r"\d{1,9}", bench) or not 0 < len(version) <= 32:
            raise LineError(f"{where}: its row {seq} is not as it was written. {KEPT}")
        if map_mark != device.content_hash:
            raise LineError(f"{where}: line {seq} was logged by another map than {MAP}. {KEPT}")
        lines.append(Line(seq, time, event, int(bench), map_mark, version))
        marks.append(mark)
    return tuple(lines), tuple(marks)


def _first(folder: Path, unit: str, lines: Sequence[Line], device: Device) -> None:
    first = lines[0].event
    fits = isinstance(first, ev.Offered if unit.startswith("C") else ev.Bought)
    if not fits or not isinstance(first, (ev.Bought, ev.Offered)) or first.map != device.id:
        raise LineError(f"'{folder / LOG}' does not begin with the purchase of a unit of map {device.id}. {KEPT}")
    for one in lines[1:]:
        if isinstance(one.event, (ev.Bought, ev.Offered)):
            raise LineError(f"'{folder / LOG}': line {one.seq} is a second purchase. {KEPT}")
        if isinstance(one.event, ev.Undid) and one.event.line == 1:
            raise LineError(f"'{folder / LOG}': line {one.seq} takes the purchase back, which no line can. {KEPT}")
