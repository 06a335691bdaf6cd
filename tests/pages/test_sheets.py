"""Sheets that are ticked, and the papers of a unit."""

from __future__ import annotations

import hashlib
import io
import zipfile
from collections.abc import Callable

from browsing import PHONE, book, got, posted
from playwright.sync_api import Page, expect

Opener = Callable[..., Page]


def test_one_tap_ticks_a_line_and_undo_brings_it_back(opened: Opener, address: str) -> None:
    page = opened(viewport=PHONE, has_touch=True, is_mobile=True)
    unit = book(page)
    opener = "opened cover-off"
    posted(address, f"/unit/{unit}/log", {"typed": opener})
    page.goto(f"/unit/{unit}/sheets/reassembly")
    ticks = page.locator("button.tick")
    before = ticks.count()
    line = ticks.first.get_attribute("aria-label")
    assert before >= 1
    assert line is not None
    assert line.startswith("Tick: ")
    ticks.first.tap()
    expect(page.locator(".undo")).to_contain_text(line.removeprefix("Tick: "))
    expect(page.locator(f"button[aria-label='{line}']")).to_have_count(0)
    assert f"<span>{line.removeprefix('Tick: ')}</span>" in got(address, f"/unit/{unit}")[1].decode()
    page.get_by_role("button", name="Undo").tap()
    expect(page.locator(f"button[aria-label='{line}']")).to_have_count(1)
    expect(ticks).to_have_count(before)


def test_a_figure_is_filled_into_the_line_that_the_sheet_names(opened: Opener, address: str) -> None:
    page = opened(java_script_enabled=False)
    unit = book(page)
    page.goto(f"/unit/{unit}/sheets/safety-test")
    row = page.locator(".row", has_text="measured protective-earth")
    row.get_by_role("button", name="Log").click()
    expect(page.get_by_role("alert")).to_contain_text("Nothing is filled in yet")
    page.locator("button[aria-label='Tick: inspected visual passed']").click()
    expect(page.locator(".undo")).to_contain_text("inspected visual passed")
    row = page.locator(".row", has_text="measured protective-earth")
    for gap, said in zip(row.locator(".gaps input:not([type=hidden])").all(), ("0.12", "fluxa"), strict=True):
        gap.fill(said)
    row.get_by_role("button", name="Log").click()
    expect(page.get_by_role("alert")).to_contain_text(
        "'measured protective-earth 0.12 ohm by fluxa': the bench's log knows no instrument 'fluxa'"
    )
    expect(page.locator("main")).to_contain_text("Local wiring rules, workplace law and licensed practice come first")


def test_on_paper_there_is_nothing_to_press_and_a_box_for_each_line(opened: Opener, unit: str) -> None:
    page = opened()
    page.goto(f"/unit/{unit}/sheets/safety-test")
    page.emulate_media(media="print")
    for gone in ("header", ".rooms", ".switch", ".undo", ".gaps button"):
        assert all(not one.is_visible() for one in page.locator(gone).all()), gone
    assert page.locator(".tick").count() == page.locator(".row").count() > 3
    assert page.pdf(prefer_css_page_size=True).startswith(b"%PDF")


def test_a_unit_leaves_by_the_page_as_the_folder_that_export_writes(address: str, unit: str) -> None:
    status, content = got(address, f"/unit/{unit.lower()}/folder.zip")
    assert status == 200
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        sums = dict(line.split("  ")[::-1] for line in archive.read(f"{unit}/SHA256SUMS").decode().splitlines())
        for name, mark in sums.items():
            assert hashlib.sha256(archive.read(f"{unit}/{name}")).hexdigest() == mark
        assert "bought some-mains-device for EUR 45" in archive.read(f"{unit}/log.txt").decode()


def test_the_report_is_one_tap_away_and_for_buyers_says_no_price(opened: Opener, address: str, unit: str) -> None:
    page = opened()
    page.goto(f"/unit/{unit}")
    links = page.locator(".papers a", has_text="PDF")
    addresses = [str(one.get_attribute("href")) for one in links.all()]
    assert len(addresses) == 2
    for one in addresses:
        status, content = got(address, one)
        assert (status, content[:4]) == (200, b"%PDF")


def test_what_is_no_sheet_or_no_line_is_refused_in_a_sentence(address: str, unit: str) -> None:
    assert got(address, f"/unit/{unit}/sheets/none")[0] == 404
    assert got(address, "/unit/U99/sheets/proof")[0] == 404
    status, text = posted(address, f"/unit/{unit}/sheets/proof", {"line": "<script>alert(1)</script>"})
    assert status == 422
    assert "&lt;script&gt;" in text
    assert "<script>alert" not in text
    assert posted(address, f"/unit/{unit}/sheets/proof", {"line": "x" * 2500})[0] == 422
