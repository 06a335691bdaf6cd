"""Whether a unit is proved, what is still to pass, what comes back, and what goes into its listing."""

from __future__ import annotations

from dataclasses import dataclass

from knowngood.belief.believe import Belief, believe
from knowngood.belief.cases import Effort
from knowngood.bench.donors import donor_priors
from knowngood.bench.questions import terms_for
from knowngood.bench.record import OwnRecord, own_record
from knowngood.bench.references import measuring
from knowngood.bench.store import Store, utc_now
from knowngood.bench.work import bench_settings, replayed
from knowngood.log.state import as_of
from knowngood.maps.device import Device
from knowngood.proof.acceptance import Acceptance, acceptance
from knowngood.proof.known import Proof, proof
from knowngood.proof.returns import (
    Extra,
    Intermittent,
    Reserve,
    Warranty,
    extras,
    left_intermittent,
    reserve,
    soaks,
)


@dataclass(frozen=True)
class Proving:
    """The answer of ``knowngood proof``."""

    device: Device
    belief: Belief
    now: Proof
    todo: Acceptance
    warranty: Warranty
    reserve: Reserve
    record: OwnRecord
    """What came back of units of this map that were sold before."""
    left: tuple[Intermittent, ...]
    """Faults that come and go and may be left once all passed."""
    extras: tuple[Extra, ...]
    currency: str
    log_seq: int


def proof_of(store: Store, unit: str) -> Proving:
    """How near a unit is to proved. Raises what ``believe`` raises."""
    device, log = replayed(store, unit)
    told, name = as_of(log, utc_now()), store.unit_id(unit)
    terms = terms_for(store, device, but_not=name, log=log)
    donors, judged_by, settings = donor_priors(store, unit), measuring(store, unit), bench_settings(store)
    belief = believe(device, told, donors=donors, measuring=judged_by, effort=Effort.BOUNDS)
    asked = soaks(device, told.state.declared)
    todo = acceptance(belief, told, terms, donors=donors, measuring=judged_by, asked=asked)
    as_is = told.state.prices.get("as-is", device.worth.as_is).major
    warranty = Warranty(
        settings.warranty, settings.carriage.major, settings.rate_floor.major, max(0.0, terms.price - as_is)
    )
    return Proving(
        device,
        belief,
        proof(belief, told.state),
        todo,
        warranty,
        reserve(todo.known_good_after, warranty),
        own_record(store, device.id, settings.warranty),
        left_intermittent(todo.later),
        extras(todo.later, todo.later.story.state, terms, warranty),
        terms.currency,
        log.seq,
    )
