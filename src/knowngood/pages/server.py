"""The server: the pages on this machine's own address, and on one beyond it if asked, until Ctrl-C."""

from __future__ import annotations

import signal
import socket
import sys
from collections.abc import Callable
from ipaddress import ip_address
from pathlib import Path

from knowngood.errors import StoreError

HOST = "127.0.0.1"
THREADS = 6


def serve(home: Path | None, port: int, ready: Callable[[list[str]], None], beyond: str | None = None) -> None:
    """Serves the pages; ``ready`` hears the addresses once they answer. Port 0 is any free one.

    ``beyond`` is this machine's address in a network whose machines may come in with the password, ``lan`` the one that
    it has there. Raises StoreError if the home cannot be used, the port is taken, or no password is set for those.
    """
    from knowngood.pages.settings import configure

    hosts = [HOST] if beyond is None else list(dict.fromkeys((HOST, _beyond(beyond))))
    configure(home, hosts)
    from django.core.wsgi import get_wsgi_application
    from waitress.server import create_server

    application = get_wsgi_application()
    from knowngood.pages import thinking, working
    from knowngood.pages.guarding import LARGEST_REQUEST
    from knowngood.pages.house import store
    from knowngood.pages.person import person

    if beyond is not None and person(store()) is None:
        raise StoreError("Beyond this machine nobody comes in without a password. Set one first: knowngood password")
    store()
    sockets = _listening(hosts, port)
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))  # ended from outside it ends what it began
    server = create_server(
        application,
        sockets=sockets,
        threads=THREADS,
        ident=None,
        channel_timeout=60,
        max_request_body_size=LARGEST_REQUEST,
        clear_untrusted_proxy_headers=False,  # who comes through another machine's hands is not at this one
    )
    thinking.MEMORY.begin(store())
    ready([f"http://{host}:{one.getsockname()[1]}/" for host, one in zip(hosts, sockets, strict=True)])
    try:
        server.run()
    finally:
        server.close()
        thinking.MEMORY.stop()
        working.WORKS.stop()


def set_password(home: Path | None, password: str) -> None:
    """Sets the password for whoever comes from beyond this machine. Raises LineError for one that is easily guessed."""
    from knowngood.pages.settings import configure

    configure(home)
    import django

    django.setup(set_prefix=False)
    from knowngood.pages import person
    from knowngood.pages.house import store

    person.set_password(store(), password)


def _beyond(asked: str) -> str:
    """The address to answer at. Raises StoreError for what is none of this machine."""
    if asked == "lan":
        return _own_address()
    try:
        found = ip_address(asked)
    except ValueError:
        found = None
    if found is None or found.version != 4 or found.is_unspecified or found.is_multicast:
        raise StoreError(
            f"'{asked}' is no address to serve at. Give this machine's own address in your network, as 192.168.1.20."
        )
    return str(found)


def _own_address() -> str:
    """This machine's address in its network: the one that it would send from. No packet is sent."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        try:
            asking.connect(("192.0.2.1", 9))  # an address for examples (RFC 5737)
            return str(asking.getsockname()[0])
        except OSError:
            raise StoreError(
                "This machine is in no network now. Join one, or give its address there with --host."
            ) from None


def _listening(hosts: list[str], port: int) -> list[socket.socket]:
    found: list[socket.socket] = []
    for host in hosts:
        one = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        found.append(one)
        one.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            one.bind((host, port))
        except (OSError, OverflowError) as error:
            for opened in found:
                opened.close()
            why = getattr(error, "strerror", None) or error
            where = f"Port {port}" if host == HOST else f"Port {port} at {host}"
            raise StoreError(f"{where} cannot be used: {why}. Choose another with --port, or 0 for any.") from None
        port = one.getsockname()[1]
    return found
