"""Copies of photos: upright, small, and with nothing beside the picture; the original keeps its bytes."""

from __future__ import annotations

from pathlib import Path

import pytest
from PIL import Image

from knowngood.bench import copies
from knowngood.bench.copies import Copies, NoCopyError, copied

ORIENTATION, GPS = 0x0112, 0x8825
TURNED = 6
"""The camera was held upright: the picture is to be turned by a quarter to the right (EXIF 2.32, 4.6.4, tag 274)."""


def photo(file: Path, size: tuple[int, int] = (800, 600), mode: str = "RGB") -> bytes:
    """A photo that is red at its upper left corner as it lies in the file, with place and orientation in its EXIF."""
    image = Image.new(mode, size, (0, 0, 200, 0) if mode == "RGBA" else (0, 0, 200))
    image.paste((200, 0, 0), (0, 0, size[0] // 2, size[1] // 2))
    exif = Image.Exif()
    exif[ORIENTATION] = TURNED
    exif[GPS] = {1: "N", 2: (52.0, 30.0, 0.0), 3: "E", 4: (13.0, 24.0, 0.0)}
    image.save(file, exif=exif)
    return file.read_bytes()


@pytest.mark.parametrize("name", ["a.jpg", "a.png", "a.webp"])
def test_a_copy_is_upright_and_says_neither_place_nor_camera(tmp_path: Path, name: str) -> None:
    file = tmp_path / name
    before = photo(file)
    with Image.open(file) as original:
        assert original.getexif().get_ifd(GPS)
    copy = copied(file, 400)
    assert (copy.width, copy.height) == (300, 400)
    (tmp_path / "copy.jpg").write_bytes(copy.content)
    with Image.open(tmp_path / "copy.jpg") as shown:
        assert shown.size == (300, 400)
        assert dict(shown.getexif()) == {}
        red, blue = shown.getpixel((250, 50)), shown.getpixel((50, 350))
        assert isinstance(red, tuple)
        assert isinstance(blue, tuple)
        assert red[0] > 150 > red[2]
        assert blue[2] > 150 > blue[0]
    assert b"Exif" not in copy.content
    assert file.read_bytes() == before


def test_what_can_be_seen_through_is_white(tmp_path: Path) -> None:
    photo(tmp_path / "a.png", mode="RGBA")
    copy = copied(tmp_path / "a.png", 400)
    (tmp_path / "copy.jpg").write_bytes(copy.content)
    with Image.open(tmp_path / "copy.jpg") as shown:
        assert shown.getpixel((50, 350)) == (255, 255, 255)


def test_heic_is_shown_with_its_extra_and_said_without(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "a.heic"
    photo(file)
    copy = copied(file, 400)
    assert copy.content.startswith(b"\xff\xd8\xff")
    assert b"Exif" not in copy.content
    monkeypatch.delitem(Image.OPEN, "HEIF")
    monkeypatch.setattr(Image, "ID", [one for one in Image.ID if one != "HEIF"])
    with pytest.raises(NoCopyError, match=r"a\.heic is a HEIC photo, which this installation does not show.*is kept"):
        copied(file, 400)


def test_what_cannot_be_opened_or_is_huge_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    broken = tmp_path / "b.jpg"
    broken.write_bytes(b"\xff\xd8\xff" + bytes(50) + b"\xff\xd9")
    with pytest.raises(NoCopyError, match=r"b\.jpg cannot be shown .*The original is kept"):
        copied(broken, 400)
    photo(tmp_path / "c.jpg")
    monkeypatch.setattr(copies, "MOST_PIXELS", 1000)
    with pytest.raises(NoCopyError, match=r"c\.jpg has 0 million pixels, at most 0 are shown"):
        copied(tmp_path / "c.jpg", 400)


def test_copies_are_made_once_and_the_last_used_are_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    files = [tmp_path / "a.jpg", tmp_path / "b.jpg"]
    size = 0
    for file in files:
        photo(file)
        size = max(size, len(copied(file, 100).content))
    monkeypatch.setattr(copies, "KEPT", size)
    kept = Copies()
    first = kept.of(files[0], 100)
    assert kept.of(files[0], 100) is first
    kept.of(files[1], 100)
    assert kept.of(files[0], 100) is not first
