"""The handbook: find a formula by words, ask it with figures."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from knowngood.cli import book as asking
from knowngood.errors import KnowngoodError, NotFoundError, QuantityError
from knowngood.handbook import book
from knowngood.handbook.formula import Formula

LONGEST = 20_000
"""Characters of a value; a table is one."""

OPTION = re.compile(r"--([a-z0-9-]+)")
"""An argument as the terminal names it."""


@dataclass(frozen=True)
class Field:
    """An argument of a formula as a form asks for it."""

    name: str
    meaning: str
    valid: str
    needed: bool
    choices: tuple[str, ...]
    columns: tuple[str, ...]
    value: str


@require_GET
def index(request: HttpRequest) -> HttpResponse:
    """The subjects; with ``?words`` the formulae whose pages hold them."""
    words = " ".join(request.GET.get("words", "")[:100].split())
    trouble, found = "", None
    try:
        found = asking.asked(words, {})
    except NotFoundError:
        trouble = f"Nothing in the book has the words “{words}”. Its subjects:"
        found = asking.asked("", {})
    return render(request, "pages/book.html", {"words": words, "found": found, "trouble": trouble})


@require_GET
def page(request: HttpRequest, name: str) -> HttpResponse:
    """A formula: what it takes, and, with values, what it says."""
    formula = book.formulas().get(name)
    if formula is None:
        raise NotFoundError(f"No formula '{name}' is in the book.")
    given = {one: request.GET[one][:LONGEST] for one in formula.page.arguments if request.GET.get(one, "").strip()}
    context: dict[str, object] = {"name": name, "fields": _fields(formula, given), "page": formula.page}
    context["subject"] = formula.subject
    status = 200
    if request.GET:
        try:
            if not given:
                raise QuantityError("Nothing is filled in yet. Fill in what it needs, then Ask.")
            context["found"] = asking.asked(name, given)
        except KnowngoodError as error:
            context["error"], status = OPTION.sub(r"'\1'", str(error)), 422
    return render(request, "pages/book_page.html", context, status=status)


def _fields(formula: Formula[Any, Any], given: dict[str, str]) -> list[Field]:
    needed = book.needed(formula)
    return [
        Field(
            name,
            one.meaning,
            book.valid(one),
            name in needed,
            ("yes", "no") if one.switch else () if formula.many(name) else one.choices,
            one.columns,
            given.get(name, ""),
        )
        for name, one in formula.page.arguments.items()
    ]
