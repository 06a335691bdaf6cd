"""The ledger: where the money is, of all units and of one, and what an hour brought."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_GET

from knowngood.bench.ledger import Kept, account_of, books_of, sums_of
from knowngood.bench.store import Store, in_order
from knowngood.cli.ledger import of_shelf, of_unit, table
from knowngood.cli.ledger_picture import picture
from knowngood.cli.ledger_show import EXITS
from knowngood.money.ledger.books import Account
from knowngood.money.ledger.yields import BY
from knowngood.pages.house import store
from knowngood.pages.units import page_of

MOST = 50
"""Accounts on a page."""

_last: tuple[tuple[int, int], Kept] | None = None


def _sums(here: Store) -> Kept:
    """The sums of all accounts, made anew when a line was logged anywhere."""
    global _last
    stand = here.others_stand("")
    if _last is None or _last[0] != stand:
        _last = stand, sums_of(here)
    return _last[1]


def _newest(one: Account) -> tuple[int, str]:
    letter, number = in_order(one.name)
    return -number, letter


@require_GET
def shelf(request: HttpRequest) -> HttpResponse:
    """Totals, then the accounts, or with ``?by`` what units that have something in common brought."""
    here = store()
    by = request.GET.get("by")
    by = by if by in BY else None
    kept = _sums(here)
    accounts = [kept.books.shelf, *sorted(kept.books.units.values(), key=_newest)]
    page, first = page_of(request, MOST)
    answer = of_shelf(kept, by, None, None, here.bench_seq(), accounts[first : first + MOST])
    context = {
        "answer": answer,
        "by": by,
        "choices": BY,
        "page": page,
        "earlier": page - 1,
        "later": page + 1 if first + MOST < len(accounts) else 0,
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
    account = account_of(here, known)
    answer = of_unit(account, here.lines(known)[-1].seq, None, None, None)
    return render(request, "pages/ledger_unit.html", {"answer": answer, "exit": EXITS[answer.account.exit]})


@require_GET
def as_csv(request: HttpRequest) -> HttpResponse:
    """Every booking as CSV."""
    books = books_of(store()).books
    answer = HttpResponse(table(books.units, books.entries).encode("utf-8-sig"), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = 'attachment; filename="ledger.csv"'
    return answer
