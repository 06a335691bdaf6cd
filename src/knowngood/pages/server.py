"""The server: the pages on this machine's own address, until Ctrl-C."""

from __future__ import annotations

import signal
import socket
import sys
from collections.abc import Callable
from pathlib import Path

from knowngood.errors import StoreError

HOST = "127.0.0.1"
THREADS = 6


def serve(home: Path | None, port: int, ready: Callable[[str], None]) -> None:
    """Serves the pages; ``ready`` hears the address once it answers. Port 0 is any free one.

    Raises StoreError if the home cannot be used or the port is taken.
    """
    from knowngood.pages.settings import configure

    configure(home)
    from django.core.wsgi import get_wsgi_application
    from waitress.server import create_server

    from knowngood.pages import thinking, working
    from knowngood.pages.house import store

    application = get_wsgi_application()
    store()
    listening = _listening(port)
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))  # ended from outside it ends what it began
    server = create_server(application, sockets=[listening], threads=THREADS, ident=None, channel_timeout=60)
    thinking.MEMORY.begin(store())
    ready(f"http://{HOST}:{listening.getsockname()[1]}/")
    try:
        server.run()
    finally:
        server.close()
        thinking.stop()
        working.WORKS.stop()


def _listening(port: int) -> socket.socket:
    found = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        found.bind((HOST, port))
    except (OSError, OverflowError) as error:
        found.close()
        why = getattr(error, "strerror", None) or error
        raise StoreError(f"Port {port} cannot be used: {why}. Choose another with --port, or 0 for any.") from None
    return found
