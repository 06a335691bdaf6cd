"""The server: the pages on this machine's own address, and on one beyond it if asked, until Ctrl-C."""

from __future__ import annotations

import signal
import sys
from collections.abc import Callable
from pathlib import Path

HOST = "127.0.0.1"
THREADS = 6


def serve(
    home: Path | None,
    port: int,
    ready: Callable[[list[str], int], None],
    beyond: str | None = None,
    *,
    ahead: bool = True,
) -> None:
    """Serves the pages; ``ready`` hears the addresses once they answer, and how many logs are to be read off first.
    Port 0 is any free one.

    ``beyond`` is this machine's address in a network whose machines may come in with the password, ``lan`` the one that
    it has there. With ``ahead`` the advice after each button is thought out before it is pressed.

    Raises StoreError if the home cannot be used, the port is taken, or no password is set for machines beyond this one.
    """
    from knowngood.pages.settings import configure

    configure(home)
    from django.core.wsgi import get_wsgi_application

    application = get_wsgi_application()
    from knowngood.pages import reading, thinking, working
    from knowngood.pages.house import store
    from knowngood.pages.network import NETWORK, listening, serving

    store()
    here = listening(HOST, port)
    port = here.getsockname()[1]
    NETWORK.begin(application, port)
    hosts = [HOST] if beyond is None else [HOST, NETWORK.open(beyond)]
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))  # ended from outside it ends what it began
    server = serving(application, [here], THREADS)
    if ahead:
        thinking.MEMORY.begin(store())
    else:
        thinking.MEMORY.only_when_asked = True
    progress = reading.begin(store())
    ready([f"http://{host}:{port}/" for host in hosts], progress.of - progress.done if progress else 0)
    try:
        server.run()
    finally:
        server.close()
        NETWORK.close()
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
