"""A unit leaves as a folder and comes back without loss; what was changed on the way is refused and nothing is kept."""

from __future__ import annotations

import hashlib
import io
import re
import subprocess
import zipfile
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from knowngood.bench import folder, intake, photos, work
from knowngood.bench.store import Store
from knowngood.errors import KnowngoodError, LineError, NotFoundError, StoreError

LINES = (
    "tried lamp-ticks fails",
    "tried fans-turn works -- loud",
    "saw exhaust-fan missing",
    "saw lamp-door-tab broken-off clear close",
    "read rail-12v 0.03 V",
    "read rail-12v 12,1 V in 3 min",
    "opened lamp-out in 2 min -- two screws",
    "closed all",
    "noted müde, \"says\" 'so' # no mark",
    "recorded serial KX100-4711",
    "fitted exhaust-fan from new in 4 min",
    "spent EUR 3.50 on glue",
    "measured protective-earth 0.12 ohm by fluxa",
    "UNDO",
    "REDO",
    "PHOTO",
    "SETTING",
)


def picture(number: int) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (4, 4), (number, 7, 9)).save(out, "PNG")
    return out.getvalue()


def live(store: Store, unit: str, acts: list[str], aside: Path) -> None:
    """Logs what fits; what does not is refused by the bench and leaves nothing."""
    for number, act in enumerate(acts):
        with suppress(KnowngoodError):
            if act == "UNDO":
                work.undo(store, unit)
            elif act == "REDO":
                work.redo(store, unit)
            elif act == "SETTING":
                work.bench_set(store, "rate-floor", f"EUR {10 + number}")
            elif act == "PHOTO":
                file = aside / f"{number}.png"
                file.write_bytes(picture(number))
                intake.photograph(store, unit, [file], "exhaust-fan", "before" if number % 2 else None)
            else:
                work.log_lines(store, unit, [act])


def kept(store: Store, unit: str) -> dict[str, bytes]:
    there = photos.folder(store, unit)
    return {one.name: one.read_bytes() for one in sorted(there.iterdir())} if there.is_dir() else {}


@settings(max_examples=12)
@given(acts=st.lists(st.sampled_from(LINES), max_size=14), donor=st.booleans())
def test_what_leaves_comes_back_without_loss(
    tmp_path_factory: pytest.TempPathFactory, acts: list[str], donor: bool
) -> None:
    here = tmp_path_factory.mktemp("round")
    with Store(here / "home") as store, Store(here / "other") as other:
        unit = work.new_unit(store, "ceiling-projector", "EUR 45", ["dropped"], donor=donor)
        live(store, unit, acts, here)
        folder.leave(store, unit, here / "out")
        again = folder.come_back(store, here / "out")
        assert again.unit == f"{unit[0]}2"
        assert again.remarks[0] == f"{unit} is taken here, so it is {again.unit}."
        assert store.lines(again.unit) == store.lines(unit)  # events, times, settings, map, version
        assert kept(store, again.unit) == kept(store, unit)
        assert store.map_text(again.unit).text == store.map_text(unit).text
        away = folder.come_back(other, here / "out")
        assert away.unit == unit
        assert [(one.seq, one.time, one.event, one.map_hash, one.version) for one in other.lines(unit)] == [
            (one.seq, one.time, one.event, one.map_hash, one.version) for one in store.lines(unit)
        ]
        assert kept(other, unit) == kept(store, unit)
        foreign = sum(one.bench_seq > 0 for one in store.lines(unit))
        assert any(f"{foreign} of its lines were logged at another bench" in one for one in away.remarks) == bool(
            foreign
        )
        folder.leave(other, unit, here / "back")
        logs = [(here / one / "log.txt").read_bytes() for one in ("out", "back")]
        assert logs[0] == logs[1]


@pytest.fixture
def out(store: Store, unit: str, tmp_path: Path) -> Path:
    """The folder of a unit with a photo and a reading."""
    live(store, unit, ["PHOTO", "read rail-12v 0.03 V"], tmp_path)
    folder.leave(store, unit, tmp_path / "out")
    return tmp_path / "out"


def signed(out: Path) -> None:
    """Makes the marks right again, as one who means to deceive would."""
    names = [line.split("  ")[1] for line in (out / "SHA256SUMS").read_text().splitlines()]
    marks = [f"{hashlib.sha256((out / one).read_bytes()).hexdigest()}  {one}\n" for one in names]
    (out / "SHA256SUMS").write_text("".join(marks))


def test_the_folder_is_plain(out: Path) -> None:
    assert (out / "log.txt").read_text().splitlines()[0] == "# knowngood folder 1: unit U1"
    last = (out / "log.txt").read_text().splitlines()[3]
    assert re.fullmatch(r"3 \d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ read rail-12v 0.03 V", last)
    assert (out / "readings.csv").read_text().splitlines()[1].endswith(",yes,rail-12v,0.03 V,")
    assert "1 photos" in (out / "README.txt").read_text()
    assert subprocess.run(["sha256sum", "-c", "--quiet", "SHA256SUMS"], cwd=out, check=False).returncode == 0


def _changed(name: str, old: str, new: str, *, sign: bool = True) -> Callable[[Path], None]:
    def change(out: Path) -> None:
        text = (out / name).read_text()
        assert old in text
        (out / name).write_text(text.replace(old, new, 1))
        if sign:
            signed(out)

    return change


def _cut_photo(out: Path) -> None:
    [file] = (out / "photos").iterdir()
    file.write_bytes(file.read_bytes()[:40])
    signed(out)


@pytest.mark.parametrize(
    ("change", "error", "says"),
    [
        (_changed("log.txt", "0.03", "12.03", sign=False), LineError, "log.txt' was changed since it was written"),
        (_changed("log.txt", "\n2 ", "\n7 "), LineError, "log.txt' line 3: it has number '7' in the log and should"),
        (_changed("log.txt", "Z read", " read"), LineError, "is no time as 2026-03-01T09:30:00Z"),
        (_changed("log.txt", "read rail-12v 0.03 V", "reads rail"), LineError, "log.txt' line 4: "),
        (_changed("log.txt", "read rail-12v 0.03 V", "undid 1"), LineError, "takes the purchase back, which no line"),
        (_changed("log.txt", "folder 1", "folder 2"), LineError, "does not begin with '# knowngood folder 1: unit U1'"),
        (_changed("log.txt", "unit U1", "unit C1"), LineError, "does not begin with the purchase of a unit"),
        (_changed("stored.csv", "\n3,0", "\n3,x"), LineError, "its row 3 is not as it was written"),
        (_changed("map.yaml", "\n", " # changed\n"), LineError, "line 1 was logged by another map than map.yaml"),
        (_changed("SHA256SUMS", "  log.txt", "  ../log.txt", sign=False), LineError, "line 2 is no mark of a file"),
        (lambda out: (out / "readings.csv").unlink(), NotFoundError, "readings.csv' cannot be read: No such file"),
        (_cut_photo, LineError, "is no whole picture of that kind"),
        (lambda out: (out / "log.txt").write_bytes(b"\xff\n"), LineError, "log.txt' was changed"),
    ],
)
def test_a_changed_or_broken_folder_is_refused_and_nothing_is_kept(
    store: Store, out: Path, change: Callable[[Path], None], error: type[KnowngoodError], says: str
) -> None:
    change(out)
    with pytest.raises(error, match=re.escape(says)) as refused:
        folder.come_back(store, out)
    assert "Nothing was kept of it." in str(refused.value)
    assert [one.id for one in store.units()] == ["U1"]
    assert not photos.folder(store, "U1").with_name("U2").exists()


def test_a_folder_that_is_there_is_not_written_over_and_one_that_is_not_is_not_read(
    store: Store, unit: str, out: Path, tmp_path: Path
) -> None:
    with pytest.raises(StoreError, match="is there already"):
        folder.leave(store, unit, out)
    with pytest.raises(NotFoundError, match="There is no folder"):
        folder.come_back(store, tmp_path / "none")
    with pytest.raises(NotFoundError, match="SHA256SUMS' cannot be read"):
        folder.come_back(store, tmp_path)


def test_a_photo_that_cannot_be_stored_leaves_no_unit_and_no_photo(
    store: Store, out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    [file] = (out / "photos").iterdir()
    taken = photos.folder(store, "U1").with_name("U2") / file.name
    taken.parent.mkdir()
    taken.write_bytes(b"another")
    with pytest.raises(StoreError, match="Another photo is stored as"):
        folder.come_back(store, out)
    assert [one.id for one in store.units()] == ["U1"]
    assert taken.read_bytes() == b"another"


def test_a_photo_that_is_lost_is_said_on_both_ways(store: Store, unit: str, tmp_path: Path) -> None:
    live(store, unit, ["PHOTO"], tmp_path)
    [file] = photos.folder(store, unit).iterdir()
    file.unlink()
    assert folder.leave(store, unit, tmp_path / "out").missing == (file.name,)
    assert f"The photo {file.name} was not in the folder." in folder.come_back(store, tmp_path / "out").remarks


def test_a_film_is_named_on_both_ways_since_no_bench_keeps_it(store: Store, unit: str, tmp_path: Path) -> None:
    work.log_lines(store, unit, ["clapped at 00:03:12 of a.mp4", "hid 00:04:00 to 00:05:10 of a.mp4 -- a label"])
    assert folder.leave(store, unit, tmp_path / "out").films == ("a.mp4",)
    assert "no bench keeps, to be brought along by hand: a.mp4\n" in (tmp_path / "out" / "README.txt").read_text()
    assert (
        "Its log names the film a.mp4, which does not travel in the folder."
        in folder.come_back(store, tmp_path / "out").remarks
    )


def test_names_that_mean_something_here_are_said(store: Store, unit: str, donor: str, tmp_path: Path) -> None:
    work.log_lines(store, donor, ["harvested exhaust-fan"])
    work.log_lines(store, unit, ["removed exhaust-fan", f"fitted exhaust-fan from {donor}"])
    folder.leave(store, unit, tmp_path / "out")
    came = folder.come_back(store, tmp_path / "out")
    assert "Line 3 takes exhaust-fan from D1: that is D1 here." in came.remarks
    assert any("The log of D1 no longer has" in one for one in came.remarks)


def test_the_archive_holds_the_same_files(store: Store, unit: str, out: Path) -> None:
    packed = io.BytesIO()
    folder.zipped(store, unit, packed)
    with zipfile.ZipFile(packed) as archive:
        found = {name.removeprefix("U1/"): archive.read(name) for name in archive.namelist()}
    assert found == {str(one.relative_to(out)): one.read_bytes() for one in out.rglob("*") if one.is_file()}
