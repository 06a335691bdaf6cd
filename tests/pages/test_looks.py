"""Every page in both themes, on a laptop and on a phone: it fits, can be touched, and axe-core finds nothing.

The first three are looked at in all four ways, the others in two that have each theme and each size once.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest
from axe_playwright_python.sync_playwright import Axe
from browsing import LAPTOP, PHONE
from playwright.sync_api import Page

PAGES = (
    *("/", "/unit/new", "/unit/{unit}", "/unit/none", "/unit/{unit}/sheets/before-power"),
    *("/unit/{unit}/sheets/reassembly", "/unit/{unit}/sheets/bring-up", "/unit/{unit}/sheets/safety-test"),
    *("/unit/{unit}/sheets/proof", "/shelf", "/shelf/plan", "/shelf/stock", "/shelf/market", "/bids", "/bids/{offer}"),
    *(
        "/orders",
        "/ledger",
        "/ledger?by=map",
        "/ledger/{unit}",
        "/book",
        "/book?words=capacitor",
        "/book/discharge-time",
    ),
)
TOUCH = 44
AXE = Axe()

SMALL = """() => [...document.querySelectorAll(
  'button, select, summary, input:not([type=hidden]), textarea, nav a, .button')]
  .filter((one) => one.offsetParent !== null)
  .map((one) => [one.closest('label') || one, one])
  .map(([target, one]) => [Math.min(target.getBoundingClientRect().width, target.getBoundingClientRect().height), one])
  .filter(([size]) => size < 43.9).map(([size, one]) => `${size} ${one.outerHTML.slice(0, 90)}`)"""


@pytest.mark.parametrize(
    ("theme", "size", "pages"),
    [("light", LAPTOP, PAGES[:3]), ("dark", LAPTOP, PAGES), ("light", PHONE, PAGES), ("dark", PHONE, PAGES[:3])],
    ids=["light-laptop", "dark-laptop", "light-phone", "dark-phone"],
)
def test_pages_fit_can_be_touched_and_are_read_by_a_screen_reader(
    opened: Callable[..., Page], unit: str, offer: str, theme: str, size: dict[str, int], pages: tuple[str, ...]
) -> None:
    page = opened(viewport=size, color_scheme=theme)
    for path in pages:
        page.goto(path.format(unit=unit, offer=offer))
        assert page.evaluate("document.documentElement.scrollWidth") <= size["width"], path
        assert page.evaluate(SMALL) == [], path
        found = AXE.run(page, options={"resultTypes": ["violations"]}).response["violations"]
        assert [(one["id"], [node["html"] for node in one["nodes"]]) for one in found] == [], path


def test_on_a_phone_the_buttons_are_in_the_lower_half(opened: Callable[..., Page], unit: str) -> None:
    page = opened(viewport=PHONE, has_touch=True, is_mobile=True)
    page.goto(f"/unit/{unit}")
    half = PHONE["height"] / 2
    for target in page.locator(".taps button, #typed").all():
        box = target.bounding_box()
        assert box is not None
        assert box["y"] >= half - 1
