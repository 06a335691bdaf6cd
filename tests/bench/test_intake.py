"""How a unit comes in: what is lacking, what it did as received, photos, the day to dispute by."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from PIL import Image

from knowngood.bench import photos, work
from knowngood.bench.intake import CameIn, intake_of, near_dispute, near_disputes, photograph
from knowngood.bench.store import Store
from knowngood.errors import LineError, NotFoundError, StoreError
from knowngood.log import events as ev

NOW = "2026-12-05T09:00:00Z"


@pytest.fixture
def on_the_fifth(tmp_path: Path) -> Store:
    return Store(tmp_path / "dated", clock=lambda: NOW)


def after(store: Store, unit: str, *lines: str) -> CameIn:
    work.log_lines(store, unit, lines)
    return intake_of(store, unit)[0]


def picture(kind: str, colour: str = "red") -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (8, 8), colour).save(out, kind)
    return out.getvalue()


HEIC = (24).to_bytes(4, "big") + b"ftypmif1" + bytes(4) + b"mif1heic" + b"meta"


# --- the chart, and what is lacking ---


def test_what_is_tried_before_the_first_act_is_what_was_received(store: Store, unit: str) -> None:
    work.log_lines(store, unit, ["tried lamp-lights fails", "left picture untried -- no source at hand"])
    found = after(store, unit, "opened lamp-out", "closed all", "tried lamp-lights works")
    chart = {one.function: one for one in found.chart}
    assert (chart["lamp-lights"].how, chart["lamp-lights"].seq) == ("fails", 2)
    assert (chart["picture"].how, chart["picture"].why) == ("not tried", "no source at hand")
    assert found.intake.ended == 4
    assert found.lacks == (), "what is still lacking then can no longer be had"
    with pytest.raises(LineError, match="Line 4 was the first act on it: the chart of what was received is closed"):
        work.log_lines(store, unit, ["left standby-light untried -- forgotten"])


def test_what_was_tried_is_not_left_untried(store: Store, unit: str) -> None:
    with pytest.raises(LineError, match=r"'lamp-lights' was tried \(line 2: weak\)"):
        work.log_lines(store, unit, ["tried lamp-lights weak", "left lamp-lights untried -- why"])


def test_a_wet_unit_says_first_what_cannot_wait_and_what_may_not_be_tried(store: Store, unit: str) -> None:
    before = [one.what for one in intake_of(store, unit)[0].lacks]
    assert before[0] == "the last day to dispute the purchase"
    found = after(store, unit, "past wet")
    assert found.lacks[0].what == "it is wet"
    assert found.cautions[0].startswith("Wet: pack out today")
    chart = {one.function: one for one in found.chart}
    assert "Power on a wet board" in chart["lamp-lights"].why
    assert chart["lamp-lights"].log == "left lamp-lights untried -- WHY"


def test_each_thing_that_is_lacking_is_brought_by_its_line(store: Store, unit: str) -> None:
    found = intake_of(store, unit)[0]
    lines = [
        *("disputable until 2030-01-01", "recorded serial KX1", "weighed 4.1 kg", "checked account-lock none"),
        *(f"left {one.function} untried -- a test" for one in found.chart),
    ]
    untried = f"whether {len(found.chart)} more functions work"
    assert [one.what for one in found.lacks][-1] == untried
    assert len(found.lacks) == len(lines[:4]) + len([untried]) + 1, "photos are no line of the list"
    almost = after(store, unit, *lines[:-1])
    assert almost.lacks[-1].what == f"whether {found.chart[-1].function} works"
    found = after(store, unit, lines[-1])
    assert [one.right for one in found.lacks] == ["knowngood photo U1 FILE... --of unit"]


def test_a_hurt_cell_is_urgent(store: Store) -> None:
    unit = work.new_unit(store, "pocket-navigator", "EUR 5")
    found = after(store, unit, "saw cell-pack swollen")
    assert found.lacks[0].right == "removed cell-pack"


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("weighed 4.11 kg", "as its map says, within 0.5 %"),
        ("weighed 3930 g", "170 g less than its map says: about what 'lamp-module' (170 g) weighs. Is it in?"),
        ("weighed 3.2 kg", "900 g less than its map says: is something out?"),
        ("weighed 4.4 kg", "300 g more than its map says: water, something left inside, or what came along?"),
    ],
)
def test_a_weight_tells_what_may_be_missing(store: Store, unit: str, line: str, says: str) -> None:
    found = after(store, unit, line)
    assert found.weight
    assert found.weight.says.startswith(says)


def test_a_part_that_is_known_to_be_missing_is_not_asked_for(store: Store, unit: str) -> None:
    found = after(store, unit, "weighed 3930 g", "saw lamp-module missing")
    assert found.weight
    assert found.weight.says.endswith("is something out?")


def test_a_map_without_weight_says_so(store: Store) -> None:
    found = after(store, work.new_unit(store, "some-mains-device", "EUR 5"), "weighed 2 kg")
    assert found.weight
    assert found.weight.says == "the map does not say what a whole unit weighs"


# --- the day to dispute by, and quarantine ---


@pytest.mark.parametrize(
    ("until", "says"),
    [
        ("2026-12-13", None),
        ("2026-12-12", "It can be disputed until 2026-12-12: 7 days left."),
        ("2026-12-06", "It can be disputed until 2026-12-06: 1 day left."),
        ("2026-12-05", "It can be disputed until 2026-12-05: today is the last day."),
        ("2026-12-04", None),
    ],
)
def test_the_day_to_dispute_by_is_mentioned_while_it_is_near(on_the_fifth: Store, until: str, says: str | None) -> None:
    unit = work.new_unit(on_the_fifth, "ceiling-projector", "EUR 5")
    work.log_lines(on_the_fifth, unit, [f"disputable until {until}"])
    assert near_dispute(on_the_fifth, unit) == says
    assert near_disputes(on_the_fifth) == ({unit: says} if says else {})
    work.log_lines(on_the_fifth, unit, ["wiped unit by clear", "sold as-is for EUR 9"])
    assert near_dispute(on_the_fifth, unit) is None, "it is not here any more"


def test_a_quarantine_says_how_it_ends(on_the_fifth: Store) -> None:
    unit = work.new_unit(on_the_fifth, "ceiling-projector", "EUR 5", ["wet"])
    found = after(on_the_fifth, unit, "quarantine -- damp and mould")
    assert found.intake.quarantine == (2, "damp and mould")
    assert (found.quarantine_days, found.how_to_end) == (0, ("dried unit", "cleared unit"))
    found = after(on_the_fifth, unit, "dried unit", "cleared")
    assert found.intake.quarantine is None
    assert found.how_to_end == ()


# --- photos ---


@pytest.mark.parametrize(
    ("content", "kind"),
    [(picture("JPEG"), "jpg"), (picture("PNG"), "png"), (picture("WEBP"), "webp"), (HEIC, "heic")],
)
def test_a_photo_keeps_its_bytes_and_is_named_by_what_it_is(
    store: Store, unit: str, tmp_path: Path, content: bytes, kind: str
) -> None:
    file = tmp_path / "holiday.txt"
    file.write_bytes(content)
    [line] = photograph(store, unit, [file], "lamp door", "before")
    assert isinstance(line.event, ev.Photographed)
    assert (line.event.target, line.event.when) == ("lamp-door", "before")
    assert line.event.file.endswith(f".{kind}")
    assert line.event.file.startswith("0002-")
    assert photos.stored(store, unit, line.event).read_bytes() == content
    assert store.home / "photos" / "U1" == photos.folder(store, "u1")


def test_the_same_photo_is_stored_once_and_may_show_several_things(store: Store, unit: str, tmp_path: Path) -> None:
    file, other = tmp_path / "a.png", tmp_path / "b.png"
    file.write_bytes(picture("PNG"))
    other.write_bytes(picture("PNG", "blue"))
    first, second = photograph(store, unit, [file, other], "unit")
    [again] = photograph(store, unit, [file], "serial")
    assert again.event.file == first.event.file != second.event.file  # type: ignore[attr-defined]
    assert len(list(photos.folder(store, unit).iterdir())) == 2


@pytest.mark.parametrize(
    "content",
    [b"no picture", picture("JPEG")[:-20], picture("PNG")[:-9], picture("WEBP")[:-4], HEIC[:24], b"GIF89a" + bytes(40)],
)
def test_what_is_no_whole_picture_is_refused(store: Store, unit: str, tmp_path: Path, content: bytes) -> None:
    good, bad = tmp_path / "good.png", tmp_path / "bad.jpg"
    good.write_bytes(picture("PNG"))
    bad.write_bytes(content)
    with pytest.raises(LineError, match=r"bad.jpg' is no whole JPEG, PNG, WebP or HEIC picture.*Nothing was stored"):
        photograph(store, unit, [good, bad], "unit")
    assert len(store.lines(unit)) == 1
    assert not photos.folder(store, unit).exists()


def test_a_photo_that_is_empty_or_not_there_is_refused(store: Store, unit: str, tmp_path: Path) -> None:
    (tmp_path / "empty.jpg").touch()
    with pytest.raises(LineError, match="is empty"):
        photograph(store, unit, [tmp_path / "empty.jpg"], "unit")
    with pytest.raises(NotFoundError, match=r"none.jpg' cannot be read: No such file"):
        photograph(store, unit, [tmp_path / "none.jpg"], "unit")
    with pytest.raises(NotFoundError, match="cannot be read: Is a directory"):
        photograph(store, unit, [tmp_path], "unit")


def test_a_photo_that_is_too_large_is_refused(
    store: Store, unit: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(photos, "LARGEST", 2**20)
    file = tmp_path / "raw.png"
    file.write_bytes(picture("PNG") + bytes(2**21))
    with pytest.raises(LineError, match="has 2 MiB; a photo has at most 1"):
        photograph(store, unit, [file], "unit")


def test_a_photo_of_nothing_leaves_no_file(store: Store, unit: str, tmp_path: Path) -> None:
    file = tmp_path / "a.png"
    file.write_bytes(picture("PNG"))
    with pytest.raises(LineError, match="'lamp-dor'"):
        photograph(store, unit, [file], "lamp-dor")
    assert list(photos.folder(store, unit).iterdir()) == []


def test_a_folder_that_cannot_be_written_is_said(store: Store, unit: str, tmp_path: Path) -> None:
    file = tmp_path / "a.png"
    file.write_bytes(picture("PNG"))
    (store.home / "photos").write_text("in the way", encoding="utf-8")
    with pytest.raises(StoreError, match="The photo cannot be stored in"):
        photograph(store, unit, [file], "unit")


def test_a_typed_line_names_a_photo_that_is_there(store: Store, unit: str) -> None:
    with pytest.raises(LineError, match=r"no photo '0007-1f3c09ab.jpg' of U1 is stored.*knowngood photo U1 FILE --of"):
        work.log_lines(store, unit, ["photographed unit as 0007-1f3c09ab.jpg"])
