"""The ledger: where the money is, of all units and of one, and what an hour brought."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_GET

from knowngood.bench.ledger import books_of, currency_of
from knowngood.cli.ledger import of_shelf, of_unit, table
from knowngood.cli.ledger_picture import picture
from knowngood.cli.ledger_show import EXITS
from knowngood.money.ledger.yields import BY
from knowngood.pages.house import store


@require_GET
def shelf(request: HttpRequest) -> HttpResponse:
    """Totals, then the accounts, or with ``?by`` what units that have something in common brought."""
    here = store()
    by = request.GET.get("by")
    by = by if by in BY else None
    answer = of_shelf(books_of(here), by, None, None, here.bench_seq())
    context = {
        "answer": answer,
        "by": by,
        "choices": BY,
        "exits": {name or "": words for name, words in EXITS.items()},
        "picture": mark_safe(picture(answer)),  # drawn by us; every text in it is escaped
    }
    return render(request, "pages/ledger.html", context)


@require_GET
def unit(request: HttpRequest, name: str) -> HttpResponse:
    """A unit's bookings and sums."""
    here = store()
    known = here.unit_id(name)
    if known != name:
        return redirect("ledger-unit", known)
    account = books_of(here, currency_of(here, known)).books.units[known]
    answer = of_unit(account, here.lines(known)[-1].seq, None, None, None)
    return render(request, "pages/ledger_unit.html", {"answer": answer, "exit": EXITS[answer.account.exit]})


@require_GET
def as_csv(request: HttpRequest) -> HttpResponse:
    """Every booking as CSV."""
    books = books_of(store()).books
    answer = HttpResponse(table(books, books.entries).encode("utf-8-sig"), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = 'attachment; filename="ledger.csv"'
    return answer
