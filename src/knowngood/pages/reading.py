"""While many logs are read off anew, after an update, the pages say so and how far that is, instead of nothing."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from knowngood.bench import gists
from knowngood.bench.store import Store
from knowngood.errors import KnowngoodError
from knowngood.pages.house import store
from knowngood.pages.working import WORKS, Tell

WORK = "reading"


def read_there(here: Store, tell: Tell) -> None:
    """Run in a process of its own."""
    gists.up_to_date(here)
    tell("", True)


def begin(here: Store) -> gists.Progress | None:
    """Begins to read if there is much to read. Returns how far that has come; None if there is little."""
    progress = gists.to_read(here)
    if progress is None:
        return None
    work = WORKS.known(WORK)
    if work is not None and work.over and not work.trouble:  # its time was over: it goes on where it was ended
        WORKS.forget(WORK)
    WORKS.at(WORK, (), here, read_there)
    return progress


class meanwhile:
    """Answers a browser that opens a page with how far the reading is, until it is done. What is posted is done at
    once, and whoever asks for no page waits."""

    def __init__(self, then: Callable[[HttpRequest], HttpResponse]) -> None:
        self.then = then

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.then(request)

    def process_view(self, request: HttpRequest, view: object, args: object, kwargs: object) -> HttpResponse | None:
        opens = request.method == "GET" and "text/html" in request.headers.get("Accept", "")
        if not opens or getattr(request, "htmx", False) or getattr(view, "open_to_all", False):
            return None
        try:
            progress = begin(store())
        except KnowngoodError:
            return None  # the page itself says it
        if progress is None:
            return None
        work = WORKS.known(WORK)
        if work is not None and work.trouble:
            return None
        return render(request, "pages/reading.html", {"progress": progress}, status=202)
