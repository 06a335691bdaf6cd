"""Were the odds honest? What the program said of units that have left the bench, replayed, beside what came."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from knowngood.belief.believe import Belief, believe
from knowngood.belief.hindsight import Settled, first_hands_on, settled
from knowngood.bench.donors import donor_priors
from knowngood.bench.questions import terms_for
from knowngood.bench.references import measuring
from knowngood.bench.store import Store
from knowngood.bench.work import bench_settings
from knowngood.errors import KnowngoodError
from knowngood.log import events as ev
from knowngood.log.state import Replay, replay
from knowngood.maps.device import Device
from knowngood.money.expectation import Expectation
from knowngood.money.ledger.books import Account
from knowngood.money.ledger.hindsight import Forecast, came_of
from knowngood.plan.choose import advise


@dataclass(frozen=True)
class Claim:
    """The chance believed of one part before a line settled it: that it is faulty, or stops what is promised."""

    believed: float
    settled: Settled


@dataclass(frozen=True)
class Hindsight:
    """One unit that has left the bench. ``refused`` says why nothing is said of it, and the rest is empty then."""

    unit: str
    forecast: Forecast | None
    claims: tuple[Claim, ...]
    refused: str = ""


@dataclass(frozen=True)
class Guess:
    """One part of a unit: what was believed of it before hands went in, and what it was."""

    part: str
    what: str
    believed: float
    """Chance that it is faulty."""
    settled: Settled | None
    """What a later line settled; None if none did."""


MOST_GUESSES = 6
"""The likeliest parts before opening that are shown beside those that were found faulty."""


def guesses(store: Store, unit: str) -> tuple[int, list[Guess]]:
    """The line before which hands first went into a unit, and the guess there beside the truth: the likeliest parts,
    and every part that proved faulty, the likeliest first. Raises what ``believe`` raises."""
    then = _Then(store, unit)
    opened = first_hands_on(then.told)
    truth = {one.part: one for one in settled(then.device, then.told)}
    suspects = sorted(then.believed(opened).suspects, key=lambda one: (-one.p_bad, one.part))
    shown = [
        one
        for rank, one in enumerate(suspects)
        if rank < MOST_GUESSES or (one.part in truth and truth[one.part].faulty)
    ]
    return opened, [Guess(one.part, one.what, one.p_bad, truth.get(one.part)) for one in shown]


def gone(accounts: Iterable[Account]) -> list[Account]:
    """The accounts of the units that have left the bench."""
    return [account for account in accounts if account.exit]


def hindsight(store: Store, accounts: list[Account]) -> Iterator[Hindsight]:
    """One unit after the other: a few seconds for each."""
    for account in accounts:
        try:
            yield _of(store, account)
        except KnowngoodError as error:  # its log contradicts itself, or is too large
            yield Hindsight(account.name, None, (), str(error))


def _of(store: Store, account: Account) -> Hindsight:
    then = _Then(store, account.name)
    told, settings = then.told, bench_settings(store, then.told.lines[0].bench_seq)
    # Of one that was offered, what its seller said and showed was known at purchase.
    here = (line.seq for line in told.lines if isinstance(line.event, ev.Received))
    first, start = next(here, told.lines[0].seq) + 1, first_hands_on(told)
    at_purchase = then.promised(first)
    forecast = Forecast(
        account.name,
        account.exit or "",
        at_purchase,
        then.promised(start) if start > first else at_purchase,
        came_of(told, account, settings.rate_floor.major / 60.0, settings.fee_share),
    )
    return Hindsight(account.name, forecast, tuple(then.claim(one) for one in settled(then.device, told)))


class _Then:
    """A unit, and what its log said before each of its lines."""

    def __init__(self, store: Store, unit: str) -> None:
        self.device: Device = store.device(unit)
        self.told: Replay = replay(self.device, store.lines(unit))
        self._donors = donor_priors(store, unit)
        self._measuring = measuring(store, unit)
        # The rates of the day it was bought, and no shelf: what lay there then is not what lies there now.
        bench_seq = self.told.lines[0].bench_seq
        self._terms = terms_for(store, self.device, bench_seq=bench_seq, with_shelf=False)
        self._beliefs: dict[int, Belief] = {}

    def _before(self, seq: int) -> Replay:
        return replay(self.device, [line for line in self.told.lines if line.seq < seq])

    def promised(self, seq: int) -> Expectation:
        """What the advice promised before a line."""
        found = advise(self.device, self._before(seq), self._terms, donors=self._donors, measuring=self._measuring)
        return Expectation(self._terms.currency, found.best.worth)

    def claim(self, one: Settled) -> Claim:
        """What was believed before a part was settled."""
        part = next(part for part in self.believed(one.before).suspects if part.part == one.part)
        return Claim(part.p_bad if one.how == "look" else part.p_blocks, one)

    def believed(self, seq: int) -> Belief:
        """The belief before a line."""
        if seq not in self._beliefs:
            told = self._before(seq)
            self._beliefs[seq] = believe(self.device, told, donors=self._donors, measuring=self._measuring)
        return self._beliefs[seq]
