"""Labels drawn: placed here in millimetres, and set by Typst with the fonts that it carries, so that SVG and PDF look
the same on every machine. Text in them is drawn as shapes in the SVG and stays text in the PDF."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby
from textwrap import wrap
from typing import TYPE_CHECKING, Any

from knowngood.cli.paper import needed, typeset
from knowngood.errors import PictureError

if TYPE_CHECKING:
    from knowngood.bench.labels import Label

MARGIN = 1.5
"""Clear edge of a label, in mm."""

QUIET = 4
"""Clear modules round a QR code (ISO/IEC 18004, from memory)."""

LEAST_MODULE = 0.33
"""Width of a QR module that a phone reads without effort, in mm (common practice, no source)."""

NUMBER_SHARE = 0.36
"""Least share of the height for the number: 4 mm of letter on a label of 20 mm, read at a metre (1/250 of the distance;
common practice, no source)."""

NUMBER_WEIGHT = 4.2
"""What the number's row counts, where the others leave it more than that."""

LEAST_ROW = 2.0
"""Least height of a row that counts 1, in mm."""

LEAST_TEXT = 1.6
"""Least size of other text, in mm; what is longer is cut with an ellipsis."""

WRAPPED = 1.9
"""Size of text that goes on a second line rather than being smaller, in mm."""

INSET = 0.6
"""Of the text in its row, so that a frame has room, in mm."""

ADVANCE = 0.602
"""Width of a letter of DejaVu Sans Mono by its size (its font file)."""

IN_FRAME = 0.66
"""The same inside a frame, clear of its lines."""

FILLS = 0.8
"""Size of text by the height of its row."""

CODE_SHARE = 0.42
"""Most of a label's width that the QR code may take."""

WIDER = 1.5
"""Least width of a label by its height: the code stands beside the text."""

GAP = 4.0
"""Between labels on a sheet and round them, in mm."""

SIZE = re.compile(r"(\d+(?:[.,]\d+)?) ?[x×] ?(\d+(?:[.,]\d+)?) ?mm")


@dataclass(frozen=True)
class Measure:
    """A label's size, and that of the sheet it is printed on; in mm."""

    width: float
    height: float
    sheet: tuple[float, float] | None = None


@dataclass(frozen=True)
class Row:
    """One row of text: its height counts by ``weight``."""

    text: str
    weight: float
    bold: bool = False
    shape: str = ""
    fills: float = FILLS
    """Largest size of the text by the height of the row."""
    framed: int = 0
    """A frame round so many rows, from this one down."""


def measure(size: str, sheet: str | None = None) -> Measure:
    """Sizes as written, "62x29 mm". Raises PictureError for what is none, or holds no label."""
    width, height = _size(size)
    if width < WIDER * height:
        raise PictureError(f"A label is at least {WIDER:g} times as wide as high, and '{size}' is not.")
    if sheet is None:
        return Measure(width, height)
    across, down = _size(sheet)
    if across < width + 2 * GAP or down < height + 2 * GAP:
        raise PictureError(f"No label of {width:g}x{height:g} mm fits on a sheet of {across:g}x{down:g} mm.")
    return Measure(width, height, (across, down))


def _size(text: str) -> tuple[float, float]:
    found = SIZE.fullmatch(text.strip())
    if not found:
        raise PictureError(f"'{text}' is not a size. Write width and height: 62x29 mm")
    width, height = (float(one.replace(",", ".")) for one in found.groups())
    if not (10.0 <= width <= 1000.0 and 10.0 <= height <= 1000.0):
        raise PictureError(f"'{text}': a side is 10 to 1000 mm.")
    return width, height


def as_svg(labels: Sequence[Label], size: Measure) -> bytes:
    """All labels in one picture, one below another. Raises PictureError if one cannot be read at that size."""
    return column(labels, size, "svg")


def column(labels: Sequence[Label], size: Measure, form: str) -> bytes:
    """Labels one below another as one picture, ``svg`` or ``png``. Raises PictureError."""
    sheet = (size.width + 2 * GAP, GAP + len(labels) * (size.height + GAP))
    return _set([_placed(labels, size, sheet)], sheet, form)


def as_pdf(labels: Sequence[Label], size: Measure) -> tuple[int, bytes]:
    """How many pages, and the PDF: a label on each, or as many as fit on each sheet. Raises PictureError."""
    if size.sheet is None:
        pages = [[_drawn(one, size, 0.0, 0.0)] for one in labels]
        return len(pages), _set(pages, (size.width, size.height), "pdf")
    on_sheet = _number(size.width, size.sheet[0]) * _number(size.height, size.sheet[1])
    starts = range(0, len(labels), on_sheet)
    pages = [_placed(labels[start : start + on_sheet], size, size.sheet) for start in starts]
    return len(pages), _set(pages, size.sheet, "pdf")


def _placed(labels: Sequence[Label], size: Measure, sheet: tuple[float, float]) -> list[dict[str, Any]]:
    """Labels side by side on one sheet, from its upper left corner."""
    columns = _number(size.width, sheet[0])
    places = (divmod(number, columns) for number in range(len(labels)))
    return [
        _drawn(one, size, GAP + column * (size.width + GAP), GAP + row * (size.height + GAP))
        for one, (row, column) in zip(labels, places, strict=True)
    ]


def _number(side: float, of_sheet: float) -> int:
    """How many labels fit along a side of a sheet, with a gap between and round them."""
    return int((of_sheet - GAP) / (side + GAP) + 1e-9)


def _drawn(label: Label, size: Measure, x: float, y: float) -> dict[str, Any]:
    """One label with its upper left corner at a place, all that is drawn on it in mm."""
    drawn = _readable(label, size.width, size.height)
    if drawn is None:
        larger = ((round(size.width * (1 + step / 10)), round(size.height * (1 + step / 10))) for step in range(1, 100))
        enough = next((one for one in larger if _readable(label, *one)), None)
        hint = f" It can at {enough[0]}x{enough[1]} mm." if enough else ""
        raise PictureError(
            f"The label of {label.asked} cannot be read and scanned at {size.width:g}x{size.height:g} mm.{hint}"
        )
    texts = [{**one, "x": one["x"] + x, "y": one["y"] + y} for one in drawn["texts"]]
    code = [[left + x, top + y, width] for left, top, width in drawn["code"]]
    return {**drawn, "x": x, "y": y, "texts": texts, "code": code}


def _readable(label: Label, wide: float, high: float) -> dict[str, Any] | None:
    """What is drawn on a label of that size, from its own corner; None if it would be too small to read or to scan."""
    runs, modules = _code(label.code)
    side = min(high - MARGIN, CODE_SHARE * wide)
    module = side / (modules + 2 * QUIET)
    width, height = wide - side - MARGIN - 1.0, high - 2 * MARGIN
    rows = _rows(label, width, height)
    number = height * max(NUMBER_SHARE, NUMBER_WEIGHT / (NUMBER_WEIGHT + _weight(rows)))
    top, texts = MARGIN, []
    for row in (Row(label.number, 0.0, bold=True), *rows):
        high_as = (height - number) * row.weight / _weight(rows) if row.weight else number
        texts.append(_text(row, MARGIN, top, width, high_as))
        top += high_as
    cut = any(one["bold"] and one["text"].endswith("…") for one in texts)
    if module < LEAST_MODULE or cut or not _fits(rows, height):
        return None
    plain = [one for one in texts if not one["bold"]]
    for one in plain:  # all in one size
        one["size"] = min(each["size"] for each in plain)
    left, top = wide - side + QUIET * module, (high - side) / 2 + QUIET * module
    code = [[left + column * module, top + row * module, length * module] for row, column, length in runs]
    return {"width": wide, "height": high, "texts": texts, "code": code, "module": module}


def _rows(label: Label, width: float, height: float) -> list[Row]:
    """What stands below the number, as much of it as can be read: first all with second lines, then without these, then
    with fewer notes. Name, pair and cautions are never left out."""
    notes = [*([label.pair.others] if label.pair else []), *label.notes]
    rows = _with(label, notes, width, 2)
    if not _fits(rows, height):
        rows = _with(label, notes, width, 1)
    while notes and not _fits(rows, height):
        notes.pop()
        left_out = len(label.notes) + bool(label.pair) - len(notes)
        # A list says that it goes on; single facts are left out one by one.
        shown = notes if label.what else [*notes[:-1], f"and {left_out + 1} more"]
        rows = _with(label, shown, width, 1)
    return rows


def _with(label: Label, notes: Iterable[str], width: float, lines: int) -> list[Row]:
    most = int(width / (ADVANCE * WRAPPED))
    rows = [Row(label.name, 1.9, bold=True)] if label.name else []
    rows += [Row(line, 1.2) for line in _wrapped(label.what, most, lines)]
    if label.pair:
        rows.append(Row(label.pair.words, 1.4, bold=True, shape=label.pair.shape))
    rows += [Row(line, 1.0) for note in notes for line in _wrapped(note, most, lines)]
    if label.cautions:  # on as many lines as they take: a caution is never cut
        said = wrap(f"! {', '.join(label.cautions)}", int((width - 2 * INSET) / (ADVANCE * LEAST_TEXT)))
        rows += [
            Row(line, 1.4, True, fills=IN_FRAME, framed=0 if number else len(said)) for number, line in enumerate(said)
        ]
    return rows


def _wrapped(text: str, most: int, lines: int) -> list[str]:
    """The text on so many lines at most; on one, it is made smaller or cut when it is placed."""
    if lines == 1:
        return [text] if text else []
    return wrap(text, most, max_lines=lines, placeholder=" …", break_on_hyphens=False)


def _weight(rows: Iterable[Row]) -> float:
    return sum(row.weight for row in rows)


def _fits(rows: Sequence[Row], height: float) -> bool:
    """Whether the rows below the number can be read in a label's height."""
    return (1.0 - NUMBER_SHARE) * height >= LEAST_ROW * _weight(rows)


def _text(row: Row, x: float, y: float, width: float, height: float) -> dict[str, Any]:
    """A row at its place: as large as it fits, and cut where it would be too small to read."""
    inset = 1.25 * height if row.shape else INSET
    room = width - inset - INSET
    largest = row.fills * height
    size = max(min(largest, room / (ADVANCE * len(row.text))), min(LEAST_TEXT, largest))
    most = int(room / (ADVANCE * size) + 1e-9)
    text = row.text if len(row.text) <= most else row.text[: most - 1].rstrip() + "…"
    return {
        "text": text,
        "bold": row.bold,
        "shape": row.shape,
        "framed": row.framed,
        "size": size,
        "x": x,
        "inset": inset,
        "y": y,
        "width": width,
        "height": height,
    }


def _code(text: str) -> tuple[list[tuple[int, int, int]], int]:
    """Dark runs of a QR code as (row, first column, length), and how many modules wide it is."""
    made = needed("segno").make(text, error="m", micro=False)
    runs = []
    for number, row in enumerate(made.matrix):
        column = 0
        for dark, modules in groupby(row):
            length = len(list(modules))
            if dark:
                runs.append((number, column, length))
            column += length
    return runs, len(made.matrix)


def _set(pages: Sequence[Iterable[dict[str, Any]]], sheet: tuple[float, float], form: str) -> bytes:
    """The pages set by Typst as ``pdf``, or one page as ``svg`` or ``png``."""
    given = {"width": sheet[0], "height": sheet[1], "pages": [list(page) for page in pages]}
    return typeset("labels.typ", given, form)
