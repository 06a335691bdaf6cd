"""What can be said of a unit to its buyers: its grade, its listing, its report. The log has it all."""

from __future__ import annotations

from dataclasses import dataclass

from knowngood.bench import loose
from knowngood.bench.donors import belief
from knowngood.bench.release import safety_test_of
from knowngood.bench.store import Store
from knowngood.bench.work import log_lines, replayed
from knowngood.log.state import Line, Replay
from knowngood.maps.device import Device
from knowngood.proof.account import Claim, account
from knowngood.proof.grade import Graded, grade
from knowngood.proof.standing import standing


@dataclass(frozen=True)
class Account:
    """A unit as its log lets it be described."""

    unit: str
    device: Device
    told: Replay
    claims: tuple[Claim, ...]
    graded: Graded

    @property
    def serials(self) -> tuple[str, ...]:
        """Every serial number that the log holds."""
        return tuple(one for line in self.told.lines if (one := getattr(line.event, "serial", None)))


def account_of(store: Store, unit: str) -> Account:
    """The account of a unit. Raises what ``believe`` raises: of a log that cannot be true nothing is claimed."""
    device, told = replayed(store, unit)
    now = belief(store, unit)
    stands = standing(now, told)
    test, _ = safety_test_of(store, unit)
    lots = {name: lot.part.text() for name, lot in loose.lots(store).items()}
    return Account(
        store.unit_id(unit),
        device,
        told,
        account(device, told, stands, test, lots, now.wanted),
        grade(device, told, stands, test, now.wanted),
    )


def listed(store: Store, unit: str, price: str) -> Line:
    """Logs that a unit is listed at a price. Raises LineError, QuantityError."""
    return log_lines(store, unit, [f"listed at {price}"])[0]
