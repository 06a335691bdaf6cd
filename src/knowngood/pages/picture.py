"""The picture of a unit's map, and the page of a part: what is seen, tested and done there."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET

from knowngood.bench import questions, work
from knowngood.bench.store import Store
from knowngood.log.state import State, as_of
from knowngood.maps.device import Device
from knowngood.pages import photo_answers, picture_answers
from knowngood.pages.house import store
from knowngood.pages.once import new_word
from knowngood.pages.thinking import MEMORY, Thought


@require_GET
def page(request: HttpRequest, name: str) -> HttpResponse:
    """The map drawn, each part as likely as it is; ``zoom`` is one of the sizes offered, or ``fit``."""
    here = store()
    unit = here.unit_id(name)
    if unit != name:
        return redirect("unit-picture", unit)
    device, state = _now(here, unit)
    thought = _thought(here, unit, state)
    asked = request.GET.get("zoom", "")
    zoom = next((one for one in picture_answers.ZOOMS if str(one) == asked), 100)
    target = thought.answer.moves[0].target if thought.answer and thought.answer.moves else ""
    context = {
        "unit": unit,
        "what": device.what,
        "picture": picture_answers.picture(device, state, thought.blocks, target, zoom),
        "size": "fits" if asked == "fit" else "" if asked else "as-wide",
        "zoom": zoom if asked not in ("", "fit") else 0,
        "zooms": picture_answers.ZOOMS,
        "parts": device.parts,
        "left": bool(state.exit),
    }
    return render(request, "pages/picture.html", context)


@require_GET
def part(request: HttpRequest, name: str, part: str) -> HttpResponse:
    """One part: what can be seen, tested and done there now."""
    here = store()
    unit = here.unit_id(name)
    if unit != name:
        return redirect("unit-part", unit, part)
    device, state = _now(here, unit)
    if part not in device.parts:
        raise Http404
    thought = _thought(here, unit, state)
    found = None if state.exit else questions.at_part(here, unit, part)
    sheet = picture_answers.part_sheet(device, state, part, thought.blocks, found)
    # ``sheet`` is what the buttons of all pages name their unit by.
    context = {
        "sheet": {"unit": unit},
        "part": sheet,
        "left": bool(state.exit),
        "shots": photo_answers.of_part(photo_answers.album(here, unit), part),
        "once": new_word(),
    }
    return render(request, "pages/part.html", context)


def _now(here: Store, unit: str) -> tuple[Device, State]:
    device, told = work.replayed(here, unit)
    return device, as_of(told, here.now()).state


def _thought(here: Store, unit: str, state: State) -> Thought:
    """The advice with its chances; none for a unit that has left the bench."""
    return Thought(None) if state.exit else MEMORY.now(here, unit)
