"""What can be said of a unit to its buyers: its grade, its listing, its report. The log has it all."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from knowngood.bench import loose
from knowngood.bench.donors import belief
from knowngood.bench.release import safety_test_of
from knowngood.bench.store import Store
from knowngood.bench.work import log_lines, replayed
from knowngood.log import events as ev
from knowngood.log.events.intake import SERIAL
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
        return tuple(line.event.serial for line in self.told.lines if isinstance(line.event, ev.Recorded))

    def photos(self, lines: Iterable[int], *, buyer: bool) -> tuple[str, ...]:
        """Files of the photos of what these lines are about, the oldest first; for buyers none of a serial number."""
        by_line = {line.seq: line.event for line in self.told.lines}
        about = {target for seq in lines if (target := _about(by_line[seq])) is not None}
        shown = [one for _, one in self.told.state.intake.photos if not (buyer and one.target == SERIAL)]
        return tuple(one.file for one in shown if one.target in about)


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


def _about(event: ev.Event) -> str | None:
    """What a line is about, as a photo names it."""
    match event:
        case ev.Saw(part=part) | ev.Mended(part=part) | ev.Fitted(part=part) | ev.Harvested(part=part):
            return part
        case ev.Tried(test=test) | ev.Found(test=test) | ev.Read(test=test):
            return test
        case ev.Opened(step=step):
            return step
        case ev.Declared(function=function):
            return function
        case ev.Recorded():
            return SERIAL
        case ev.Bought() | ev.Offered():
            return ev.UNIT
        case _:
            return None


def listed(store: Store, unit: str, price: str) -> Line:
    """Logs that a unit is listed at a price. Raises LineError, QuantityError."""
    return log_lines(store, unit, [f"listed at {price}"])[0]
