"""Copies of photos that may be shown and given away: upright, smaller, without what a camera writes beside the picture
(place, time, device). The original stays as it came."""

from __future__ import annotations

from collections import OrderedDict
from contextlib import suppress
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from threading import Lock

from PIL import Image, ImageOps

from knowngood.errors import KnowngoodError

with suppress(ImportError):  # an extra: without it a HEIC photo is kept and not shown
    from pillow_heif import register_heif_opener

    register_heif_opener()

SMALL, LARGE = 360, 1600
"""Pixels of the longer side."""

MOST_PIXELS = 120_000_000
"""Pixels of an original that is still opened (own judgement: twice those of a good camera)."""

KEPT = 64 * 2**20
"""Bytes of copies that are kept."""


class NoCopyError(KnowngoodError):
    """A photo that is stored and cannot be shown here."""


@dataclass(frozen=True)
class Copy:
    """A JPEG without anything beside the picture."""

    content: bytes
    width: int
    height: int


def copied(file: Path, longest: int) -> Copy:
    """A copy whose longer side has at most ``longest`` pixels. Raises NoCopyError."""
    try:
        with Image.open(file) as image:
            if image.width * image.height > MOST_PIXELS:
                raise NoCopyError(
                    f"{file.name} has {image.width * image.height / 1e6:.0f} million pixels, at most "
                    f"{MOST_PIXELS / 1e6:.0f} are shown. The original is kept: {file}"
                )
            profile = image.info.get("icc_profile")
            image.draft("RGB", (longest, longest))
            upright = ImageOps.exif_transpose(image)
            upright.thumbnail((longest, longest))
            flat = Image.new("RGB", upright.size, "white")
            flat.paste(upright, mask=upright.getchannel("A") if "A" in upright.getbands() else None)
    except NoCopyError:
        raise
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError) as error:
        if file.suffix == ".heic" and not _opens_heic():
            why = "is a HEIC photo, which this installation does not show (its extra 'heic' does)"
        else:
            why = f"cannot be shown ({error or type(error).__name__})"
        raise NoCopyError(f"{file.name} {why}. The original is kept: {file}") from None
    out = BytesIO()
    flat.save(out, "JPEG", quality=82, icc_profile=profile)
    return Copy(out.getvalue(), *flat.size)


def _opens_heic() -> bool:
    return "HEIF" in Image.OPEN


class Copies:
    """Copies by file and size, the last used ones kept."""

    def __init__(self) -> None:
        self._kept: OrderedDict[tuple[Path, int], Copy] = OrderedDict()
        self._size = 0
        self._lock = Lock()

    def of(self, file: Path, longest: int) -> Copy:
        """A copy, made once. Raises NoCopyError."""
        key = (file, longest)
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]
        made = copied(file, longest)
        with self._lock:
            if key not in self._kept:
                self._kept[key] = made
                self._size += len(made.content)
            while self._size > KEPT:
                self._size -= len(self._kept.popitem(last=False)[1].content)
        return made


COPIES = Copies()
