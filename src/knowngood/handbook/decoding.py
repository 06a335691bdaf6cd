"""What a mark found on a small part may mean: every scheme of the book asked, with how sure, and what is refused."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from knowngood.errors import QuantityError, RangeError
from knowngood.handbook import book, marks, parts
from knowngood.handbook.colour_bands import COLOURS, BandReading
from knowngood.handbook.formula import Formula
from knowngood.handbook.mark_codes import Reading
from knowngood.handbook.preferred import is_of, neighbours, rank
from knowngood.handbook.small_parts import DIELECTRIC, Ratings, SmallPart, named, printed_value, ratings_in

FUSE = "fuse"
"""A kind whose print is its rating: the book has its rule, and no marks to decode."""


ONLY, UNLIKELY = "the only reading", "unlikely value"


@dataclass(frozen=True)
class Meaning:
    """One way to read a mark."""

    part: SmallPart
    scheme: str
    sure: str
    """"the only reading", or how usual its value is."""
    note: str | None = None
    low: float | None = None
    high: float | None = None
    nearest: float | None = None
    """The nearest value that is made, in ``series``; None for a jumper."""
    series: str = ""


@dataclass(frozen=True)
class Decoded:
    """All that a mark may mean."""

    meanings: tuple[Meaning, ...]
    """Usual values first."""
    codes: tuple[str, ...]
    """What codes in it say besides a value: dielectric, case, letter of a voltage."""
    refused: tuple[str, ...]
    """What does not decode it, and why."""
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class Rule:
    """What a replacement has to meet."""

    page: str
    must: str
    source: str
    caution: str = ""


def decode(mark: str, kind: str = "", make: str = "") -> Decoded:
    """The readings of a mark on a part of a kind ("" where that is not known: all kinds).

    Ratings, values and dielectrics printed beside it ("104 X7R 50V") are taken as printed; a kind or construction that
    is named in it ("resistor 10R", "electrolytic 107") goes before the one given.
    """
    try:
        ratings, rest = ratings_in(" ".join(mark.split()))
    except QuantityError as error:
        return Decoded((), (), (str(error),), ())
    said_kind, said_make, rest = named(rest)
    if kind == FUSE and not said_kind:
        return Decoded((), (), ("What is printed on a fuse is its rating, and no code: take it as it stands.",), ())
    kind, make = said_kind or kind, said_make or ("" if said_kind else make)
    codes, refused, dielectric, rest = _codes(rest, kind)
    kind = "capacitor" if dielectric else kind
    known = SmallPart(kind, 0.0, ratings, " ".join(word for word in (make, dielectric) if word))
    found: list[Meaning] = []
    pages: list[Formula[Any, Any]] = []
    if printed := printed_value(rest):
        of, value, more = printed
        if kind in ("", of):
            words = " ".join(word for word in (known.words, more) if word)
            found = [_meaning(replace(known, kind=of, value=value, words=words), "as printed, with its unit")]
        else:
            refused.append(f"'{rest}' is the value of one {of}, and the map has a {kind} here. Look again.")
    elif rest:
        for of, page in _pages(rest, kind):
            try:
                readings = page(_colours(rest) if page is marks.colour_bands else rest)
            except RangeError as error:
                refused.append(str(error))
                continue
            pages.append(page)
            found += [_read(replace(known, kind=of), one) for one in readings]
    if not (rest or codes or refused):
        refused.append(f"'{mark}' names no value and has no code.")
    if len(found) == 1 and found[0].sure != UNLIKELY:
        found = [replace(found[0], sure=ONLY)]
    return Decoded(
        tuple(sorted(found, key=lambda one: rank(one.part.value) if one.part.value else 0)),
        tuple(codes),
        tuple(refused),
        tuple(dict.fromkeys(page.page.caution for page in pages if page.page.caution)),
    )


_MARKS = {"resistor": marks.resistor_mark, "capacitor": marks.capacitor_mark, "inductor": marks.inductor_mark}


def _pages(text: str, kind: str) -> list[tuple[str, Formula[Any, Any]]]:
    """The pages of the book that may decode a mark, by the kind of part that it then is on."""
    colours = _colours(text)
    if all(word in COLOURS for word in colours):
        dot = [("capacitor", marks.voltage_colour)] if len(colours) == 1 or kind == "capacitor" else []
        return [*([("resistor", marks.colour_bands)] if kind != "capacitor" else []), *dot]
    return [(of, page) for of, page in _MARKS.items() if kind in ("", of)]


def _colours(text: str) -> tuple[str, ...]:
    return tuple(text.lower().replace(",", " ").split())


def _codes(text: str, kind: str) -> tuple[list[str], list[str], str, str]:
    """What the codes in a mark of a capacitor say, what is refused, the dielectric, and the mark without them."""
    said: list[str] = []
    refused: list[str] = []
    dielectric, rest = "", text.split()
    if kind not in ("", "capacitor"):
        return said, refused, dielectric, text
    for word in [one for one in rest if DIELECTRIC.match(one.upper())]:
        rest.remove(word)
        dielectric = word.upper()
        _ask_code(marks.dielectric, "code", word, said, refused)
    if len(rest) == 1 and len(rest[0]) == 1 and rest[0].isalpha():
        _ask_code(marks.tantalum_case, "case", rest[0].upper(), said, refused)
        _ask_code(marks.voltage_letter, "letter", rest[0], said, refused)
        if said:
            rest = []
    return said, refused, dielectric, " ".join(rest)


def _ask_code(page: Formula[Any, Any], name: str, text: str, said: list[str], refused: list[str]) -> None:
    try:
        answer = book.answer(page, {name: text})
    except RangeError as error:
        refused.append(str(error))
        return
    for row in answer.results:
        results = ", ".join(f"{one.name} {one.text()}" for one in row)
        said.append(f"{text}, as {page.name.replace('-', ' ')}: {results} ({page.page.source})")


def _read(known: SmallPart, one: Reading | BandReading) -> Meaning:
    """A reading of the book with what else is known of the part."""
    value = one.resistance if isinstance(one, BandReading) else one.value
    scheme = f"colour bands, {one.order}" if isinstance(one, BandReading) else one.scheme
    tolerance = known.ratings.tolerance
    if tolerance is None and one.low is not None and one.high is not None and value:
        tolerance = round(max(1.0 - one.low / value, one.high / value - 1.0), 9)
    ratings = Ratings(tolerance, known.ratings.voltage, known.ratings.power)
    found = _meaning(replace(known, value=value, ratings=ratings), scheme)
    return replace(found, note=one.note, low=one.low, high=one.high)


def _meaning(part: SmallPart, scheme: str) -> Meaning:
    if part.value == 0.0:
        return Meaning(part, scheme, "jumper")
    series = next((count for count in (24, 96, 192) if is_of(part.value, count)), 24)
    sure = ("usual value", "rarer value", UNLIKELY)[rank(part.value)]
    return Meaning(part, scheme, sure, nearest=neighbours(part.value, series)[0], series=f"E{series}")


_RULES: dict[str, Formula[Any, Any]] = {
    "ceramic": parts.ceramic_fits,
    "electrolytic": parts.electrolytic_fits,
    "resistor": parts.resistor_fits,
}

INDUCTOR_RULE = Rule(
    "inductor",
    "inductance within 20 %; current no less; winding resistance and size no more",
    "common practice, no source",
)


def rules(kind: str, make: str | None = None) -> tuple[Rule, ...]:
    """The rules of the book for replacing a part of a kind; of a capacitor made nobody knows how, all of them."""
    if kind == "inductor":
        return (INDUCTOR_RULE,)
    pages: list[Formula[Any, Any]]
    if kind == FUSE:
        pages = [parts.fuse_fits]
    elif kind == "capacitor" and make not in _RULES:
        pages = [parts.ceramic_fits, parts.electrolytic_fits]
    else:
        pages = [_RULES[make if kind == "capacitor" and make else kind]]
    return tuple(Rule(one.name, one.page.formula, one.page.source, one.page.caution) for one in pages)
