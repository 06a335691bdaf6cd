"""Long lists, a page at a time."""

from __future__ import annotations

from django.http import HttpRequest


def page_of(request: HttpRequest, most: int) -> tuple[int, int]:
    """The page of a long list that is asked for, and how many there are before it."""
    number = request.GET.get("page", "1")
    page = max(1, int(number)) if number.isdecimal() and len(number) < 7 else 1
    return page, (page - 1) * most
