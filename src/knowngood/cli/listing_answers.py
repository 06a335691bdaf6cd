"""Grade, listing and report of a unit, from its account to shapes and plain text."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from itertools import groupby
from pathlib import Path

from knowngood.bench.account import Account, account_of
from knowngood.bench.pictured import Pictured, pictured
from knowngood.bench.store import Store
from knowngood.cli import listing_shapes as shapes
from knowngood.cli.paper import typeset
from knowngood.log import events as ev
from knowngood.proof.account import FOR_THE_REPORT, SUBJECTS, Claim
from knowngood.proof.grade import MEANS, Reason
from knowngood.proof.private import for_buyers, without_serials

Said = Callable[[str], str]


def grade(found: Account, said: Said = str) -> shapes.GradeShape:
    """The grade; ``said`` is what becomes of the words of it."""
    graded = found.graded
    return shapes.GradeShape(
        grade=graded.grade,
        means=MEANS[graded.grade],
        by_facts=graded.by_facts,
        reasons=_reasons(graded.reasons, said),
        not_looked=list(graded.not_looked),
        given_by=graded.given_by,
        why=said(graded.why),
        against=_reasons(graded.against, said),
    )


def grade_answer(found: Account) -> shapes.GradeAnswer:
    return shapes.GradeAnswer(unit=found.unit, log_seq=found.told.seq, grade=grade(found))


def _reasons(reasons: Iterable[Reason], said: Said) -> list[shapes.ReasonShape]:
    return [shapes.ReasonShape(grade=one.grade, says=said(one.says), lines=list(one.lines)) for one in reasons]


def _sections(found: Account, claims: Iterable[Claim], said: Said, *, buyer: bool = True) -> list[shapes.SectionShape]:
    order = list(SUBJECTS)
    rows = sorted(claims, key=lambda one: order.index(one.subject))
    return [
        shapes.SectionShape(
            title=SUBJECTS[subject],
            claims=[
                shapes.ClaimShape(
                    subject=subject,
                    says=_sentence(said(one.says)),
                    how=said(one.how),
                    lines=list(one.lines),
                    photos=list(found.photos(one.lines, buyer=buyer)),
                )
                for one in together
            ],
        )
        for subject, together in groupby(rows, key=lambda one: one.subject)
    ]


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]


def listing(found: Account, *, serial: bool = False) -> shapes.ListingAnswer:
    """The listing: its text, and all that it says with the lines."""
    said = _masking(() if serial else found.serials)
    graded = grade(found, said)
    sections = _sections(found, (one for one in found.claims if one.subject not in FOR_THE_REPORT), said)
    return shapes.ListingAnswer(
        unit=found.unit,
        log_seq=found.told.seq,
        text=_text(graded, sections),
        grade=graded,
        sections=sections,
        remarks=list(_remarks(found)),
        listed_by=found.told.state.listing.listed,
    )


def _masking(serials: Iterable[str]) -> Said:
    return lambda text: without_serials(text, serials)


def _text(graded: shapes.GradeShape, sections: Iterable[shapes.SectionShape]) -> str:
    """Plain text, one line for each claim, so that it wraps wherever it is pasted."""
    parts = []
    for section in sections:
        rows = [one.says for one in section.claims]
        if section.claims[0].subject == "what":
            head, *rows = rows
            at_best = ", as far as it was looked at" if graded.not_looked else ""
            parts.append("\n".join([head, f"Grade: {graded.grade} ({graded.means}){at_best}", *rows]))
        else:
            parts.append("\n".join([section.title.upper(), *(f"- {one}" for one in rows)]))
    return "\n\n".join(parts)


def _remarks(found: Account) -> Iterable[str]:
    """What a person ought to know before the text is pasted."""
    state, graded = found.told.state, found.graded
    for one in graded.against:
        given = f"Line {graded.given_by} grades it '{graded.given}'"
        yield f"{given}, and that does not go with: {resting(one)}"
    failing = [one.says for one in found.claims if one.subject == "not-working" and "declared" not in one.says]
    for says in failing:
        yield f"{_sentence(says)}. Mend it, or log 'declared ...': until then 'release' says it is not proved."
    untried = sum(1 for one in found.claims if one.subject == "not-shown" and "nobody took a look" not in one.says)
    if untried:
        yield f"Promised and not claimed: {untried}. What is still to pass: knowngood proof {found.unit}"
    if graded.not_looked:
        names = ", ".join(graded.not_looked)
        yield f"Look at these and log what you see, as 'saw {graded.not_looked[0]} fine': {names}"
    if state.declared - state.listing.named or state.listing.listed is None:
        yield f'Once it is pasted: knowngood listing {found.unit} --at "PRICE"'


def resting(one: Reason | shapes.ReasonShape) -> str:
    """A fact with the lines that it rests on, in words."""
    return one.says + (f" (line {', '.join(map(str, one.lines))})" if one.lines else "")


def report(store: Store, unit: str, pdf: Path, *, buyer: bool, serial: bool) -> tuple[shapes.ReportAnswer, bytes]:
    """The report and its PDF; for a buyer without prices, names and remarks, and with serial numbers masked unless
    asked. Raises what ``account_of`` raises, and PictureError."""
    found = account_of(store, unit)
    hidden = () if serial or not buyer else found.serials
    said = _masking(hidden)
    claims = [one for one in found.claims if not (buyer and one.subject == "money")]
    graded, sections = grade(found, said), _sections(found, claims, said, buyer=buyer)
    named = {file for section in sections for one in section.claims for file in one.photos}
    pictures = pictured(store, found, named, buyer=buyer)
    cited = {seq for section in sections for one in section.claims for seq in one.lines}
    cited |= {seq for one in (*graded.reasons, *graded.against) for seq in one.lines}
    cited |= {graded.given_by} if graded.given_by else set()
    cited |= {seq for seq, one in found.told.state.intake.photos if one.file in named}
    cited |= {one.seq for one in pictures}
    lines = [line for line in found.told.lines if line.seq in cited]
    shape = shapes.ReportAnswer(
        unit=found.unit,
        log_seq=found.told.seq,
        title=found.device.what,
        for_buyers=buyer,
        grade=graded,
        sections=sections,
        pictures=[_picture(found, one) for one in pictures],
        appendix=[
            shapes.CitedShape(
                seq=line.seq,
                time=line.time,
                line=for_buyers(line.event, hidden) if buyer else ev.render(line.event),
            )
            for line in lines
        ],
        pdf=str(pdf),
    )
    copies = {f"{one.photo.file}.jpg": one.copy for one in pictures if one.copy}
    return shape, typeset("report.typ", shape.model_dump(mode="json"), "pdf", copies)


def _picture(found: Account, one: Pictured) -> shapes.PictureShape:
    part = found.device.parts.get(one.photo.target)
    what = part.what if part else _sentence(one.photo.target.replace("-", " "))
    when = f", {one.photo.when}" if one.photo.when else ""
    return shapes.PictureShape(file=one.photo.file, says=f"{what}{when}", line=one.seq, trouble=one.trouble)
