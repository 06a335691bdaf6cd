"""Advice that is there when it is wanted: what was thought out once is remembered, and the likely next lines are
thought out ahead, in a process of their own, while the person is at the bench.

An advice is a function of the unit's lines that hold, of what all other logs say, and of the clock where something
cures or is on order. These make its key, so what is remembered is what would be computed. Nothing of it is stored.
"""

from __future__ import annotations

import os
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, ThreadPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import suppress
from dataclasses import dataclass, field
from multiprocessing import get_context
from pathlib import Path
from threading import Lock

from knowngood.bench import gists, questions
from knowngood.bench.store import Store
from knowngood.cli import advice_answers
from knowngood.cli.advice_shapes import NextAnswer
from knowngood.errors import KnowngoodError, StoreError
from knowngood.log import events as ev
from knowngood.log.lines import understand
from knowngood.log.remembered import replay
from knowngood.log.state import Line, effective
from knowngood.pages.working import give_way

MOST_MOVES = 6
KEPT = 300
AHEAD = 24
"""How many next lines are thought out ahead at most."""

ONLY_TOLD = (
    *(ev.Saw, ev.Tried, ev.Found, ev.Past, ev.Asked, ev.Opened, ev.Closed, ev.Unplugged, ev.Plugged),
    *(ev.Mended, ev.Removed, ev.Discharged, ev.Deferred, ev.Resumed),
)
"""Lines whose advice the bench can give before they are logged: they move no part between units, and as long as
nothing cures afterwards they start no clock."""

STARTS_A_CLOCK = (ev.Mended, ev.Fitted, ev.Dried, ev.Ordered)
"""Lines after which something cures or is on its way, so that the advice rests on the time, too."""

Key = tuple[object, ...]


@dataclass(frozen=True)
class Thought:
    """An advice, or why there is none."""

    answer: NextAnswer | None
    trouble: str = ""
    blocks: Mapping[str, float] = field(default_factory=dict)
    """By part: the chance that it has a fault that stops something promised."""


def think(store: Store, unit: str, after: Sequence[str] = ()) -> Thought:
    """The advice as the terminal gives it, computed now."""
    try:
        found, standing, currency = questions.advice_for(store, unit, after)
    except KnowngoodError as error:
        return Thought(None, str(error))
    answer = advice_answers.advice(store.unit_id(unit), found, standing, currency, MOST_MOVES)
    return Thought(answer, blocks={one.part: one.p_blocks for one in found.belief.suspects})


class Memory:
    """The thoughts of one process."""

    def __init__(self) -> None:
        self._kept: OrderedDict[Key, Thought] = OrderedDict()
        self._coming: dict[Key, Future[Thought]] = {}
        self._lock = Lock()
        self._locks: dict[str, Lock] = {}
        self._pool: ProcessPoolExecutor | None = None
        self._planning = ThreadPoolExecutor(1, "ahead")
        self.only_when_asked = False
        """Nothing is thought out ahead: for a machine that has other work to do."""

    def now(self, store: Store, unit: str) -> Thought:
        """The advice for a unit as its log stands."""
        name = store.unit_id(unit)
        with self._lock:
            own = self._locks.setdefault(name, Lock())
        with own:
            key = _key(store, name, ())
            known = self._remembered(key)
            if known is None:
                known = think(store, name)
                if _key(store, name, ()) == key:  # else a line came meanwhile, and it may be taken back again
                    self._keep(key, known)
            return known

    def known(self, store: Store, unit: str) -> Thought | None:
        """The same if it is there without thinking."""
        key = _key(store, store.unit_id(unit), ())
        with self._lock:
            return self._kept.get(key)

    def begin(self, store: Store) -> None:
        """Starts the process that thinks ahead, so that it is ready by the first page."""
        with self._lock:
            if self._pool is None:
                self._pool = ProcessPoolExecutor(1, get_context("spawn"), _open_home, (store.home,))
                self._pool.submit(os.getpid)

    def ahead(self, store: Store, unit: str, ways: Sequence[Sequence[str]]) -> None:
        """Begins to think out what the advice is after each of these lines, the likeliest first. Returns at once."""
        if self.only_when_asked:
            return
        self._planning.submit(self._plan, store, store.unit_id(unit), [tuple(way) for way in ways[:AHEAD]])

    def _plan(self, store: Store, unit: str, ways: Sequence[tuple[str, ...]]) -> None:
        with self._lock:
            for key, future in list(self._coming.items()):
                if future.cancel() or future.done():
                    self._settle(key, future)
        try:
            stand = _Stand(store, unit)
            for way in ways:
                self._submit(stand.key(way), unit, way, store)
        except (KnowngoodError, BrokenProcessPool):  # a line that does not fit any more, a process that was ended
            with self._lock:
                self._pool = None
        finally:
            store.close()

    def _submit(self, key: Key, unit: str, way: tuple[str, ...], store: Store) -> None:
        self.begin(store)
        with self._lock:
            if key and key not in self._kept and key not in self._coming and self._pool is not None:
                self._coming[key] = self._pool.submit(_think_there, unit, way, key)

    def stop(self) -> None:
        """Ends the process that thinks ahead."""
        self._planning.shutdown(wait=False, cancel_futures=True)
        with self._lock:
            if self._pool is not None:
                self._pool.shutdown(wait=False, cancel_futures=True)
                self._pool = None

    def _remembered(self, key: Key) -> Thought | None:
        with self._lock:
            if key in self._kept:
                return self._kept[key]
            future = self._coming.get(key)
        if future is None or future.cancelled():
            return None
        if not (future.running() or future.done()):
            return None  # it has not begun: as quick to do it here
        try:
            found = future.result()
        except Exception:
            return None  # the other process is gone; what it would have said is computed here
        self._keep(key, found)
        return found

    def _keep(self, key: Key, thought: Thought) -> None:
        with self._lock:
            self._coming.pop(key, None)
            self._kept[key] = thought
            while len(self._kept) > KEPT:
                self._kept.popitem(last=False)

    def _settle(self, key: Key, future: Future[Thought]) -> None:
        del self._coming[key]
        if not future.cancelled() and future.exception() is None:
            self._kept[key] = future.result()


MEMORY = Memory()
"""What the server of this process has thought out."""


def _key(store: Store, unit: str, after: Sequence[str]) -> Key:
    """What an advice rests on; empty for lines whose advice has to wait until they are logged."""
    return _Stand(store, unit).key(after)


class _Stand:
    """All that the advice for a unit rests on at one moment, and would rest on after more lines."""

    def __init__(self, store: Store, unit: str) -> None:
        self._unit, self._now = unit, store.now()
        self._others = store.others_stand(unit)
        self._lines = store.lines(unit)
        self._held = effective(self._lines)[0]
        self._said = tuple((line.seq, ev.render(line.event)) for line in self._held)
        self._device = store.device(unit)

    def key(self, after: Sequence[str] = ()) -> Key:
        """As ``_key`` gives it. Raises LineError for a line that is not understood."""
        lines, said, clock = list(self._lines), self._said, ""
        if after or any(isinstance(line.event, STARTS_A_CLOCK) for line in self._held):
            state = replay(self._device, lines).state
            if state.curing or state.incoming.ordered:
                clock = self._now[:16]
        for text in after:
            event = understand(self._device, state, text)
            if clock or not isinstance(event, ONLY_TOLD):
                return ()
            seq = lines[-1].seq + 1
            lines.append(Line(seq, self._now, event))
            said = (*said, (seq, ev.render(event)))
            state = replay(self._device, lines).state
            if state.curing:
                return ()
        return self._unit, self._others, said, clock


_there: Store | None = None


def _open_home(home: Path | None) -> None:
    """Readies the process that thinks ahead."""
    global _there
    give_way()
    _there = Store(home)
    with suppress(KnowngoodError):
        gists.up_to_date(_there)  # the first time, thousands of logs may have to be read off


def _think_there(unit: str, after: tuple[str, ...], key: Key) -> Thought:
    """Run in that process. Raises StoreError if the logs went on meanwhile, as it would be about something else."""
    assert _there is not None
    found = think(_there, unit, after)
    if _key(_there, unit, after) != key:
        raise StoreError("The log went on meanwhile.")
    return found
