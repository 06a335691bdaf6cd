"""How a unit is shown to its buyers: its grade with what it rests on, the text of its listing, and its report."""

from __future__ import annotations

from functools import partial
from typing import get_args

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from knowngood.bench import work
from knowngood.bench.account import account_of
from knowngood.cli import listing_answers
from knowngood.log.events.listing import Grade
from knowngood.pages.house import store
from knowngood.pages.once import new_word
from knowngood.pages.posting import lines_of, logged
from knowngood.pages.saying import Choice, Piece, Saying, refused
from knowngood.proof.grade import MEANS


def page(request: HttpRequest, name: str) -> HttpResponse:
    """The grade and the listing; a post logs another grade, or that the unit is listed."""
    here = store()
    unit = here.unit_id(name)
    sayings = {one.key: one for one in _sayings(work.bench_settings(here).currency)}
    error, key = "", request.POST.get("form", "")
    if request.method == "POST":
        error = logged(request, unit, partial(lines_of, sayings))
        if not error:
            return redirect("unit-listing", unit)
        if key in sayings:
            sayings[key] = refused(sayings[key], request.POST, error)
    found = account_of(here, unit)
    answer = listing_answers.listing(found)
    context = {
        "unit": unit,
        "what": found.device.what,
        "answer": answer,
        "unlooked": [found.device.parts[one] for one in answer.grade.not_looked],
        "tried": all(one.grade != "unproved" for one in answer.grade.reasons),
        "sayings": list(sayings.values()),
        "error": "" if key in sayings else error,
        "left": bool(found.told.state.exit),
        "once": new_word(),
    }
    return render(request, "pages/listing.html", context, status=422 if error else 200)


def _sayings(currency: str) -> tuple[Saying, ...]:
    grades = tuple(Choice(one, f"{one}: {MEANS[one]}") for one in get_args(Grade))
    return (
        Saying("graded", "Grade by hand", "graded", (Piece("Grade", grades), Piece("Why", before="--"))),
        Saying("listed", "It is listed", "listed at", (Piece("At what price", value=f"{currency} "),)),
    )
