"""The photos that a report shows: before beside after, then the others that its claims name, each as a copy."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from knowngood.bench import photos
from knowngood.bench.account import Account
from knowngood.bench.copies import COPIES, NoCopyError
from knowngood.bench.store import Store
from knowngood.log import events as ev
from knowngood.log.events.intake import SERIAL
from knowngood.log.intake import before_and_after

MOST = 24
"""Photos in a report (own judgement: what somebody still looks at)."""

LONGEST = 1000
"""Pixels of the longer side: some 12 for each millimetre of paper, more than an eye tells apart at arm's length."""


@dataclass(frozen=True)
class Pictured:
    """A photo in a report."""

    seq: int
    photo: ev.Photographed
    copy: bytes
    """A JPEG, upright, without place or camera; empty if there is none."""
    trouble: str
    """Why there is none."""


def pictured(store: Store, found: Account, named: Iterable[str], *, buyer: bool) -> tuple[Pictured, ...]:
    """The photos for a report whose claims name these files; for buyers none of a serial number."""
    lines = {one.file: seq for seq, one in found.told.state.intake.photos}
    shown = [one for _, one in found.told.state.intake.photos if not (buyer and one.target == SERIAL)]
    wanted = set(named)
    order = [
        *(one for both in before_and_after(shown) for one in both),
        *(one for one in shown if one.file in wanted),
        *(one for one in shown if one.when),
    ]
    chosen = list({one.file: one for one in order}.values())[:MOST]
    return tuple(Pictured(lines[one.file], one, *_copy(store, found.unit, one)) for one in chosen)


def _copy(store: Store, unit: str, photo: ev.Photographed) -> tuple[bytes, str]:
    file = photos.folder(store, unit) / photo.file
    try:
        return COPIES.of(file, LONGEST).content, ""
    except NoCopyError:
        return b"", "is not stored here any more" if not file.is_file() else "cannot be shown by this installation"
