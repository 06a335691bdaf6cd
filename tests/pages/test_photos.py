"""Photos from the pages: stored as they came, shown without what a camera writes beside them, marked by a tap."""

from __future__ import annotations

import re
from collections.abc import Callable
from io import BytesIO
from urllib.error import HTTPError
from urllib.request import Request, urlopen

import pytest
from browsing import PHONE, book
from PIL import Image
from playwright.sync_api import FilePayload, Page, expect

Opener = Callable[..., Page]
TOKEN = "a" * 32


def jpeg(colour: str, turned: bool = False) -> bytes:
    exif = Image.Exif()
    exif[0x010F] = "A Camera Maker"
    if turned:
        exif[0x0112] = 6
    out = BytesIO()
    Image.new("RGB", (640, 480), colour).save(out, "JPEG", exif=exif)
    return out.getvalue()


def payload(name: str, content: bytes) -> FilePayload:
    return {"name": name, "mimeType": "image/jpeg", "buffer": content}


def store(page: Page, unit: str, content: bytes, of: str, when: str = "neither") -> str:
    """Stores a photo by the form; the file that its line names."""
    page.goto(f"/unit/{unit}/photos?of={of}")
    page.get_by_label("Take a photo").set_input_files(payload("IMG_0001.JPG", content))
    page.get_by_label(when, exact=True).check()
    page.get_by_role("button", name="Store").click()
    page.wait_for_url("**/photo/*")
    return page.url.rpartition("/")[2]


def test_a_photo_is_stored_marked_on_a_grid_and_stands_beside_its_part_without_javascript(opened: Opener) -> None:
    page = opened(java_script_enabled=False, viewport=PHONE)
    unit = book(page)
    before = store(page, unit, jpeg("green", turned=True), "fan", "before")
    expect(page.get_by_label("What is there?")).to_have_value("fan")
    size = page.locator(".stage img").bounding_box()
    assert size is not None
    assert size["height"] > size["width"]
    page.get_by_label("What is there?").fill("fan plug")
    page.get_by_label("Remark").fill("scorched")
    page.get_by_role("button", name=re.compile("^44 % from the left, 4. % from the top")).click()
    expect(page.locator(".marked")).to_contain_text(re.compile(r"fan plug: scorched 44 %, 4\d %"))
    assert page.locator(".pins text").all_text_contents() == ["1"]
    page.get_by_role("button", name=re.compile("^94 % from the left, 4. % from the top")).click()
    expect(page.locator(".marked li")).to_have_count(1)  # it has moved
    expect(page.locator(".marked")).to_contain_text("94 %")
    after = store(page, unit, jpeg("blue"), "fan", "after")
    page.goto(f"/unit/{unit}/photos")
    pair = page.locator(".both")
    expect(pair).to_contain_text("fan before")
    assert [one.get_attribute("src") for one in pair.locator("img").all()] == [
        f"/unit/{unit}/photo/{file}/small" for file in (before, after)
    ]
    page.goto(f"/unit/{unit}/part/fan-plug")
    expect(page.locator(".shown-on img")).to_have_count(1)
    page.goto(f"/unit/{unit}")
    expect(page.locator("#log")).to_contain_text(f"photographed fan as {after} after")
    expect(page.locator("#log")).to_contain_text(f"marked photo {before} at 94 %")


def test_with_javascript_the_mark_is_where_the_tap_was_and_another_screen_sees_the_photo_at_once(
    opened: Opener,
) -> None:
    laptop, phone = opened(), opened(viewport=PHONE, has_touch=True, is_mobile=True)
    unit = book(laptop)
    album = opened()
    album.goto(f"/unit/{unit}/photos")
    file = store(phone, unit, jpeg("red"), "fan")
    expect(album.locator(".shots img")).to_have_count(1)
    expect(laptop.locator("#news img")).to_have_attribute("src", f"/unit/{unit}/photo/{file}/small")
    box = phone.locator(".stage").bounding_box()
    assert box is not None
    phone.touchscreen.tap(box["x"] + 0.31 * box["width"], box["y"] + 0.72 * box["height"])
    expect(phone.locator(".marked li")).to_contain_text("31 %, 72 %")


def multipart(fields: dict[str, str], files: list[tuple[str, bytes]]) -> tuple[bytes, str]:
    edge = "edge-of-a-part"
    parts = [
        f'--{edge}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'.encode()
        for name, value in fields.items()
    ]
    for name, content in files:
        head = f'--{edge}\r\nContent-Disposition: form-data; name="photo"; filename="{name}"\r\n\r\n'
        parts.append(head.encode() + content + b"\r\n")
    return b"".join([*parts, f"--{edge}--\r\n".encode()]), f"multipart/form-data; boundary={edge}"


def sent(address: str, unit: str, files: list[tuple[str, bytes]], **fields: str) -> tuple[int, str]:
    body, kind = multipart({"csrfmiddlewaretoken": TOKEN, **fields}, files)
    headers = {"Content-Type": kind, "Cookie": f"csrftoken={TOKEN}"}
    try:
        with urlopen(Request(f"{address}/unit/{unit}/photos", body, headers), timeout=60) as answer:
            return answer.status, answer.url
    except HTTPError as error:
        return error.code, error.read().decode()


@pytest.mark.parametrize(
    ("files", "fields", "says"),
    [
        ([], {}, "No photo came along"),
        ([("a.jpg", b"")], {}, "is empty"),
        ([("page.jpg", b"<html><script>alert(1)</script>")], {}, "is no whole JPEG, PNG, WebP or HEIC picture"),
        ([("a.jpg", jpeg("red")), ("b.jpg", b"MZ" + bytes(99))], {}, "is no whole JPEG"),
        ([("a.jpg", jpeg("red"))], {"of": "fann-plug"}, "No part, connection"),
        ([("<b>.jpg", b"#!/bin/sh")], {}, "&#x27;&lt;b&gt;.jpg&#x27; is no whole"),
        ([("a.jpg", b"\xff\xd8\xff" + bytes(65 * 2**20) + b"\xff\xd9")], {}, "has 65 MiB; a photo has at most 64"),
    ],
)
def test_what_is_no_photo_is_refused_in_a_sentence_and_nothing_is_stored(
    address: str, unit: str, files: list[tuple[str, bytes]], fields: dict[str, str], says: str
) -> None:
    status, text = sent(address, unit, files, **fields)
    assert (status, says in text) == (422, True), text[:3000]
    with urlopen(f"{address}/unit/{unit}/photos", timeout=60) as answer:
        assert "0 photos" in answer.read().decode()


def test_more_than_a_few_photos_at_once_is_refused_before_it_is_read(address: str, unit: str) -> None:
    request = Request(f"{address}/unit/{unit}/photos", b"x", {"Content-Length": str(2**30), "Cookie": "csrftoken=x"})
    with pytest.raises(HTTPError, match="413"):
        urlopen(request, timeout=60)


def test_a_photo_leaves_as_a_picture_and_nothing_else_and_only_if_a_line_names_it(opened: Opener, address: str) -> None:
    page = opened(java_script_enabled=False)
    unit = book(page)
    status, url = sent(address, unit, [("x.html", jpeg("red"))], of="unit")
    assert status == 200
    file = url.rpartition("/")[2]
    with urlopen(f"{address}/unit/{unit}/photo/{file}/large", timeout=60) as answer:
        assert answer.headers["Content-Type"] == "image/jpeg"
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert b"Camera Maker" not in answer.read()
    for other in (f"{file}/huge", "0001-00000000.jpg/large", "..%2F..%2Fdb.sqlite3/large"):
        with pytest.raises(HTTPError, match="404"):
            urlopen(f"{address}/unit/{unit}/photo/{other}", timeout=60)
    page.get_by_role("link", name="Next").first.click()
    page.get_by_role("button", name="Undo").click()
    with pytest.raises(HTTPError, match="404"):
        urlopen(f"{address}/unit/{unit}/photo/{file}/large", timeout=60)


def test_a_mark_without_place_or_thing_is_said(opened: Opener, address: str) -> None:
    unit = book(opened(java_script_enabled=False))
    _, url = sent(address, unit, [("x.jpg", jpeg("red"))])
    for of, at, says in (
        ("fan", "", "Tap its place"),
        ("fan", "12 999", "less than or equal to 100"),
        ("", "1 2", "What is there?"),
    ):
        body, kind = multipart({"csrfmiddlewaretoken": TOKEN, "of": of, "at": at}, [])
        request = Request(f"{url}/mark", body, {"Content-Type": kind, "Cookie": f"csrftoken={TOKEN}"})
        with pytest.raises(HTTPError, match="422") as refused:
            urlopen(request, timeout=60)
        assert says in refused.value.read().decode()
