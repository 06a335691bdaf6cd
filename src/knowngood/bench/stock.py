"""What lies on the shelf now, and where the parts of some units came from, with no more logs read than bear on that."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

from knowngood.bench import gists
from knowngood.bench.passages import Left, Log, Moves, StockPart, joined, passages
from knowngood.bench.store import Store
from knowngood.errors import LineError
from knowngood.log.remembered import replay


class Logs(dict[str, Log]):
    """The devices and logs of units, each read when it is first asked for; those that are given stand for the stored
    ones."""

    def __init__(self, store: Store, given: Mapping[str, Log] | None = None) -> None:
        super().__init__(given or {})
        self._store = store

    def __missing__(self, unit: str) -> Log:
        log = self[unit] = (self._store.device(unit), self._store.lines(unit))
        return log

    def read(self, units: Iterable[str]) -> None:
        """Reads the logs of some units in one go, if they can be read; of another that is said when it is asked for."""
        wanted = sorted({*units} - self.keys())
        logs = self._store.logs(wanted)
        for unit, device in self._store.devices(wanted).items():
            lines = logs[unit]
            if device is not None and not isinstance(lines, LineError):
                self[unit] = (device, lines)


def stock(store: Store) -> list[StockPart]:
    """The parts on the shelf: harvested, and in no unit now."""
    return list(joined(gists.lying(store)).shelf)


def lying(store: Store, units: Collection[str]) -> list[StockPart]:
    """Those of them that came out of some units."""
    return [one for one in moves_about(store, units, shelf=False).shelf if one.unit in units]


def moves_about(
    store: Store, units: Iterable[str] = (), *, shelf: bool = True, given: Mapping[str, Log] | None = None
) -> Moves:
    """How the parts of some units moved, and with ``shelf`` those that lie there; with all that these parts and units
    came from. Logs that are ``given`` stand for the stored ones."""
    replayed = ((unit, device, replay(device, lines)) for unit, (device, lines) in (given or {}).items())
    instead = {unit: list(passages(unit, device, told)) for unit, device, told in replayed}
    others = {one.came.unit if isinstance(one, Left) else one.source for own in instead.values() for one in own}
    begin = {*units, *instead, *others, *(gists.on_shelf(store) if shelf else ())}
    stored = [one for unit, one in gists.passages_about(store, begin) if unit not in instead]
    return joined([*stored, *(one for own in instead.values() for one in own)])
