"""``knowngood serve``: the pages, in a browser; ``knowngood password``: for whoever comes from beyond this machine."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from knowngood.cli.frame import Home, failing_plainly

NO_SECRET = (
    "What goes over that network is not encrypted: use it only in one that is yours. "
    "Serve without --lan when you leave."
)


def serve(
    port: Annotated[int, typer.Option("--port", min=0, max=65535, help="Port on this machine; 0 for any.")] = 8050,
    lan: Annotated[bool, typer.Option("--lan", help="Also for your network: others there need the password.")] = False,
    host: Annotated[
        str | None, typer.Option("--host", help="The same at this address of this machine, as 192.168.1.20.")
    ] = None,
    ahead: Annotated[
        bool, typer.Option("--ahead/--no-ahead", help="Think out what comes after each button, in a second process.")
    ] = True,
    home: Home = None,
) -> None:
    """Opens the program to a browser on this machine, until Ctrl-C. Nothing beyond this machine can reach it.

    With --lan or --host other machines of your network can, with the password that 'knowngood password' sets.

    Example: knowngood serve --port 8050
    """
    with failing_plainly(False):
        from knowngood.pages.server import serve as serve_pages

        def ready(addresses: list[str], to_read: int) -> None:
            print(f"knowngood is at {addresses[0]} (end with Ctrl-C)", flush=True)
            for address in addresses[1:]:
                print(f"In your network it is at {address} (with the password). {NO_SECRET}", flush=True)
            if to_read:
                print(f"Reading {to_read} logs once, after an update; the pages say how far that is.", flush=True)

        serve_pages(home, port, ready, host or ("lan" if lan else None), ahead=ahead)


def password(home: Home = None) -> None:
    """Sets the password that other machines of your network need (serve --lan). Only a hash of it is kept.

    It is asked for twice and not shown; from a pipe it is the first line. Whoever came in by the old one is out.

    Example: knowngood password
    """
    with failing_plainly(False):
        from knowngood.pages.server import set_password

        if sys.stdin.isatty():
            given = typer.prompt("Password", hide_input=True, confirmation_prompt=True)
        else:
            given = sys.stdin.readline().rstrip("\r\n")
        set_password(home, given)
        print("The password is set.")
