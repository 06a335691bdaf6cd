"""``knowngood book``: the words of the command line to a question to the book, and its answer in words."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.padding import Padding
from rich.text import Text

from knowngood.cli import book_shapes as shapes
from knowngood.cli import profile_picture, svg
from knowngood.cli.frame import text_of
from knowngood.cli.layout import hanging, under
from knowngood.errors import NotFoundError, PictureError, QuantityError
from knowngood.handbook import book
from knowngood.handbook.formula import Argument, Formula

PICTURES = {"profile": profile_picture.picture}
"""The formulae that have a picture, with what draws it from the arguments they were called with."""


def looked_up(words: list[str], picture: Path | None = None) -> shapes.BookAnswer:
    """What the words of a command line ask for; draws it as well if asked to.

    Raises what ``book.ask`` raises, NotFoundError for a missing file, PictureError for what has no picture.
    """
    topic, given = _parted(words)
    if picture:
        svg.can_draw(picture)
    return asked(topic, {name: _text(topic, name, value) for name, value in given.items()}, picture)


def asked(topic: str, given: Mapping[str, str], picture: Path | None = None) -> shapes.BookAnswer:
    """What the book says to a topic and quantities as written; a table is given as the text of its CSV.

    Raises what ``looked_up`` raises.
    """
    subjects: list[shapes.SubjectShape] = []
    pages: list[Formula[Any, Any]] = []
    found = book.Found((), ())
    if given:
        found = book.ask(topic, given)
    elif not topic:
        subjects = [shapes.SubjectShape(subject=name, asks=book.asks(name)) for name in book.subjects()]
    elif topic in book.formulas():
        pages = [book.formulas()[topic]]
    elif topic in book.subjects():
        pages = book.of_subject(topic)
    else:
        pages = book.find(topic)[:MOST_FOUND]
        if not pages:
            raise NotFoundError(f"Nothing in the book has the words '{topic}'. 'knowngood book' lists its subjects.")
    if picture:
        _draw(picture, found)
    return shapes.BookAnswer(
        topic=topic,
        subjects=subjects,
        pages=[_page(one) for one in pages],
        answers=[_reckoned(one) for one in found.answers],
        refused=list(found.refused),
        picture=str(picture) if picture else None,
    )


def _draw(file: Path, found: book.Found) -> None:
    drawn = next((one for one in found.answers if one.formula.name in PICTURES), None)
    if drawn is None:
        reason = "; ".join(found.refused) or "there is none of what was asked"
        raise PictureError(f"No picture was drawn: {reason}. Only {', '.join(PICTURES)} has one.")
    svg.write(file, PICTURES[drawn.formula.name](drawn.called))


MOST_FOUND = 8
"""Formulae shown for words."""


def _parted(words: list[str]) -> tuple[str, dict[str, str]]:
    """Topic and options: ``charge --voltage "400 V"``. Raises QuantityError for an option without a value."""
    topic: list[str] = []
    given: dict[str, str] = {}
    rest = iter(words)
    for word in rest:
        if not word.startswith("--"):
            topic.append(word)
            continue
        name, has_value, value = word[2:].partition("=")
        name = name.replace("-", "_")
        if not has_value:
            value = next(rest, "--")
            if value.startswith("--"):
                raise QuantityError(f"{word} has no value. Write it as {word} '12 V'.")
        if name in given:
            raise QuantityError(f"{word} stands twice. Several values go into one, with commas between.")
        given[name] = value
    if given and not topic:
        raise QuantityError("Name a topic before the values, as: knowngood book charge --voltage '400 V' ...")
    return " ".join(topic), given


def _text(topic: str, name: str, value: str) -> str:
    """A value as the book takes it: of a table, what its file holds."""
    among = [one for one in book.formulas().values() if topic in (one.name, one.subject)]
    if not any(one.page.arguments[name].columns for one in among if name in one.page.arguments):
        return value
    return text_of(Path(value), "utf-8-sig")


def _page(one: Formula[Any, Any]) -> shapes.PageShape:
    needed = book.needed(one)
    return shapes.PageShape(
        formula=one.name,
        subject=one.subject,
        summary=one.page.summary,
        takes=[_term(term, needed=name in needed) for name, term in one.page.arguments.items()],
        gives=[_term(term, needed=False) for term in one.page.gives.values()],
        source=one.page.source,
    )


def _term(term: Argument, *, needed: bool) -> shapes.TermShape:
    name = term.name.replace("_", "-")
    return shapes.TermShape(name=name, meaning=term.meaning, valid=book.valid(term), needed=needed)


def _reckoned(found: book.Answer) -> shapes.ReckonedShape:
    page = found.formula.page
    return shapes.ReckonedShape(
        formula=found.formula.name,
        summary=page.summary,
        law=page.formula,
        inputs=[_value(one) for one in found.inputs],
        results=[[_value(one) for one in row] for row in found.results],
        words=page.words,
        source=page.source,
        caution=page.caution,
    )


def _value(one: book.Value) -> shapes.ValueShape:
    value = list(one.value) if isinstance(one.value, tuple) else one.value
    return shapes.ValueShape(
        name=one.name, meaning=one.meaning, value=value, unit=one.unit, text=one.text(), assumed=one.assumed
    )


def show(out: Console, answer: shapes.BookAnswer) -> None:
    """Prints it: the result first, then what it rests on."""
    for subject in answer.subjects:
        out.print(hanging(f"{subject.subject:<12}", subject.asks))
    for page in answer.pages:
        out.print(Text(f"{page.formula}  ({page.subject})"))
        out.print(under(3, page.summary))
        for term in page.takes:
            optional = "" if term.needed else ", or as assumed"
            out.print(hanging(f"   --{term.name:<14} ", f"{term.meaning} ({term.valid}{optional})"))
    if answer.subjects or answer.pages:
        out.print(Text("Ask with values: knowngood book TOPIC --NAME VALUE; or with words: knowngood book WORDS"))
    for one in answer.answers:
        _show_one(out, one)
    for refusal in answer.refused:
        out.print(Text(f"no answer: {refusal}"))
    if answer.picture:
        out.print(Text(f"Picture: {answer.picture}"))
    for caution in dict.fromkeys(one.caution for one in answer.answers if one.caution):
        out.print(hanging("! ", caution))


def _show_one(out: Console, one: shapes.ReckonedShape) -> None:
    out.print(Text(f"{one.summary}"))
    if len(one.results) >= TABLE_FROM:
        _show_table(out, one.results)
    for number, row in enumerate(one.results if len(one.results) < TABLE_FROM else [], start=1):
        lead = f"  {number}. " if len(one.results) > 1 else "   = "
        for value in row:
            out.print(hanging(lead, _said(value, several=len(one.results) > 1, first=number == 1)))
            lead = "     "
    if not one.results:
        out.print(Text("   = none"))
    out.print(hanging("   from ", f"{one.law}"))
    for given in one.inputs:
        assumed = " (assumed)" if given.assumed else ""
        out.print(hanging("        ", f"{given.name} {given.text}{assumed}"))
    if one.words:
        out.print(hanging("   note ", one.words))
    out.print(hanging("   source ", one.source))


LONG = 30
"""Letters from which on a text stands after its name, like a sentence."""


def _said(value: shapes.ValueShape, *, several: bool, first: bool) -> str:
    """A result in words. Of several rows, only the first says what a figure means."""
    if isinstance(value.value, str) and (several or len(value.text) > LONG):
        return f"{value.name}: {value.text}"
    return f"{value.text}  {value.name}" + (f": {value.meaning}" if first else "")


TABLE_FROM = 3
"""Rows from which on an answer is a table."""


def _show_table(out: Console, rows: list[list[shapes.ValueShape]]) -> None:
    """Rows under one another; what is the same in all of them stands once, below."""
    from rich.table import Table

    names = list(dict.fromkeys(value.name for row in rows for value in row))
    cells = [{value.name: value for value in row} for row in rows]
    said = {name: {row[name].text if name in row else "" for row in cells} for name in names}
    grid = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="")
    for name in (name for name in names if len(said[name]) > 1):
        grid.add_column(Text(name), overflow="fold")
    for row in cells:
        grid.add_row(*(Text(row[name].text if name in row else "") for name in names if len(said[name]) > 1))
    out.print(Padding(grid, (0, 0, 0, 3)))
    for name in (name for name in names if len(said[name]) == 1):
        out.print(hanging("   ", f"{next(iter(said[name]))}  {name}: {rows[0][names.index(name)].meaning}"))
