"""Everything that can be asked about a unit, each by one function: the log, the map and the bench in, an answer out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from knowngood.belief.believe import Belief
from knowngood.belief.sensing import Measuring
from knowngood.belief.verdict import Verdict, verdicts
from knowngood.bench.donors import belief as belief_now
from knowngood.bench.donors import donor_priors
from knowngood.bench.references import measuring
from knowngood.bench.stock import stock
from knowngood.bench.store import Store
from knowngood.bench.work import bench_settings, replayed
from knowngood.errors import LineError
from knowngood.handbook.quantities import Money
from knowngood.log import events as ev
from knowngood.log.state import Flag
from knowngood.maps.device import Device
from knowngood.maps.shape import nearest, similar
from knowngood.maps.words import PASTS
from knowngood.money.ledger import Ledger, ledger
from knowngood.plan.choose import Advice, advise
from knowngood.plan.policies import POLICIES
from knowngood.plan.terms import InStock, Terms, terms
from knowngood.proof.known import Proof, proof


def belief_of(store: Store, unit: str) -> tuple[Belief, tuple[Flag, ...]]:
    """What is probably wrong, and the lines of the log that no longer fit."""
    _, log = replayed(store, unit)
    return belief_now(store, unit), log.flags


def readings_of(
    store: Store, unit: str, seqs: Iterable[int] | None = None, *, by: Measuring | None = None
) -> tuple[Verdict, ...]:
    """What the last reading of each test says by itself; with ``seqs`` what the readings in these lines say.

    ``by`` is what they are judged by, where a belief has it already.
    """
    device, log = replayed(store, unit)
    lines = log.lines if seqs is None else [line for line in log.lines if line.seq in set(seqs)]
    if not any(isinstance(line.event, ev.Read) for line in lines):
        return ()
    return verdicts(device, lines, measuring=by or measuring(store, unit), repeats=seqs is not None)


def advice_for(store: Store, unit: str) -> tuple[Advice, str]:
    """What to do next, and the currency its figures are in. Raises LineError for a unit that has left the bench."""
    device, log = replayed(store, unit)
    if log.state.exit:
        left = {"working": "was sold as working", "as-is": "was sold as it is", "parts": "was parted out"}
        name = store.unit_id(unit)
        raise LineError(f"{name} {left[log.state.exit]}: no move is left. If that is wrong: knowngood undo {name}")
    bench = terms_for(store, device, but_not=store.unit_id(unit), prices=log.state.prices)
    found = advise(device, log, bench, donors=donor_priors(store, unit), measuring=measuring(store, unit))
    return found, bench.currency


def ledger_of(store: Store, unit: str) -> tuple[Ledger, int]:
    """The unit's money and time, and the line up to which they go."""
    device, log = replayed(store, unit)
    bought = [booking.amount.currency for booking in log.state.bookings[:1]]
    return ledger(log.state, bought[0] if bought else device.worth.working.currency), log.seq


def proof_of(store: Store, unit: str) -> tuple[Proof, int]:
    """How near the unit is to known good, and the line up to which that goes."""
    _, log = replayed(store, unit)
    return proof(belief_now(store, unit), log.state), log.seq


def terms_for(store: Store, device: Device, *, but_not: str = "", prices: Mapping[str, Money] | None = None) -> Terms:
    """The bench's rates and shelf for a device, and ``prices`` of the ways out over the map's.

    Parts on the shelf that came out of unit ``but_not`` are left out.
    """
    settings = bench_settings(store)
    shelf: dict[str, InStock] = {}
    for one in stock(store):
        # A part fits where the same map names it; which revisions interchange is for a later issue of the map.
        if one.map_name == device.id and one.unit != but_not and one.part in device.parts:
            forgone = device.parts[one.part].price.donor
            shelf.setdefault(one.part, InStock(one.unit, forgone.major if forgone else 0.0))
    return terms(
        device,
        hour=settings.rate_floor.major,
        fee_share=settings.fee_share,
        carriage=settings.carriage.major,
        return_share=settings.return_share,
        stock=shelf,
        prices=prices,
    )


def known_pasts(words: Iterable[str]) -> tuple[str, ...]:
    """Pasts as typed. Raises LineError that names the nearest."""
    given = tuple(dict.fromkeys(words))
    for word in given:
        if word not in PASTS:
            raise LineError(f"No past '{word}'. {similar(word, PASTS)}", nearest(word, PASTS))
    return given


def known_policies(names: Iterable[str]) -> tuple[str, ...]:
    """Policies as typed, all of them if none is named. Raises LineError that names the nearest."""
    given = tuple(dict.fromkeys(names)) or tuple(POLICIES)
    for name in given:
        if name not in POLICIES:
            raise LineError(f"No policy '{name}'. {similar(name, POLICIES)}", nearest(name, POLICIES))
    return given
