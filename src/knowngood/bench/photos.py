"""Photos of units: the original bytes, never rewritten, in ``photos/UNIT`` of the home, each named by a log line.

A file is on the disk before its line is. A crash between the two leaves a file that no line names, and nothing else.
"""

from __future__ import annotations

import hashlib
import os
from pathlib import Path
from typing import Literal

from knowngood.bench.store import Store
from knowngood.errors import LineError, NotFoundError, StoreError
from knowngood.log import events as ev

LARGEST = 64 * 2**20
"""Bytes that a photo may have (own judgement: raw pictures of a good camera have fewer)."""

HEIC_BRANDS = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1")
"""Brands of a picture in a HEIF file (ISO/IEC 23008-12, annex B; from memory)."""


def kind_of(content: bytes) -> Literal["jpg", "png", "webp", "heic"] | None:
    """What a file is by how it begins and ends, whatever it is called; None if it is none of these, or cut short.

    JPEG: SOI, and EOI somewhere after it (ITU-T T.81, B.1.1.3); PNG: signature, and IEND (W3C PNG 5.2, 11.2.5); WebP:
    RIFF of the length that it says (RFC 9649, 2.4); HEIC: ``ftyp`` with a brand of its own (from memory).
    """
    if content.startswith(b"\xff\xd8\xff"):
        return "jpg" if b"\xff\xd9" in content[3:] else None
    if content.startswith(b"\x89PNG\r\n\x1a\n"):
        return "png" if b"IEND\xaeB`\x82" in content else None
    if content[:4] == b"RIFF" and content[8:12] == b"WEBP":
        return "webp" if len(content) >= 8 + int.from_bytes(content[4:8], "little") else None
    if content[4:8] == b"ftyp":
        length = int.from_bytes(content[:4], "big")
        brands = {content[8:12], *(content[at : at + 4] for at in range(16, min(length, 256), 4))}
        return "heic" if 16 <= length < len(content) and brands & set(HEIC_BRANDS) else None
    return None


def folder(store: Store, unit: str) -> Path:
    """Where the photos of a unit are."""
    return store.home / "photos" / store.unit_id(unit)


def stored(store: Store, unit: str, event: ev.Photographed) -> Path:
    """The file of a line. Raises LineError if it is not there."""
    file = folder(store, unit) / event.file
    if not file.is_file():
        raise LineError(
            f"'{ev.render(event)}': no photo '{event.file}' of {store.unit_id(unit)} is stored. "
            f"Store it, and this line is logged: knowngood photo {store.unit_id(unit)} FILE --of {event.target}"
        )
    return file


def read(file: Path) -> tuple[bytes, str]:
    """A photo that a person named, and what it is. Raises NotFoundError, and LineError for one that is no photo."""
    try:
        if file.is_file():
            small_enough(str(file), file.stat().st_size)
        content = file.read_bytes()
    except OSError as error:
        raise NotFoundError(f"The photo '{file}' cannot be read: {error.strerror}. Nothing was stored.") from None
    return content, checked(str(file), content)


def small_enough(name: str, size: int) -> None:
    """Raises LineError for a file of too many bytes."""
    if size > LARGEST:
        raise LineError(
            f"'{name}' has {size / 2**20:.0f} MiB; a photo has at most {LARGEST // 2**20}. Nothing was stored."
        )


def checked(name: str, content: bytes) -> str:
    """What a photo is by its content. Raises LineError, by its name, for what is none."""
    extension = kind_of(content)
    if extension is None:
        what = "is empty" if not content else "is no whole JPEG, PNG, WebP or HEIC picture, whatever its name says"
        raise LineError(f"'{name}' {what}. Nothing was stored.")
    return extension


def keep(there: Path, content: bytes, extension: str, seq: int) -> tuple[str, bool]:
    """The name of the photo in a folder, and whether it is new there. Raises StoreError."""
    mark = hashlib.sha256(content).hexdigest()[:8]
    try:
        there.mkdir(parents=True, exist_ok=True)
        for same in sorted(there.glob(f"*-{mark}.{extension}")):
            if same.read_bytes() == content:
                return same.name, False
        file = there / f"{seq:04d}-{mark}.{extension}"
        beside = file.with_name(file.name + ".new")
        with beside.open("wb") as out:
            out.write(content)
            out.flush()
            os.fsync(out.fileno())
        beside.replace(file)
    except OSError as error:
        raise StoreError(f"The photo cannot be stored in '{there}': {error.strerror}. Nothing was stored.") from None
    return file.name, True
