"""Takes the pictures in docs/pictures/: those of the newcomer's guide as it is walked, and one of every page that links
lead to, on a laptop and on a phone, in the light; of the unit's page in the dark, too.

Run it as ``make pictures``. It serves a store of its own, and needs /usr/bin/chromium.
"""

from __future__ import annotations

import io
import re
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser, Page, sync_playwright

sys.path.insert(0, str(Path(__file__).parent))
from walk import CHROMIUM, GUIDE, LAPTOP, PHONE, Walker, linked, serving, steps

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


def main() -> None:
    """Writes them all anew."""
    for old in PICTURES.glob("*.png"):
        old.unlink()
    PICTURES.mkdir(exist_ok=True)
    with sync_playwright() as playwright, tempfile.TemporaryDirectory() as home, serving(Path(home)) as addresses:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        page = _opened(browser, addresses[0], SMALL_LAPTOP)
        page.goto("/")
        Walker(page, picture=_taken).walk()
        unit = _second(page)
        paths = list(_pages(addresses[0], unit))
        for size_name, size in (("laptop", LAPTOP), ("phone", PHONE)):
            for theme in ("light", "dark"):
                shown = _opened(browser, addresses[0], size, theme)
                for path in paths:
                    if theme == "light" or path == f"/unit/{unit}":
                        shown.goto(path)
                        _taken(shown, f"{_named(path, unit)}-{size_name}{'' if theme == 'light' else '-dark'}")
        browser.close()
    found = sorted(PICTURES.glob("*.png"))
    print(f"{len(found)} pictures, {sum(one.stat().st_size for one in found) / 1e6:.2f} MB, in {PICTURES}")
    missing = {step.what for step in steps(GUIDE) if step.act == "picture"} - {one.stem for one in found}
    assert not missing, missing


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


def _pages(address: str, unit: str) -> Iterator[str]:
    """The pages that links lead to; of the units, that one's alone."""
    for path in linked(address):
        if unit in path.split("/") or not re.search(r"/[UDC]\d+\b", path):
            yield path


def _named(path: str, unit: str) -> str:
    plain = re.sub(r"/(part|photo)/[^/]+", r"/\1", path.strip("/").replace(f"unit/{unit}", "unit"))
    return plain.replace("/", "-") or "units"


def _taken(page: Page, name: str) -> None:
    shot = Image.open(io.BytesIO(page.screenshot()))
    shot.convert("RGB").quantize(COLOURS).save(PICTURES / f"{name}.png", optimize=True)


if __name__ == "__main__":
    main()
