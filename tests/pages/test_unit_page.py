"""The page of a unit as a person uses it: by keyboard, by buttons, on two screens at once."""

from __future__ import annotations

import re
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from urllib.error import HTTPError
from urllib.request import Request, urlopen

import pytest
from browsing import book, posted
from playwright.sync_api import Page, expect

Opener = Callable[..., Page]


def test_a_unit_from_purchase_through_some_lines_by_keyboard_alone(opened: Opener) -> None:
    page = opened()
    page.goto("/")
    new = page.get_by_role("link", name="New unit")
    for _ in range(20):  # past the words of the pages
        page.keyboard.press("Tab")
        if new.evaluate("(one) => one === document.activeElement"):
            break
    page.keyboard.press("Enter")
    page.wait_for_url("**/unit/new")
    page.get_by_label("What is it?").focus()
    page.keyboard.press("End")  # the last map of the list
    page.keyboard.press("Tab")
    page.keyboard.type("EUR 20")
    page.keyboard.press("Enter")
    page.wait_for_url("**/unit/U*")
    expect(page.locator("#log")).to_contain_text("bought some-mains-device for EUR 20")
    page.keyboard.type("mains inlet cracked")  # a letter typed anywhere goes into the field
    page.keyboard.press("Enter")
    expect(page.locator("#log ol li").first).to_contain_text("saw mains-inlet cracked")
    expect(page.locator("#typed")).to_be_focused()
    expect(page.locator("#said")).to_contain_text("Logged: saw mains-inlet cracked. Next:")


def test_every_listed_outcome_is_a_button_and_undo_takes_it_back_without_javascript(opened: Opener) -> None:
    page = opened(java_script_enabled=False)
    unit = book(page)
    move = page.locator("#do").inner_text()
    buttons = page.locator(".taps .outcome")
    assert buttons.count() >= 2
    page.locator("details.why summary").click()
    rows = page.locator("details.why tbody tr").all_inner_texts()
    assert {row.split("\t")[0].replace("-", " ") for row in rows} == {
        text.splitlines()[0] for text in buttons.all_inner_texts()
    }
    line = page.locator(".taps form").filter(has=page.locator(".outcome")).first.locator("input[name=line]").last
    canonical = line.get_attribute("value")
    buttons.first.click()
    expect(page.locator("#log ol li").first).to_contain_text(str(canonical))
    page.get_by_role("button", name="Undo").click()
    expect(page.locator("#do")).to_have_text(move)
    page.get_by_role("button", name="Redo").click()
    expect(page.locator("#log ol li").first).to_contain_text("redid")
    assert page.url.endswith(f"/unit/{unit}")


def test_unsure_input_is_shown_as_choices_and_kept(opened: Opener) -> None:
    page = opened(java_script_enabled=False)
    book(page)
    page.locator("#typed").fill("mains inlt cracked")
    page.keyboard.press("Enter")
    expect(page.locator("#typed")).to_have_value("mains inlt cracked")
    expect(page.locator("#typed")).to_have_attribute("aria-invalid", "true")
    expect(page.locator("#typed-error")).to_contain_text("'mains' could be 'mains-inlet' or 'mains-switch'")
    expect(page.locator(".choice")).to_have_text(["saw mains-inlet cracked", "saw mains-switch cracked"])
    page.get_by_role("button", name="saw mains-inlet cracked", exact=True).click()
    expect(page.locator("#log ol li").first).to_contain_text("saw mains-inlet cracked")
    page.locator("#typed").fill("")
    page.keyboard.press("Enter")
    expect(page.locator("#typed-error")).to_contain_text("There is no line to log")


def test_two_screens_see_each_others_lines_and_the_move_stays_under_the_finger(opened: Opener) -> None:
    one, two = opened(), opened(viewport={"width": 390, "height": 844})
    unit = book(one)
    two.goto(f"/unit/{unit}")
    moves = two.locator("#do").inner_text()
    touched = two.locator(".taps button, #typed, .running button").all()
    places = [target.bounding_box() for target in touched]
    one.locator("#typed").fill("mains-inlet burnt")
    one.keyboard.press("Enter")
    expect(two.locator("#log ol li").first).to_contain_text("saw mains-inlet burnt")
    expect(two.locator("#news")).to_contain_text("Logged elsewhere: saw mains-inlet burnt")
    assert two.locator("#do").inner_text() == moves
    assert [target.bounding_box() for target in touched] == places
    two.locator("#typed").fill("noted heard it, too")
    two.keyboard.press("Enter")
    expect(one.locator("#log ol li").first).to_contain_text("noted heard it, too")
    expect(two.locator("#news")).to_be_empty()
    expect(two.locator("#log")).to_contain_text("saw mains-inlet burnt")


def test_two_screens_that_type_at_once_lose_no_line(opened: Opener) -> None:
    """Six lines from each, in turns and without waiting for the other; what is being typed survives an answer."""
    one, two = opened(), opened(viewport={"width": 390, "height": 844})
    unit = book(one)
    two.goto(f"/unit/{unit}")
    for number in range(6):
        for name, page in (("one", one), ("two", two)):
            expect(page.locator("#typed")).to_have_value("")
            page.locator("#typed").fill(f"noted {name} {number}")
            page.locator("#typed").press("Enter")
    one.locator("#typed").fill("noted begun meanwhile")
    for page in (one, two):
        expect(page.locator("#log-title")).to_contain_text("13 lines")
        page.locator("#log summary").click()
        text = page.locator("#log").inner_text()
        assert all(text.count(f"noted {name} {number}") for name in ("one", "two") for number in range(6)), text
    expect(one.locator("#typed")).to_have_value("noted begun meanwhile")


def test_numbers_are_written_and_taken_with_the_sign_of_the_bench(opened: Opener, address: str) -> None:
    page = opened(java_script_enabled=False)
    unit = book(page)
    for typed in ("weighed 4,1 kg", "weighed 4.1 kg", "stated cord detachable 1,8 m 0,75 mm2"):
        assert posted(address, f"/unit/{unit}/log", {"typed": typed})[0] == 200, typed
    page.reload()
    assert "," not in page.locator(".figures > dl").inner_text()
    try:
        assert posted(address, "/bench", {"key": "decimal-sign", "value": "comma"})[0] == 200
        page.reload()
        figures = page.locator("details.why tbody").inner_text() + page.locator("#log").inner_text()
        assert re.search(r"\d,\d %", page.locator("main").inner_html()), figures
        assert "stated cord detachable 1.8 m 0.75 mm2" in figures  # a line is what one would type
    finally:
        assert posted(address, "/bench", {"key": "decimal-sign", "value": "point"})[0] == 200


def test_a_form_posted_twice_at_once_logs_once(opened: Opener, address: str) -> None:
    page = opened(java_script_enabled=False)
    unit = book(page)
    fields = {"typed": "noted only once", "once": "word-of-this-form"}
    with ThreadPoolExecutor(2) as pool:
        answers = list(pool.map(lambda _: posted(address, f"/unit/{unit}/log", fields), range(2)))
    assert [status for status, _ in answers] == [200, 200]
    page.reload()
    assert page.locator("#log").inner_text().count("only once") == 1
    assert "log twice" not in page.locator("#log").inner_text()


def test_text_of_a_log_is_never_markup(opened: Opener) -> None:
    page = opened()
    book(page)
    hostile = "<img src=x onerror=document.title='owned'><script>document.title='owned'</script> {{ 1 }} \" '"
    page.locator("#typed").fill(f"noted {hostile}")
    page.keyboard.press("Enter")
    expect(page.locator("#log ol li").first).to_contain_text("onerror=document.title")
    page.locator("#typed").fill(hostile)
    page.keyboard.press("Enter")
    expect(page.locator("#typed")).to_have_value(hostile)
    page.goto("/")
    assert "owned" not in page.title()
    assert page.locator("img, main script").count() == 0


@pytest.mark.parametrize(
    ("path", "fields", "status", "says"),
    [
        ("/unit/new", {}, 422, "This field is required."),
        ("/unit/new", {"map": "some-mains-device", "paid": "much"}, 422, "much"),
        ("/unit/new", {"map": "no-such-map", "paid": "EUR 1"}, 422, "not one of the available choices"),
        ("/unit/U1/log", {"typed": "x" * 3000}, 422, "longer than 2000 characters"),
        ("/unit/U1/log", {"typed": "x" * 300_000}, 400, "too large"),
        ("/unit/U99/log", {"typed": "saw fan fine"}, 404, "No unit &#x27;U99&#x27;"),
        ("/unit/U1/log", {"typed": "", "before": "read rail-12v", "after": "V"}, 422, "Nothing is filled in yet"),
    ],
)
def test_forms_posted_empty_wrong_and_oversized_are_answered_in_a_sentence(
    address: str, unit: str, path: str, fields: dict[str, str], status: int, says: str
) -> None:
    found, text = posted(address, path, fields)
    assert (found, says in text) == (status, True), text[:2000]
    assert "Traceback" not in text


def test_a_form_from_elsewhere_and_a_foreign_host_name_are_refused(address: str, unit: str) -> None:
    assert posted(address, f"/unit/{unit}/log", {"typed": "noted x"}, token="")[0] == 403
    with pytest.raises(HTTPError, match="400"):
        urlopen(Request(f"{address}/", headers={"Host": "bench.example"}), timeout=60)


def test_the_headers_let_nothing_in_from_elsewhere(address: str, unit: str) -> None:
    with urlopen(f"{address}/unit/{unit}", timeout=60) as answer:
        policy = answer.headers["Content-Security-Policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert answer.headers["X-Frame-Options"] == "DENY"
        text = answer.read().decode()
    assert " style=" not in text
    assert (
        "http"
        not in text.replace("http-equiv", "").replace("responseHandling", "").split("<body")[0].partition("<title>")[0]
    )
