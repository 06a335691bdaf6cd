"""What the tests of the pages share: sizes of screens, and booking a unit in."""

from __future__ import annotations

from playwright.sync_api import Page
from walk import CHROMIUM, LAPTOP, PASSWORD, PHONE, linked, serving

__all__ = ["CHROMIUM", "LAPTOP", "PASSWORD", "PHONE", "book", "linked", "serving"]


def book(page: Page, past: str = "dropped") -> str:
    """Books a unit in by the form, and returns its number."""
    page.goto("/unit/new")
    page.get_by_label("What is it?").select_option("some-mains-device")
    page.get_by_label("What did it cost?").fill("EUR 45")
    page.locator(f"input[value={past}]").check()
    page.get_by_role("button", name="Book it in").click()
    page.wait_for_url("**/unit/U*")
    return page.url.rpartition("/")[2]
