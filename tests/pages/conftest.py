"""One server and one browser for all tests of the pages in a worker. Nothing leaves the machine.

Tests book and read through the pages, as a person does; the store belongs to the server's process.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from browsing import CHROMIUM, LAPTOP, book, offered, serving
from playwright.sync_api import Browser, Page, expect, sync_playwright


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """All of these go to one worker, which starts one server and one browser."""
    for item in items:
        if item.path.is_relative_to(Path(__file__).parent):
            item.add_marker(pytest.mark.xdist_group("pages"))


BEYOND = "127.0.0.2"
"""An address of this machine that is not its name: who asks for it counts as from beyond."""


@pytest.fixture(scope="package")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the store of the server is."""
    return tmp_path_factory.mktemp("home")


@pytest.fixture(scope="package")
def addresses(home: Path) -> Iterator[list[str]]:
    """The addresses of a server with a store of its own: at this machine, and beyond it."""
    with serving(home, BEYOND) as found:
        yield found


@pytest.fixture(scope="package")
def address(addresses: list[str]) -> str:
    """Its address at this machine."""
    return addresses[0]


@pytest.fixture(scope="package")
def browser() -> Iterator[Browser]:
    """Debian's Chromium."""
    # Playwright keeps an event loop until the worker ends, and Django would refuse the store to all later tests there.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(
            executable_path=CHROMIUM, args=["--no-sandbox", "--disable-background-networking"]
        )
        yield opened
        opened.close()


Opener = Callable[..., Page]


@pytest.fixture
def opened(browser: Browser, address: str) -> Iterator[Opener]:
    """Opens windows of their own (``viewport``, ``color_scheme``, ``java_script_enabled``); what the browser complains
    of in any of them fails the test: a script or style that the policy stops, a script that throws."""
    contexts, complaints = [], []

    def open_one(**how: object) -> Page:
        context = browser.new_context(**{"base_url": address, "viewport": LAPTOP, **how})  # type: ignore[arg-type]
        context.set_default_timeout(20_000)
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on("console", lambda said: complaints.append(said.text) if "Content Security" in said.text else None)
        return page

    yield open_one
    for context in contexts:
        context.close()
    assert complaints == []


@pytest.fixture(scope="package")
def unit(browser: Browser, address: str) -> str:
    """A unit to look at: nobody logs anything to it."""
    page = browser.new_page(base_url=address)
    name = book(page)
    page.context.close()
    return name


@pytest.fixture(scope="package")
def offer(browser: Browser, address: str) -> str:
    """An offer to look at. It was let go: an open one keeps a process at work on its bid."""
    page = browser.new_page(base_url=address, java_script_enabled=False)
    name = offered(page)
    page.locator("summary", has_text="Let it go").click()
    page.get_by_role("button", name="Let it go").click()
    expect(page.locator("main")).to_contain_text("It was let go")
    page.context.close()
    return name
