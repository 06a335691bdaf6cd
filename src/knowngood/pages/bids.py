"""Bids: offers taken down, what to pay for one at most, what to ask its seller."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from knowngood.bench import candidates, work
from knowngood.bench.store import Store
from knowngood.cli import bid_run
from knowngood.cli.bid_picture import picture
from knowngood.errors import KnowngoodError, LineError
from knowngood.log import events as ev
from knowngood.money.bid.pricing import priced
from knowngood.pages.about import AboutUnit
from knowngood.pages.house import store
from knowngood.pages.once import Once, new_word
from knowngood.pages.working import WORKS, Tell

UNITS, PAIRS, SEED = 2000, 20, 0
"""As the terminal draws them."""

MADE: Once[str] = Once()


def bid_there(here: Store, tell: Tell, name: str) -> None:
    """Run in a process of its own: a bid that narrows with every batch of drawn units."""
    bid = candidates.bid_on(here, name, seed=SEED)
    for found in priced(bid.case, bid.wish, bid.candidate.asking, units=UNITS, pairs=PAIRS):
        drawn, pairs = len(found.outcome.quick), int(found.outcome.pairs.sum())
        answer = bid_run.answered([bid], {name: found}, {}, seed=SEED, budget=None)
        tell(
            f"{drawn} of {UNITS} units drawn, {pairs} of {PAIRS} worked to the end. It narrows while you look.", answer
        )


class NewOffer(AboutUnit):
    """What is to be said of a unit that is offered."""

    happened = "What happened to it, as the seller says?"
    field_order = ("map", "asking", "says", "past")

    asking = forms.CharField(
        label="What is asked for it?",
        max_length=40,
        widget=forms.TextInput(attrs={"autocomplete": "off", "placeholder": "EUR 60"}),
    )
    says = forms.CharField(
        label="The listing's own words",
        max_length=1000,
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "off", "placeholder": "no power, dropped"}),
    )


@require_http_methods(["GET", "HEAD", "POST"])
def listed(request: HttpRequest) -> HttpResponse:
    """The offers, and taking one down."""
    form = NewOffer(request.POST) if request.method == "POST" else NewOffer()
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        try:
            name = MADE.act(
                request.POST.get("once", ""),
                lambda: candidates.offer(store(), said["map"], said["asking"], said["says"], said["past"]).candidate,
            )
        except KnowngoodError as error:
            form.add_error("asking", str(error))
        else:
            return redirect("bid", name)
    rows = [bid_run.row(one) for one in reversed(candidates.candidates(store()))]
    context = {"rows": rows, "form": form, "once": new_word()}
    return render(request, "pages/bids.html", context, status=422 if form.errors else 200)


@require_GET
def page(request: HttpRequest, name: str) -> HttpResponse:
    """One offer with its bid as far as it is known."""
    return _shown(request, store(), name)


@require_POST
def said(request: HttpRequest, name: str) -> HttpResponse:
    """Logs what the seller answered."""
    text = request.POST.get("typed", "")[:2000]
    return _acted(request, name, lambda: _logged(name, text), text)


@require_POST
def dropped(request: HttpRequest, name: str) -> HttpResponse:
    """Lets an offer go."""
    return _acted(request, name, lambda: candidates.refuse(store(), name, request.POST.get("why", "")[:200]).id)


@require_POST
def bought(request: HttpRequest, name: str) -> HttpResponse:
    """Books the unit in that was offered."""
    paid, source = request.POST.get("paid", "")[:40], request.POST.get("source", "")[:60].strip() or None
    return _acted(request, name, lambda: candidates.accept(store(), name, paid, source=source))


def _logged(name: str, text: str) -> str:
    work.log_lines(store(), name, [text])
    return store().unit_id(name)


def _acted(request: HttpRequest, name: str, act: Callable[[], str], typed: str = "") -> HttpResponse:
    try:
        done = MADE.act(request.POST.get("once", ""), act)
    except KnowngoodError as error:
        return _shown(request, store(), name, str(error), typed)
    return redirect("bid" if done.startswith("C") else "unit", done)


def _shown(request: HttpRequest, here: Store, name: str, error: str = "", typed: str = "") -> HttpResponse:
    try:
        one = candidates.candidate(here, name)
    except LineError:
        return redirect("unit", here.unit_id(name))
    if one.id != name:
        return redirect("bid", one.id)
    partly = bool(getattr(request, "htmx", False)) and not error
    context: dict[str, Any] = {"offer": one, "error": error, "typed": typed, "once": new_word()}
    context["lines"] = [ev.render(line.event) for line in here.lines(one.id)[1:]]
    if one.standing == "open":
        key = (one.id, here.last_seq(one.id), here.others_stand(one.id))
        if partly:  # a page that only looks again begins nothing: two of them would end each other's work for ever
            known = WORKS.known("bid")
            under_way = known if known is not None and known.key == key else None
        else:
            under_way = WORKS.at("bid", key, here, bid_there, one.id)
        context["work"] = under_way
        if under_way is not None and under_way.answer:
            context["bid"] = under_way.answer.bids[0]
            context["currency"] = under_way.answer.currency
            context["buy"] = bool(under_way.answer.buy)
            context["picture"] = mark_safe(picture(under_way.answer))  # drawn by us; every text in it is escaped
    template = "pages/_bid.html" if partly else "pages/bid.html"
    return render(request, template, context, status=422 if error else 200)
