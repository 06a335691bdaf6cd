"""The page on which anything can be said of a unit without knowing how its line is written."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from knowngood.bench import work
from knowngood.errors import LineError
from knowngood.log.state import Line
from knowngood.pages import telling_answers
from knowngood.pages.house import store
from knowngood.pages.once import Once, new_word
from knowngood.pages.saying import line_of, refused

POSTED: Once[list[Line]] = Once()
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
        given = request.POST.dict()

        def logged() -> list[Line]:
            if key == TRIALS:
                lines = telling_answers.result_lines(device.tests.values(), given)
                if not lines:
                    raise LineError("Nothing is ticked yet.")
            elif key in sayings:
                lines = [line_of(sayings[key], given)]
            else:
                raise LineError("This form does not fit the unit any more. Nothing was stored.")
            return work.log_lines(here, unit, lines)

        try:
            POSTED.act(given.get("once", ""), logged)
            return redirect("unit", unit)
        except LineError as problem:
            error = str(problem)
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
