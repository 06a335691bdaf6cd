"""A small unit with all that a proof has to show: things touched, closed, warm, that come and go, that mask."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from small import device, found, part, remedy, step, tried, wanted

from knowngood.maps.device import AnyMode, Device, Function, Mode, Part
from knowngood.maps.words import Level

LOOSE = Mode("unseated", "unseated", 0.6, Level.NONE, seating=True, by_touch=0.03)
FLAKY = Mode("poor-contact", "poor contact", 0.4, Level.NONE, shows=6.0)


def plug(name: str, **changes: Any) -> Part:
    """A connection that may be left unseated, or come and go."""
    return replace(part(name), modes=(LOOSE, FLAKY), joins=("board", "supply"), **changes)


def conditional(name: str, when: str) -> Part:
    """A part whose one fault shows only closed, or warm, or cold."""
    return replace(part(name), modes=(Mode("off", "off", 1.0, Level.NONE, when=when),))


def works(name: str, *needs: str) -> Function:
    return replace(wanted(name, *needs), wanted=name != "powers")


UNIT: Device = device(
    [
        part("supply", remedy("resolder"), base=0.2),
        part("board", base=0.1),
        conditional("paste", "warm"),
        conditional("grille", "closed"),
        plug("lead", base=0.05),
        plug("inner-plug", base=0.02, behind="shield"),
    ],
    [
        works("powers", "supply", "lead"),
        works("runs", "powers", "board", "paste", "grille"),
        works("sound", "powers"),
        works("lamp", "inner-plug"),
    ],
    [
        tried("powers", minutes=1.0),
        tried("runs", minutes=4.0, warm=True, closed=True, runs=15.0),
        tried("sound", minutes=1.0, miss=0.2),
        tried("lamp", minutes=2.0),
        found("lead-look", AnyMode((("lead", ("unseated",)),)), minutes=0.5, behind="lid"),
        found("board-test", "board", minutes=3.0),
    ],
    [step("lid", 2.0, 1.0), step("shield", 3.0, 2.0, "lid", unplugs=("inner-plug",))],
)
