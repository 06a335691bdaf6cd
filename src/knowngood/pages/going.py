"""The page of a unit that is to leave: what holds it here, the form that settles each, and the sale."""

from __future__ import annotations

from functools import partial

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from knowngood.bench import work
from knowngood.bench.instruments import instruments
from knowngood.bench.release import release_of, safety_test_of
from knowngood.cli.release import FIRST
from knowngood.pages import going_answers
from knowngood.pages.house import store
from knowngood.pages.once import new_word
from knowngood.pages.posting import POSTED, lines_of, logged
from knowngood.pages.saying import Saying, refused


def page(request: HttpRequest, name: str) -> HttpResponse:
    """What holds the unit here; a post of one of the forms logs its line."""
    here = store()
    unit = here.unit_id(name)
    device = here.device(unit)
    if POSTED.done(request.POST.get("once", "")):
        return redirect("unit", unit)  # the sale, posted twice: there is nothing left to ask about
    settings = work.bench_settings(here)
    found, _, _ = release_of(here, unit, "working")
    test, _ = safety_test_of(here, unit)
    places = list(going_answers.places(found))
    held = list(going_answers.warnings(found))
    asked = list(going_answers.asked(test))
    tools = instruments(here)
    steps = list(going_answers.steps(test, tools, settings.safety_rules))
    sale = going_answers.sale(found, settings.currency)
    every = [
        *(saying for place in places for saying in place.sayings),
        *(saying for one in held for saying in (*one.sayings, one.override)),
        *(saying for one in steps for saying in one.sayings),
        *asked,
        sale,
    ]
    sayings = {one.key: one for one in every}
    error, key = "", request.POST.get("form", "")
    if request.method == "POST":
        error = logged(request, unit, partial(lines_of, sayings))
        if not error:
            return redirect("unit" if key == sale.key else "unit-going", unit)

    def shown(one: Saying) -> Saying:
        return refused(one, request.POST, error) if one.key == key and error else one

    context = {
        "unit": unit,
        "what": device.what,
        "release": found,
        "test": test,
        "first": FIRST,
        "places": [(one.data, [shown(saying) for saying in one.sayings]) for one in places],
        "held": [(one.stop, [shown(saying) for saying in one.sayings], shown(one.override)) for one in held],
        "asked": [shown(one) for one in asked],
        "steps": [(one.step, [shown(saying) for saying in one.sayings]) for one in steps],
        "instruments": tools,
        "sale": shown(sale),
        "error": "" if key in sayings else error,
        "once": new_word(),
    }
    return render(request, "pages/going.html", context, status=422 if error else 200)
