"""What hands have taken apart and made again: in which order, by which line, and what nobody has checked since."""

from __future__ import annotations

from knowngood.belief.reach import below
from knowngood.log import events as ev
from knowngood.log.state import Line, Replay, State, made_by_closing, made_by_fitting
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
    apart = told.state.unplugged | told.state.loose | told.state.removed
    return {connection: seq for connection, seq in found.items() if connection not in apart}


def shown_by(device: Device, test: str, outcome: str) -> frozenset[str]:
    """Connections that an outcome of a test shows to sit: those it checked, or that the function runs across."""
    about = device.tests[test]
    if outcome != about.outcomes[0]:
        return frozenset()
    if test.endswith(f".{SEATED}"):
        return frozenset({test.removesuffix(f".{SEATED}")})
    return frozenset(below(device, about.senses.function)[0] if isinstance(about.senses, FunctionLevel) else ())


def opened_in_order(device: Device, told: Replay) -> list[str]:
    """The steps that are open, the first opened first."""
    order: list[str] = []
    for line, before in zip(told.lines, told.before, strict=True):
        if isinstance(line.event, ev.Opened):
            order += device.way_in(before.open_steps, line.event.step)
        elif isinstance(line.event, ev.Closed):
            shut = before.open_steps if line.event.step == ev.ALL else {line.event.step}
            order = [step for step in order if step not in shut]
    return order


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
        case ev.Unscrewed(step=step):
            return (step,)
        case ev.Unplugged(connection=connection):
            return (connection,)
        case ev.Removed(part=part) | ev.Harvested(part=part):
            return (part,)
        case _:
            return ()
