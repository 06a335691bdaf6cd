"""The timetable in words."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from rich.table import Table
from rich.text import Text

from knowngood.cli.layout import under
from knowngood.handbook.quantities import format_minutes

if TYPE_CHECKING:
    from rich.console import Console

    from knowngood.cli.timetable_shapes import RingShape, StretchShape, TimetableAnswer

WAITS = {"mend": "it cures", "replace": "it cures", "dry": "it dries", "ask": "it waits for the answer,"}
"""What a unit does after a move of a kind, while nobody has a hand on it; after a test it runs."""

A_MOMENT = 0.05
"""Minutes that nobody counts."""


def timetable(out: Console, found: TimetableAnswer) -> None:
    if not any((found.stretches, found.rings, found.rang, found.idle, found.due, found.later, found.troubles)):
        out.print("No unit is on the bench. Book one in: knowngood unit new")
        return
    out.print(Text(f"NOW {clock(found.now, found.now)}, {found.minutes:.0f} min", style="bold"))
    out.print(_strip(found))
    _list(out, "Late: over, and nothing logged since", [_rang(one) for one in found.rang])
    _list(out, "Rings", [_rings(one, found.now) for one in found.rings])
    until = {one.unit: f" Until {clock(one.until, found.now)}." if one.until else "" for one in found.idle}
    _list(out, "Not now", [f"{one.unit}  {one.why}{until[one.unit]}" for one in found.idle])
    ordered = [f"{one.unit}  {one.part} from {one.supplier}, {one.due or 'no day named'}" for one in found.due]
    _list(out, "On order", ordered)
    _list(out, "After these minutes", [", ".join(found.later)] if found.later else [])
    _list(out, "No advice", [f"{unit}  {why}" for unit, why in found.troubles.items()])
    out.print()
    out.print(Text(_how_good(found)))
    if len(found.currencies) > 1:
        out.print(Text(f"Gains are in {', '.join(found.currencies)} and compared as if these were worth the same."))


def _strip(found: TimetableAnswer) -> Table:
    table, free = Table.grid(padding=(0, 2, 0, 0)), 0.0
    table.add_column(justify="right", no_wrap=True)
    for one in found.stretches:
        if one.after > free + A_MOMENT:
            table.add_row(_after(free), f"no work for hands ({format_minutes(one.after - free)})")
        table.add_row(_after(one.after), Text(_what(one)))
        for said in _to_heed(one):
            table.add_row("", Text(f"  {said}"))
        free = one.after + one.minutes
    if free < found.minutes:
        table.add_row(_after(free), "no work for hands")
    return table


def _after(minutes: float) -> str:
    return "now" if minutes < A_MOMENT else f"{minutes:.0f} min"


def _what(one: StretchShape) -> str:
    mean = "" if one.first else " in the mean"
    text = f"{one.unit}  {one.move} ({format_minutes(one.minutes)}{mean})"
    return f"{text}; then {WAITS.get(one.kind or '', 'it runs')} {format_minutes(one.alone)}" if one.alone else text


def _to_heed(one: StretchShape) -> list[str]:
    ways = [f"first {how}: {', '.join(steps)}" for how, steps in (("open", one.opens), ("close", one.closes)) if steps]
    return [*ways, *(f"! {said}" for said in (*one.precautions, *one.cautions))]


def _rings(one: RingShape, now: str) -> str:
    planned = ", if started as above" if one.planned else ""
    return f"{clock(one.time, now)}  {one.unit} {one.what}{planned}" + (f". Then: {one.then}" if one.then else "")


def _rang(one: RingShape) -> str:
    return f"{one.unit}  {one.what} {format_minutes(-one.after)} ago"


def _list(out: Console, title: str, lines: Sequence[str]) -> None:
    if lines:
        out.print(Text(f"\n{title}", style="bold"))
    for line in lines:
        out.print(under(2, line))


def _how_good(found: TimetableAnswer) -> str:
    if found.proved:
        return "Proved: in no other order is less lost by waiting."
    return f"Not proved: another order may save at most {100 * found.gap:.1f} % of what waiting costs."


def clock(time: str, now: str) -> str:
    """A time on the clock of this place, with the day if it is not today's: "16:40", "02:10 tomorrow"."""
    at, today = (datetime.fromisoformat(one).astimezone() for one in (time, now))
    days = (at.date() - today.date()).days
    return f"{at:%H:%M}" + ("" if days == 0 else " tomorrow" if days == 1 else f" on {at.date().isoformat()}")
