"""Every page in both themes and in four sizes: it fits, hands and keys can work it, and axe-core finds nothing."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from browsing import LAPTOP, PHONE, book, serving
from playwright.sync_api import Page

PAGES = (
    *("/", "/unit/new", "/unit/import", "/unit/{unit}", "/unit/none"),
    *("/unit/{unit}/tell", "/unit/{unit}/going", "/bench"),
    *("/unit/{unit}/picture", "/unit/{unit}/part/fan", "/unit/{unit}/photos", "/phone?unit={unit}"),
    *("/unit/{unit}/sheets/before-power", "/unit/{unit}/sheets/reassembly"),
    *("/unit/{unit}/sheets/bring-up", "/unit/{unit}/sheets/safety-test"),
    *(
        "/unit/{unit}/sheets/proof",
        "/unit/{unit}/listing",
        "/shelf",
        "/shelf/plan",
        "/shelf/stock",
        "/shelf/market",
        "/bids",
        "/bids/{offer}",
    ),
    *("/orders", "/ledger", "/ledger?by=map", "/ledger/{unit}"),
    *("/book", "/book?words=capacitor", "/book/discharge-time"),
)
SIZES = {
    "laptop": LAPTOP,
    "phone": PHONE,
    "tablet": {"width": 820, "height": 1180},
    "zoomed to 200 %": {"width": 683, "height": 384},
}
TOUCH = 44
AXE = Axe()

SMALL = """() => [...document.querySelectorAll(
  'button, select, summary, input:not([type=hidden]), textarea, nav a, .button')]
  .filter((one) => one.offsetParent !== null)
  .map((one) => [one.closest('label') || one, one])
  .map(([target, one]) => [Math.min(target.getBoundingClientRect().width, target.getBoundingClientRect().height), one])
  .filter(([size]) => size < 43.9).map(([size, one]) => `${size} ${one.outerHTML.slice(0, 90)}`)"""

KEYBOARD = (
    "/",
    "/unit/new",
    "/unit/{unit}",
    "/unit/none",
    "/unit/{unit}/tell",
    "/unit/{unit}/going",
    "/bench",
    "/unit/{unit}/listing",
)
"""Pages made of forms. The picture of a unit shows its focus by the edge of a card, and is not held to an outline."""

WIDE = """(width) => [...document.querySelectorAll('body *')]
  .filter((one) => one.getBoundingClientRect().right > width).map((one) => one.outerHTML.slice(0, 90))"""

TARGETS = """() => {
  window.targets = [...document.querySelectorAll('a[href], button, select, summary, input:not([type=hidden])')]
    .filter((one) => one.offsetParent !== null && (one.matches('summary') || !one.closest('details:not([open])')))
    .filter((one, at, all) => one.type !== 'radio' || all.findIndex((other) => other.name === one.name) === at);
  return window.targets.length;
}"""
FOCUSED = """() => [window.targets.indexOf(document.activeElement),
  getComputedStyle(document.activeElement).outlineStyle !== 'none']"""


@pytest.mark.parametrize("path", PAGES)
def test_a_page_fits_can_be_touched_and_is_read_in_both_themes(
    opened: Callable[..., Page], unit: str, offer: str, path: str
) -> None:
    page = opened()
    page.goto(path.format(unit=unit, offer=offer))
    for size_name, size in SIZES.items():
        page.set_viewport_size(size)  # type: ignore[arg-type]
        wide = page.evaluate(WIDE, size["width"])
        assert page.evaluate("document.documentElement.scrollWidth") <= size["width"], (size_name, wide)
        assert page.evaluate(SMALL) == [], size_name
    for theme, size in (("light", LAPTOP), ("dark", PHONE)):
        page.set_viewport_size(size)  # type: ignore[arg-type]
        read_in(page, theme)


def test_a_bid_and_a_plan_that_were_worked_out_are_read_in_both_themes(
    opened: Callable[..., Page], tmp_path: Path
) -> None:
    with serving(tmp_path) as addresses:
        page = opened(base_url=addresses[0])
        page.set_default_timeout(120_000)
        book(page)
        page.goto("/shelf/plan")
        page.get_by_role("button", name="Plan the shelf").click()
        page.get_by_role("button", name="Accept this plan").wait_for()
        read_in(page, "light", "dark")
        page.goto("/bids")
        page.get_by_label("What is it?").select_option("some-battery-device")
        page.get_by_label("What is asked for it?").fill("EUR 9")
        page.get_by_role("button", name="What to pay at most?").click()
        page.locator("#bid svg").wait_for()
        read_in(page, "light", "dark")


def read_in(page: Page, *themes: str) -> None:
    """Axe-core, as a screen reader and eyes for contrast, finds nothing."""
    for theme in themes:
        page.emulate_media(color_scheme=theme)  # type: ignore[arg-type]
        found = AXE.run(page, options={"resultTypes": ["violations"]}).response["violations"]
        assert [(one["id"], [node["html"] for node in one["nodes"]]) for one in found] == [], (page.url, theme)


def test_every_page_is_worked_by_the_keyboard_and_shows_where_it_is(
    opened: Callable[..., Page], unit: str, offer: str
) -> None:
    """The Tab key comes to each thing that can be touched, in the order of the page, and each then has an outline."""
    page = opened()
    for path in KEYBOARD:
        page.goto(path.format(unit=unit, offer=offer))
        targets = page.evaluate(TARGETS)
        for number in range(targets):
            at, outline = number - 1, False
            for _ in range(6):  # a field for a day has several stops, and what scrolls is one
                page.keyboard.press("Tab")
                at, outline = page.evaluate(FOCUSED)
                if at not in (number - 1, -1):
                    break
            assert at == number, (path, number, at)
            assert outline, (path, number)


def test_on_a_phone_the_buttons_are_in_the_lower_half(opened: Callable[..., Page], unit: str) -> None:
    page = opened(viewport=PHONE, has_touch=True, is_mobile=True)
    page.goto(f"/unit/{unit}")
    half = PHONE["height"] / 2
    for target in page.locator(".taps button, #typed").all():
        box = target.bounding_box()
        assert box is not None
        assert box["y"] >= half - 1
