"""Long work in a process of its own, so that no page waits for it: what it says so far is there at every moment.

A work is begun once for its key (what is asked and what the logs were then) and kept until the same question is asked
anew with other logs. It is ended after ``LIMIT``; what it had said by then stays.
"""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Callable
from dataclasses import dataclass
from multiprocessing import get_context, parent_process
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path
from threading import Lock, Thread
from typing import Any

from knowngood.bench.store import Store
from knowngood.errors import KnowngoodError

LIMIT = 180.0
"""Seconds after which a work is ended."""

Tell = Callable[[str, Any], None]
"""Takes a sentence on how far it has come, and what is known so far (None for nothing)."""
Do = Callable[..., None]
"""A function of a module: takes the store, ``Tell`` and its arguments; the last it tells is the answer."""


@dataclass
class Work:
    """How far a work has come."""

    key: tuple[object, ...]
    said: str = "It has begun."
    answer: Any = None
    trouble: str = ""
    over: bool = False
    cut: bool = False
    """Whether the limit ended it."""
    process: BaseProcess | None = None


class Works:
    """The works of this server, the last of each name."""

    def __init__(self) -> None:
        self._works: dict[str, Work] = {}
        self._lock = Lock()

    def at(self, name: str, key: tuple[object, ...], store: Store, do: Do, *given: object) -> Work:
        """The work of a name, begun now if it is not there or was about something else."""
        with self._lock:
            work = self._works.get(name)
            if work is None or work.key != key:
                if work is not None and work.process is not None:
                    work.process.terminate()
                work = self._works[name] = self._begun(key, store.home, do, given)
            return work

    def known(self, name: str) -> Work | None:
        """The last work of a name."""
        with self._lock:
            return self._works.get(name)

    def forget(self, name: str) -> None:
        """Ends a work, so that the next question begins it anew."""
        with self._lock:
            work = self._works.pop(name, None)
        if work is not None and work.process is not None:
            work.process.terminate()

    def stop(self) -> None:
        """Ends all of them."""
        for name in list(self._works):
            self.forget(name)

    def _begun(self, key: tuple[object, ...], home: Path, do: Do, given: tuple[object, ...]) -> Work:
        context = get_context("spawn")
        here, there = context.Pipe(duplex=False)
        process = context.Process(target=_there, args=(home, there, do, given), daemon=True)
        work = Work(key, process=process)
        process.start()
        there.close()
        Thread(target=_follow, args=(work, here, process), daemon=True).start()
        return work


WORKS = Works()
"""What the server of this process has under way."""


def _follow(work: Work, here: Connection, process: BaseProcess) -> None:
    """Takes what the process says until it is done, or its time is over."""
    ends = time.monotonic() + LIMIT
    try:
        while here.poll(max(0.0, ends - time.monotonic())):
            said, answer, trouble = here.recv()
            work.said, work.trouble = said or work.said, trouble
            work.answer = work.answer if answer is None else answer
        work.cut = True
        process.terminate()
    except (EOFError, OSError):
        pass
    process.join()
    if work.answer is None and not work.trouble:
        work.trouble = "It took too long." if work.cut else "It was ended before there was an answer."
    work.over = True


def _there(home: Path, there: Connection, do: Do, given: tuple[object, ...]) -> None:
    """Run in the process."""
    give_way()
    with Store(home) as store:
        try:
            do(store, lambda said, answer: there.send((said, answer, "")), *given)
        except KnowngoodError as error:
            there.send(("", None, str(error)))


def give_way() -> None:
    """Makes this process one that gives way to the one that began it, leaves Ctrl-C to it, and ends with it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    os.nice(2)
    parent = parent_process()
    if parent is not None:
        Thread(target=_end_with, args=(parent,), daemon=True).start()


def _end_with(parent: BaseProcess) -> None:
    parent.join()
    os._exit(0)
