"""A unit's folder that came as a ZIP archive, or as its loose files: laid out again beside the store for as long as it
is read. Only the names that such a folder has are written, so no name of an archive leads anywhere else."""

from __future__ import annotations

import re
import zipfile
import zlib
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import IO

from knowngood.bench import photos
from knowngood.bench.folder import KEPT, LARGEST_TEXT, NEEDED, SUMS
from knowngood.errors import KnowngoodError, LineError
from knowngood.log.events.intake import PHOTO

MOST_FILES = 2000
"""Files of a unit's folder (own judgement)."""

LARGEST = 4 * 2**30
"""Bytes of all files together (own judgement)."""


@contextmanager
def unzipped(archive: IO[bytes]) -> Iterator[Path]:
    """The folder of an archive, as ``folder.zipped`` writes it or with its files at the top. Raises LineError."""
    try:
        with zipfile.ZipFile(archive) as held:
            entries = [one for one in held.infolist() if not one.is_dir()]
            if len(entries) > MOST_FILES or sum(one.file_size for one in entries) > LARGEST:
                raise LineError(f"The archive holds more than {MOST_FILES} files or {LARGEST // 2**30} GiB. {KEPT}")
            if any(one.flag_bits & 1 for one in entries):
                raise LineError(f"The archive is locked with a password. Pack it anew without one. {KEPT}")
            if strange := [
                one for one in entries if one.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
            ]:
                raise LineError(f"'{strange[0].filename}' is packed in a way that is not read here. {KEPT}")
            top = entries[0].filename.partition("/")[0] + "/" if entries else ""
            below = all(one.filename.startswith(top) for one in entries) and top != "photos/"
            names = [one.filename.removeprefix(top) if below else one.filename for one in entries]
            opened = ((name, held.open(one)) for name, one in zip(names, entries, strict=True))
            with laid_out(opened) as there:
                yield there
    except (zipfile.BadZipFile, zlib.error, EOFError, ValueError, NotImplementedError) as error:
        raise LineError(f"This is no whole ZIP archive ({error}). {KEPT}") from None


@contextmanager
def laid_out(files: Iterable[tuple[str, IO[bytes]]]) -> Iterator[Path]:
    """A folder with these files by name; a photo may be named without ``photos/``. Raises LineError for any other."""
    with TemporaryDirectory(prefix="knowngood-") as made:
        there = Path(made)
        (there / "photos").mkdir()
        for name, content in files:
            photo = re.fullmatch(rf"(?:photos/)?({PHOTO})", name)
            if photo is None and name not in (*NEEDED, SUMS):
                raise LineError(f"'{name}' is no file of a unit's folder. {KEPT}")
            file = there / "photos" / photo[1] if photo else there / name
            if file.exists():
                raise LineError(f"'{name}' is there twice. {KEPT}")
            with content, file.open("xb") as out:
                _copied(content, out, name, photos.LARGEST if photo else LARGEST_TEXT)
        try:
            yield there
        except KnowngoodError as error:
            # A person knows the files by their names, and not where they were laid out.
            error.args = tuple(
                str(one).replace(f"{there}/", "").replace(str(there), "the folder") for one in error.args
            )
            raise


def _copied(content: IO[bytes], out: IO[bytes], name: str, most: int) -> None:
    while piece := content.read(2**20):
        if out.tell() + len(piece) > most:
            raise LineError(f"'{name}' has more than {most // 2**20} MiB. {KEPT}")
        out.write(piece)
