"""The list of the units, and booking one in."""

from __future__ import annotations

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET

from knowngood.bench import work
from knowngood.errors import KnowngoodError
from knowngood.pages.about import AboutUnit
from knowngood.pages.house import store
from knowngood.pages.login import at_this_machine
from knowngood.pages.network import NETWORK
from knowngood.pages.once import Once, new_word
from knowngood.pages.paging import beside, page_of
from knowngood.pages.waiting import RINGS

MOST = 50
BOOKED: Once[str] = Once()


@require_GET
def listed(request: HttpRequest) -> HttpResponse:
    """The units, the newest first, a page of them at a time; what is drying, curing and on order stands above."""
    here = store()
    search = request.GET.get("search", "")[:100]
    page, first = page_of(request, MOST)
    rows, count = here.units_page(search, first, MOST)
    context = {
        "rows": rows,
        "count": count,
        "search": search,
        **beside(page, more=page * MOST < count),
        "rings": RINGS.now(here),
        "network": NETWORK.host if at_this_machine(request) else "",
    }
    return render(request, "pages/units.html", context)


class NewUnit(AboutUnit):
    """What is to be said of a unit that is booked in."""

    happened = "What happened to it, as far as you know?"
    field_order = ("map", "paid", "past", "source")

    paid = forms.CharField(
        label="What did it cost?",
        max_length=40,
        widget=forms.TextInput(attrs={"inputmode": "text", "autocomplete": "off", "placeholder": "EUR 45"}),
    )
    source = forms.CharField(
        label="Where is it from?",
        max_length=60,
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "off", "placeholder": "flea market"}),
    )


def new(request: HttpRequest) -> HttpResponse:
    """Books a unit in."""
    if request.method != "POST":
        return render(request, "pages/unit_new.html", {"form": NewUnit(), "once": new_word()})
    form = NewUnit(request.POST)
    if form.is_valid():
        said = form.cleaned_data
        try:
            unit = BOOKED.act(
                request.POST.get("once", ""),
                lambda: work.new_unit(store(), said["map"], said["paid"], said["past"], source=said["source"] or None),
            )
        except KnowngoodError as error:
            form.add_error("source" if "source" in str(error) else "paid", str(error))
        else:
            return redirect("unit", unit)
    return render(request, "pages/unit_new.html", {"form": form, "once": new_word()}, status=422)
