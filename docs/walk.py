"""Walks through docs/first-unit.md in a browser: every bullet of the guide is a step, read from the guide itself.

A step is one of these sentences; anything else in a bullet stops the walk:
    Tap **X**.   Type `line` and press Enter.   Fill **X** with `text`.   Choose `text` at **X**.   Tick **X**.
    Read **text**.   Get **X**.   Each may start with "In **title of a form**: ".
A picture in the guide is taken where it stands.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, timedelta
from html import unescape
from pathlib import Path
from typing import Literal
from urllib.request import urlopen

from playwright.sync_api import Locator, Page, expect

GUIDE, SHORT = (Path(__file__).parent / name for name in ("first-unit.md", "second-unit.md"))
Hands = Literal["mouse", "keyboard", "touch"]

SENTENCES = {
    "tap": r"tap \*\*(?P<what>.+?)\*\*\.",
    "type": r"type `(?P<text>.+?)` and press Enter\.",
    "fill": r"fill \*\*(?P<what>.+?)\*\* with `(?P<text>.+?)`\.",
    "choose": r"choose `(?P<text>.+?)` at \*\*(?P<what>.+?)\*\*\.",
    "tick": r"tick \*\*(?P<what>.+?)\*\*\.",
    "get": r"get \*\*(?P<what>.+?)\*\*\.",
    "read": r"read \*\*(?P<what>.+?)\*\*\.",
}


CHROMIUM = "/usr/bin/chromium"
LAPTOP, PHONE = {"width": 1366, "height": 768}, {"width": 390, "height": 844}
PASSWORD = "twelve lost washers"

STICKER = (date.today() - timedelta(days=90)).isoformat()
"""A day of calibration that still holds, whenever the guide is walked."""


MOST_STOPS = 200
"""Stops of the Tab key on the way to something (own judgement; all of the longest page has fewer)."""

LOOKS = 10
"""Times that what has the focus is looked for again, a tenth of a second apart, before it counts as hidden."""

STOP = """there => {
  const at = document.activeElement;
  if (at === document.body) return [false, ""];
  const box = at.getBoundingClientRect(), shown = at.closest("label") || at;
  const seen = document.elementFromPoint(box.x + box.width / 2, box.y + Math.min(box.height / 2, 20));
  const marked = getComputedStyle(at).outlineStyle !== "none";
  const hidden = seen && marked && (at.contains(seen) || shown.contains(seen)) ? "" : at.outerHTML.slice(0, 120);
  return [at === there, hidden];
}"""
"""Whether what has the focus is it, and what has it, if that is beyond the window, under something else, or not marked
as the one; else nothing."""

AMONG_ITS_GROUP = """it => it.type !== "radio" ? 0 :
  [...it.form.querySelectorAll("input[type=radio]")].filter(one => one.name === it.name).indexOf(it)"""
"""How many arrows down a radio button is from the first of its group."""


@dataclass(frozen=True)
class Step:
    """One bullet of the guide, or a picture."""

    line: int
    act: str
    what: str = ""
    text: str = ""
    form: str = ""


@contextmanager
def serving(home: Path, host: str = "") -> Iterator[list[str]]:
    """A server with its store in ``home``: its address here, and its other one at a host. It thinks nothing out ahead:
    whoever walks waits for each page, and would only compete with it."""
    environment = {
        **os.environ,
        "KNOWNGOOD_HOME": str(home),
        "OMP_NUM_THREADS": "1",
        "OPENBLAS_NUM_THREADS": "1",
    }
    environment.pop("KNOWNGOOD_DATABASE_URL", None)
    program = [sys.executable, "-m", "knowngood.cli.main"]
    beyond = ["--host", host] if host else []
    if host:
        subprocess.run(
            [*program, "password"], env=environment, input=PASSWORD, text=True, check=True, capture_output=True
        )
    with subprocess.Popen(
        [*program, "serve", "--port", "0", "--no-ahead", *beyond], env=environment, stdout=subprocess.PIPE, text=True
    ) as server:
        assert server.stdout is not None
        try:
            said = [server.stdout.readline() for _ in range(2 if host else 1)]
            assert "http://127.0.0.1:" in said[0], said
            yield [re.findall(r"http://\S+", line)[0].rstrip("/") for line in said]
        finally:
            server.terminate()


def offered(page: Page) -> str:
    """Takes an offer down by the form, and returns its number."""
    page.goto("/bids")
    page.get_by_label("What is it?").select_option("some-battery-device")
    page.get_by_label("What is asked for it?").fill("EUR 9")
    page.get_by_label("The listing's own words").fill("no power, dropped")
    page.get_by_role("button", name="What to pay at most?").click()
    page.wait_for_url("**/bids/C*")
    return page.url.rpartition("/")[2]


def linked(address: str, start: str = "/") -> dict[str, str]:
    """Every page that links lead to from ``start``, with its text: each path once, whatever follows a "?".

    The parts of a unit have pages alike, and so have its photos: one of each is enough.
    """
    found: dict[str, str] = {}
    ahead, sorts = [start], set()
    while ahead:
        path = ahead.pop(0).partition("?")[0].partition("#")[0]
        sort = re.sub(r"/(part|photo)/[^/]+", r"/\1/", path)
        if sort in sorts or not path.startswith("/") or path.startswith("/static/"):
            continue
        sorts.add(sort)
        with urlopen(address + path, timeout=60) as answer:
            if answer.headers.get_content_type() != "text/html":
                continue
            found[path] = answer.read().decode()
        ahead += [unescape(one) for one in re.findall(r'<a\b[^>]*\bhref="([^"]*)"', found[path])]
    return found


def steps(guide: Path = GUIDE) -> Iterator[Step]:
    """The steps of the guide in order. Raises ValueError with the line of a bullet that is none."""
    for number, line in enumerate(guide.read_text(encoding="utf-8").splitlines(), start=1):
        if picture := re.fullmatch(r"!\[.*\]\(pictures/(.+)\.png\)", line):
            yield Step(number, "picture", picture[1])
        if not line.startswith("- "):
            continue
        found = re.fullmatch(r"- (?:In \*\*(?P<form>.+?)\*\*: )?(?P<rest>.+)", line)
        assert found is not None
        for act, sentence in SENTENCES.items():
            if match := re.fullmatch(sentence, found["rest"], re.IGNORECASE):
                yield Step(number, act, form=found["form"] or "", **match.groupdict())
                break
        else:
            raise ValueError(f"{guide.name}, line {number}: no step that can be walked: {line}")


@dataclass
class Walker:
    """A person at the browser, by mouse, by the keys of a keyboard alone, or by one finger."""

    page: Page
    hands: Hands = "mouse"
    picture: Callable[[Page, str], None] = lambda page, name: None

    def walk(self, guide: Path = GUIDE) -> int:
        """Does every step; returns how many. An error names the line of the guide."""
        count = 0
        for step in steps(guide):
            try:
                self.do(step)
            except Exception as error:
                raise AssertionError(f"{guide.name}, line {step.line}: {step}: {error}") from error
            count += step.act != "picture"
        return count

    def do(self, step: Step) -> None:
        """One step."""
        room: Page | Locator = self.page
        if step.form:
            heading = self.page.get_by_role("heading", name=step.form, exact=True)
            room = self.page.locator("form").filter(has=heading)
        match step.act:
            case "picture":
                self.picture(self.page, step.what)
            case "tap":
                self._answered(lambda: self._press(_target(room, step.what)))
            case "get":
                self._get(_target(room, step.what))
            case "type":
                self.log(step.text)
            case "fill":
                self._write(_field(room, step.what), STICKER if step.text == "the day on its sticker" else step.text)
            case "choose":
                self._choose(_field(room, step.what), step.text)
            case "tick":
                box = room.get_by_role("button", name=f"Tick: {step.what}", exact=True)
                if box.count():  # a sheet's box, which is ticked for good
                    self._answered(lambda: self._press(box))
                else:
                    self._tick(room.get_by_label(step.what, exact=True))
            case "read":
                expect(self.page.locator("main")).to_contain_text(step.what)

    def log(self, line: str) -> None:
        """Types a line on the page of the unit, and Enter."""
        field = self.page.locator("#typed")
        self._write(field, line)
        log = self.page.locator("form.type").get_by_role("button", name="Log", exact=True)
        self._answered(log.tap if self.hands == "touch" else lambda: self.page.keyboard.press("Enter"))

    def _press(self, target: Locator) -> None:
        if self.hands == "keyboard":
            self._reach(target)
            self.page.keyboard.press("Enter")
        elif self.hands == "touch":
            target.tap()
        else:
            target.click()

    def _tick(self, box: Locator) -> None:
        if self.hands == "keyboard":
            number = box.evaluate(AMONG_ITS_GROUP)
            self._reach(box.locator("xpath=ancestor::fieldset[1]//input").first if number else box)
            for _ in range(number):
                self.page.keyboard.press("ArrowDown")
            if not box.is_checked():
                self.page.keyboard.press("Space")
        elif self.hands == "touch":
            box.tap()
        else:
            box.check()
        expect(box).to_be_checked()

    def _write(self, field: Locator, text: str) -> None:
        if self.hands == "keyboard":
            self._reach(field)
            self.page.keyboard.press("Control+a")
            self.page.keyboard.type(text)
        else:
            if self.hands == "touch":
                field.tap()
            field.fill(text)
            field.focus()

    def _choose(self, field: Locator, text: str) -> None:
        if self.hands == "keyboard":
            self._reach(field)
            self.page.keyboard.type(text)
            assert field.locator("option:checked").inner_text().strip() == text
        else:
            field.select_option(label=text)

    def _reach(self, target: Locator) -> None:
        """Goes there by the Tab key; each stop on the way has to be seen, with a mark that it is the one."""
        there = target.element_handle()
        assert there is not None
        if there.evaluate("it => document.activeElement === it"):
            return
        for _ in range(MOST_STOPS):
            self.page.keyboard.press("Tab")
            is_it, hidden = there.evaluate(STOP)
            for _ in range(LOOKS):
                if not hidden:
                    break
                self.page.wait_for_timeout(100)  # the browser scrolls to it, which takes a moment
                is_it, hidden = there.evaluate(STOP)
            assert not hidden, f"the focus is not to be seen: {hidden}"
            if is_it:
                return
        raise AssertionError(f"no way there by the Tab key in {MOST_STOPS} stops")

    def _get(self, target: Locator) -> None:
        """A link that brings a PDF, and back from there."""
        address = target.get_attribute("href") or ""
        with self.page.context.expect_event("response", lambda it: it.url.endswith(address)) as brought:
            self._press(target)
        assert brought.value.header_value("content-type") == "application/pdf"
        self.page.wait_for_url(lambda it: it.endswith(address))
        self.page.go_back()

    def _answered(self, act: Callable[[], object]) -> None:
        """Acts, and waits until what comes of it is on the page."""
        # Each page that is made has tokens of its own in its forms.
        shown = "location.href + [...document.querySelectorAll('[name=csrfmiddlewaretoken]')].map(one => one.value)"
        before = self.page.evaluate(shown)
        self.page.evaluate("window.hereStill = true")
        act()
        self.page.wait_for_load_state()
        self.page.wait_for_function(
            f"before => !document.querySelector('[aria-busy]') && ({shown}) !== before",
            arg=before,
        )
        refused = self.page.locator("[role=alert]").all_inner_texts()
        assert not refused, refused
        if self.hands == "keyboard" and self.page.evaluate("window.hereStill"):
            lost = self.page.evaluate("document.activeElement === document.body")
            assert not lost, "after the swap nothing has the focus"


def _field(room: Page | Locator, name: str) -> Locator:
    """The field that is exactly so called, else the one whose label begins so ("With what (if you like)")."""
    exact = room.get_by_label(name, exact=True)
    return exact if exact.count() else room.get_by_label(re.compile(rf"^{re.escape(name)} \("))


def _target(room: Page | Locator, name: str) -> Locator:
    """The button or link that a person would take by that name: exactly so called, else the one that begins so."""
    for found in (
        room.get_by_role("button", name=name, exact=True),
        room.get_by_role("link", name=name, exact=True),
        room.get_by_role("button", name=re.compile(rf"^{re.escape(name)}\b")),
        room.get_by_role("link", name=re.compile(rf"^{re.escape(name)}\b")),
    ):
        if found.count():
            return found.first
    return room.get_by_role("button", name=name)
