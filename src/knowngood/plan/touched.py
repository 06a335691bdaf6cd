"""What hands have taken apart and made again: in which order, by which line, and what nobody has checked since."""

from __future__ import annotations

from dataclasses import dataclass

from knowngood.log import events as ev
from knowngood.log.connections import made_by_closing, made_by_fitting
from knowngood.log.state import Line, Replay, State
from knowngood.maps.device import Device, FunctionLevel
from knowngood.maps.words import SEATED


def made_by(device: Device, state: State, event: ev.Event) -> tuple[str, ...]:
    """Connections that an event makes, in the state before it."""
    match event:
        case ev.Plugged(connection=connection):
            return (connection,)
        case ev.Closed(step=step):
            return tuple(sorted(made_by_closing(device, state, step)))
        case ev.Fitted(part=part):
            return made_by_fitting(device, part)
        case ev.Mended(part=part) if device.parts[part].is_connection:
            return (part,)
        case _:
            return ()


def unchecked(device: Device, told: Replay) -> dict[str, int]:
    """Connections that were made by hand and that no check and no working function has shown since, the first made
    first, each with the number of the line that made it."""
    found: dict[str, int] = {}
    for line, before in zip(told.lines, told.before, strict=True):
        match line.event:
            case ev.Found(test=test) | ev.Tried(test=test):
                for connection in shown_by(device, test, line.event.outcome):
                    found.pop(connection, None)
            case event:
                for connection in made_by(device, before, event):
                    found.pop(connection, None)
                    found[connection] = line.seq
    return {connection: seq for connection, seq in found.items() if connection not in told.state.apart}


def shown_by(device: Device, test: str, outcome: str) -> frozenset[str]:
    """Connections that an outcome of a test shows to sit: those it checked, or that the function runs across."""
    about = device.tests[test]
    if outcome != about.outcomes[0]:
        return frozenset()
    if test.endswith(f".{SEATED}"):
        return frozenset({test.removesuffix(f".{SEATED}")})
    return frozenset(device.needed(about.senses.function) if isinstance(about.senses, FunctionLevel) else ())


def shown_by_trying(device: Device, connection: str) -> str:
    """The try that a connection is needed for, and as little else as there is; "" if none is."""
    across = {
        test.id: device.needed(test.senses.function)
        for test in device.tests.values()
        if isinstance(test.senses, FunctionLevel) and test.verb == "tried"
    }
    across = {test: parts for test, parts in across.items() if connection in parts}
    return min(across, key=lambda test: (len(across[test]), test), default="")


def opened_in_order(device: Device, told: Replay, *, closed: bool = False) -> list[str]:
    """The steps that are open, met ones too, or with ``closed`` all that ever were, each by its last opening."""
    order: list[str] = []
    for line, before in zip(told.lines, told.before, strict=True):
        if isinstance(line.event, ev.Opened):
            steps = device.way_in(before.open_steps, line.event.step)
        elif isinstance(line.event, ev.Met) and line.event.sort == "step" and line.event.name not in device.steps:
            steps = (line.event.name,)
        else:
            continue
        order = [*(step for step in order if step not in steps), *steps]
    return order if closed else [step for step in order if step in told.state.ajar]


def remarks(device: Device, told: Replay) -> dict[str, tuple[str, ...]]:
    """What the lines that took a step, connection or part apart last remark of it, as the name of a photo, by name."""
    found: dict[str, tuple[str, ...]] = {}
    for line, before in zip(told.lines, told.before, strict=True):
        for name in _taken_apart(device, before, line):
            said = f"line {line.seq}: {line.event.note}" if line.event.note else ""
            counted = isinstance(line.event, ev.Unscrewed)  # counting adds to what the opening says
            kept = found.get(name, ()) if counted else ()
            found[name] = (*kept, *([said] if said else []))
    return {name: said for name, said in found.items() if said}


def _taken_apart(device: Device, before: State, line: Line) -> tuple[str, ...]:
    match line.event:
        case ev.Opened(step=step):
            return device.way_in(before.open_steps, step)
        case ev.Unscrewed(step=step) | ev.Met(sort="step", name=step):
            return (step,)
        case ev.Unplugged(connection=connection):
            return (connection,)
        case ev.Removed(part=part) | ev.Harvested(part=part):
            return (part,)
        case _:
            return ()


@dataclass(frozen=True)
class Work:
    """What was worked on since the unit last had power."""

    steps: frozenset[str] = frozenset()
    """Steps that were opened."""
    parts: frozenset[str] = frozenset()
    """Parts and connections that hands took out, put in, mended or made."""


def since_power(device: Device, told: Replay) -> Work:
    """What was worked on since the unit as a whole last had power, or since it came in."""
    steps: set[str] = set()
    parts: set[str] = set()
    for line, before in zip(told.lines, told.before, strict=True):
        match line.event:
            case ev.Found(test=test) | ev.Tried(test=test) | ev.Read(test=test):
                if device.tests[test].power != "off" and device.tests[test].feeds is None:
                    steps, parts = set(before.open_steps), set()
            case ev.Opened(step=step):
                steps |= set(device.way_in(before.open_steps, step))
            case ev.Removed(part=part) | ev.Harvested(part=part) | ev.Fitted(part=part) | ev.Mended(part=part):
                parts |= {part, *made_by(device, before, line.event)}
            case event:
                parts |= set(made_by(device, before, event))
    return Work(frozenset(steps), frozenset(parts))


def unseen_work(device: Device, told: Replay) -> dict[str, tuple[tuple[str, float], ...]]:
    """Parts that a hand may have spoiled and that nobody looked at closely since: modes that the work may have brought,
    with the chance of each."""
    found: dict[str, tuple[tuple[str, float], ...]] = {}
    for line in told.lines:
        match line.event:
            case ev.Mended(part=part, remedy=name):
                remedy = device.parts[part].remedy(name)
                if remedy and remedy.spoils:
                    found[part] = remedy.spoils
            case ev.Fitted(part=part, origin=origin) if origin != ev.BACK:
                swap = device.parts[part].swap
                found.pop(part, None)
                if swap and swap.spoils:
                    found[part] = swap.spoils
            case ev.Saw(part=part, look=look) if look != "glance":
                found.pop(part, None)
            case ev.Removed(part=part) | ev.Harvested(part=part):
                found.pop(part, None)
            case _:
                pass
    return found
