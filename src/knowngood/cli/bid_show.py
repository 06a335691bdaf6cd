"""A bid in words."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console
from rich.text import Text

from knowngood.bench.candidates import Candidate
from knowngood.cli.bid_run import row
from knowngood.cli.bid_shapes import AskingShape, BidAnswer, BidShape, CandidateList, CandidateRow
from knowngood.cli.show import within
from knowngood.handbook.quantities import percent


def listed(found: Sequence[Candidate]) -> CandidateList:
    """Offers as an answer."""
    return CandidateList(candidates=[row(one) for one in found])


def rows(out: Console, answer: CandidateList) -> None:
    """A line for each offer."""
    for one in answer.candidates:
        out.print(Text(_line(one)))
    if not answer.candidates:
        out.print("No offers yet. Take one down: knowngood bid --map MAP --says ... --asking ...")


def _line(one: CandidateRow) -> str:
    standing = f"bought as {one.unit}" if one.unit else one.standing + (f" ({one.note})" if one.note else "")
    return f"{one.candidate:<4} {one.map:<22} {one.asking:<10} {standing:<12} {one.said}".rstrip()


def bids(out: Console, answer: BidAnswer, most: int) -> None:
    """Every candidate, then what to buy."""
    for one in answer.bids:
        _bid(out, answer.currency, one, most)
    if len(answer.bids) > 1 or answer.budget:
        under = f" under {answer.budget}, the way here included" if answer.budget else ""
        chosen = f"{', '.join(answer.buy)}: {answer.spends} asked" if answer.buy else "none of them"
        out.print(
            Text(f"Buy{under}: {chosen}. Each is judged alone: what they share of your stock and hours is not in it.")
        )
    if answer.stopped:
        out.print("Stopped: this is the best so far.")
    out.print("Drawn from the map and judged by it: as right as the map is, no more.")
    if answer.picture:
        out.print(Text(f"Picture: {answer.picture}"))


def _bid(out: Console, currency: str, one: BidShape, most: int) -> None:
    out.print(Text(f"{one.offer.candidate}  {one.offer.map}, asked {one.offer.asking}"))
    for before in one.before:
        out.print(Text(f"  Met before: {_line(before)}"))
    for heard in one.heard:
        meant = f"{heard.line}: {heard.hear}" if heard.line else heard.hear or "NOT UNDERSTOOD, counted as nothing"
        out.print(Text(f"  '{heard.words}' -> {meant}"))
    out.print(Text(f"  MOST TO PAY {one.most}  {_because(currency, one)}"))
    out.print(
        Text(f"  Brings {currency} {within(one.net)} at {one.rate} an hour, before its price. {_drawn(currency, one)}")
    )
    five = ", ".join(f"{value:.0f}" for value in one.spread)
    out.print(Text(f"  5, 25, 50, 75 and 95 % of units bring no more than {five}."))
    asked = f"  At {one.offer.asking} it leaves {within(one.gain)}, and loses with {percent(one.loss.mean)}."
    out.print(Text(asked + ("" if one.gain.mean > 0.0 else " Above the most to pay you are paying to work.")))
    for each in one.ask[:most]:
        if each.worth >= 0.01:
            out.print(Text(f"  Ask first: {each.do}. Worth {currency} {each.worth:.2f}. {_replies(each)}"))
    if not any(each.worth >= 0.01 for each in one.ask):
        out.print("  No question or photo would change whether to buy at that price.")
    if any(each.kind == "try" for each in one.ask):
        out.print("  Nobody is asked to open it or to feed it when it is wet, smells burnt or has a hurt cord.")
    out.print()


def _because(currency: str, one: BidShape) -> str:
    margin, loss = (
        f"{one.by_margin:.2f} for a margin of {one.margin}",
        f"{one.by_loss:.2f} for a loss in {_share(one.bearable)}",
    )
    shade = f"{_share(one.shade)} off: {one.known} things known, {one.askable} more to ask"
    return f"(the lower of {margin} and {loss}; {shade}; the way here {one.inward})"


def _share(share: float) -> str:
    return f"{100 * share:.3g} %"


def _drawn(currency: str, one: BidShape) -> str:
    if one.exact:
        return f"Exact: every course of the job is listed ({one.units})."
    drawn = f"{one.units} units drawn, {one.unfinished} of them unfinished after the first moves"
    if not one.unfinished:
        return f"{drawn}."
    if one.bias is None:
        return f"{drawn}; a stand-in says what those bring, and it is NOT MEASURED what it is off by."
    off = f"{currency} {within(one.bias)} a unit too high"
    return f"{drawn}; what stands in there is {off}, by {one.pairs} worked to the end, and that is taken off."


def _replies(each: AskingShape) -> str:
    return "; ".join(f"{one.words} ({percent(one.chance)}): leaves {one.gain:.0f}" for one in each.replies[:4])
