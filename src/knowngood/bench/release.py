"""What is asked about a unit that is to leave: its safety test, and whether it may go."""

from __future__ import annotations

from collections.abc import Iterable
from typing import cast

from knowngood.bench.donors import belief
from knowngood.bench.instruments import instruments
from knowngood.bench.store import Store
from knowngood.bench.work import bench_settings, replayed
from knowngood.errors import KnowngoodError, LineError
from knowngood.log import events as ev
from knowngood.log.events.release import RuleSet
from knowngood.log.misfit import LEFT_WHOLE
from knowngood.log.state import Line, State
from knowngood.maps.shape import similar
from knowngood.proof.known import Proof, proof
from knowngood.proof.release import How, Release, release
from knowngood.proof.safety_test import ORDER, SafetyTest, safety_test


def safety_test_of(store: Store, unit: str, edition: str | None = None) -> tuple[SafetyTest, int]:
    """The safety test of a unit and its last line; by the rules of its last reading, else by the bench's own.

    Raises NotFoundError for the unit, LineError for the rules.
    """
    device, told = replayed(store, unit)
    wanted = edition.lower() if edition else None
    if wanted is not None and wanted not in ORDER:
        raise LineError(f"No rules '{edition}' here. {similar(wanted, ORDER)}")
    found = safety_test(device, told, instruments(store), wanted)
    own = bench_settings(store).safety_rules
    if found.rules is None and own != "none":
        found = safety_test(device, told, instruments(store), cast("RuleSet", own))
    return found, told.seq


def release_of(store: Store, unit: str, how: How) -> tuple[Release, SafetyTest, int]:
    """Whether a unit may go. Raises NotFoundError, and LineError for one that has left already."""
    device, told = replayed(store, unit)
    if told.state.exit in (*LEFT_WHOLE, "scrapped"):
        left = "was scrapped" if told.state.exit == "scrapped" else f"was sold {told.state.exit.replace('-', ' ')}"
        raise LineError(f"{store.unit_id(unit)} {left}: there is nothing to release.")
    test = safety_test(device, told, instruments(store))
    return release(device, told, test, _proof(store, unit, told.state), how), test, told.seq


def _proof(store: Store, unit: str, state: State) -> Proof | str:
    try:
        return proof(belief(store, unit), state)
    except KnowngoodError as error:
        return str(error)


def remarks(store: Store, unit: str, added: Iterable[Line]) -> list[str]:
    """What lines of the safety test that were just logged come to, and what comes next."""
    mine = [line for line in added if isinstance(line.event, (ev.Inspected, ev.Measured))]
    if not mine:
        return []
    found, _ = safety_test_of(store, unit)
    readings = {one.seq: one for step in found.steps for one in step.readings}
    said = [f"{readings[one.seq].text}: {readings[one.seq].verdict}" for one in mine if one.seq in readings]
    return [*said, f"Safety test: {found.verdict}: {found.why}."]
