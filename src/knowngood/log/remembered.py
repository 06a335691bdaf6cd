"""Replays that were made before: of the same log none is made twice, and of one that went on only what came is gone
through.

A replay is a function of the map and the lines. It is looked up by all of them, so whoever asks, from whichever thread,
gets what ``state.replay`` would make now.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterable
from threading import Lock

from knowngood.log import events as ev
from knowngood.log.state import Course, Line, Replay, gone_on, gone_through
from knowngood.maps.device import Device

MOST_LINES = 20_000
"""Lines of all logs that are remembered; a line with its state takes some kilobytes at most."""

FURTHER = 6
"""By so many lines at most a log may have gone on for its replay to be gone on with."""

Key = tuple[int, tuple[Line, ...]]


class Replays:
    """The replays that one process remembers, those asked for last."""

    def __init__(self) -> None:
        self._kept: OrderedDict[Key, tuple[Device, Course]] = OrderedDict()
        """With the device, so that no other one gets its id meanwhile."""
        self._lines = 0
        self._lock = Lock()

    def of(self, device: Device, lines: Iterable[Line]) -> Replay:
        """The replay of a log."""
        given = tuple(lines)
        found = self._known(device, given)
        if found is None:
            found = self._gone_on(device, given) or gone_through(device, given)
            self._keep(device, given, found)
        return found.told

    def _known(self, device: Device, given: tuple[Line, ...]) -> Course | None:
        key = (id(device), given)
        with self._lock:
            if key not in self._kept:
                return None
            self._kept.move_to_end(key)
            return self._kept[key][1]

    def _gone_on(self, device: Device, given: tuple[Line, ...]) -> Course | None:
        for count in range(1, min(FURTHER, len(given) - 1) + 1):
            if isinstance(given[-count].event, (ev.Undid, ev.Redid)):
                return None
            known = self._known(device, given[:-count])
            if known is not None:
                return gone_on(device, known, given[-count:])
        return None

    def _keep(self, device: Device, given: tuple[Line, ...], course: Course) -> None:
        with self._lock:
            if (id(device), given) not in self._kept:
                self._kept[id(device), given] = device, course
                self._lines += len(given)
            while self._lines > MOST_LINES:
                (_, lines), _ = self._kept.popitem(last=False)
                self._lines -= len(lines)


REPLAYS = Replays()


def replay(device: Device, lines: Iterable[Line]) -> Replay:
    """What ``state.replay`` makes of a log, remembered. For logs as they are stored, and with the lines that may come
    next: thousands that are only drawn would drive them out."""
    return REPLAYS.of(device, lines)
