"""The page of a unit: what to do next, every way to log it, and the log."""

from __future__ import annotations

from dataclasses import dataclass, replace

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_POST

from knowngood.bench import work
from knowngood.bench.store import Store
from knowngood.cli.shapes import LineShape
from knowngood.errors import LineError
from knowngood.log import events as ev
from knowngood.log.state import Line
from knowngood.pages import choosing, unit_answers
from knowngood.pages.house import store
from knowngood.pages.once import Once, new_word
from knowngood.pages.thinking import MEMORY

SHOWN_LINES = 6
"""Lines of the log on the page; the others are behind "all lines"."""

LONGEST = 2000
"""Characters of a typed line."""

POSTED: Once[list[Line]] = Once()


@dataclass(frozen=True)
class Typed:
    """What was typed and could not be logged."""

    text: str = ""
    error: str = ""
    choices: tuple[str, ...] = ()
    gap: bool = False
    """Whether it was typed into the gap of the proposed move."""


@require_GET
def page(request: HttpRequest, name: str) -> HttpResponse:
    """The unit as it stands."""
    here = store()
    unit = here.unit_id(name)
    if unit != name:
        return redirect("unit", unit)
    return _shown(request, here, unit)


@require_POST
def log(request: HttpRequest, name: str) -> HttpResponse:
    """Logs what was tapped (``line``, several in order) or typed (``typed``, between ``before`` and ``after``)."""
    here = store()
    unit = here.unit_id(name)
    typed = request.POST.get("typed", "")[: LONGEST + 1]
    gap = "before" in request.POST
    lines = [one for one in request.POST.getlist("line") if one.strip()]
    if gap and typed.strip():
        parts = (request.POST["before"], typed, request.POST.get("after", ""))
        lines.append(" ".join(" ".join(parts).split()))
    elif "typed" in request.POST:
        lines.append(typed)
    try:
        if gap and not typed.strip():
            raise LineError("Nothing is filled in yet. Type what it was, then Log.")
        if len(typed) > LONGEST:
            raise LineError(f"This is longer than {LONGEST} characters. Say it in several lines.")
        added = POSTED.act(request.POST.get("once", ""), lambda: work.log_lines(here, unit, lines))
    except LineError as error:
        choices = choosing.meant(here, unit, lines[-1], error) if lines and not gap else ()
        return _shown(request, here, unit, Typed(typed or "; ".join(lines), str(error), choices, gap))
    return _done(request, here, unit, unit_answers.logged_words([one.event for one in added]))


@require_POST
def undo(request: HttpRequest, name: str) -> HttpResponse:
    """Takes back the last line that holds."""
    return _take_back(request, name, redo=False)


@require_POST
def redo(request: HttpRequest, name: str) -> HttpResponse:
    """Brings back the line that was taken back last."""
    return _take_back(request, name, redo=True)


def _take_back(request: HttpRequest, name: str, *, redo: bool) -> HttpResponse:
    here = store()
    unit = here.unit_id(name)
    act = work.redo if redo else work.undo
    try:
        [line] = POSTED.act(request.POST.get("once", ""), lambda: [act(here, unit)])
    except LineError as error:
        return _shown(request, here, unit, Typed("", str(error)))
    assert isinstance(line.event, (ev.Undid, ev.Redid))
    seq = line.event.line
    target = next(one for one in here.lines(unit) if one.seq == seq)
    return _done(request, here, unit, f"{'Holds again' if redo else 'Taken back'}: {ev.render(target.event)}")


@require_GET
def news(request: HttpRequest, name: str) -> HttpResponse:
    """What was logged since line ``seen`` by someone else; nothing (204) if the log stands where the page has it.

    The log on the page goes on at once. The proposed move stays where it is under the finger: that the advice is
    another one now is said, and a tap shows it.
    """
    here = store()
    seen = request.GET.get("seen", "")
    if not seen.isdecimal():
        return HttpResponse("'seen' is the number of the last line shown.", status=400)
    if here.last_seq(name) == int(seen):
        return HttpResponse(status=204)
    unit = here.unit_id(name)
    sheet = unit_answers.sheet(here, unit)
    thought = MEMORY.known(here, unit)
    new = [line for line in sheet.lines if line.seq > int(seen)]
    best = thought.answer.moves[0].move if thought and thought.answer and thought.answer.moves else ""
    files = [
        one.event.file for one in here.lines(unit) if one.seq > int(seen) and isinstance(one.event, ev.Photographed)
    ]
    context = {
        "sheet": sheet,
        "log": _log(sheet.lines),
        "new": new,
        "files": files[-2:],
        "best": best,
        "once": new_word(),
        "oob": True,
    }
    return render(request, "pages/_news.html", context)


def _log(lines: tuple[LineShape, ...]) -> dict[str, tuple[LineShape, ...]]:
    return {
        "shown": lines[: -SHOWN_LINES - 1 : -1],
        "more": lines[-SHOWN_LINES - 1 :: -1] if len(lines) > SHOWN_LINES else (),
    }


def _done(request: HttpRequest, here: Store, unit: str, words: str) -> HttpResponse:
    if not getattr(request, "htmx", False):
        return redirect("unit", unit)
    return _shown(request, here, unit, said=words)


def _shown(request: HttpRequest, here: Store, unit: str, typed: Typed | None = None, said: str = "") -> HttpResponse:
    sheet = unit_answers.sheet(here, unit)
    answer, trouble = None, ""
    if not sheet.left:
        thought = MEMORY.now(here, unit)
        answer, trouble = thought.answer, thought.trouble
    steps = []
    if answer:
        device, told = work.replayed(here, unit)
        steps = [unit_answers.step(device, move, told.state.past) for move in answer.moves]
    if typed and typed.gap and not (steps and steps[0].blank):
        typed = replace(typed, gap=False)  # the move that had the gap is not the next one any more
    partly = bool(getattr(request, "htmx", False))
    context = {
        "partly": partly,
        "sheet": sheet,
        "log": _log(sheet.lines),
        "next": steps[0] if steps else None,
        "others": steps[1:],
        "answer": answer,
        "trouble": trouble,
        "typed": typed or Typed(),
        "said": said,
        "once": new_word(),
    }
    response = render(request, "pages/_unit.html" if partly else "pages/unit.html", context)
    if typed and typed.error:
        response.status_code = 422
    if steps:
        MEMORY.ahead(here, unit, unit_answers.next_lines(steps))
    return response
