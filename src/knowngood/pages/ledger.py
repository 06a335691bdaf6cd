"""The ledger: where the money is, of all units and of one, and what an hour brought."""

from __future__ import annotations

from threading import Lock

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_GET

from knowngood.bench.ledger import Memory, account_of, books_of, sums_of
from knowngood.bench.store import Store, in_order
from knowngood.cli.ledger import of_account, of_shelf, of_unit, table
from knowngood.cli.ledger_picture import picture
from knowngood.cli.ledger_shapes import ShelfLedger
from knowngood.cli.ledger_show import EXITS
from knowngood.money.ledger.books import Account
from knowngood.money.ledger.yields import BY
from knowngood.pages.house import store
from knowngood.pages.paging import beside, page_of

MOST = 50
"""Accounts on a page."""


class _Sums:
    """The sums of all accounts, brought up to date when a line was logged anywhere."""

    def __init__(self) -> None:
        self._memory, self._lock = Memory(), Lock()
        self._stand: tuple[int, int] | None = None
        self._names: list[str] = []
        self._answers: dict[str | None, ShelfLedger] = {}

    def now(self, here: Store, by: str | None, first: int) -> tuple[ShelfLedger, list[Account], bool]:
        """The sums without the accounts; a page of these, the shelf's, then the newest first; whether more come."""
        with self._lock:
            stand = here.others_stand("")
            if stand != self._stand:
                self._kept = sums_of(here, memory=self._memory)
                if len(self._names) != len(self._kept.books.units):
                    self._names = sorted(self._kept.books.units, key=_newest)
                self._answers, self._stand = {}, stand
            if by not in self._answers:
                self._answers[by] = of_shelf(self._kept, by, None, None, here.bench_seq(), listed=False)
            books = self._kept.books
            shown = self._names[max(0, first - 1) : first - 1 + MOST]
            accounts = [*([] if first else [books.shelf]), *(books.units[name] for name in shown)]
            return self._answers[by], accounts, first + MOST < 1 + len(self._names)


SUMS = _Sums()


def _newest(unit: str) -> tuple[int, str]:
    letter, number = in_order(unit)
    return -number, letter


@require_GET
def shelf(request: HttpRequest) -> HttpResponse:
    """Totals, then the accounts, or with ``?by`` what units that have something in common brought."""
    here = store()
    by = request.GET.get("by")
    by = by if by in BY else None
    page, first = page_of(request, MOST)
    sums, accounts, more = SUMS.now(here, by, first)
    shown = [of_account(one) for one in accounts] if not by else []
    answer = sums.model_copy(update={"accounts": shown})
    context = {
        "answer": answer,
        "by": by,
        "choices": BY,
        **beside(page, more=more),
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
