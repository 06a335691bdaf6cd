"""Shelf, bids, orders, ledger and book: asked and told through their pages."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from browsing import book, got, posted
from playwright.sync_api import Page, expect

Opener = Callable[..., Page]


def test_the_book_is_found_by_words_and_asked_with_figures(opened: Opener) -> None:
    page = opened(java_script_enabled=False)
    page.goto("/book")
    page.get_by_label("What do you want to know?").fill("how long until a capacitor is discharged")
    page.keyboard.press("Enter")
    page.get_by_role("link", name="discharge time").click()
    expect(page.locator(".caution")).to_contain_text("Measure it before hands go near")
    page.get_by_label("capacitance").fill("470 uF")
    page.get_by_label("resistor").fill("2.2 kohm")
    page.get_by_role("button", name="Ask").click()
    expect(page.get_by_role("alert")).to_contain_text("'voltage'")
    page.get_by_label("voltage", exact=False).first.fill("325 V")
    page.get_by_role("button", name="Ask").click()
    expect(page.get_by_role("status", name="Result")).to_contain_text("1.747 s")  # R C ln(325/60)
    page.get_by_label("capacitance").fill("470 bananas")
    page.get_by_role("button", name="Ask").click()
    expect(page.get_by_role("alert")).to_contain_text("470 bananas")


def test_no_file_of_this_machine_is_read_for_a_table(address: str) -> None:
    status, text = got(address, "/book/profile?readings=/etc/passwd")
    assert b"root:" not in text
    assert status in (404, 422)


def test_market_orders_and_arrival_through_the_pages(opened: Opener, address: str) -> None:
    page = opened(java_script_enabled=False)
    unit = book(page)
    for line in (
        "supplier northparts posts for EUR 6 in 3 days",
        "offers northparts some-mains-device/fan new at EUR 8",
    ):
        page.goto("/shelf/market")
        page.get_by_label("Say who sells").fill(line)
        page.get_by_role("button", name="Log").click()
        expect(page.locator("main")).to_contain_text(line)
    posted(address, f"/unit/{unit}/log", {"typed": "reserved fan from new"})
    page.goto("/shelf")
    expect(page.locator("main")).to_contain_text("fan from new")
    page.goto("/orders")
    expect(page.locator("main")).to_contain_text("EUR 14 with EUR 6 postage")
    page.get_by_role("button", name="Log it as ordered").click()
    expect(page.get_by_role("status").first).to_contain_text("ordered fan new from northparts for EUR 8")
    page.get_by_role("button", name="It is here").click()
    expect(page.get_by_role("status").first).to_contain_text(f"{unit} has fan")
    expect(page.locator("main")).to_contain_text("Nothing is on order")
    page.goto(f"/ledger/{unit}")
    expect(page.locator("main")).to_contain_text("EUR -8")
    page.goto("/ledger?by=source")
    expect(page.locator("table")).to_be_visible()
    assert f"{unit},{unit}," in got(address, "/ledger.csv")[1].decode("utf-8-sig")


def test_loose_parts_and_donors_stand_in_the_stock(opened: Opener) -> None:
    page = opened(java_script_enabled=False)
    page.goto("/shelf/stock")
    page.get_by_label("Put loose parts in").fill("25 x resistor 10 ohm 1 % 0805 in drawer 3")
    page.get_by_role("button", name="Log").click()
    expect(page.locator("main")).to_contain_text("25 x resistor 10 ohm")
    page.get_by_label("Find a part").fill("no-such-part")
    page.get_by_role("button", name="Find").click()
    expect(page.get_by_role("alert")).to_contain_text("No part, unit or lot 'no-such-part' in stock.")


def test_the_plan_page_says_what_planning_is_before_there_is_a_plan(address: str) -> None:
    status, text = posted(address, "/shelf/plan", {"accept": "1"})
    assert status == 422
    assert "There is no plan to accept. Plan first." in text


def test_an_offer_that_was_let_go_can_still_be_bought(opened: Opener, offer: str) -> None:
    page = opened(java_script_enabled=False)
    page.goto(f"/bids/{offer}")
    expect(page.locator("main")).to_contain_text("noted listing: no power, dropped")
    page.locator("summary", has_text="Bought").click()
    page.get_by_label("What did it cost?").fill("EUR")
    page.get_by_role("button", name="Book it in").click()
    expect(page.get_by_role("alert")).to_contain_text("EUR")
    page.locator("summary", has_text="Bought").click()
    page.get_by_label("What did it cost?").fill("EUR 7")
    page.get_by_role("button", name="Book it in").click()
    page.wait_for_url("**/unit/U*")
    expect(page.locator("#log")).to_contain_text("received")


@pytest.mark.parametrize(
    ("path", "fields", "status", "says"),
    [
        ("/shelf/market", {"line": ""}, 422, "There is no line to log."),
        ("/shelf/market", {"line": "<b>"}, 422, "&lt;b&gt;"),
        ("/shelf/stock", {"line": "x" * 3000}, 422, "longer than 2000 characters"),
        ("/orders/send", {"supplier": "nobody"}, 422, "nobody"),
        ("/orders/arrived", {}, 422, "Nothing is on order from"),
        ("/bids", {}, 422, "This field is required."),
        ("/bids", {"map": "some-battery-device", "asking": "much"}, 422, "much"),
        ("/bids/C99/said", {"typed": "tried starts fails"}, 404, "No unit &#x27;C99&#x27;"),
        ("/bids/C1/said", {"typed": "x" * 300_000}, 400, "too large"),
    ],
)
def test_forms_posted_empty_wrong_and_oversized_are_answered_in_a_sentence(
    address: str, offer: str, path: str, fields: dict[str, str], status: int, says: str
) -> None:
    found, text = posted(address, path, fields)
    assert (found, says in text) == (status, True), text[-1500:]
