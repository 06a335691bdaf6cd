"""The report's PDF, read back by an independent library (pypdf 7.1.1) and held against the log.

The library knows nothing of how the pages were made: what it reads as text is what a person can search and copy.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import Any

import pypdf
import pytest
from PIL import Image
from typer.testing import CliRunner, Result

from knowngood.bench.store import Store, utc_now
from knowngood.cli.main import app

Run = Callable[..., Result]
TAB = "Tab of the lamp door that presses the interlock"
LOG = Path("examples/fallen-projector.log").resolve()


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store with the projector of the demo as U1, up to its sale, graded by hand, one fault declared."""
    home = tmp_path_factory.mktemp("home")
    lines = [line for line in LOG.read_text(encoding="utf-8").splitlines() if line and not line.startswith(("#", "=="))]
    run(home, "bench", "instrument", "fluxa", "--calibrated", utc_now()[:10], "--uncertainty", "5 %")
    run(home, "unit", "new", "--map", "ceiling-projector", "--paid", "EUR 5", "--donor")
    bought = ("--paid", "EUR 35", "--past", "dropped", "--from", "flea-market")
    run(home, "unit", "new", "--map", "ceiling-projector", *bought)
    run(home, "log", "D1", *(line.removeprefix("D1 ") for line in lines if line.startswith("D1 ")))
    own = [line for line in lines if not line.startswith(("D1 ", "sold", "dispatched", "paid EUR 25", "paid EUR 14"))]
    run(home, "log", "U1", "recorded serial KX100-4711 -- on the label of KX100-4711", *own)
    run(home, "log", "U1", "declared usb-media", "graded faulty -- & <no USB>, ask me -- really")
    for of, look in (("front-bezel", b"bezel"), ("serial", b"label")):
        picture = home / "picture.png"
        picture.write_bytes(png(look))
        run(home, "photo", "U1", str(picture), "--of", of)
    return home


def png(text: bytes) -> bytes:
    """A picture of one pixel that no other text makes."""
    kept = BytesIO()
    Image.new("RGB", (1, 1), tuple(text[:3])).save(kept, "png")
    return kept.getvalue()


def run(home: Path, *words: str) -> str:
    done = CliRunner().invoke(app, list(words), env={"KNOWNGOOD_HOME": str(home)})
    assert done.exit_code == 0, done.output
    return done.stdout


def report(home: Path, folder: Path, *options: str) -> tuple[dict[str, Any], str]:
    """The answer, and the text that the library reads in the PDF, blanks made single."""
    pdf = folder / "report.pdf"
    answer = json.loads(run(home, "report", "U1", "--pdf", str(pdf), "--json", *options))
    pages = pypdf.PdfReader(pdf).pages
    return answer, " ".join(" ".join(page.extract_text().split()) for page in pages)


def test_every_claim_stands_in_the_pdf_and_names_lines_that_are_in_it_and_in_the_log(
    home: Path, tmp_path: Path
) -> None:
    answer, text = report(home, tmp_path)
    with Store(home) as store:
        log = {line.seq: line for line in store.lines("U1")}
    claims = [one for section in answer["sections"] for one in section["claims"]]
    assert len(claims) > 30
    appendix = {one["seq"]: one for one in answer["appendix"]}
    for one in claims:
        assert one["says"] in text
        assert set(one["lines"]) <= set(appendix), one
        named = ", ".join(map(str, one["lines"]))
        assert re.search(rf"lines? {named}\b" if named else "no line", text)
    for seq, one in appendix.items():
        time, _, line = str(log[seq]).removeprefix(f"{seq} ").partition(" ")
        assert (one["time"], one["line"]) == (time, line)
        assert f"{seq} {time} {line}" in text


def test_what_is_claimed_is_what_the_lines_say(home: Path, tmp_path: Path) -> None:
    """Each function that is said to work has a line of its own that says so, and the declared one has none."""
    answer, _ = report(home, tmp_path)
    lines = {one["seq"]: one["line"] for one in answer["appendix"]}
    by_title = {section["title"]: section["claims"] for section in answer["sections"]}
    works = by_title["What works"]
    assert len(works) == 13
    for one in works:
        [seq] = one["lines"]
        assert re.match(r"tried [a-z-]+ works\b", lines[seq])
    assert not any("USB" in one["says"] for one in works)
    [not_working] = by_title["What does not work"]
    assert [lines[seq] for seq in not_working["lines"]] == ["declared usb-media"]
    for one in by_title["What was repaired"]:
        assert all(re.match("mended |fitted ", lines[seq]) for seq in one["lines"])


def test_a_buyer_sees_no_price_no_name_and_no_remark_but_those_meant_for_buyers(home: Path, tmp_path: Path) -> None:
    answer, text = report(home, tmp_path, "--buyer")
    assert "EUR" not in text
    assert "flea" not in text
    assert "Money" not in text
    assert "highest while the cord was moved" not in text
    assert "bought ceiling-projector for [price] past dropped from [name]" in text
    assert "fitted lamp-door-tab from D1 for [price]" in text
    assert "& <no USB>, ask me -- really" in text
    _, own = report(home, tmp_path)
    assert "EUR 35" in own
    assert "from flea-market" in own
    assert "highest while the cord was moved" in own
    assert answer["for_buyers"]


def test_a_claim_names_its_photos_and_a_buyer_sees_none_of_the_serial_number(home: Path, tmp_path: Path) -> None:
    answer, text = report(home, tmp_path)
    photos = [one["line"].split()[1:4:2] for one in answer["appendix"] if one["line"].startswith("photographed ")]
    assert [target for target, _ in photos] == ["front-bezel", "serial"]
    assert all(f"photo {file}" in text for _, file in photos)
    assert "Serial number KX100-4711 " in text
    answer, text = report(home, tmp_path, "--buyer")
    (_, bezel), (_, label) = photos
    assert f"photo {bezel}" in text
    assert label not in text
    assert "KX100" not in text
    assert "Serial number …711 " in text
    _, text = report(home, tmp_path, "--buyer", "--serial")
    assert "recorded serial KX100-4711" in text


def test_photos_are_shown_before_beside_after_upright_and_without_their_place(home: Path, tmp_path: Path) -> None:
    """The library finds each as a JPEG of the copy's size; the original is not touched."""
    taken = tmp_path / "taken.jpg"
    exif = Image.Exif()
    exif[0x0112] = 6  # to be turned a quarter (EXIF 2.32, 4.6.4)
    exif[0x0110] = "KX camera"
    exif.get_ifd(0x8825)[1] = "N"
    for when, colour in (("after", "green"), ("before", "red")):
        Image.new("RGB", (2400, 1200), colour).save(taken, "JPEG", exif=exif)
        run(home, "photo", "U1", str(taken), "--of", "lamp-door-tab", f"--{when}")
    kept = {one: one.read_bytes() for one in (home / "photos" / "U1").iterdir()}
    answer, _ = report(home, tmp_path, "--buyer")
    assert [one["says"] for one in answer["pictures"]][:2] == [f"{TAB}, before", f"{TAB}, after"]
    reader = pypdf.PdfReader(tmp_path / "report.pdf")
    [page] = [one for one in reader.pages if f"{TAB}, before" in " ".join(one.extract_text().split())]
    images = {one.image.size: one for one in page.images if one.image}
    assert (500, 1000) in images
    colours = [one.image.convert("RGB").getpixel((9, 9)) for one in page.images if one.image.size == (500, 1000)]
    assert sorted(colour[0] > 200 for colour in colours) == [False, True]
    content = (tmp_path / "report.pdf").read_bytes()
    assert b"KX camera" not in content
    assert all(b"Exif" not in one.data for one in page.images)
    assert {one: one.read_bytes() for one in kept} == kept
    shown = {one["file"] for one in answer["pictures"]}
    assert len(shown) == 3  # the bezel, too; the label with the serial number not


def test_numbers_of_lines_lead_to_the_lines(home: Path, tmp_path: Path) -> None:
    report(home, tmp_path)
    pages = pypdf.PdfReader(tmp_path / "report.pdf").pages
    links = [one for page in pages for one in page.get("/Annots", []) if one.get_object()["/Subtype"] == "/Link"]
    assert len(links) > 40
