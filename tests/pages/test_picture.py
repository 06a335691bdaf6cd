"""The picture of a map and the page of a part."""

from __future__ import annotations

import re
from collections.abc import Callable
from urllib.error import HTTPError
from urllib.request import urlopen

import pytest
from browsing import PHONE, book
from playwright.sync_api import Page, expect

from knowngood.maps.load import load

Opener = Callable[..., Page]


def test_the_picture_shows_each_part_and_how_likely_it_is_by_outline_hatching_and_figure(
    opened: Opener, address: str
) -> None:
    page = opened(java_script_enabled=False)
    unit = book(page)
    for line in ("fan missing", "saw fuse fine", "unplugged fan-plug", "opened cover-off"):
        page.locator("#typed").fill(line)
        page.keyboard.press("Enter")
    with urlopen(f"{address}/unit/{unit}/picture", timeout=60) as answer:
        text = answer.read().decode()
    assert " style=" not in text
    assert set(re.findall(r'<a id="part-([a-z0-9-]+)"', text)) == set(load("some-mains-device").parts)
    page.goto(f"/unit/{unit}/picture")
    fan = page.locator("#part-fan")
    expect(fan).to_have_class(re.compile(r"level-3"))
    expect(fan).to_have_attribute("aria-label", re.compile(r"stops something: 9\d.*; missing"))
    assert fan.locator(".hatching[fill='url(#dense)']").count() == 1
    fuse = page.locator("#part-fuse")
    expect(fuse).to_contain_text("fine")
    assert fuse.locator(".hatching").count() == 0
    expect(page.locator("#part-fan-plug")).to_have_class(re.compile("away"))
    page.goto(f"/unit/{unit}/picture?zoom=200")
    twice = page.locator("svg.map").bounding_box()
    page.goto(f"/unit/{unit}/picture?zoom=100")
    once = page.locator("svg.map").bounding_box()
    assert twice is not None
    assert once is not None
    assert round(twice["width"] / once["width"], 1) == 2.0


def test_a_part_is_tapped_and_what_is_seen_on_it_is_logged(opened: Opener) -> None:
    page = opened(viewport=PHONE, has_touch=True, is_mobile=True)
    unit = book(page)
    page.goto(f"/unit/{unit}/picture")
    page.get_by_role("link", name="150 %").tap()
    expect(page.locator("svg.map")).not_to_have_class(re.compile("as-wide"))
    assert page.url.endswith("/picture")  # without a new page
    page.locator("#part-top-cover").tap()
    page.get_by_role("button", name="cracked", exact=True).tap()
    page.wait_for_url(f"**/unit/{unit}")
    expect(page.locator("#log")).to_contain_text("saw top-cover cracked")


def test_the_page_of_a_part_offers_its_tests_remedies_and_the_way_in_and_keeps_to_the_hard_rules(
    opened: Opener,
) -> None:
    page = opened(java_script_enabled=False)
    unit = book(page, past="wet")
    page.goto(f"/unit/{unit}/part/supply")
    expect(page.locator(".see")).to_contain_text("First open cover off.")
    held = page.locator(".deed", has=page.locator("b", has_text="Not now"))
    assert held.count() > 0
    assert held.locator("button").count() == 0
    page.locator(".see").get_by_role("button", name="burnt").click()
    expect(page.locator("#log")).to_contain_text("opened cover-off")
    expect(page.locator("#log")).to_contain_text("saw supply burnt")


@pytest.mark.parametrize("path", ["part/no-such-part", "part/..", "part/%3Cscript%3E"])
def test_what_is_no_part_is_said(address: str, unit: str, path: str) -> None:
    with pytest.raises(HTTPError, match="404"):
        urlopen(f"{address}/unit/{unit}/{path}", timeout=60)
