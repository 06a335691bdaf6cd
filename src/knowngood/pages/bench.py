"""The page of the bench: its settings, each in its sentence, and its testers."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from knowngood.bench import instruments, work
from knowngood.bench.settings import SETTINGS, shown
from knowngood.errors import LineError
from knowngood.pages.house import store
from knowngood.pages.login import at_this_machine
from knowngood.pages.once import Once, new_word

POSTED: Once[object] = Once()
LONGEST = 300


def page(request: HttpRequest) -> HttpResponse:
    """The settings; a post changes one of them, or takes down a calibration."""
    here = store()
    given = {name: str(value)[: LONGEST + 1] for name, value in request.POST.items()}
    key, error = given.get("key", ""), ""
    if request.method == "POST":
        try:
            if any(len(value) > LONGEST for value in given.values()):
                raise LineError(f"This is longer than {LONGEST} characters. Nothing was stored.")
            POSTED.act(given.get("once", ""), lambda: _stored(given))
            return redirect("bench")
        except LineError as problem:
            error = str(problem)
    settings = work.bench_settings(here)
    context = {
        "rows": [
            {
                "key": name,
                "says": one.says,
                "value": given.get("value", "") if error and name == key else shown(settings, name),
                "default": one.default,
                "error": error if name == key else "",
            }
            for name, one in SETTINGS.items()
        ],
        "instruments": {one.name: one for one in instruments.instruments(here)}.values(),
        "beyond": not at_this_machine(request),
        "given": given if key not in SETTINGS else {},
        "error": "" if key in SETTINGS else error,
        "once": new_word(),
    }
    return render(request, "pages/bench.html", context, status=422 if error else 200)


def _stored(given: dict[str, str]) -> object:
    here = store()
    if "instrument" in given:
        day, share = given.get("calibrated", ""), given.get("uncertainty", "")
        return instruments.add(here, given["instrument"], day, share)
    return work.bench_set(here, given.get("key", ""), given.get("value", ""))
