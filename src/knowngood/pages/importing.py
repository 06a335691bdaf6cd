"""A unit comes back from its folder: a ZIP archive, or the files of the folder themselves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from knowngood.bench.folder import come_back
from knowngood.bench.unpacking import laid_out, unzipped
from knowngood.errors import KnowngoodError, LineError
from knowngood.pages.guarding import LARGEST_REQUEST
from knowngood.pages.house import store
from knowngood.pages.once import Once, new_word

CAME: Once[dict[str, Any]] = Once()
ZIP = b"PK\x03\x04"
"""How a ZIP archive with something in it begins (APPNOTE.TXT 4.3.7; from memory)."""


def page(request: HttpRequest) -> HttpResponse:
    """Asks for the folder; posted (``folder``), takes the unit in, all of it or nothing."""
    context: dict[str, object] = {"most": LARGEST_REQUEST // 2**20, "once": new_word()}
    if request.method != "POST":
        return render(request, "pages/import.html", context)
    try:
        files = request.FILES.getlist("folder")
        came = CAME.act(request.POST.get("once", ""), lambda: _taken_in(files))
    except KnowngoodError as error:
        return render(request, "pages/import.html", context | {"error": str(error)}, status=422)
    if not came["remarks"]:
        return redirect("unit", came["unit"])
    return render(request, "pages/import.html", context | {"came": came})


def _taken_in(files: Sequence[UploadedFile]) -> dict[str, Any]:
    if not files:
        raise LineError("No file came along. Choose the ZIP archive of a unit, or all files of its folder.")
    first = files[0]
    is_zip = first.read(len(ZIP)) == ZIP
    first.seek(0)
    if is_zip and len(files) > 1:
        raise LineError("One archive at a time. Nothing was kept of them.")
    there = unzipped(first.file) if is_zip else laid_out((str(one.name), one.file) for one in files)
    with there as folder:
        return asdict(come_back(store(), folder))
