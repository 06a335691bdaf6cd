"""Shows how far long work has come, on standard error."""

from __future__ import annotations

import signal
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from threading import Event
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from knowngood.money.shelf.solve import Progress as Nearer

T = TypeVar("T")


def counted(items: Iterable[T], total: int, what: str = "units") -> Iterator[T]:
    """The items, with a bar that moves as each arrives; without a terminal a line for every tenth of the way."""
    from rich.console import Console
    from rich.progress import Progress

    out = Console(stderr=True)
    if out.is_terminal:
        with Progress(console=out) as bar:
            yield from bar.track(items, total=total, description=what)
        return
    for number, item in enumerate(items, start=1):
        yield item
        if number == total or number * 10 // total > (number - 1) * 10 // total:
            out.print(f"{number} of {total} {what}")


@contextmanager
def thought_through(what: str = "units") -> Iterator[Callable[[int, int], None]]:
    """Takes how many of how many are thought through; without a terminal says only the first and the last."""
    from rich.console import Console
    from rich.progress import Progress

    out = Console(stderr=True)
    if out.is_terminal:
        with Progress(console=out, transient=True) as bar:
            task = bar.add_task(what, total=None)
            yield lambda done, of: bar.update(task, completed=done, total=of)
    else:
        yield lambda done, of: out.print(f"{done} of {of} {what}") if done == of else None


@contextmanager
def ctrl_c() -> Iterator[Event]:
    """What Ctrl-C sets, in place of ending the command; a second one ends it all the same."""
    stop = Event()

    def pressed(*_: object) -> None:
        if stop.is_set():
            raise KeyboardInterrupt
        stop.set()

    before = signal.signal(signal.SIGINT, pressed)
    try:
        yield stop
    finally:
        signal.signal(signal.SIGINT, before)


@contextmanager
def nearer() -> Iterator[Callable[[Nearer], None]]:
    """Takes how near a search for the best plan has come, and says so at most once a second."""
    from rich.console import Console

    from knowngood.money.shelf.solve import gap

    out = Console(stderr=True)
    said = [0.0]

    def tell(now: Nearer) -> None:
        if now.seconds - said[0] >= 1.0:
            said[0] = now.seconds
            best = (
                "no plan yet" if now.worth is None else f"within {100.0 * gap(now.worth, now.bound):.2g} % of the best"
            )
            out.print(f"{now.seconds:.0f} s: {best}. Ctrl-C stops here.")

    yield tell
