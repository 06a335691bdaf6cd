"""What the tests of the pages share: sizes of screens, and booking a unit in."""

from __future__ import annotations

from urllib.error import HTTPError
from urllib.parse import urlencode
from urllib.request import Request, urlopen

from playwright.sync_api import Page
from walk import CHROMIUM, LAPTOP, PASSWORD, PHONE, linked, offered, serving

__all__ = ["CHROMIUM", "LAPTOP", "PASSWORD", "PHONE", "book", "linked", "offered", "serving"]


def book(page: Page, past: str = "dropped") -> str:
    """Books a unit in by the form, and returns its number."""
    page.goto("/unit/new")
    page.get_by_label("What is it?").select_option("some-mains-device")
    page.get_by_label("What did it cost?").fill("EUR 45")
    page.locator(f"input[value={past}]").check()
    page.get_by_role("button", name="Book it in").click()
    page.wait_for_url("**/unit/U*")
    return page.url.rpartition("/")[2]


def posted(address: str, path: str, fields: dict[str, str], token: str = "a" * 32) -> tuple[int, str]:
    """A form as anything on this machine could post it, with a token of its own making unless it is empty."""
    data = urlencode({**fields, "csrfmiddlewaretoken": token}).encode()
    request = Request(f"{address}{path}", data, {"Cookie": f"csrftoken={token}"} if token else {})
    try:
        with urlopen(request, timeout=60) as answer:
            return answer.status, answer.read().decode()
    except HTTPError as error:
        return error.code, error.read().decode()


def got(address: str, path: str) -> tuple[int, bytes]:
    """What stands at an address."""
    try:
        with urlopen(f"{address}{path}", timeout=60) as answer:
            return answer.status, answer.read()
    except HTTPError as error:
        return error.code, error.read()
