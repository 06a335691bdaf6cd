"""Who is let in: on this machine anybody, from beyond it whoever has the password or was let in by ``grant``.

Sessions live in this process alone: with the server they end, and a new password ends them, too.
"""

from __future__ import annotations

from collections.abc import Callable
from ipaddress import ip_address
from typing import TypeVar

from django import forms
from django.contrib import auth
from django.http import HttpRequest, HttpResponse
from django.http.request import split_domain_port
from django.shortcuts import redirect, render
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST

from knowngood.pages.house import store
from knowngood.pages.models import Person
from knowngood.pages.person import WAIT, Locked, person, proved
from knowngood.pages.settings import LOOPBACK

View = TypeVar("View", bound=Callable[..., HttpResponse])
ONLY = "only"
"""Key of a session: the one unit that its browser was let in for, if not for all (``joining``)."""

PASSED_ON = ("HTTP_FORWARDED", "HTTP_X_FORWARDED_FOR", "HTTP_X_REAL_IP", "HTTP_VIA")
"""Headers of a request that came through another machine's hands, whatever address it seems to have."""


def open_to_all(view: View) -> View:
    """Marks a view that is answered without a login: it has a guard of its own."""
    view.open_to_all = True  # type: ignore[attr-defined]
    return view


def at_this_machine(request: HttpRequest) -> bool:
    """Whether the request comes from a browser on this machine, by this machine's own name."""
    if any(request.META.get(header) for header in PASSED_ON):
        return False
    try:
        near = ip_address(request.META.get("REMOTE_ADDR", "")).is_loopback
    except ValueError:
        return False
    return near and split_domain_port(request.get_host())[0] in LOOPBACK


def let_in(request: HttpRequest) -> bool:
    """Whether this request may see and do everything."""
    return at_this_machine(request) or request.user.is_authenticated


def grant(request: HttpRequest) -> None:
    """Lets the browser of this request in until the server ends. Raises LookupError as long as no password is set."""
    found = person(store())
    if found is None:
        raise LookupError("No password is set, so nobody is let in from beyond this machine.")
    auth.login(request, found)


class guard:
    """Stands before every page but the login and what is marked ``open_to_all``."""

    def __init__(self, then: Callable[[HttpRequest], HttpResponse]) -> None:
        self.then = then

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.then(request)

    def process_view(self, request: HttpRequest, view: object, args: object, kwargs: object) -> HttpResponse | None:
        if getattr(view, "open_to_all", False) or let_in(request):
            return None
        if getattr(request, "htmx", False):
            response = HttpResponse("Come in first.", status=403)
            response["HX-Redirect"] = "/login"
            return response
        if request.method == "GET":
            return redirect(f"/login?next={request.path}")
        return render(request, "pages/login.html", {"form": Password(), "next": "/"}, status=403)


class Backend:
    """Finds the person of a session; a password is looked at in ``login`` alone, where it is counted."""

    def authenticate(self, request: HttpRequest | None, **given: object) -> None:
        """Never by itself."""

    def get_user(self, number: int) -> Person | None:
        """The person that a session is of."""
        found = person(store())
        return found if found is not None and found.pk == number else None


class Password(forms.Form):
    """The password, and no name: there is one person."""

    password = forms.CharField(
        label="Password",
        max_length=200,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )


@open_to_all
def login(request: HttpRequest) -> HttpResponse:
    """Asks for the password."""
    wanted = request.POST.get("next") or request.GET.get("next") or "/"
    if not url_has_allowed_host_and_scheme(wanted, allowed_hosts=None):
        wanted = "/"
    if request.method != "POST":
        return redirect(wanted) if let_in(request) else _asked(request, Password(), wanted, 200)
    form = Password(request.POST)
    if not form.is_valid():
        return _asked(request, form, wanted, 422)
    try:
        found = proved(store(), form.cleaned_data["password"], request.META.get("REMOTE_ADDR", ""))
    except Locked:
        minutes = int(WAIT.total_seconds() // 60)
        form.add_error("password", f"Too many wrong passwords. Wait {minutes} minutes, or work at the bench's machine.")
        response = _asked(request, form, wanted, 429)
        response["Retry-After"] = str(int(WAIT.total_seconds()))
        return response
    if found is None:
        form.add_error("password", "This is not the password.")
        return _asked(request, form, wanted, 403)
    auth.login(request, found)
    request.session.pop(ONLY, None)
    return redirect(wanted)


def _asked(request: HttpRequest, form: Password, wanted: str, status: int) -> HttpResponse:
    return render(request, "pages/login.html", {"form": form, "next": wanted}, status=status)


@require_POST
def logout(request: HttpRequest) -> HttpResponse:
    """Ends the session of this browser."""
    auth.logout(request)
    return redirect("login")
