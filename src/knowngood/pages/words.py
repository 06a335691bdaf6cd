"""How templates write times, chances, minutes and money: the terminal's words, with the bench's decimal sign.

The sign is asked for once in a request. Lines of a log stay as they are stored: they are what one would type.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from contextvars import ContextVar
from datetime import UTC, datetime

from django import template
from django.http import HttpRequest, HttpResponse

from knowngood.bench.work import bench_settings
from knowngood.cli.ledger_show import less
from knowngood.cli.stock import about
from knowngood.cli.stock_shapes import StockRow
from knowngood.handbook.quantities import format_minutes, minor_digits
from knowngood.handbook.quantities import percent as chance
from knowngood.pages.house import store

register = template.Library()

POINT = re.compile(r"(?<![\d.])(\d+)\.(\d+)(?!\.?\d)")
"""A number with a decimal point, and not a chapter such as 4.5.1."""

_SIGN: ContextVar[str] = ContextVar("sign", default="")


def one_sign(then: Callable[[HttpRequest], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
    """Forgets the sign before each request, since the bench may have been set otherwise."""

    def answered(request: HttpRequest) -> HttpResponse:
        _SIGN.set("")
        return then(request)

    return answered


@register.filter
def signed(text: str) -> str:
    """The text with its numbers written as the bench writes them."""
    if not _SIGN.get():
        _SIGN.set(bench_settings(store()).decimal_sign)
    return text if _SIGN.get() == "." else POINT.sub(rf"\1{_SIGN.get()}\2", text)


@register.filter
def minutes(value: float) -> str:
    """ "12 min"."""
    return str(signed(format_minutes(value)))


@register.filter
def percent(value: float) -> str:
    """ "12 %"."""
    return str(signed(chance(value)))


@register.filter
def money(value: float, currency: str) -> str:
    """ "EUR 12.50"."""
    return str(signed(f"{currency} {value:.{minor_digits(currency)}f}"))


@register.filter
def round_money(value: float, currency: str) -> str:
    """ "EUR 12": an estimate, which has no cents."""
    return f"{currency} {value:.0f}"


@register.filter
def ago(time: str) -> str:
    """How long ago a moment of a log was: "just now", "12 min ago", "3 days ago"."""
    gone = (datetime.now(UTC) - datetime.fromisoformat(time)).total_seconds() / 60.0
    if gone < 1.5:
        return "just now"
    for unit, size, until in (("min", 1.0, 90.0), ("hours", 60.0, 48.0 * 60.0)):
        if gone < until:
            return f"{gone / size:.0f} {unit} ago"
    return f"{gone / 1440.0:.0f} days ago"


@register.filter
def clock(time: str) -> str:
    """The time of day of a line, on this machine's clock."""
    return datetime.fromisoformat(time).astimezone().strftime("%H:%M")


@register.filter
def spoken(name: str) -> str:
    """A name of a map as a person says it: "exhaust fan"."""
    return name.replace("-", " ")


@register.filter
def underless(name: str) -> str:
    """A name of a formula as a person says it: "trace width"."""
    return name.replace("_", " ")


@register.filter
def of(words: Mapping[str, str], name: str) -> str:
    """What a table of words says for a name."""
    return words[name]


@register.filter
def turned(amount: str) -> str:
    """An amount with its sign turned: what is still in a thing."""
    return less(amount)


@register.filter
def stock_words(row: StockRow) -> str:
    """What is known of a part on the shelf."""
    return "; ".join(about(row))
