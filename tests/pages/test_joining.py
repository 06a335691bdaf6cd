"""A phone joins by a code: once, soon, for a unit or for the bench; and its photo is on the laptop at once."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from urllib.error import HTTPError
from urllib.parse import urlsplit
from urllib.request import urlopen

import pytest
import zxingcpp
from browsing import PASSWORD, PHONE, book, posted, serving
from PIL import Image
from playwright.sync_api import Page, expect
from test_login import Visitor
from test_photos import jpeg, payload

from knowngood.pages.invitations import MINUTES, Invitations

Opener = Callable[..., Page]


def code(laptop: Page, unit: str, whole: bool = False) -> str:
    """The address that a phone would scan, made on the laptop's page."""
    laptop.goto(f"/phone?unit={unit}")
    laptop.get_by_role("button", name="whole bench" if whole else f"for {unit} only").click()
    return laptop.locator(".address").inner_text()


def test_a_phone_scans_joins_and_its_photo_is_on_the_laptop_at_once(
    opened: Opener, addresses: list[str], tmp_path: Path
) -> None:
    laptop, other = opened(), opened()
    unit = book(laptop)
    other.goto(f"/unit/{unit}")
    address = code(laptop, unit)
    laptop.locator(".code svg").screenshot(path=tmp_path / "code.png")
    with Image.open(tmp_path / "code.png") as seen:
        [read] = zxingcpp.read_barcodes(seen)
    assert read.text == address
    assert address.startswith(addresses[1])

    phone = opened(base_url=addresses[1], viewport=PHONE, has_touch=True, is_mobile=True)
    phone.goto(f"/unit/{unit}")
    expect(phone.get_by_label("Password")).to_be_visible()
    phone.goto(address)
    phone.get_by_role("button", name="Join").tap()
    phone.wait_for_url(f"**/unit/{unit}/photos")
    expect(laptop.get_by_role("status").filter(has_text="The phone is in.")).to_be_visible()
    phone.get_by_label("Take a photo").set_input_files(payload("image.jpg", jpeg("orange")))
    phone.get_by_label("What do they show?").fill("fan")
    phone.get_by_role("button", name="Store").tap()
    phone.wait_for_url("**/photo/*")
    expect(other.locator("#news")).to_contain_text("Logged elsewhere: photographed fan as")
    expect(other.locator("#news img")).to_be_visible()

    phone.goto("/")
    expect(phone).to_have_url(re.compile(f"/unit/{unit}$"))
    for path in ("/bench", "/unit/new", "/phone", "/unit/U999/photos"):
        answer = phone.goto(path)
        assert answer is not None
        assert answer.status == 403, path
        expect(phone.locator("h1")).to_contain_text(f"let in for {unit} only")


def test_a_code_lets_in_one_browser_and_one_for_the_bench_sees_all(opened: Opener, addresses: list[str]) -> None:
    laptop = opened()
    unit = book(laptop)
    path = urlsplit(code(laptop, unit, whole=True)).path
    first, second = Visitor(addresses[1]), Visitor(addresses[1])
    assert first.ask(path)[0] == second.ask(path)[0] == 200  # looking uses nothing up
    assert first.ask(path, {}) == (302, "", "/")
    assert first.ask("/")[0] == first.ask(f"/unit/{unit}")[0] == first.ask("/bench")[0] == 200
    for form in (None, {}):
        status, text, _ = second.ask(path, form)
        assert (status, "used already, or it is too old" in text) == (403, True)
    assert second.ask("/")[2] == "/login?next=/"
    assert Visitor(addresses[1]).ask("/join/made-up", {})[0] == 403
    third = Visitor(addresses[1])
    del third.cookies["csrftoken"]
    assert third.ask(urlsplit(code(laptop, unit)).path, {})[0] == 403  # no form of ours


def test_a_code_is_made_by_who_is_let_in_alone(addresses: list[str]) -> None:
    stranger = Visitor(addresses[1])
    assert stranger.ask("/phone")[2] == "/login?next=/phone"
    assert stranger.ask("/phone", {"for": "bench"})[0] == 403
    assert stranger.ask("/phone/0123456789abcdef")[0] == 302
    for sent, says in (({"for": "all"}, "choose what it is for"), ({"for": "unit"}, "For which unit?")):
        status, text, _ = Visitor(addresses[0]).ask("/phone", sent)
        assert (status, says in text) == (422, True)


def test_a_code_ends_by_itself_and_only_its_hash_is_kept() -> None:
    now = [0.0]
    made = Invitations(lambda: now[0])
    word = made.make("U1")
    assert word not in repr(vars(made))
    now[0] = 60.0 * MINUTES - 1
    assert made.open(word) is not None
    now[0] += 1
    assert made.open(word) is None
    assert made.take(word) is None
    words = [made.make() for _ in range(60)]
    assert [made.open(one) is None for one in (words[0], words[-1])] == [True, False]
    assert made.take(words[-1]) is not None
    assert made.take(words[-1]) is None


def test_without_a_network_no_code_is_made_and_none_lets_in(tmp_path: Path) -> None:
    with serving(tmp_path) as addresses:
        with urlopen(f"{addresses[0]}/phone", timeout=60) as answer:
            text = answer.read().decode()
        assert "Open it to this network" in text
        assert "Code for" not in text
        assert posted(addresses[0], "/phone", {"for": "bench"})[0] == 422
        with pytest.raises(HTTPError, match="403"):
            urlopen(f"{addresses[0]}/join/anything", timeout=60)


def test_the_network_is_opened_and_closed_again_at_the_machine_itself_and_nowhere_else(
    opened: Opener, tmp_path: Path
) -> None:
    with serving(tmp_path) as [address]:
        beyond = f"http://127.0.0.2:{urlsplit(address).port}"
        stranger = Visitor(beyond)
        with pytest.raises(ConnectionRefusedError):
            stranger.ask("/")
        laptop = opened(base_url=address, java_script_enabled=False)

        def open_it(host: str, password: str = "") -> None:
            laptop.goto("/phone")
            laptop.get_by_label("This machine's address there").fill(host)
            if password:
                laptop.get_by_label("A password").fill(password)
            laptop.get_by_role("button", name="Open it to this network").click()

        for host, password, message in (
            ("127.0.0.2", "short", "too short"),
            ("0.0.0.0", PASSWORD, "'0.0.0.0' is no address to serve at"),
            ("203.0.113.7", "", "Is that this machine's own address?"),
        ):
            open_it(host, password)
            expect(laptop.get_by_role("alert")).to_contain_text(message)
        open_it("127.0.0.2")
        expect(laptop.locator("main")).to_contain_text("Open to the network at 127.0.0.2")
        laptop.get_by_role("button", name="Code for the whole bench").click()
        scanned = laptop.locator(".address").inner_text()
        assert scanned.startswith(beyond)
        assert stranger.ask("/")[2] == "/login?next=/"
        assert stranger.ask("/login", {"password": PASSWORD})[0] == 302
        status, text, _ = stranger.ask("/phone/network", {"do": "close"})
        assert (status, "own machine alone" in text) == (403, True)
        assert posted(address, "/phone/network", {"do": "close"}, token="")[0] == 403
        assert stranger.ask("/")[0] == 200
        assert "Close it" not in stranger.ask("/")[1]

        laptop.goto("/")
        laptop.get_by_role("button", name="Close it").click()
        expect(laptop.locator("main")).to_contain_text("Now nobody but this machine can reach the program.")
        with pytest.raises(ConnectionRefusedError):
            stranger.ask("/")
        open_it("127.0.0.2")
        assert stranger.ask("/")[2] == "/login?next=/"
        assert stranger.ask(urlsplit(scanned).path)[0] == 403
