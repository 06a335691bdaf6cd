"""Orders: what to order from whom, what is on its way, what has come."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET, require_POST

from knowngood.bench.shelf import orders as bench_orders
from knowngood.bench.shelf.facts import facts
from knowngood.bench.store import Store
from knowngood.bench.work import bench_settings
from knowngood.cli import shelf_answers
from knowngood.errors import KnowngoodError
from knowngood.pages.house import store
from knowngood.pages.once import Once, new_word
from knowngood.pages.working import WORKS, Tell

ACTED: Once[list[str]] = Once()


def along_there(here: Store, tell: Tell) -> None:
    """Run in a process of its own: the orders, with what may be needed along."""
    known = facts(here, lambda done, of: tell(f"{done} of {of} units are thought through.", None))
    found = bench_orders.orders(here, known.units)
    tell("", shelf_answers.orders(found, bench_settings(here).currency))


@require_GET
def page(request: HttpRequest) -> HttpResponse:
    """The baskets at once; what may be needed besides as soon as it is thought out."""
    return _shown(request)


@require_POST
def send(request: HttpRequest) -> HttpResponse:
    """Logs a supplier's basket as ordered, with the parts that were ticked along."""
    here, supplier = store(), request.POST.get("supplier", "")[:100]

    def act() -> list[str]:
        sent = shelf_answers.sent(*bench_orders.send(here, supplier, request.POST.getlist("along")[:50]))
        return [f"{one.log}: {one.line}" for one in sent]

    return _acted(request, act, f"Ordered from {supplier}.")


@require_POST
def arrived(request: HttpRequest) -> HttpResponse:
    """Logs that a parcel is here: all that is on order from a supplier, or the parts that were ticked."""
    here, supplier = store(), request.POST.get("supplier", "")[:100]

    def act() -> list[str]:
        units = bench_orders.arrive(here, supplier, request.POST.getlist("part")[:50])
        return [
            f"{one.unit} has {', '.join(one.parts)}"
            + (f"; still waits for {', '.join(one.still)}" if one.still else "")
            for one in units
        ]

    return _acted(request, act, f"Here from {supplier}.")


def _acted(request: HttpRequest, act: Callable[[], list[str]], words: str) -> HttpResponse:
    try:
        done = ACTED.act(request.POST.get("once", ""), act)
    except KnowngoodError as error:
        return _shown(request, error=str(error))
    return _shown(request, done=[words, *done])


def _shown(request: HttpRequest, error: str = "", done: list[str] | None = None) -> HttpResponse:
    here = store()
    answer = shelf_answers.orders(bench_orders.orders(here), bench_settings(here).currency)
    work = None
    if answer.baskets:
        work = WORKS.at("along", here.others_stand(""), here, along_there)
        answer = work.answer or answer
    suppliers = sorted({one.supplier for one in answer.coming})
    coming = [(name, [one for one in answer.coming if one.supplier == name]) for name in suppliers]
    context = {
        "answer": answer,
        "coming": coming,
        "work": work,
        "error": error,
        "done": done or [],
        "once": new_word(),
    }
    return render(request, "pages/orders.html", context, status=422 if error else 200)
