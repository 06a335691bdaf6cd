"""Prices candidates while the person looks, until all is drawn or they have seen enough."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path

import numpy as np
from rich.console import Console

from knowngood.bench.candidates import Bid, Candidate, Offer
from knowngood.cli.answers import interval
from knowngood.cli.bid_shapes import AskingShape, BidAnswer, BidShape, CandidateRow, HeardShape, ReplyShape
from knowngood.errors import LineError
from knowngood.handbook.intervals import Interval
from knowngood.handbook.quantities import Money, parse_share
from knowngood.log import events as ev
from knowngood.money.bid.outcome import Z
from knowngood.money.bid.pricing import Priced, priced
from knowngood.money.bid.ranking import best_set
from knowngood.plan.spread import processes

SPREAD = (0.05, 0.25, 0.5, 0.75, 0.95)
"""Shares of units whose figures are shown."""


def shares(typed: Mapping[str, str | None]) -> dict[str, float | None]:
    """Options that are shares. Raises QuantityError, and LineError for one that is the whole."""
    found = {name: parse_share(text) if text is not None else None for name, text in typed.items()}
    for name, share in found.items():
        if share is not None and not 0.0 <= share < 1.0:
            raise LineError(f"{name}: {typed[name]!r} is not a share from 0 % to below 100 %.")
    return found


def run(
    bids: Sequence[Bid],
    offers: Mapping[str, Offer],
    *,
    units: int,
    pairs: int,
    seed: int,
    workers: int,
    budget: Money | None,
    picture: Path | None,
) -> BidAnswer:
    """Prices each candidate in turn. Ctrl-C ends with what is known by then; those without a figure are left out."""
    currency = bids[0].wish.inward.currency
    if budget is not None and budget.currency != currency:
        raise LineError(f"{budget} is not in {currency}, the bench's currency. Convert it.")
    found: dict[str, Priced] = {}
    stopped = False
    try:
        with telling() as tell:
            for one in bids:
                asking = one.candidate.asking
                spread = processes(workers)
                for so_far in priced(one.case, one.wish, asking, units=units, pairs=pairs, spread=spread):
                    found[one.candidate.id] = so_far
                    tell(one.candidate.id, so_far)
    except KeyboardInterrupt:
        if not found:
            raise
        stopped = True
    answer = answered(bids, found, offers, seed=seed, budget=budget)
    return answer.model_copy(update={"stopped": stopped, "picture": str(picture) if picture else None})


def answered(
    bids: Sequence[Bid], found: Mapping[str, Priced], offers: Mapping[str, Offer], *, seed: int, budget: Money | None
) -> BidAnswer:
    """The answer by what is known so far of those candidates of which something is."""
    shown = [
        _shape(one, found[one.candidate.id], offers.get(one.candidate.id)) for one in bids if one.candidate.id in found
    ]
    buy = _to_buy({name: one for name, one in found.items() if one.worth_it}, budget)
    currency = bids[0].wish.inward.currency
    return BidAnswer(
        currency=currency,
        seed=seed,
        stopped=False,
        budget=str(budget) if budget else None,
        buy=buy,
        spends=str(Money(currency, sum(found[name].asking.minor for name in buy))),
        bids=sorted(shown, key=lambda one: -one.gain.mean),
        picture=None,
    )


def _to_buy(worth_it: Mapping[str, Priced], budget: Money | None) -> list[str]:
    """The best set under a budget, or each that is worth its price, those that leave most first."""
    names = list(worth_it)
    if budget is not None:
        costs = [worth_it[name].asking.minor + worth_it[name].wish.inward.minor for name in names]
        names = [names[one] for one in best_set(costs, [worth_it[name].gain.value for name in names], budget.minor)]
    return sorted(names, key=lambda name: -worth_it[name].gain.value)


class Telling:
    """Says how far it has come on standard error: one line that is written anew, or without a terminal a few."""

    def __init__(self, out: Console) -> None:
        self._out, self._last = out, 0

    def __call__(self, name: str, so_far: Priced) -> None:
        """The figures so far."""
        net, drawn, pairs = so_far.outcome.net, len(so_far.outcome.quick), int(so_far.outcome.pairs.sum())
        ends = f" ({net.low:.0f} to {net.high:.0f})" if np.isfinite(net.high - net.low) else ""
        text = f"{name}: {drawn} units, {pairs} to the end. Brings {net.mean:.1f}{ends}; at most {so_far.most.pay}"
        if self._out.is_terminal:
            self._out.print(f"{text}   ", end="\r", highlight=False, soft_wrap=True)
        elif drawn + 100 * pairs >= 4 * self._last or drawn + 100 * pairs < self._last:
            self._last = drawn + 100 * pairs
            self._out.print(text, highlight=False, soft_wrap=True)


@contextmanager
def telling() -> Iterator[Telling]:
    """The line that tells how far it has come."""
    out = Console(stderr=True)
    try:
        yield Telling(out)
    finally:
        if out.is_terminal:
            out.print()


def row(one: Candidate) -> CandidateRow:
    """An offer as it is listed."""
    return CandidateRow(
        candidate=one.id,
        map=one.map_name,
        asking=str(one.asking),
        said=one.said,
        standing=one.standing,
        unit=one.unit or None,
        note=one.note,
    )


def _shape(one: Bid, found: Priced, offer: Offer | None) -> BidShape:
    outcome, wish, drawn = found.outcome, one.wish, found.progress.drawn if found.progress else ()
    gain = found.gain
    half = Z * gain.error
    heard = [HeardShape(words=one.words, line=one.line, hear=one.hear) for one in (offer.heard if offer else ())]
    return BidShape(
        offer=row(one.candidate),
        heard=heard,
        before=[row(other) for other in (offer.before if offer else ())],
        lines=[ev.render(event) for event in one.case.lines],
        exact=outcome.exact,
        units=len(outcome.quick),
        unfinished=int(outcome.unfinished.sum()),
        pairs=int(outcome.pairs.sum()),
        checked=outcome.checked,
        net=interval(outcome.net),
        bias_known=outcome.bias_known,
        bias=interval(outcome.bias) if outcome.pairs.sum() > 1 else None,
        if_known=float(np.mean([one.if_known for one in drawn])) if drawn else None,
        spread=[outcome.quantile(share).mean for share in SPREAD],
        tail=interval(outcome.quantile(wish.loss)),
        rate=f"{one.case.terms.currency} {one.case.terms.rate * 60:g}",
        margin=str(wish.margin),
        bearable=wish.loss,
        shade=wish.shade,
        known=one.said,
        askable=len(one.case.questions),
        inward=str(wish.inward),
        by_margin=found.most.by_margin.value,
        by_loss=found.most.by_loss.value,
        most=str(found.most.pay),
        because="margin" if found.most.because == "margin" else "loss",
        gain=interval(Interval(gain.value, gain.value - half, gain.value + half)),
        loss=interval(found.loss),
        ask=[
            AskingShape(
                kind=each.question.kind,
                name=each.question.name,
                do=each.question.do,
                worth=each.worth,
                replies=[ReplyShape(words=reply.words, chance=reply.chance, gain=reply.gain) for reply in each.replies],
            )
            for each in found.askings(one.case)
        ],
        net_of_each=outcome.each().tolist(),
        weights=outcome.weights.tolist(),
    )
