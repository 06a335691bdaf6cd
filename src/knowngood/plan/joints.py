"""How connections and fasteners are held: what to mark before it is pulled, what to mind when it goes together."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from knowngood.errors import KnowngoodError
from knowngood.handbook.fasteners import tightening_torque
from knowngood.maps.device import Device, Fastener, Part, Step
from knowngood.plan.moves import lower

THERMAL = "repaste"
"""The remedy of a part that gives its heat away through paste or a pad."""

UNMARKED_STRENGTH = "4.8"
"""Property class taken for a screw whose head says nothing: the weakest that is usual (common practice, no source)."""


@dataclass(frozen=True)
class Pull:
    """A connection to take apart or to make, with what to mind at it."""

    connection: str
    what: str
    marks: tuple[str, ...]


@dataclass(frozen=True)
class _Words:
    """How a mark is said: of what goes either way round, with power on it, of a latch, of what looks alike."""

    either_way: str
    poles: str
    latch: str
    alike: str


_PULLING = _Words(
    "mark it before you pull it: it can go in the wrong way round",
    ", plus and minus too",
    "free its latch first: ",
    "mark which is which, it looks like ",
)
_MAKING = _Words("orientation: its marks in line", ", plus to plus", "latch closed: ", "not swapped with ")


def before_pulling(device: Device, name: str, beside: Iterable[str]) -> Pull:
    """What to do before a connection is pulled, with those that are pulled beside it."""
    return _marked(device, name, beside, _PULLING)


def when_making(device: Device, name: str, beside: Iterable[str]) -> Pull:
    """What to mind when a connection is made, with those that are made beside it."""
    return _marked(device, name, beside, _MAKING)


def _marked(device: Device, name: str, beside: Iterable[str], words: _Words) -> Pull:
    one = device.parts[name]
    marks = []
    if one.reversible:
        marks.append(words.either_way + (words.poles if "power" in one.carries else ""))
    if one.latch:
        marks.append(words.latch + one.latch)
    if alike := twins(device, name, beside):
        marks.append(words.alike + ", ".join(alike))
    return Pull(name, one.what, tuple(marks))


def not_swapped(device: Device, name: str, beside: Iterable[str]) -> str:
    """What a check of a connection asks besides, where others were made that could be in its place; else ""."""
    alike = twins(device, name, beside)
    return f", {_MAKING.alike}{', '.join(alike)}" if alike else ""


def twins(device: Device, name: str, beside: Iterable[str]) -> list[str]:
    """Connections of the same kind that go to the same thing: each could be plugged where the other belongs."""
    one = device.parts[name]
    return [
        other
        for other in beside
        if other != name and device.parts[other].kind == one.kind and device.parts[other].joins[-1] == one.joins[-1]
    ]


@dataclass(frozen=True)
class Undone:
    """Fasteners of one sort in one step, and what tells them from others that are out at the same time."""

    count: int
    sort: str
    driver: str
    where: str | None
    odd: str
    """Why they must not be mixed with others; "" where nothing speaks against it."""


def undone(steps: Sequence[Step]) -> dict[str, tuple[Undone, ...]]:
    """For each of the steps whose fasteners come out together, in order: these, with the odd ones called out."""
    out: list[tuple[Step, Fastener]] = []
    found = {}
    for step in steps:
        found[step.id] = tuple(
            Undone(one.count, one.sort, one.driver, one.where, _odd(step, one, out)) for one in step.fasteners
        )
        out += [(step, one) for one in step.fasteners]
    return found


def _odd(step: Step, one: Fastener, before: Iterable[tuple[Step, Fastener]]) -> str:
    """What else of the same thread and another length comes out with a fastener, or is out already."""
    alike = [other for other in step.fasteners if other.thread == one.thread and other.length != one.length]
    said = []
    if any(other.count > one.count or (other.count == one.count and _longer(one, other)) for other in alike):
        where = f" of '{one.where}'" if one.where else ""
        said.append(f"{one.count} odd ones{where} among {_named(alike)}")
    out = {(other.id, each.sort) for other, each in before if each.thread == one.thread and each.length != one.length}
    if out:
        said.append(f"keep apart from {', '.join(f'{sort} of {other}' for other, sort in sorted(out))}")
    if said and any(_longer(one, other) for other in (*alike, *(each for _, each in before))):
        said.append("too long for a shorter one's hole")
    return "; ".join(said)


def _named(ones: Iterable[Fastener]) -> str:
    return ", ".join(f"{one.count} x {one.sort}" for one in ones)


def _longer(one: Fastener, other: Fastener) -> bool:
    return one.thread == other.thread and _millimetres(one) > _millimetres(other)


def _millimetres(one: Fastener) -> float:
    try:
        return float((one.length or "").removesuffix("mm").strip())
    except ValueError:
        return 0.0


def drivers(steps: Iterable[Step]) -> dict[str, int]:
    """Each driver that these steps take, and how many fasteners it turns."""
    turned: Counter[str] = Counter()
    for step in steps:
        for one in step.fasteners:
            turned[one.driver] += one.count
    return dict(turned)


def torque(thread: str) -> str:
    """How tight a screw of a thread goes, by the handbook; "" for what is no metric screw that it knows."""
    try:
        rows = tightening_torque(thread)
    except KnowngoodError:
        rows = ()
    if rows:
        row = rows[0]
        return f"{row.torque:g} to {row.most:g} N m into metal, half into plastic ({row.status})"
    try:
        row = tightening_torque(thread, UNMARKED_STRENGTH)[0]
    except KnowngoodError:
        return ""
    return f"at most {row.torque:g} N m, {row.joint}; less into plastic ({row.source})"


def thermal(part: Part) -> str:
    """What the thermal interface of a part asks for when the part goes back; "" if it has none."""
    remedy = part.remedy(THERMAL)
    return f"thermal interface: {lower(remedy.do)}" if remedy else ""
