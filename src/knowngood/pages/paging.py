"""Long lists, a page at a time."""

from __future__ import annotations

from django.http import HttpRequest


def page_of(request: HttpRequest, most: int) -> tuple[int, int]:
    """The page of a long list that is asked for, and how many there are before it."""
    number = request.GET.get("page", "1")
    page = max(1, int(number)) if number.isdecimal() and len(number) < 7 else 1
    return page, (page - 1) * most


def beside(page: int, *, more: bool) -> dict[str, int]:
    """What a template shows of it: the page, and those before and after it, 0 where there is none."""
    return {"page": page, "earlier": page - 1, "later": page + 1 if more else 0}
