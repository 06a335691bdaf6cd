"""What stands round every page: the headers that keep foreign code out, and errors said in a sentence."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from knowngood.errors import KnowngoodError, NotFoundError, StoreError

Answer = Callable[[HttpRequest], HttpResponse]

POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data:",
        "connect-src 'self'",
        "manifest-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
"""Nothing from elsewhere, and no script or style inside a page, so that text in a log can never become either."""

HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(self), microphone=(), geolocation=(), payment=(), usb=()",
}


def headers(then: Answer) -> Answer:
    """Puts the secure headers on every answer, pictures and style sheets included."""

    def answered(request: HttpRequest) -> HttpResponse:
        response = then(request)
        for name, value in HEADERS.items():
            response.setdefault(name, value)
        if not request.path.startswith("/static/"):
            response.setdefault("Cache-Control", "no-store")
        return response

    return answered


LARGEST_REQUEST = 160 * 2**20
"""Bytes of a request: a few photos at once, or a unit with its own."""


def not_too_large(then: Answer) -> Answer:
    """Refuses a request that says it is too large before any of it is read."""

    def answered(request: HttpRequest) -> HttpResponse:
        length = request.META.get("CONTENT_LENGTH") or "0"
        if not length.isdecimal() or int(length) > LARGEST_REQUEST:
            return HttpResponse(
                f"More than {LARGEST_REQUEST // 2**20} MiB at once. Nothing was stored. Send fewer photos; "
                "a larger unit comes back by 'knowngood import FOLDER'.",
                status=413,
            )
        return then(request)

    return answered


class plain_errors:
    """Turns an error that a person can meet into a page that says it."""

    def __init__(self, then: Answer) -> None:
        self.then = then

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.then(request)

    def process_exception(self, request: HttpRequest, error: Exception) -> HttpResponse | None:
        if not isinstance(error, KnowngoodError):
            return None
        status = 404 if isinstance(error, NotFoundError) else 503 if isinstance(error, StoreError) else 422
        return said(request, str(error), status)


def said(request: HttpRequest, sentence: str, status: int) -> HttpResponse:
    """A page with one sentence, and the way back."""
    return render(request, "pages/said.html", {"sentence": sentence}, status=status)


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """There is no such page."""
    return said(request, "There is no such page.", 404)


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """A request that no page of this program makes: too large, or for another host."""
    return HttpResponse("This request is too large or not for here. Nothing was stored.", status=400)


def our_mistake(request: HttpRequest) -> HttpResponse:
    """Our bug. The trace is on the server's terminal."""
    sentence = (
        "This is a mistake of knowngood, not yours. What was stored before is safe. Its trace stands in the terminal."
    )
    return said(request, sentence, 500)


def no_token(request: HttpRequest, reason: str = "") -> HttpResponse:
    """A form that did not come from a page of this program, or whose cookie is gone."""
    return said(request, "This form is too old or not from here. Nothing was stored. Open the page again.", 403)
