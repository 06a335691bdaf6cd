"""What is asked about a film of the work on a unit: its chapters, what is not to be published, suspects over time."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from knowngood.belief.believe import believe
from knowngood.bench.donors import NOTHING_FOUND, donor_priors
from knowngood.bench.references import measuring
from knowngood.bench.store import Store
from knowngood.bench.work import replayed
from knowngood.errors import ContradictionError, TooLargeError
from knowngood.log.film import Alignment, Chapter, Hidden, alignment, chapters, ends, hidden, spans
from knowngood.log.state import Line, replay


@dataclass(frozen=True)
class Filmed:
    """A film by the log of a unit."""

    aligned: Alignment
    end: float
    """Where it ends, s."""
    chapters: tuple[Chapter, ...]
    hidden: tuple[Hidden, ...]


@dataclass(frozen=True)
class Suspected:
    """What was suspected after a line: by part the chance that it stops something promised; None where the lines up to
    there cannot all be true, or are too many to be told exactly."""

    line: Line
    known_good: float | None
    suspects: dict[str, float] | None


def filmed(store: Store, unit: str, film: str | None, length: float | None) -> Filmed:
    """A film of a unit; ``length`` in s, if it is known. Raises LineError that says which mark is missing or wrong."""
    device, told = replayed(store, unit)
    aligned = alignment(told, film)
    done = spans(device, told)
    end = ends(aligned, done, length)
    return Filmed(aligned, end, chapters(device, aligned, done, end), hidden(told, aligned, done, end))


def suspected(store: Store, unit: str) -> Iterator[Suspected]:
    """What was suspected at first, and after each line that may have changed it, with all that is known now of donors
    and of the meter."""
    device, told = replayed(store, unit)
    donors, by = donor_priors(store, unit), measuring(store, unit)
    for number, line in enumerate(told.lines, start=1):
        if number > 1 and isinstance(line.event, NOTHING_FOUND):
            continue
        try:
            then = believe(device, replay(device, told.lines[:number]), donors=donors, measuring=by)
            chances = {one.part: one.p_blocks for one in then.suspects}
            yield Suspected(line, then.known_good, chances)
        except (ContradictionError, TooLargeError):
            yield Suspected(line, None, None)
