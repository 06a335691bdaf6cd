"""The testers of the bench, each by a line of the bench's own log: ``instrument fluxa calibrated 2026-03-01 ...``."""

from __future__ import annotations

import re
from collections.abc import Iterable
from contextlib import suppress
from datetime import date

from knowngood.bench.store import BenchEntry, Store
from knowngood.errors import LineError, QuantityError
from knowngood.handbook.quantities import parse_share
from knowngood.log.events.line import NAME
from knowngood.proof.safety_test import Instrument

EVERY = 12
"""Months from one calibration to the next, if no other figure is given (common practice, no source)."""

WIDEST = 0.5
"""The largest uncertainty that the handbook's limits can be guarded by, as a share of the reading."""

_LINE = re.compile(rf"instrument ({NAME}) calibrated (\S+) uncertainty (.+?) every (\d+) months")


def line(name: str, calibrated: str, uncertainty: str, months: int = EVERY) -> str:
    """The line that says so, in its canonical form. Raises LineError."""
    word = "-".join(name.lower().split())
    if not re.fullmatch(NAME, word):
        raise LineError(f"'{name}' is no name of an instrument: letters, digits, hyphens. For example: fluxa")
    day = None
    with suppress(ValueError):
        day = date.fromisoformat(calibrated)
    if day is None or day.isoformat() != calibrated:
        raise LineError(f"{calibrated!r} is not a day. Write it as 2026-03-01.")
    try:
        share = parse_share(uncertainty)
    except QuantityError as error:
        raise LineError(f"The uncertainty of {word}: {error} Write its share of the reading, as '5 %'.") from None
    if share > WIDEST:
        raise LineError(f"An uncertainty of {100 * share:g} % of the reading can show nothing to pass. At most 50 %.")
    if not 1 <= months <= 120:
        raise LineError(f"Every {months} months: from one calibration to the next are 1 to 120.")
    return f"instrument {word} calibrated {day.isoformat()} uncertainty {100 * share:.10g} % every {months} months"


def read(entries: Iterable[BenchEntry]) -> tuple[Instrument, ...]:
    """Every line about an instrument, oldest first. One of a newer version that is written otherwise is left out."""
    found = (_LINE.fullmatch(one.text) for one in entries)
    return tuple(
        Instrument(one[1], date.fromisoformat(one[2]), parse_share(one[3]), int(one[4])) for one in found if one
    )


def instruments(store: Store) -> tuple[Instrument, ...]:
    """What the bench's log says of its testers."""
    return read(store.bench_lines())


def add(store: Store, name: str, calibrated: str, uncertainty: str, months: int = EVERY) -> BenchEntry:
    """Stores that an instrument was calibrated. Raises LineError."""
    return store.bench_append(line(name, calibrated, uncertainty, months))
