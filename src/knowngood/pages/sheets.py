"""Sheets for the bench, on paper or ticked on the screen; and the unit's papers: its folder and its report."""

from __future__ import annotations

from pathlib import Path
from tempfile import SpooledTemporaryFile

from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from knowngood.bench import folder, work
from knowngood.cli import listing_answers
from knowngood.errors import KnowngoodError, LineError
from knowngood.log import events as ev
from knowngood.log.state import Line, last_effective
from knowngood.pages import sheet_answers
from knowngood.pages.house import store
from knowngood.pages.once import Once, new_word

IN_MEMORY = 8 * 2**20
"""Bytes of an archive that are held in memory; a larger one is made in a file that goes with the answer."""

LONGEST = 2000
"""Characters of a piece of a line."""

POSTED: Once[list[Line]] = Once()


@require_http_methods(["GET", "HEAD", "POST"])
def sheet(request: HttpRequest, name: str, which: str) -> HttpResponse:
    """A sheet; posted, it logs one of its lines, or takes the last one back."""
    if which not in sheet_answers.SHEETS:
        raise Http404
    here = store()
    unit = here.unit_id(name)
    if unit != name and request.method != "POST":
        return redirect("sheet", unit, which)
    error = ""
    if request.method == "POST":
        try:
            POSTED.act(request.POST.get("once", ""), lambda: _logged(request, unit))
        except LineError as problem:
            error = str(problem)
        else:
            if not _partly(request):
                return redirect("sheet", unit, which)
    return _shown(request, unit, which, error)


def _partly(request: HttpRequest) -> bool:
    return bool(getattr(request, "htmx", False))


def _logged(request: HttpRequest, unit: str) -> list[Line]:
    if "undo" in request.POST:
        return [work.undo(store(), unit)]
    pieces = [" ".join(one[: LONGEST + 1].split()) for one in request.POST.getlist("line")]
    if not pieces or not all(pieces):
        raise LineError("Nothing is filled in yet. Type what it was, then Log.")
    if any(len(one) > LONGEST for one in pieces):
        raise LineError(f"This is longer than {LONGEST} characters.")
    return work.log_lines(store(), unit, [" ".join(pieces)])


def _shown(request: HttpRequest, unit: str, which: str, error: str) -> HttpResponse:
    here = store()
    trouble, paper = "", None
    try:
        paper = sheet_answers.SHEETS[which][1](here, unit)
    except KnowngoodError as problem:
        trouble = str(problem)
    held = last_effective(here.lines(unit))
    context = {
        "unit": unit,
        "what": here.device(unit).what,
        "which": which,
        "sheets": {word: title for word, (title, _) in sheet_answers.SHEETS.items()},
        "paper": paper,
        "trouble": trouble,
        "error": error,
        "last": ev.render(held.event) if held else "",
        "once": new_word(),
    }
    template = "pages/_sheet.html" if _partly(request) else "pages/sheet.html"
    return render(request, template, context, status=422 if error else 200)


@require_GET
def archive(request: HttpRequest, name: str) -> FileResponse:
    """The unit as a folder, in a ZIP archive."""
    unit = store().unit_id(name)
    out = SpooledTemporaryFile(IN_MEMORY)  # noqa: SIM115  (the answer closes it)
    folder.zipped(store(), unit, out)
    out.seek(0)
    return FileResponse(out, as_attachment=True, filename=f"{unit}.zip", content_type="application/zip")


@require_GET
def report(request: HttpRequest, name: str) -> HttpResponse:
    """The report as PDF; with ``?for=buyers`` without prices, names and serial numbers."""
    unit = store().unit_id(name)
    buyer = request.GET.get("for") == "buyers"
    file = Path(f"{unit}-buyers.pdf" if buyer else f"{unit}.pdf")
    _, pdf = listing_answers.report(store(), unit, file, buyer=buyer, serial=False)
    answer = HttpResponse(pdf, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="{file}"'
    return answer
