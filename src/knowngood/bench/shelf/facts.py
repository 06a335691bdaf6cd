"""What a plan of the shelf rests on: every unit as its log leaves it, the parts on the shelf, market and settings."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from knowngood.belief.believe import Belief, believe
from knowngood.belief.story import Donors
from knowngood.bench import gists
from knowngood.bench.donors import Vector, donor_priors, on_shelf
from knowngood.bench.market import Market, market
from knowngood.bench.passages import StockPart
from knowngood.bench.references import measuring
from knowngood.bench.revisions import Reader
from knowngood.bench.settings import BenchSettings
from knowngood.bench.stock import Logs, moves_about
from knowngood.bench.store import Store, UnitSummary
from knowngood.bench.work import bench_settings, replayed
from knowngood.errors import ContradictionError, MapError, TooLargeError
from knowngood.handbook.quantities import Money
from knowngood.log import events as ev
from knowngood.log.state import Replay
from knowngood.maps.device import Device
from knowngood.plan.terms import Terms, terms

SAYS_NOTHING = (
    *(ev.Bought, ev.Past, ev.Asked, ev.Paid, ev.Got, ev.Worked, ev.Waited, ev.Noted, ev.Priced, ev.Planned),
    *(ev.Reserved, ev.Ordered, ev.Arrived, ev.Released, ev.Lacks, ev.Has, ev.Deferred, ev.Resumed, ev.Put),
)
"""Lines that leave the belief of a unit as its map and its past make it."""

BENCH = "bench"
"""The bench's own log, among the logs that a plan rests on."""


@dataclass(frozen=True)
class OnBench:
    """A unit or donor that is here."""

    unit: str
    donor: bool
    device: Device
    log: Replay
    belief: Belief
    terms: Terms
    donors: Donors | None = None
    """What its parts from other units brought along."""


@dataclass(frozen=True)
class Facts:
    """All of it at one moment."""

    units: tuple[OnBench, ...]
    loose: Mapping[StockPart, Vector]
    """Parts on the shelf, and the chances of their states, fine first."""
    revisions: Mapping[StockPart, str]
    """Of those of which it is known."""
    market: Market
    settings: BenchSettings
    after: Mapping[str, int]
    """Number of the last line of each log that this rests on, the bench's own among them."""
    troubles: Mapping[str, str]
    """Units of which no belief can be had, and why; they are in no plan."""

    @property
    def minutes(self) -> int:
        """Hands-on minutes in the period."""
        return 60 * self.settings.hours


def facts(store: Store, progress: Callable[[int, int], None] | None = None) -> Facts:
    """Everything a plan rests on; ``progress`` is told how many units of how many are thought through.

    Units that have left the bench are left out. Units of one map and past, of which nothing more is said, have one
    belief.
    """
    still = set(gists.here(store))
    here = [one for one in store.units() if one.id in still]
    seqs = {one.id: one.lines for one in here}
    bench = store.bench_seq()
    settings, now = bench_settings(store), market(store)
    untouched: dict[tuple[str, tuple[str, ...]], Belief] = {}
    found, troubles = [], {}
    for number, one in enumerate(here, start=1):
        try:
            unit = _on_bench(store, one, settings, now, untouched)
        except (ContradictionError, TooLargeError, MapError) as error:
            troubles[one.id] = str(error)
        else:
            found += [unit] if unit else []
        if progress:
            progress(number, len(here))
    moved = moves_about(store)
    read = Reader(Logs(store), moved)
    return Facts(
        tuple(found),
        on_shelf(store, moved.shelf),
        {one: revision for one in moved.shelf if (revision := read.of(one))},
        now,
        settings,
        {BENCH: bench, **{unit: seqs[unit] for unit in [*(one.unit for one in found), *troubles]}},
        troubles,
    )


def _on_bench(
    store: Store,
    one: UnitSummary,
    settings: BenchSettings,
    sells: Market,
    untouched: dict[tuple[str, tuple[str, ...]], Belief],
) -> OnBench | None:
    device, log = replayed(store, one.id)
    if log.state.exit:
        return None
    donors = None
    if any(not isinstance(line.event, SAYS_NOTHING) for line in log.lines):
        donors = donor_priors(store, one.id)
        now = believe(device, log, donors=donors, measuring=measuring(store, one.id))
    else:
        key = (one.map_hash, tuple(sorted(log.state.past)))
        if key not in untouched:
            untouched[key] = believe(device, log)
        now = untouched[key]
    return OnBench(one.id, one.donor, device, log, now, _terms(device, log, settings, sells), donors)


def _terms(device: Device, log: Replay, settings: BenchSettings, sells: Market) -> Terms:
    """What each way out brings: as a line of the unit says, else as buyers pay, else as the map says."""
    paid: dict[str, Money] = {
        one.how: one.price for one in sells.demands if one.map == device.id and one.how and one.price
    }
    return terms(
        device,
        hour=settings.rate_floor.major,
        fee_share=settings.fee_share,
        carriage=settings.carriage.major,
        return_share=settings.return_share,
        lacks=settings.lacks,
        prices={**paid, **log.state.prices},
    )
