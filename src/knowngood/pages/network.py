"""The way in from beyond this machine: a listener of its own, opened and closed while the program runs.

It asks for a password to be set, since nobody comes in without one (``login``). When it closes, whoever came in by it
is out: connections are cut, sessions and codes end.
"""

from __future__ import annotations

import socket
from collections.abc import Callable
from ipaddress import ip_address
from threading import Event, Lock, Thread
from typing import Any

from django.conf import settings
from django.core.cache import cache

from knowngood.errors import StoreError
from knowngood.pages.guarding import LARGEST_REQUEST
from knowngood.pages.house import store
from knowngood.pages.invitations import INVITATIONS
from knowngood.pages.person import person
from knowngood.pages.settings import LOOPBACK

THREADS = 4


def serving(application: object, sockets: list[socket.socket], threads: int) -> Any:
    """A server of waitress on open sockets."""
    from waitress.server import create_server

    return create_server(
        application,
        sockets=sockets,
        threads=threads,
        ident=None,
        channel_timeout=60,
        max_request_body_size=LARGEST_REQUEST,
        clear_untrusted_proxy_headers=False,  # who comes through another machine's hands is not at this one
    )


class Network:
    """The listener, if it is open."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._application: object = None
        self._port = 0
        self._host = ""
        self._end: Callable[[], None] | None = None

    @property
    def host(self) -> str:
        """The address at which other machines reach this one; empty while none can."""
        return self._host

    def begin(self, application: object, port: int) -> None:
        """What it will serve, and at which port."""
        self._application, self._port = application, port

    def open(self, asked: str) -> str:
        """Listens at an address of this machine (``lan``: its own in its network); returns it. Raises StoreError."""
        with self._lock:
            if self._host:
                return self._host
            host = _beyond(asked)
            if person(store()) is None:
                raise StoreError(
                    "Beyond this machine nobody comes in without a password. Set one first: knowngood password"
                )
            listener = listening(host, self._port)
            server, ending = serving(self._application, [listener], THREADS), Event()
            thread = Thread(target=_run, args=(server, ending), name="network", daemon=True)

            def end() -> None:
                ending.set()
                server.pull_trigger()
                thread.join(timeout=10)

            if host not in settings.ALLOWED_HOSTS:
                settings.ALLOWED_HOSTS.append(host)
            self._host, self._end = host, end
            thread.start()
            return host

    def close(self) -> None:
        """No machine but this one reaches the pages any more, and whoever came in is out."""
        with self._lock:
            if self._end is None:
                return
            if self._host not in LOOPBACK:
                settings.ALLOWED_HOSTS.remove(self._host)
            self._end()
            self._host, self._end = "", None
            cache.clear()  # the sessions
            INVITATIONS.end()


NETWORK = Network()


def _run(server: Any, ending: Event) -> None:
    """Serves until the end is asked for; only this thread touches the sockets."""
    from waitress import wasyncore

    while not ending.is_set():
        wasyncore.loop(timeout=1.0, use_poll=True, map=server._map, count=1)
    wasyncore.close_all(server._map, ignore_all=True)
    server.task_dispatcher.shutdown(timeout=2)


def listening(host: str, port: int) -> socket.socket:
    """A socket at an address. Raises StoreError for one that cannot be had."""
    one = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    one.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        one.bind((host, port))
    except (OSError, OverflowError) as error:
        one.close()
        why = getattr(error, "strerror", None) or error
        if host in LOOPBACK:
            raise StoreError(f"Port {port} cannot be used: {why}. Choose another with --port, or 0 for any.") from None
        raise StoreError(f"Port {port} at {host} cannot be used: {why}. Is that this machine's own address?") from None
    return one


def own_address() -> str:
    """This machine's address in its network: the one that it would send from, empty if in none. No packet is sent."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        try:
            asking.connect(("192.0.2.1", 9))  # an address for examples (RFC 5737)
            return str(asking.getsockname()[0])
        except OSError:
            return ""


def _beyond(asked: str) -> str:
    """The address to answer at. Raises StoreError for what is none of this machine."""
    if asked == "lan":
        if own := own_address():
            return own
        raise StoreError("This machine is in no network now. Join one, or give its address there with --host.")
    try:
        found = ip_address(asked)
    except ValueError:
        found = None
    if found is None or found.version != 4 or found.is_unspecified or found.is_multicast or asked in LOOPBACK:
        raise StoreError(
            f"'{asked}' is no address to serve at. Give this machine's own address in your network, as 192.168.1.20."
        )
    return str(found)
