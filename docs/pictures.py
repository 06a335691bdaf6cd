"""Takes the pictures in docs/pictures/: those of the newcomer's guide as it is walked, and one of every page that links
lead to, on a laptop and on a phone, in the light; of the unit's page in the dark, too.

Run it as ``make pictures``. It serves a store of its own, and needs /usr/bin/chromium. To look at all of them in both
themes and on a tablet, too: ``python docs/pictures.py FOLDER`` writes those into another folder.
"""

from __future__ import annotations

import io
import re
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from PIL import Image, ImageDraw
from playwright.sync_api import Browser, Page, sync_playwright

sys.path.insert(0, str(Path(__file__).parent))
from walk import CHROMIUM, GUIDE, LAPTOP, PHONE, Walker, linked, offered, serving, steps

PICTURES = Path(__file__).parent / "pictures"
COLOURS = 48
"""The pages are flat: so many colours are enough, and the file is a fifth."""

SMALL_LAPTOP = {"width": 1100, "height": 700}
"""For the guide, whose pictures stand in a column of text."""

SECOND_UNIT = (
    "mains inlet fine close",
    "lamp ticks fails",
    "fans turn works",
    "door look not-whole",
    "opened cover-off",
    "unplugged keypad-ribbon",
)
"""What is logged to the unit whose pages are shown, so that there is something on them."""


SIZES = {"laptop": LAPTOP, "phone": PHONE, "tablet": {"width": 820, "height": 1180}}


def main(aside: str = "") -> None:
    """Writes them all anew; with a folder ``aside``, those of every page in every size and theme, there."""
    there = Path(aside) if aside else PICTURES
    there.mkdir(exist_ok=True)
    for old in there.glob("*.png"):
        old.unlink()
    with sync_playwright() as playwright, tempfile.TemporaryDirectory() as home, serving(Path(home)) as addresses:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        page = _opened(browser, addresses[0], SMALL_LAPTOP)
        page.goto("/")
        Walker(page, picture=lambda page, name: _walked(page, there / name)).walk()
        unit = _second(page)
        _photos(page, unit)
        offer = _offer(page)
        _plan(page)
        paths = list(_pages(addresses[0], {unit, offer}))
        for size_name, size in SIZES.items():
            for theme in ("light", "dark"):
                shown = _opened(browser, addresses[0], size, theme)
                for path in paths:
                    if aside or (size_name != "tablet" and (theme == "light" or path == f"/unit/{unit}")):
                        shown.goto(path)
                        name = f"{_named(path)}-{size_name}{'' if theme == 'light' else '-dark'}"
                        _taken(shown, there / name)
        browser.close()
    found = sorted(there.glob("*.png"))
    print(f"{len(found)} pictures, {sum(one.stat().st_size for one in found) / 1e6:.2f} MB, in {there}")
    missing = {step.what for step in steps(GUIDE) if step.act == "picture"} - {one.stem for one in found}
    assert not missing, missing


def _walked(page: Page, file: Path) -> None:
    """A picture of where the walk is: of a unit's page from its next step on, though the line below has the focus."""
    if page.locator("h2#do").count():
        page.evaluate("scrollTo(0, 0)")
    _taken(page, file)


def _opened(browser: Browser, address: str, size: object, theme: str = "light") -> Page:
    context = browser.new_context(base_url=address, viewport=size, color_scheme=theme)  # type: ignore[arg-type]
    return context.new_page()


def _second(page: Page) -> str:
    page.goto("/unit/new")
    page.get_by_label("What is it?").select_option("ceiling-projector")
    page.get_by_label("What did it cost?").fill("EUR 30")
    page.get_by_role("button", name="Book it in").click()
    page.wait_for_url("**/unit/U*")
    walker = Walker(page)
    for line in SECOND_UNIT:
        walker.log(line)
    return page.url.rpartition("/")[2]


def _photos(page: Page, unit: str) -> None:
    """Two drawn pictures in place of photos, of the door before and after."""
    for when, colour in (("before", "#7d5a3c"), ("after", "#4f6b52")):
        drawn = Image.new("RGB", (1200, 900), "#c9c4b8")
        canvas = ImageDraw.Draw(drawn)
        canvas.rounded_rectangle((140, 180, 1060, 720), 60, fill=colour, outline="#222222", width=10)
        canvas.ellipse((820, 380, 960, 520), fill="#222222")
        out = io.BytesIO()
        drawn.save(out, "JPEG")
        page.goto(f"/unit/{unit}/photos")
        page.get_by_label("Or choose some").set_input_files(
            {"name": "door.jpg", "mimeType": "image/jpeg", "buffer": out.getvalue()}
        )
        page.get_by_label("What do they show?").fill("lamp-door-tab")
        page.get_by_label(when, exact=True).check()
        page.get_by_role("button", name="Store").click()
        page.wait_for_url("**/photo/*")


def _offer(page: Page) -> str:
    """An offer whose bid is being worked out."""
    name = offered(page)
    page.locator("#bid svg").wait_for(timeout=200_000)  # it narrows for minutes; its figures stand there before
    return name


def _plan(page: Page) -> None:
    """A plan of the shelf that is worked out."""
    page.goto("/shelf/plan")
    page.get_by_role("button", name="Plan the shelf").click()
    page.get_by_role("button", name="Plan anew").wait_for(timeout=200_000)


def _pages(address: str, shown: set[str]) -> Iterator[str]:
    """The pages that links lead to; of units and offers, these alone."""
    for path in linked(address):
        if shown & set(path.split("/")) or not re.search(r"/[UDC]\d+\b", path):
            yield path


def _named(path: str) -> str:
    plain = re.sub(r"/(part|photo)/[^/]+", r"/\1", path.strip("/"))
    plain = re.sub(r"\bunit/U\d+", "unit", plain)
    return re.sub(r"/[UC]\d+$", "-one", plain).replace("/", "-") or "units"


def _taken(page: Page, file: Path) -> None:
    shot = Image.open(io.BytesIO(page.screenshot()))
    shot.convert("RGB").quantize(COLOURS).save(file.with_suffix(".png"), optimize=True)


if __name__ == "__main__":
    main(*sys.argv[1:2])
