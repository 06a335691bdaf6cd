"""The page of a unit's grade and listing."""

from __future__ import annotations

from html import unescape

from browsing import book
from playwright.sync_api import Browser
from test_login import Visitor


def test_a_grade_by_hand_needs_its_reason_and_stands_beside_what_does_not_go_with_it(
    browser: Browser, address: str
) -> None:
    page = browser.new_page(base_url=address)
    path = f"/unit/{book(page)}/listing"
    page.context.close()
    client = Visitor(address)
    assert "<h1>Grade: unproved " in client.ask(path)[1]
    status, text, _ = client.ask(path, {"form": "graded", "piece0": "marked", "piece1": ""})
    assert status == 422
    assert "Why: nothing is filled in yet." in text
    assert client.ask(path, {"form": "graded", "piece0": "marked", "piece1": "it looks fine"})[0] == 302
    text = unescape(client.ask(path)[1])
    assert "<h1>Grade: marked " in text
    assert "Graded by line 2: it looks fine; by the facts: unproved." in text
    assert "<b>Does not go with it</b>" in text
    assert "\nWHAT IS NOT CLAIMED\n" in text
