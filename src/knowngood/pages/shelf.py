"""The whole shelf: what is planned and waited for, the plan, what lies there, and the market."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from knowngood.bench import market as bench_market
from knowngood.bench.shelf import accepted
from knowngood.bench.shelf.accepted import UnitPlan
from knowngood.bench.shelf.facts import facts
from knowngood.bench.shelf.planning import ShelfPlan, planned
from knowngood.bench.store import Store
from knowngood.cli import shelf_answers
from knowngood.cli.shelf_shapes import ShelfPlanAnswer
from knowngood.cli.shelf_show import WAYS
from knowngood.cli.stock import stock_part, stock_shape
from knowngood.errors import KnowngoodError, LineError
from knowngood.money.shelf.solve import Progress, gap
from knowngood.pages.house import store
from knowngood.pages.once import Once, new_word
from knowngood.pages.paging import beside, page_of
from knowngood.pages.working import WORKS, Tell, Work

SEARCH_SECONDS = 30.0
"""For the search of the best plan, and as long again for its reasons."""

MOST = 50
"""Parts, and donors, on a page of the stock."""

ACCEPTED: Once[int] = Once()
CHANGED: Once[int] = Once()


@dataclass(frozen=True)
class Found:
    """A plan, and what it takes to accept it."""

    shape: ShelfPlanAnswer
    plans: tuple[UnitPlan, ...]
    after: dict[str, int]


def plan_there(here: Store, tell: Tell) -> None:
    """Run in a process of its own: the plan of the shelf, with its reasons."""

    def nearer(now: Progress) -> None:
        near = "no plan yet" if now.worth is None else f"within {100.0 * gap(now.worth, now.bound):.2g} % of the best"
        tell(f"Searching for {now.seconds:.0f} s: {near}.", None)

    known = facts(here, lambda done, of: tell(f"{done} of {of} units are thought through.", None))
    found = planned(known, seconds=SEARCH_SECONDS, progress=nearer)
    tell("The plan stands; its reasons are being worked out.", _found(here, found))
    found = planned(
        known, seconds=SEARCH_SECONDS, why=lambda done, of: tell(f"{done} of {of} reasons are worked out.", None)
    )
    tell("", _found(here, found))


def _found(here: Store, found: ShelfPlan) -> Found:
    plans = tuple(one.plan for one in found.units)
    changes = accepted.differences(here, plans) if accepted.standing(here) else None
    return Found(shelf_answers.plan(found, changes), plans, dict(found.facts.after))


@require_GET
def glance(request: HttpRequest) -> HttpResponse:
    """What is here, what is planned with it, what it gets and waits for."""
    here = store()
    shape = shelf_answers.glance(accepted.standing(here), *accepted.glance(here))
    return render(request, "pages/shelf.html", {"answer": shape, "ways": WAYS})


@require_http_methods(["GET", "HEAD", "POST"])
def plan(request: HttpRequest) -> HttpResponse:
    """Posted, it begins to plan, or accepts the plan that is shown. The page says how far it has come."""
    here = store()
    if request.method == "POST":
        if "accept" in request.POST:
            return _accept(request, here)
        WORKS.forget("plan")
        WORKS.at("plan", here.others_stand(""), here, plan_there)
        return redirect("shelf-plan")
    return _plan_shown(request, here)


def _accept(request: HttpRequest, here: Store) -> HttpResponse:
    work = WORKS.known("plan")

    def act() -> int:
        if work is None or work.answer is None:
            raise LineError("There is no plan to accept. Plan first.")
        if work.key != here.others_stand(""):
            raise LineError("Something was logged since this plan was made. Plan anew, then accept that.")
        return accepted.accept(here, work.answer.plans, work.answer.after)[1].seq

    try:
        ACCEPTED.act(request.POST.get("once", ""), act)
    except KnowngoodError as error:
        return _plan_shown(request, here, str(error))
    WORKS.forget("plan")
    return redirect("shelf")


def _plan_shown(request: HttpRequest, here: Store, error: str = "") -> HttpResponse:
    work: Work | None = WORKS.known("plan")
    context = {
        "work": work,
        "found": work.answer.shape if work and work.answer else None,
        "stale": work is not None and work.key != here.others_stand(""),
        "error": error,
        "ways": WAYS,
        "once": new_word(),
    }
    partly = bool(getattr(request, "htmx", False)) and not error
    template = "pages/_plan.html" if partly else "pages/plan.html"
    return render(request, template, context, status=422 if error else 200)


@require_http_methods(["GET", "HEAD", "POST"])
def stock(request: HttpRequest) -> HttpResponse:
    """What lies on the shelf and in donors; posted, a line about loose parts is logged first."""
    return _with_line(request, "stock")


@require_http_methods(["GET", "HEAD", "POST"])
def market(request: HttpRequest) -> HttpResponse:
    """Whom the bench buys from and sells to; posted, a line about that is logged first."""
    return _with_line(request, "market")


def _with_line(request: HttpRequest, which: str) -> HttpResponse:
    here, error, line = store(), "", request.POST.get("line", "")
    words = request.GET.get("words", "")[:100].split()
    if request.method == "POST":
        try:
            CHANGED.act(request.POST.get("once", ""), lambda: _changed(here, which, line))
        except KnowngoodError as problem:
            error = str(problem)
        else:
            return redirect(which)
    context: dict[str, object] = {"error": error, "line": line, "once": new_word(), "words": " ".join(words)}
    if which == "market":
        context["answer"] = shelf_answers.market(bench_market.market(here), here.bench_seq())
    else:
        try:
            page, first = page_of(request, MOST)
            asked = [one for one in words if one.isascii()]
            context["answer"], more = stock_part(here, asked, first=first, most=MOST)
            context |= beside(page, more=more)
        except KnowngoodError as problem:
            context["error"], error = str(problem), str(problem)
    return render(request, f"pages/{which}.html", context, status=422 if error else 200)


def _changed(here: Store, which: str, line: str) -> int:
    if not line.strip():
        raise LineError("There is no line to log.")
    if len(line) > 2000:
        raise LineError("This is longer than 2000 characters.")
    if which == "market":
        bench_market.change(here, [line])
    else:
        stock_shape(here, [line], None)
    return here.bench_seq()
