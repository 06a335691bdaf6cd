"""The page on which anything can be said of a unit without knowing how its line is written."""

from __future__ import annotations

from collections.abc import Mapping

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from knowngood.bench import work
from knowngood.errors import LineError
from knowngood.pages import telling_answers
from knowngood.pages.house import store
from knowngood.pages.once import new_word
from knowngood.pages.posting import lines_of, logged
from knowngood.pages.saying import refused

TRIALS = "trials"


def page(request: HttpRequest, name: str) -> HttpResponse:
    """The forms; a post of one of them logs its line and goes back to the unit."""
    here = store()
    unit = here.unit_id(name)
    device, told = work.replayed(here, unit)
    rooms = telling_answers.rooms(device, told.state)
    sayings = {one.key: one for room in rooms for one in room.sayings}
    error, key = "", request.POST.get("form", "")
    if request.method == "POST":

        def lines(given: Mapping[str, str]) -> list[str]:
            if key != TRIALS:
                return lines_of(sayings, given)
            results = telling_answers.result_lines(device.tests.values(), given)
            if not results:
                raise LineError("Nothing is ticked yet.")
            return results

        error = logged(request, unit, lines)
        if not error:
            return redirect("unit", unit)
    context = {
        "unit": unit,
        "what": device.what,
        "rooms": [
            (room.title, [refused(one, request.POST, error) if one.key == key else one for one in room.sayings])
            for room in rooms
        ],
        "cautions": telling_answers.cautions(device, told.state),
        "trials": telling_answers.trials(device),
        "error": "" if key in sayings else error,
        "once": new_word(),
    }
    return render(request, "pages/telling.html", context, status=422 if error else 200)
