"""Loads a map: by name from the library, or from a file."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from knowngood.errors import MapError, NotFoundError
from knowngood.maps.build import build
from knowngood.maps.check import check
from knowngood.maps.device import Device
from knowngood.maps.kinds import shipped_maps
from knowngood.maps.read import Finding, read_file, read_text
from knowngood.maps.shape import similar


def findings_in(path: Path) -> list[Finding]:
    """Every mistake of a map file, in the order of the file."""
    document = read_file(path)
    check(document)
    return sorted(document.findings, key=lambda one: (one.place.line, one.place.column))


@lru_cache(maxsize=16)
def load_text(text: str, file: str) -> Device:
    """The device of a map's text. Raises MapError with every finding."""
    document = read_text(text, file)
    table = check(document)
    if table is None:
        ordered = sorted(document.findings, key=lambda one: (one.place.line, one.place.column))
        raise MapError([str(finding) for finding in ordered])
    return build(table, text)


def file_of(name_or_path: str) -> Path:
    """The file of a shipped map's name, or of a file's. Raises NotFoundError."""
    shipped = shipped_maps()
    path = shipped.get(name_or_path, Path(name_or_path))
    try:
        found = path.is_file()
    except OSError:
        found = False
    if not found:
        raise NotFoundError(
            f"No map '{name_or_path}', and no file of that name. {similar(name_or_path, shipped)} Or give a map's file."
        )
    return path


def load(name_or_path: str) -> Device:
    """The device of a shipped map's name or of a map file. Raises NotFoundError or MapError."""
    path = file_of(name_or_path)
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError):
        raise MapError([str(finding) for finding in read_file(path).findings]) from None
    return load_text(text, str(path))
