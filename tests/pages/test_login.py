"""Who is let in: each guard fires. The server answers at this machine's own name, and beyond it at 127.0.0.2."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Iterator
from http.client import HTTPConnection
from pathlib import Path
from urllib.parse import urlencode, urlsplit

import pytest
from browsing import PASSWORD, book, serving
from playwright.sync_api import Browser

TOKEN = "a" * 32


class Visitor:
    """A client that keeps its cookies and follows nothing."""

    def __init__(self, address: str, **headers: str) -> None:
        self.at, self.headers = urlsplit(address), headers
        self.cookies = {"csrftoken": TOKEN}
        self.said: list[str] = []

    def ask(self, path: str, form: dict[str, str] | None = None, **headers: str) -> tuple[int, str, str]:
        """Status, text, and where it leads."""
        connection = HTTPConnection(self.at.netloc, timeout=60)
        send = {"Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items())}
        send |= self.headers | {name.replace("_", "-"): value for name, value in headers.items()}
        body = None
        if form is not None:
            body = urlencode({"csrfmiddlewaretoken": self.cookies.get("csrftoken", ""), **form})
            send["Content-Type"] = "application/x-www-form-urlencoded"
        connection.request("GET" if body is None else "POST", path, body, send)
        answer = connection.getresponse()
        for cookie in answer.headers.get_all("Set-Cookie") or []:
            self.said.append(cookie)
            name, _, value = cookie.partition(";")[0].partition("=")
            self.cookies[name] = value
        text = answer.read().decode()
        connection.close()
        return answer.status, text, answer.headers.get("Location") or answer.headers.get("HX-Redirect") or ""


@pytest.fixture(scope="module")
def own(tmp_path_factory: pytest.TempPathFactory, browser: Browser) -> Iterator[tuple[list[str], Path]]:
    """A server of this file's own, with a unit, since a password is tried here until nobody may try any more."""
    home = tmp_path_factory.mktemp("access")
    with serving(home, "127.0.0.2") as addresses:
        page = browser.new_page(base_url=addresses[0])
        book(page)
        page.context.close()
        yield addresses, home


def lines(address: str) -> int:
    """How many lines the unit's log has, seen from this machine."""
    return int(re.findall(r"<small>(\d+) lines?</small>", Visitor(address).ask("/unit/U1")[1])[0])


def test_beyond_this_machine_no_page_is_shown_and_nothing_is_stored(own: tuple[list[str], Path]) -> None:
    here, beyond = own[0]
    before = lines(here)
    stranger = Visitor(beyond)
    for path in ("/", "/unit/new", "/unit/U1", "/unit/U1/tell", "/unit/U1/going", "/unit/U1/news?seen=1", "/bench"):
        status, text, leads = stranger.ask(path)
        assert (status, leads, text) == (302, f"/login?next={path.partition('?')[0]}", ""), path
    for path in ("/unit/new", "/unit/U1/log", "/unit/U1/undo", "/unit/U1/tell", "/bench", "/logout"):
        status, text, _ = stranger.ask(
            path, {"typed": "noted from outside", "map": "some-mains-device", "paid": "EUR 1"}
        )
        assert (status, "Password of this bench" in text) == (403, True), path
    assert stranger.ask("/unit/U1/log", {"typed": "noted x"}, HX_Request="true")[::2] == (403, "/login")
    assert lines(here) == before


@pytest.mark.parametrize("header", ["X-Forwarded-For", "Forwarded", "Via", "X-Real-IP"])
def test_who_comes_through_another_machine_is_not_at_this_one(own: tuple[list[str], Path], header: str) -> None:
    assert Visitor(own[0][0]).ask("/")[0] == 200
    assert Visitor(own[0][0], **{header: "198.51.100.7"}).ask("/")[0] == 302


def test_a_name_that_is_not_ours_is_refused(own: tuple[list[str], Path]) -> None:
    for address in own[0]:
        status, text, _ = Visitor(address, Host="bench.example").ask("/login")
        assert (status, "not for here" in text) == (400, True)


def test_the_password_lets_in_until_it_is_changed_or_one_leaves(own: tuple[list[str], Path]) -> None:
    (here, beyond), home = own
    guest, other = Visitor(beyond), Visitor(beyond)
    assert guest.ask("/login", {"password": PASSWORD}, Cookie="")[0] == 403  # no token: a form from elsewhere
    assert guest.ask("/login", {"password": ""})[0] == 422
    status, text, _ = guest.ask("/login", {"password": "not this one"})
    assert (status, "This is not the password." in text, "not this one" in text) == (403, True, False)
    assert guest.ask("/login", {"password": PASSWORD, "next": "/unit/U1"})[::2] == (302, "/unit/U1")
    assert other.ask("/login", {"password": PASSWORD, "next": "https://elsewhere.example/"})[::2] == (302, "/")
    session = next(one for one in guest.said if one.startswith("sessionid="))
    assert "HttpOnly" in session
    assert "SameSite=Lax" in session
    assert guest.ask("/unit/U1")[0] == 200
    before = lines(here)
    assert guest.ask("/unit/U1/log", {"typed": "noted from the phone"})[0] == 302
    assert lines(here) == before + 1
    assert guest.ask("/logout", {})[::2] == (302, "/login")
    guest.cookies["sessionid"] = session.partition(";")[0].partition("=")[2]
    assert guest.ask("/")[0] == 302  # the old cookie is worth nothing
    assert other.ask("/")[0] == 200
    command = [sys.executable, "-m", "knowngood.cli.main", "password", "--home", str(home)]
    subprocess.run(command, input="four quiet solder bridges\n", text=True, check=True, capture_output=True)
    assert other.ask("/")[0] == 302


def test_after_ten_wrong_passwords_the_right_one_is_refused_too(own: tuple[list[str], Path]) -> None:
    here, beyond = own[0]
    thief = Visitor(beyond)
    tried = [thief.ask("/login", {"password": f"guess {number}"})[0] for number in range(11)]
    assert tried[-1] == 429
    assert set(tried[:9]) == {403}  # one wrong one came before, in the test above
    status, text, _ = thief.ask("/login", {"password": "four quiet solder bridges"})
    assert (status, "Too many wrong passwords. Wait 15 minutes" in text) == (429, True)
    assert Visitor(here).ask("/")[0] == 200  # at the bench's machine work goes on


def ran(*words: str, home: Path, given: str = "") -> tuple[int, str]:
    """A command's exit code and what it said."""
    command = [sys.executable, "-m", "knowngood.cli.main", *words, "--home", str(home)]
    done = subprocess.run(command, input=given, text=True, capture_output=True, timeout=60)
    return done.returncode, done.stdout + done.stderr


def test_nobody_is_served_beyond_this_machine_without_a_good_password(tmp_path: Path) -> None:
    code, said = ran("serve", "--host", "127.0.0.2", "--port", "0", home=tmp_path)
    assert (code, "Set one first: knowngood password" in said) == (2, True)
    assert ran("password", home=tmp_path, given="short\n")[0] == 2
    code, said = ran("serve", "--host", "0.0.0.0", "--port", "0", home=tmp_path)
    assert (code, "'0.0.0.0' is no address to serve at" in said) == (2, True)
    assert ran("password", home=tmp_path, given="twelve lost washers\n") == (0, "The password is set.\n")
    stored = (tmp_path / "knowngood.sqlite3").read_bytes()
    assert b"twelve lost washers" not in stored
    assert b"scrypt$" in stored
