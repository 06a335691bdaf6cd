"""A unit comes back by the page: whole, once, or not at all."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Callable

from browsing import book, got, posted
from PIL import Image
from playwright.sync_api import Page, expect

Opener = Callable[..., Page]


def held(content: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        return {name.partition("/")[2]: archive.read(name) for name in archive.namelist()}


def test_what_left_by_the_page_comes_back_by_it_and_a_double_post_brings_one(opened: Opener, address: str) -> None:
    page = opened(java_script_enabled=False)
    unit = book(page)
    photo = io.BytesIO()
    Image.new("RGB", (40, 30), "teal").save(photo, "JPEG")
    page.goto(f"/unit/{unit}/photos")
    page.locator("#files").set_input_files({"name": "a.jpg", "mimeType": "image/jpeg", "buffer": photo.getvalue()})
    page.get_by_role("button", name="Store").click()
    posted(address, f"/unit/{unit}/log", {"typed": "clapped at 00:03:12 of bench-1.mp4"})
    left = got(address, f"/unit/{unit}/folder.zip")[1]
    page.goto("/")
    page.get_by_role("link", name="A unit comes back from its folder").click()
    word = page.locator("input[name=once]").get_attribute("value") or ""
    page.locator("#folder").set_input_files({"name": "U.zip", "mimeType": "application/zip", "buffer": left})
    page.get_by_role("button", name="Take it in").click()
    main = page.locator("main")
    expect(main).to_contain_text(re.compile(r"U\d+ is in 3 lines, 1 photo"))
    expect(main).to_contain_text("Its log names the film bench-1.mp4, which does not travel in the folder.")
    new = page.locator("a.strong").inner_text().removeprefix("Open ")
    came, files = held(got(address, f"/unit/{new}/folder.zip")[1]), held(left)
    for name in files.keys() - {"log.txt", "README.txt", "SHA256SUMS"}:
        assert came[name] == files[name], name
    assert came["log.txt"].splitlines()[1:] == files["log.txt"].splitlines()[1:]
    assert any(name.startswith("photos/") for name in files)
    token = next(one["value"] for one in page.context.cookies() if one["name"] == "csrftoken")
    again = page.request.post(
        "/unit/import",
        multipart={
            "csrfmiddlewaretoken": token,
            "once": word,
            "folder": {"name": "U.zip", "mimeType": "application/zip", "buffer": left},
        },
    )
    assert f"Open {new}</a>" in again.text()
    page.goto("/unit/import")
    loose = [
        {"name": name.rpartition("/")[2], "mimeType": "text/plain", "buffer": content}
        for name, content in files.items()
    ]
    page.locator("#folder").set_input_files(loose)
    page.get_by_role("button", name="Take it in").click()
    expect(main).to_contain_text(f"U{int(new[1:]) + 1} is in 3 lines, 1 photo")


def test_what_is_no_whole_folder_is_named_and_nothing_is_kept(opened: Opener, address: str, unit: str) -> None:
    page = opened(java_script_enabled=False)
    count = got(address, "/")[1].count(b'href="/unit/U')
    files = held(got(address, f"/unit/{unit}/folder.zip")[1])
    changed = io.BytesIO()
    with zipfile.ZipFile(changed, "w") as archive:
        for name, content in files.items():
            archive.writestr(name, content.replace(b"EUR 45", b"EUR 15") if name == "log.txt" else content)
    for sent, message in (
        ([("U1.zip", changed.getvalue())], "'log.txt' was changed since it was written"),
        ([("U1.zip", b"MZ a program")], "'U1.zip' is no file of a unit's folder."),
        ([("U1.zip", b"PK\x03\x04")], "This is no whole ZIP archive"),
        ([("U1.zip", changed.getvalue()), ("log.txt", b"")], "One archive at a time."),
        ([("log.txt", files["log.txt"])], "'SHA256SUMS' cannot be read: No such file or directory."),
    ):
        page.goto("/unit/import")
        page.locator("#folder").set_input_files(
            [{"name": name, "mimeType": "application/zip", "buffer": content} for name, content in sent]
        )
        page.get_by_role("button", name="Take it in").click()
        expect(page.get_by_role("alert")).to_contain_text(message)
    status, text = posted(address, "/unit/import", {"folder": "U1.zip"})
    assert status == 422
    assert "No file came along." in text
    assert got(address, "/")[1].count(b'href="/unit/U') == count
