"""What has to be shown before a unit counts as proved, and which tests would show it.

- Each promised, undeclared function: a test of it, with the unit closed.
- Everything touched: each fault that the touch may have left in a connection that was made again, or a remedy in a part
  that was mended or fitted, if it stops something promised.
- What shows only closed, warm or cold: each such fault that stops something promised.
- One start from cold.

A test shows a fault if it would not pass with this one fault in the unit.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator
from dataclasses import dataclass

from knowngood.belief.evaluate import effects
from knowngood.log.state import State
from knowngood.maps.device import AnyMode, Device, FunctionLevel, Mode, Part, PartModes, Test
from knowngood.proof.standing import is_start

LIKELY = 0.5
"""From this chance on that it finds a fault, a test of a part counts as showing it (common practice, no source)."""


@dataclass(frozen=True)
class Demand:
    """Something to be shown, by one of some tests."""

    kind: str
    """function, touched, closed, warm, cold or cold-start."""
    name: str
    """The function, or the part; empty for the cold start."""
    by: frozenset[str]
    faults: tuple[str, ...] = ()

    def __str__(self) -> str:
        if self.kind == "cold-start":
            return "one start from cold"
        return self.name if self.kind == "function" else f"{self.kind}: {self.name} ({', '.join(self.faults)})"


def demands(device: Device, state: State, *, remade: Container[str] = ()) -> tuple[Demand, ...]:
    """Everything to be shown of a unit as it will be once it is closed; ``remade`` are the connections that closing it
    makes anew, so that nothing which is seen before shows them."""
    wanted = promised(device, state)
    found = [Demand("function", name, _tests_of(device, name)) for name in wanted]
    for part in _touched(device, state):
        found += touched_demands(device, part, _left_by(state, part), wanted, remade_by_closing=part.id in remade)
    for when in ("closed", "warm", "cold"):
        for part in device.parts.values():
            faults = [mode for mode in part.modes if mode.when == when and _stops(device, part, mode, wanted)]
            found += _demanded(device, when, part, faults, closed_only=True)
    starts = (test.id for test in device.tests.values() if can_start_cold(test))
    return (*found, Demand("cold-start", "", frozenset(starts))) if wanted else ()


def promised(device: Device, state: State) -> tuple[str, ...]:
    """Functions that are promised and not declared."""
    return tuple(name for name in device.wanted if name not in state.declared)


def touched_demands(
    device: Device, part: Part, faults: Iterable[Mode], wanted: Iterable[str], *, remade_by_closing: bool
) -> list[Demand]:
    """What is to be shown of a part that was touched; only by the closed unit if closing makes it anew."""
    stopping = [mode for mode in faults if _stops(device, part, mode, frozenset(wanted))]
    return _demanded(device, "touched", part, stopping, closed_only=remade_by_closing)


def of_closing(device: Device, state: State, step: str) -> list[Demand]:
    """What opening a step, and closing it again, adds to what is to be shown."""
    wanted = promised(device, state)
    parts = [device.parts[one] for one in device.steps[step].unplugs]
    return [
        one for part in parts for one in touched_demands(device, part, by_a_touch(part), wanted, remade_by_closing=True)
    ]


def by_a_touch(part: Part) -> list[Mode]:
    """The faults that making a connection again may leave."""
    return [mode for mode in part.modes if mode.by_touch > 0.0 or mode.seating]


def can_start_cold(test: Test) -> bool:
    return isinstance(test.senses, FunctionLevel) and is_start(test) and not test.warm and test.behind is None


def _touched(device: Device, state: State) -> Iterator[Part]:
    for name in dict.fromkeys((*state.touched, *state.mended, *state.origin)):
        if name not in state.harvested:
            yield device.parts[name]


def _left_by(state: State, part: Part) -> list[Mode]:
    """The faults that may be left in a part by what was done to it."""
    if part.id in state.origin:
        return list(part.modes)
    cured = {mode for name in state.mended.get(part.id, ()) for mode, _ in _cures(part, name)}
    touch = by_a_touch(part) if part.id in state.touched else []
    return [mode for mode in part.modes if mode.name in cured or mode in touch]


def _cures(part: Part, name: str) -> tuple[tuple[str, float], ...]:
    remedy = part.remedy(name)
    return remedy.cures if remedy else ()


def _stops(device: Device, part: Part, mode: Mode, wanted: Iterable[str]) -> bool:
    table = effects(device)
    return bool((table.alone[part.id, mode.name] | table.with_others[part.id, mode.name]) & set(wanted))


def _tests_of(device: Device, function: str) -> frozenset[str]:
    return frozenset(
        test.id
        for test in device.tests.values()
        if test.senses == FunctionLevel(function) and test.behind is None and test.feeds is None
    )


def _demanded(device: Device, kind: str, part: Part, faults: Iterable[Mode], *, closed_only: bool) -> list[Demand]:
    """One demand for all faults of a part that the same tests show."""
    by_tests: dict[frozenset[str], list[str]] = {}
    for mode in faults:
        showing = frozenset(
            test.id
            for test in device.tests.values()
            if shows(device, test, part, mode) and not (closed_only and test.behind is not None)
        )
        by_tests.setdefault(showing, []).append(mode.name)
    return [Demand(kind, part.id, by, tuple(names)) for by, names in by_tests.items()]


def shows(device: Device, test: Test, part: Part, mode: Mode) -> bool:
    """Whether a test would not pass with this one fault; a test of a function counts only with the unit closed."""
    match test.senses:
        case FunctionLevel(function=function):
            in_condition = {"warm": test.warm, "cold": not test.warm, "open": False}.get(mode.when or "", True)
            lost = function in effects(device).levels[part.id, mode.name]
            return lost and in_condition and test.behind is None and test.feeds is None
        case PartModes(part=name, chances=chances):
            return name == part.id and dict(chances).get(mode.name, 0.0) >= LIKELY
        case AnyMode(modes=modes):
            return mode.name in dict(modes).get(part.id, ())
        case _:
            return False
