"""Labels as they are drawn: sizes, pages, what is cut and what never is."""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path

import pytest
from running import Run

from knowngood.bench.labels import Label, Pair
from knowngood.cli import label_picture
from knowngood.errors import PictureError

FULL = Label(
    "D1/config-store",
    "D1",
    "config-store",
    "Configuration store with the shading table of this engine",
    "knowngood:D1/config-store",
    Pair("D1 pair A: diamond", "diamond", "only with its optical-engine"),
    ("revision B", "not tested", "drawer 3"),
    ("lithium cell", "may hold a charge", "sharp edges"),
)


@pytest.fixture
def run(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """The same in an empty folder, with a projector booked in as U1."""
    monkeypatch.chdir(tmp_path)
    run("unit", "new", "--map", "ceiling-projector", "--paid", "EUR 45")
    return run


def texts(label: Label, size: str) -> list[str]:
    drawn = label_picture._readable(label, *label_picture._size(size))
    assert drawn is not None
    return [one["text"] for one in drawn["texts"]]


def test_labels_are_written_as_one_svg_and_as_pages_of_a_pdf(run: Run) -> None:
    done = run("label", "U1", "U1/lamp-door", "--svg", "a.svg", "--pdf", "a.pdf", "--json")
    answer = json.loads(done.stdout)
    assert answer["pages"] == 2
    assert [one["number"] for one in answer["labels"]] == ["U1", "U1"]
    assert re.search(
        r"<svg[^>]*viewBox=\"0 0 198\.4\S* 198\.4", Path("a.svg").read_text(encoding="utf-8")
    )  # 70 mm in points
    assert pages("a.pdf") == (2, {(175.7, 82.2)})  # 62 x 29 mm
    three = [f"U1/{part}" for part in ("lamp-door", "air-filter", "exhaust-fan")]
    assert json.loads(run("label", *three, "--pdf", "b.pdf", "--sheet", "140 x 70 mm", "--json").stdout)["pages"] == 1
    sheet = json.loads(run("label", *three, *three, "--pdf", "b.pdf", "--sheet", "140 x 70 mm", "--json").stdout)
    assert sheet["pages"] == 2
    assert pages("b.pdf") == (2, {(396.9, 198.4)})
    assert "Draw them: --svg FILE, --pdf FILE" in run("label", "U1").output
    assert "U1  lamp-door   knowngood:U1/lamp-door" in run("label", "U1/lamp-door").output


def pages(file: str) -> tuple[int, set[tuple[float, float]]]:
    """How many pages a PDF has, and their sizes in points."""
    text = Path(file).read_bytes().decode("latin-1")
    boxes = re.findall(r"/MediaBox ?\[0 0 ([\d.]+) ([\d.]+)\]", text)
    return len(boxes), {(round(float(wide), 1), round(float(high), 1)) for wide, high in boxes}


def test_the_same_labels_give_the_same_files() -> None:
    size = label_picture.measure("62x29 mm")
    assert label_picture.as_pdf([FULL], size) == label_picture.as_pdf([FULL], size)
    assert label_picture.as_svg([FULL], size) == label_picture.as_svg([FULL], size)


def test_the_number_comes_first_and_is_the_largest() -> None:
    for size in ("62x29 mm", "100x50 mm", "50x29 mm"):
        drawn = label_picture._readable(FULL, *label_picture._size(size))
        assert drawn is not None
        first, *others = drawn["texts"]
        assert first["text"] == "D1"
        assert first["size"] > 1.5 * max(one["size"] for one in others)
        assert all(one["size"] >= label_picture.LEAST_TEXT for one in drawn["texts"])
        bottom = max(one["y"] + one["height"] for one in drawn["texts"])
        assert bottom == pytest.approx(drawn["height"] - label_picture.MARGIN)
        for one in drawn["texts"]:
            right = one["x"] + one["inset"] + len(one["text"]) * label_picture.ADVANCE * one["size"]
            quiet = min(left for left, _, _ in drawn["code"]) - label_picture.QUIET * drawn["module"]
            assert right <= quiet + 1e-6, "the code's quiet zone is clear of text"


def test_what_must_be_read_is_never_cut_and_the_rest_gives_way() -> None:
    wide = texts(FULL, "100x50 mm")
    assert wide == [
        *("D1", "config-store", "Configuration store with the shading table of", "this engine", "D1 pair A: diamond"),
        *("only with its optical-engine", "revision B", "not tested", "drawer 3"),
        "! lithium cell, may hold a charge, sharp edges",
    ]
    small = texts(FULL, "62x29 mm")
    assert small[0:2] == ["D1", "config-store"]
    assert small[2].startswith("Configuration store")
    assert small[2].endswith("…")
    assert "D1 pair A: diamond" in small
    assert " ".join(small[-2:]) == "! lithium cell, may hold a charge, sharp edges"
    assert "drawer 3" not in small


def test_a_long_list_says_that_it_goes_on() -> None:
    place = Label("drawer 3", "drawer 3", "", "", "knowngood:in/drawer 3", None, tuple(f"S{one}" for one in range(40)))
    shown = texts(place, "62x29 mm")
    assert shown[-1] == f"and {40 - (len(shown) - 2)} more"
    assert shown[1:3] == ["S0", "S1"]


@pytest.mark.parametrize(
    ("size", "sheet", "message"),
    [
        ("62", None, "'62' is not a size. Write width and height: 62x29 mm"),
        ("62x29", None, "'62x29' is not a size"),
        ("6200x29 mm", None, "'6200x29 mm': a side is 10 to 1000 mm."),
        ("29x62 mm", None, "A label is at least 1.5 times as wide as high, and '29x62 mm' is not."),
        ("62x29 mm", "62x29 mm", "No label of 62x29 mm fits on a sheet of 62x29 mm."),
    ],
)
def test_a_size_that_is_none_is_refused(size: str, sheet: str | None, message: str) -> None:
    with pytest.raises(PictureError, match=message):
        label_picture.measure(size, sheet)


def test_a_label_too_small_to_read_is_refused_with_a_size_that_will_do() -> None:
    with pytest.raises(
        PictureError, match=r"D1/config-store cannot be read and scanned at 30x15 mm\. It can at"
    ) as wrong:
        label_picture.as_svg([FULL], label_picture.measure("30x15 mm"))
    enough = re.search(r"It can at (\S+ mm)", str(wrong.value))
    assert enough is not None
    assert label_picture.as_svg([FULL], label_picture.measure(enough[1]))
    endless = Label("x", "x" * 4000, "", "", "knowngood:x")
    with pytest.raises(PictureError, match=r"The label of x cannot be read and scanned at 62x29 mm\.$"):
        label_picture.as_svg([endless], label_picture.measure("62x29 mm"))


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("U1", "--svg", "a.png"), "The picture is an SVG: 'a.png' should end in .svg."),
        (("U1", "--pdf", "a.svg"), "The picture is a PDF: 'a.svg' should end in .pdf."),
        (("U1", "--pdf", "none/a.pdf"), "There is no folder 'none' for the picture. Make it first."),
        (("U9",), "No unit, lot or place 'U9'."),
    ],
)
def test_what_is_wrong_is_said_and_nothing_is_written(run: Run, words: tuple[str, ...], message: str) -> None:
    done = run("label", *words)
    assert done.exit_code == 2
    assert message in done.stderr
    assert not list(Path().glob("a.*"))


@pytest.mark.parametrize("missing", ["segno", "typst"])
def test_without_the_extra_the_answer_says_what_to_install(monkeypatch: pytest.MonkeyPatch, missing: str) -> None:
    monkeypatch.setitem(sys.modules, missing, None)
    with pytest.raises(PictureError, match=rf"To print takes {missing}, .* pip install 'knowngood\[paper\]'"):
        label_picture.as_svg([FULL], label_picture.measure("62x29 mm"))
