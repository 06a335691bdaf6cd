"""A phone joins by scanning a code, while the pages are open to the network (``network``)."""

from __future__ import annotations

from collections.abc import Callable

import segno
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe
from django.views.decorators.http import require_GET, require_POST

from knowngood.errors import KnowngoodError
from knowngood.pages.guarding import said
from knowngood.pages.house import store
from knowngood.pages.invitations import INVITATIONS, MINUTES, key_of
from knowngood.pages.login import ONLY, at_this_machine, grant, open_to_all
from knowngood.pages.network import NETWORK, own_address
from knowngood.pages.person import person, set_password

HOURS = 8
"""How long a phone stays in: a day at the bench."""


def page(request: HttpRequest) -> HttpResponse:
    """On the laptop: makes a code (by a post) and shows it; ``unit`` is the one that it is for, if any."""
    made_for = request.POST.get("for", "")
    if request.method == "POST" and (made_for not in ("unit", "bench") or not NETWORK.host):
        return said(request, "No code was made. Open the page of the phone again, and choose what it is for.", 422)
    asked = request.POST.get("unit", "") or request.GET.get("unit", "")
    unit = store().unit_id(asked) if asked else ""
    context: dict[str, object] = {"unit": unit, "host": NETWORK.host, "minutes": MINUTES, "hours": HOURS}
    context |= {"here": at_this_machine(request), "own": own_address(), "secret": person(store()) is not None}
    if request.method == "POST":
        if made_for == "unit" and not unit:
            return said(request, "For which unit? Open the page of the phone from its photos.", 422)
        only = unit if made_for == "unit" else ""
        word = INVITATIONS.make(only)
        address = f"http://{NETWORK.host}:{request.get_port()}{reverse('join', args=[word])}"
        context |= {"address": address, "code": drawn(address), "key": key_of(word), "only": only}
    return render(request, "pages/phone.html", context)


@require_POST
def network(request: HttpRequest) -> HttpResponse:
    """Opens the pages to the network that this machine is in, or closes them again; only at this machine itself."""
    if not at_this_machine(request):
        return said(request, "The network is opened and closed at the bench's own machine alone.", 403)
    unit = request.POST.get("unit", "")
    back = reverse("phone") + (f"?unit={store().unit_id(unit)}" if unit else "")
    if request.POST.get("do") == "close":
        NETWORK.close()
        return redirect(back)
    address, password = request.POST.get("address", "").strip()[:50], request.POST.get("password", "")[:200]
    error = ""
    try:
        if person(store()) is None:
            set_password(store(), password)
        NETWORK.open(address)
    except KnowngoodError as problem:
        error = str(problem)
    if not error:
        return redirect(back)
    context = {"unit": unit, "here": True, "own": address, "error": error, "secret": person(store()) is not None}
    return render(request, "pages/phone.html", context, status=422)


def drawn(address: str) -> SafeString:
    """The QR code (ISO/IEC 18004, by segno) as SVG, dark on white in both themes: cameras want it so."""
    made = segno.make(address, error="m", micro=False)
    return mark_safe(made.svg_inline(border=4, light="#ffffff", omitsize=True))


@require_GET
def joined(request: HttpRequest, key: str) -> HttpResponse:
    """Whether the code on the laptop's page was used; nothing (204) as long as it was not."""
    if not INVITATIONS.was_used(key):
        return HttpResponse(status=204)
    return render(request, "pages/_joined.html")


@open_to_all
def join(request: HttpRequest, word: str) -> HttpResponse:
    """On the phone: asks, and by a post lets this browser in. To look at the page uses nothing up."""
    invitation = INVITATIONS.take(word) if request.method == "POST" else INVITATIONS.open(word)
    if invitation is None:
        return said(request, "This code was used already, or it is too old. Make a new one on the laptop.", 403)
    if request.method != "POST":
        return render(request, "pages/join.html", {"only": invitation.only, "hours": HOURS})
    try:
        grant(request)
    except LookupError as error:
        return said(request, str(error), 403)
    request.session[ONLY] = invitation.only
    request.session.set_expiry(HOURS * 3600)
    return redirect("unit-photos", invitation.only) if invitation.only else redirect("units")


class confined:
    """Keeps a phone that was let in for one unit to the pages of that unit."""

    def __init__(self, then: Callable[[HttpRequest], HttpResponse]) -> None:
        self.then = then

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.then(request)

    def process_view(
        self, request: HttpRequest, view: object, args: object, kwargs: dict[str, str]
    ) -> HttpResponse | None:
        only = request.session.get(ONLY, "")
        if not only or getattr(view, "open_to_all", False) or at_this_machine(request):
            return None
        if kwargs.get("name") == only:
            return None
        if request.path == "/":
            return redirect("unit", only)
        return said(request, f"This phone was let in for {only} only. Scan a code for the whole bench.", 403)
