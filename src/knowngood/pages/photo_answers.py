"""From a unit's log to its photos, the marks on them, and before beside after."""

from __future__ import annotations

from knowngood.bench.store import Store
from knowngood.bench.work import replayed
from knowngood.log.intake import Intake, before_and_after, shown_on_photos
from knowngood.maps.device import Device
from knowngood.pages.photo_shapes import Album, Cell, Mark, Pair, Shot

COLUMNS = 8
"""Fields of the grid side by side: on a phone each is as wide as a fingertip."""


def album(store: Store, unit: str) -> Album:
    """All photos of a unit."""
    device, told = replayed(store, unit)
    intake = told.state.intake
    times = {line.seq: line.time for line in told.lines}
    shots = tuple(_shots(device, intake, times))
    by_file = {one.file: one for one in shots}
    counts = {part: sum(_shows(one, part) for one in shots) for part in device.parts}
    return Album(
        unit=store.unit_id(unit),
        what=device.what,
        left=told.state.exit is not None,
        seq=store.last_seq(unit),
        shots=shots[::-1],
        pairs=tuple(
            Pair(before.target, by_file[before.file], by_file[after.file])
            for before, after in before_and_after(photo for _, photo in intake.photos)
        ),
        shown=tuple(
            sorted(((one, count) for one, count in counts.items() if count), key=lambda one: (-one[1], one[0]))
        ),
        unseen=tuple(sorted(one for one, count in counts.items() if not count)),
        targets=shown_on_photos(device, told.state.met.sorts),
    )


def _shots(device: Device, intake: Intake, times: dict[int, str]) -> list[Shot]:
    return [
        Shot(
            file=photo.file,
            target=photo.target,
            when=photo.when or "",
            seq=seq,
            time=times.get(seq, ""),
            note=photo.note,
            marks=_marks(device, intake, photo.file),
            is_part=photo.target in device.parts,
        )
        for seq, photo in intake.photos
    ]


def _marks(device: Device, intake: Intake, file: str) -> tuple[Mark, ...]:
    on_it = [mark for _, mark in intake.marks if mark.file == file]
    return tuple(
        Mark(number, one.x, one.y, one.target, one.note, one.target in device.parts)
        for number, one in enumerate(on_it, start=1)
    )


def _shows(shot: Shot, part: str) -> bool:
    return shot.target == part or any(mark.target == part for mark in shot.marks)


def of_part(found: Album, part: str) -> tuple[Shot, ...]:
    """The photos that show a part, the newest first."""
    return tuple(one for one in found.shots if _shows(one, part))


def grid(width: int, height: int) -> tuple[Cell, ...]:
    """Fields over a photo of this shape, row by row, about square."""
    rows = max(1, round(COLUMNS * height / width))
    return tuple(
        Cell(round(100 * (column + 0.5) / COLUMNS), round(100 * (row + 0.5) / rows))
        for row in range(rows)
        for column in range(COLUMNS)
    )
