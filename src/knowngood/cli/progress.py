"""Shows how far long work has come, on standard error."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TypeVar

T = TypeVar("T")


def counted(items: Iterable[T], total: int) -> Iterator[T]:
    """The items, with a bar that moves as each arrives; without a terminal a line for every tenth of the way."""
    from rich.console import Console
    from rich.progress import Progress

    out = Console(stderr=True)
    if out.is_terminal:
        with Progress(console=out) as bar:
            yield from bar.track(items, total=total, description="units")
        return
    for number, item in enumerate(items, start=1):
        yield item
        if number == total or number * 10 // total > (number - 1) * 10 // total:
            out.print(f"{number} of {total} units")
