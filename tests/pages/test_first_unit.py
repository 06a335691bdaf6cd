"""The newcomer's guide, walked in a browser without JavaScript: its steps are read from docs/first-unit.md itself."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from browsing import LAPTOP, PHONE, serving
from playwright.sync_api import Browser, Page
from walk import GUIDE, SHORT, Hands, Walker, steps


def test_every_step_of_the_guide_can_be_done_by_a_newcomer(
    browser: Browser, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """From purchase to sale without JavaScript, each post a whole page."""
    with serving(tmp_path_factory.mktemp("guide")) as addresses:
        context = browser.new_context(base_url=addresses[0], java_script_enabled=False)
        page = context.new_page()
        page.goto("/")
        walked = Walker(page).walk()
        assert page.locator("h2#do").inner_text() == "Sold as working."
        assert walked > 80
        context.close()


WAYS: dict[Hands, dict[str, object]] = {
    "keyboard": {"viewport": LAPTOP},
    "touch": {"viewport": PHONE, "has_touch": True, "is_mobile": True},
}


@pytest.mark.parametrize("hands", WAYS)
def test_a_unit_goes_from_intake_to_report_and_sale_by_keys_alone_and_by_one_finger(
    opened: Callable[..., Page], tmp_path_factory: pytest.TempPathFactory, hands: Hands
) -> None:
    with serving(tmp_path_factory.mktemp(hands)) as addresses:
        page = opened(base_url=addresses[0], **WAYS[hands])
        page.goto("/")
        walked = Walker(page, hands).walk(SHORT)
        assert page.locator("h2#do").inner_text() == "Sold as working."
        assert walked > 40


def test_a_bullet_that_is_no_step_stops_the_walk(tmp_path: Path) -> None:
    guide = tmp_path / "guide.md"
    guide.write_text("# A guide\n\n- Tap **Units**.\n- Look around a little.\n", encoding="utf-8")
    with pytest.raises(ValueError, match=r"guide\.md, line 4: no step that can be walked: - Look around a little\."):
        list(steps(guide))


def test_a_caution_stands_before_each_dangerous_step_of_the_guide() -> None:
    """Power, the hot lamp, charge behind the cover, glue, sharp metal, the safety test."""
    text, at = GUIDE.read_text(encoding="utf-8"), 0
    for word, step in (
        ("plug it in", "- Tap **works**"),
        ("mercury", "Lamp door off"),
        ("gloves", "Insert and two-part glue"),
        ("It can kill", "`opened cover-off`"),
        ("sharp", "`mended top-cover bend-back`"),
        ("safety test is for people who may", "- Tap **Passed**"),
    ):
        found = text.index(step, at)
        caution = text.rindex("> **Caution.**", 0, found)
        assert word in text[caution:found], step
        assert caution > at, step
        at = found
