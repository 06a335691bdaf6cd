"""Every form of every page, posted empty, doubled, oversized, hostile and without its token; and the markup of each."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import html5lib
import pytest
from browsing import book, linked, serving
from playwright.sync_api import Browser
from test_login import Visitor

HOSTILE = "<script>owned</script>'\"{{ 7|add:7 }}%0d%0a\x01; DROP TABLE bench_unit --"
Form = tuple[str, dict[str, str], frozenset[str]]


@pytest.fixture(scope="module")
def pages(address: str, addresses: list[str], unit: str) -> dict[str, str]:
    """Every page that links lead to, with its text, and two that none does."""
    found = {path: text for path, text in linked(address).items() if path.count("/") < 2 or f"/unit/{unit}" in path}
    there = Visitor(address)
    found |= {path: there.ask(path)[1] for path in ("/unit/none", "/unit/new")}
    found["/login"] = Visitor(addresses[1]).ask("/login")[1]
    assert {"/", "/bench", f"/unit/{unit}", f"/unit/{unit}/tell", f"/unit/{unit}/going"} <= set(found)
    return found


def forms(path: str, text: str) -> Iterator[Form]:
    """The forms that are posted: where to, what they send, and which of it a person fills in."""
    tree = html5lib.parse(text, namespaceHTMLElements=False)
    for form in tree.iter("form"):
        if form.get("method") != "post":
            continue
        fields: dict[str, str] = {}
        filled = set()
        for one in [*form.iter("input"), *form.iter("select")]:
            name = one.get("name")
            if not name or name == "csrfmiddlewaretoken":
                continue
            fields[name] = one.get("value") or ""
            if one.get("type") != "hidden":
                filled.add(name)
        yield form.get("action") or path, fields, frozenset(filled)


def every_form(pages: dict[str, str]) -> Iterator[Form]:
    """Each sort of form once: buttons that differ only in the line that they log are one."""
    seen = set()
    for path, text in pages.items():
        for action, fields, filled in forms(path, text):
            sort = (action, fields.get("form", fields.get("key", "")), frozenset(fields))
            if sort not in seen:
                seen.add(sort)
                yield action, fields, filled


def test_every_form_posted_empty_oversized_hostile_and_without_its_token_does_no_harm(
    address: str, unit: str, pages: dict[str, str]
) -> None:
    client, stranger = Visitor(address), Visitor(address)
    stranger.cookies = {}
    count = 0
    for action, fields, filled in every_form(pages):
        count += 1
        word = {"once": f"walk-{count}"} if "once" in fields else {}
        assert stranger.ask(action, fields)[0] == 403, action
        status, text, _ = client.ask(action, fields | dict.fromkeys(filled, "x" * 300_000) | word)
        if filled:
            assert status == 400, (action, status)
        for sent in (
            {},
            dict.fromkeys(fields, ""),
            dict.fromkeys(fields, HOSTILE),
            fields | dict.fromkeys(filled, HOSTILE) | word,
            fields | dict.fromkeys(filled, "x" * 5_000),
        ):
            if sent.keys() >= fields.keys() and not filled:
                continue  # that is the tap itself
            status, text, leads = client.ask(action, sent)
            assert status in (302, 400, 403, 422), (action, sent, status, text[:300])
            assert "<script>owned" not in text
            assert "Traceback" not in text
            assert not leads or leads.startswith("/")
    assert count > 30
    assert Visitor(address).ask(f"/unit/{unit}")[0] == 200


def test_a_form_of_each_page_posted_twice_acts_once(address: str, browser: Browser) -> None:
    page = browser.new_page(base_url=address)
    unit = book(page)
    page.context.close()
    client = Visitor(address)

    def count() -> int:
        return int(re.findall(r"<small>(\d+) lines?</small>", client.ask(f"/unit/{unit}")[1])[0])

    for path, sent in (
        (f"/unit/{unit}/log", {"typed": "noted once"}),
        (f"/unit/{unit}/undo", {}),
        (f"/unit/{unit}/redo", {}),
        (f"/unit/{unit}/tell", {"form": "noted", "piece0": "once more"}),
        (f"/unit/{unit}/tell", {"form": "trials", "try-electrically-safe": "works"}),
        (f"/unit/{unit}/listing", {"form": "listed", "piece0": "EUR 60"}),
        (f"/unit/{unit}/going", {"form": "stated-cord", "piece0": "detachable", "piece1": "1,8"}),
    ):
        before = count()
        answers = [client.ask(path, {"once": f"twice-{path}-{sorted(sent)}", **sent})[0] for _ in range(2)]
        assert answers == [302, 302], path
        assert count() == before + 1, path
    units = len(re.findall(r"<li><a href=\"/unit/", client.ask("/")[1]))
    for _ in range(2):
        client.ask("/unit/new", {"once": "twice-new", "map": "some-mains-device", "paid": "EUR 1"})
    assert len(re.findall(r"<li><a href=\"/unit/", client.ask("/")[1])) == units + 1


def test_a_form_that_acted_before_a_restart_does_not_act_again(tmp_path: Path) -> None:
    booking = {"once": "before-the-restart", "map": "some-mains-device", "paid": "EUR 1"}
    noted = {"once": "noted-before", "typed": "noted once"}
    answers = []
    for _ in range(2):
        with serving(tmp_path) as [address]:
            client = Visitor(address)
            answers.append((client.ask("/unit/new", booking)[2], client.ask("/unit/U1/log", noted)[2]))
            units = len(re.findall(r"<li><a href=\"/unit/", client.ask("/")[1]))
            page = client.ask("/unit/U1")[1]
    assert answers == [("/unit/U1", "/unit/U1")] * 2
    assert units == 1
    assert re.findall(r"<small>(\d+) lines?</small>", page) == ["2"], "bought, and one note"


def test_the_markup_of_every_page_is_valid(pages: dict[str, str]) -> None:
    """Parsed strictly by the HTML standard (html5lib), and every name that one element has of another leads to it."""
    for path, text in pages.items():
        tree = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(text)
        names = [one.get("id") for one in tree.iter() if one.get("id")]
        assert len(names) == len(set(names)), (path, sorted(name for name in names if names.count(name) > 1))
        for one in tree.iter():
            for attribute in ("for", "aria-labelledby", "aria-describedby", "list"):
                if one.get(attribute):
                    assert set(one.get(attribute).split()) <= set(names), (path, attribute, one.attrib)
            if one.tag in ("ul", "ol"):
                assert {child.tag for child in one} <= {"li"}, (path, one.tag)
            if one.tag in ("p", "span", "button", "label", "h1", "h2", "h3"):
                assert not {child.tag for child in one.iter()} & {"div", "form", "section", "fieldset", "ul"}, path
