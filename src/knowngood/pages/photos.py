"""Photos of a unit: taken or chosen, stored as they came, shown upright and without what a camera writes beside them,
with numbered marks on them."""

from __future__ import annotations

from pathlib import Path
from urllib.parse import urlencode

from django.core.files.uploadedfile import UploadedFile
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from knowngood.bench import copies, photos, work
from knowngood.bench.copies import COPIES, NoCopyError
from knowngood.bench.intake import keep_photos
from knowngood.bench.store import Store
from knowngood.errors import LineError
from knowngood.log import events as ev
from knowngood.log.state import Line
from knowngood.pages import photo_answers
from knowngood.pages.house import store
from knowngood.pages.login import at_this_machine
from knowngood.pages.once import Once, new_word
from knowngood.pages.photo_shapes import Album, Shot

SIZES = {"small": copies.SMALL, "large": copies.LARGE}
POSTED: Once[list[Line]] = Once()
A_YEAR = 365 * 24 * 3600


def page(request: HttpRequest, name: str) -> HttpResponse:
    """All photos of a unit; a post stores more (``photo``) of what they show (``of``), ``before`` or ``after``."""
    here = store()
    unit = here.unit_id(name)
    if request.method == "POST":
        return _stored(request, here, unit)
    if unit != name:
        return redirect("unit-photos", unit)
    seen = request.GET.get("seen", "")
    if seen.isdecimal() and int(seen) == here.last_seq(unit):
        return HttpResponse(status=204)
    return _shown(request, photo_answers.album(here, unit), only_new=bool(seen))


def _stored(request: HttpRequest, here: Store, unit: str) -> HttpResponse:
    of = request.POST.get("of", "").strip() or ev.UNIT
    when = request.POST.get("when", "")
    files = request.FILES.getlist("photo")
    try:
        if not files:
            raise LineError("No photo came along. Take or choose one, then Store.")
        contents = [_content(one) for one in files]
        added = POSTED.act(
            request.POST.get("once", ""),
            lambda: keep_photos(here, unit, contents, of, when if when in ("before", "after") else None),
        )
    except LineError as error:
        return _shown(request, photo_answers.album(here, unit), error=str(error), of=of)
    last = added[-1].event
    assert isinstance(last, ev.Photographed)
    return redirect("unit-photo", unit, last.file) if len(added) == 1 else redirect("unit-photos", unit)


def _content(file: UploadedFile) -> tuple[bytes, str]:
    name = str(file.name)
    photos.small_enough(name, file.size)
    content: bytes = file.read()
    return content, photos.checked(name, content)


def _shown(
    request: HttpRequest, album: Album, *, error: str = "", of: str = "", only_new: bool = False
) -> HttpResponse:
    wanted = of or request.GET.get("of", "")
    context = {"album": album, "error": error, "of": wanted, "once": new_word(), "here": at_this_machine(request)}
    template = "pages/_album.html" if only_new else "pages/photos.html"
    return render(request, template, context, status=422 if error else 200)


@require_GET
def one(request: HttpRequest, name: str, file: str) -> HttpResponse:
    """One photo with its marks, and a grid to set one more."""
    here = store()
    unit = here.unit_id(name)
    return _one(request, here, unit, file)


@require_POST
def mark(request: HttpRequest, name: str, file: str) -> HttpResponse:
    """Sets a mark (``of``, with a remark) at a place (``at``: two numbers, percent from the left and from the top)."""
    here = store()
    unit = here.unit_id(name)
    place = request.POST.get("at", "").split()
    of, note = request.POST.get("of", "").strip(), " ".join(request.POST.get("note", "").split())[:200]
    try:
        if len(place) != 2 or not all(one.isdecimal() for one in place):
            raise LineError("Where is it? Tap its place on the photo.")
        if not of:
            raise LineError("What is there? Say it first, then tap its place on the photo.")
        line = f"marked photo {file} at {place[0]} % {place[1]} % as {of}" + (f" -- {note}" if note else "")
        POSTED.act(request.POST.get("once", ""), lambda: work.log_lines(here, unit, [line]))
    except LineError as error:
        return _one(request, here, unit, file, error=str(error), of=of, note=note)
    return redirect(f"{reverse('unit-photo', args=[unit, file])}?{urlencode({'of': of, 'note': note})}")


def _one(
    request: HttpRequest, here: Store, unit: str, file: str, *, error: str = "", of: str = "", note: str = ""
) -> HttpResponse:
    album = photo_answers.album(here, unit)
    shot = _shot(album, file)
    at = next(number for number, other in enumerate(album.shots) if other is shot)
    of = of or request.GET.get("of", "")
    note = note or request.GET.get("note", "")
    context = {
        "album": album,
        "shot": shot,
        "moves": any((mark.target, mark.note) == (of, note) for mark in shot.marks),
        "newer": album.shots[at - 1] if at else None,
        "older": album.shots[at + 1] if at + 1 < len(album.shots) else None,
        "error": error,
        "of": of or (shot.target if shot.is_part else ""),
        "note": note,
        "once": new_word(),
    }
    try:
        copy = COPIES.of(_file(here, unit, shot), copies.LARGE)
        context |= {"copy": copy, "cells": photo_answers.grid(copy.width, copy.height)}
    except NoCopyError as trouble:
        context["trouble"] = str(trouble)
    return render(request, "pages/photo.html", context, status=422 if error else 200)


@require_GET
def image(request: HttpRequest, name: str, file: str, size: str) -> HttpResponse:
    """The copy of a photo: ``small`` or ``large``. Its name says its content, so a browser may keep it."""
    here = store()
    unit = here.unit_id(name)
    if size not in SIZES:
        raise Http404
    shot = _shot(photo_answers.album(here, unit), file)
    try:
        copy = COPIES.of(_file(here, unit, shot), SIZES[size])
    except NoCopyError as trouble:
        return HttpResponse(str(trouble), status=415, content_type="text/plain; charset=utf-8")
    response = HttpResponse(copy.content, content_type="image/jpeg")
    response["Content-Disposition"] = f'inline; filename="{unit}-{Path(file).stem}.jpg"'
    response["Cache-Control"] = f"private, max-age={A_YEAR}, immutable"
    return response


def _shot(album: Album, file: str) -> Shot:
    """The photo of that name, as a line of the unit says; anything else is no photo, whatever lies in the folder."""
    found = next((one for one in album.shots if one.file == file), None)
    if found is None:
        raise Http404
    return found


def _file(here: Store, unit: str, shot: Shot) -> Path:
    file = photos.folder(here, unit) / shot.file
    if not file.is_file():
        raise NoCopyError(f"{shot.file} is not there any more: it belongs into {file.parent}")
    return file
