"""A folder that came as an archive or as loose files: only its own names are laid out; all else says what is wrong."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterable
from pathlib import Path

import pytest

from knowngood.bench import unpacking
from knowngood.errors import LineError


def archive(files: Iterable[tuple[str, bytes]], packing: int = zipfile.ZIP_DEFLATED) -> io.BytesIO:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", packing) as made:
        for name, content in files:
            made.writestr(name, content)
    out.seek(0)
    return out


def test_an_archive_is_laid_out_with_or_without_a_folder_at_its_top_and_goes_away_again() -> None:
    photo = "0007-0123abcd.jpg"
    for top in ("", "U1/", "a folder/"):
        with unpacking.unzipped(archive([(f"{top}log.txt", b"x"), (f"{top}photos/{photo}", b"y")])) as there:
            assert (there / "log.txt").read_bytes() == b"x"
            assert (there / "photos" / photo).read_bytes() == b"y"
        assert not there.exists()
    with unpacking.laid_out([(photo, io.BytesIO(b"y"))]) as there:
        assert (there / "photos" / photo).read_bytes() == b"y"


@pytest.mark.parametrize(
    ("name", "named"),
    [
        ("U1/../../away.txt", "../../away.txt"),
        ("/etc/log.txt", "/etc/log.txt"),
        ("U1/photos/../log.txt", "photos/../log.txt"),
        ("U1/run.sh", "run.sh"),
        ("U1/log.txt\n", "log.txt\n"),
        ("..\\log.txt", "log.txt"),
    ],
)
def test_no_name_leads_out_of_the_folder(
    name: str, named: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "deep" / "deeper"))
    (tmp_path / "deep" / "deeper").mkdir(parents=True)
    with pytest.raises(LineError, match=r"is no file of a unit's folder\. Nothing was kept of it\."):  # noqa: SIM117
        with unpacking.unzipped(archive([("U1/log.txt", b"x"), (name, b"z")])):
            pass
    assert [one for one in tmp_path.rglob("*") if one.is_file()] == []


def test_what_is_no_archive_too_large_locked_or_packed_otherwise_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(made: io.BytesIO, message: str) -> None:
        with pytest.raises(LineError, match=message), unpacking.unzipped(made):
            pass

    whole = archive([("log.txt", b"many words " * 999)])
    refused(io.BytesIO(b"PK\x03\x04 and no more"), "This is no whole ZIP archive")
    broken = bytearray(whole.getvalue())
    broken[60:70] = bytes(10)
    refused(io.BytesIO(bytes(broken)), "This is no whole ZIP archive")
    refused(archive([("log.txt", b"x")], zipfile.ZIP_BZIP2), "'log.txt' is packed in a way that is not read here")
    refused(archive([("0001-0123abcd.jpg", b"x"), ("photos/0001-0123abcd.jpg", b"y")]), "is there twice")
    locked = bytearray(whole.getvalue())
    locked[whole.getvalue().index(b"PK\x01\x02") + 8] |= 1
    refused(io.BytesIO(bytes(locked)), "locked with a password")
    monkeypatch.setattr(unpacking, "LARGEST_TEXT", 2**20)
    refused(archive([("log.txt", bytes(3 * 2**20))]), "'log.txt' has more than 1 MiB")
    monkeypatch.setattr(unpacking, "MOST_FILES", 1)
    refused(archive([("log.txt", b"x"), ("map.yaml", b"y")]), "holds more than 1 files")
