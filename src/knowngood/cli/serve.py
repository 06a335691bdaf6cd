"""``knowngood serve``: the pages, in a browser on this machine."""

from __future__ import annotations

from typing import Annotated

import typer

from knowngood.cli.frame import Home, failing_plainly


def serve(
    port: Annotated[int, typer.Option("--port", min=0, max=65535, help="Port on this machine; 0 for any.")] = 8050,
    home: Home = None,
) -> None:
    """Opens the program to a browser on this machine, until Ctrl-C. Nothing beyond this machine can reach it.

    Example: knowngood serve --port 8050
    """
    with failing_plainly(False):
        from knowngood.pages.server import serve as serve_pages

        serve_pages(home, port, lambda address: print(f"knowngood is at {address} (end with Ctrl-C)", flush=True))
