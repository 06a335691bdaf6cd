"""Marks that were seen and loose parts, from what the bench answers to shapes and words."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from rich.console import Console
from rich.text import Text

from knowngood.cli import mark_shapes as shapes
from knowngood.cli.layout import under
from knowngood.handbook.quantities import format_quantity

if TYPE_CHECKING:
    from knowngood.bench.loose import Lot
    from knowngood.bench.marks import Offer, Proposal, Seen


NO_SUCH_MARK = "no scheme has such a mark. Measure it."
"""The end of a refusal that says nothing where another kind of part has such a mark."""


def marks(found: Iterable[Seen]) -> list[shapes.MarkShape]:
    return [
        shapes.MarkShape(
            seq=one.seq,
            part=one.part,
            condition=one.condition,
            mark=one.mark,
            meanings=[_meaning(each, one.hurt) for each in one.proposals],
            codes=list(one.decoded.codes),
            refused=list(one.decoded.refused),
            rules=[shapes.RuleShape(page=rule.page, must=rule.must, source=rule.source) for rule in one.rules]
            if one.hurt
            else [],
            cautions=_cautions(one),
        )
        for one in found
    ]


def _cautions(seen: Seen) -> list[str]:
    """What stands at the step, each once: of where it sits, of reading the mark, of replacing it."""
    hurt = (*seen.hazards, *(rule.caution for rule in seen.rules if rule.caution)) if seen.hurt else ()
    return list(dict.fromkeys([*hurt, *seen.decoded.cautions]))


def _meaning(found: Proposal, hurt: bool) -> shapes.MeaningShape:
    meaning, instead = found.meaning, found.replacement
    return shapes.MeaningShape(
        kind=meaning.part.kind,
        value=meaning.part.value,
        unit=meaning.part.unit,
        text=meaning.part.text(),
        scheme=meaning.scheme,
        sure=meaning.sure,
        note=meaning.note,
        low=meaning.low,
        high=meaning.high,
        nearest=meaning.nearest,
        series=meaning.series,
        unsaid=list(found.unsaid),
        replacement=shapes.ReplacementShape(
            value=instead.value,
            error=instead.error,
            how=instead.how,
            offers=[_offer(one) for one in instead.offers],
            mind=instead.mind,
            lacks=list(instead.lacks),
        )
        if instead and hurt
        else None,
        near=[shapes.NearShape(offer=_offer(one), why=why) for one, why in found.near] if hurt else [],
        buy=found.buy if hurt and not instead else None,
    )


def _offer(one: Offer) -> shapes.OfferShape:
    return shapes.OfferShape(id=one.id, part=one.part.text(), left=one.left, place=one.place, unsure=one.unsure)


def lots(found: Iterable[Lot]) -> list[shapes.LotShape]:
    """Lots with something left, by kind and value."""
    kept = sorted((one for one in found if one.left), key=lambda one: (one.part.kind, one.part.value, one.id))
    return [
        shapes.LotShape(
            lot=one.id,
            part=one.part.text(),
            left=one.left,
            place=one.place,
            stocked=one.stocked,
            time=one.time,
            note=one.note,
        )
        for one in kept
    ]


def show(out: Console, answer: shapes.MarksAnswer) -> None:
    for one in answer.marks:
        out.print(Text(f"{answer.unit} {one.seq}  saw {one.part} {one.condition} marked {one.mark}"))
        show_one(out, one)
    if not answer.marks:
        out.print(Text(f"No mark seen in {answer.unit}. Log one: saw PART CONDITION marked 10R"))


def show_one(out: Console, mark: shapes.MarkShape) -> None:
    """What a mark means and what replaces the part."""
    for one in mark.meanings:
        out.print(under(3, f"{one.text}: {one.sure}; {one.scheme}" + (f"; {one.note}" if one.note else "")))
        if one.nearest is not None and abs(one.nearest - one.value) > 1e-9 * one.value:
            out.print(under(6, f"nearest that is made: {format_quantity(one.nearest, one.unit)} ({one.series})"))
        for text in _shelf(one):
            out.print(under(6, text))
    for code in mark.codes:
        out.print(under(3, code))
    for reason in mark.refused:
        if not (mark.meanings and reason.endswith(NO_SUCH_MARK)):
            out.print(under(3, f"no reading: {reason}"))
    for rule in mark.rules:
        known = "common practice, no source" if rule.source.startswith("common practice") else rule.source
        out.print(under(3, f"{rule.page} ({known}): {rule.must}"))
    kinds: dict[str, list[str]] = {}
    for one in mark.meanings:
        kinds[one.kind] = list(dict.fromkeys([*kinds.get(one.kind, []), *one.unsaid]))
    if mark.rules and any(kinds.values()):
        said = "; ".join((f"{kind}: " if len(kinds) > 1 else "") + ", ".join(words) for kind, words in kinds.items())
        out.print(under(3, f"the mark does not say {said}. Look at the body, a twin, the circuit."))
    if len(mark.meanings) > 1:
        which = f" Is it a {next(iter(kinds))}? Log: marked {next(iter(kinds))} {mark.mark}" if len(kinds) > 1 else ""
        out.print(under(3, f"Nor which of these it is: measure a twin, or trace the circuit.{which}"))
    for caution in mark.cautions:
        out.print(under(0, f"! {caution}"))


def _shelf(one: shapes.MeaningShape) -> list[str]:
    """What the shelf has for one reading, in words."""
    said = []
    if one.replacement:
        offers = one.replacement.offers
        twice = len(offers) == 2 and offers[0] == offers[1]
        what = f"2 x {_named(offers[0])}" if twice else " + ".join(_named(offer) for offer in offers)
        made = format_quantity(one.replacement.value, one.unit)
        together = f" {one.replacement.how} make {made} ({100.0 * one.replacement.error:+.2g} %)" if offers[1:] else ""
        mind = f"; {one.replacement.mind}" if one.replacement.mind else ""
        said.append(f"shelf: {what}{together}{mind}")
        if one.replacement.lacks:
            said.append(f"its line does not say {', '.join(one.replacement.lacks)}: look it up or measure")
    elif one.buy:
        said.append(f"nothing on the shelf fits: buy {one.buy}")
    said += [f"not {_named(near.offer)}: {near.why}" for near in one.near]
    return said


def _named(offer: shapes.OfferShape) -> str:
    about = ", ".join(word for word in (f"{offer.left} left", offer.place, offer.unsure) if word)
    return f"{offer.id} {offer.part} ({about})"
