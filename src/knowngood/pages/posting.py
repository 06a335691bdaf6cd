"""A post of one of a page's forms for lines: it acts once, and what it says wrong is a sentence."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from django.http import HttpRequest

from knowngood.bench import work
from knowngood.errors import LineError
from knowngood.log.state import Line
from knowngood.pages.house import store
from knowngood.pages.once import Once
from knowngood.pages.saying import Saying, line_of

POSTED: Once[list[Line]] = Once()


def logged(request: HttpRequest, unit: str, lines: Callable[[Mapping[str, str]], list[str]]) -> str:
    """Logs the lines that a filled-in form stands for; why they were not taken, or "" if they were."""
    given = request.POST.dict()
    try:
        POSTED.act(given.get("once", ""), lambda: work.log_lines(store(), unit, lines(given)))
    except LineError as problem:
        return str(problem)
    return ""


def lines_of(sayings: Mapping[str, Saying], given: Mapping[str, str]) -> list[str]:
    """The line of the form that is named. Raises LineError for one that the page does not have any more."""
    key = given.get("form", "")
    if key not in sayings:
        raise LineError("This form does not fit the unit any more. Nothing was stored.")
    return [line_of(sayings[key], given)]
