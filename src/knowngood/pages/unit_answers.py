"""From a unit's log and its advice to what stands on its page. Nothing is decided here, only said."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from knowngood.bench.store import Store
from knowngood.bench.work import replayed
from knowngood.cli import answers
from knowngood.cli.advice_shapes import MoveShape
from knowngood.handbook.quantities import Money, format_minutes, total
from knowngood.log import events as ev
from knowngood.log.effect import STORED
from knowngood.log.state import Replay, as_of, last_effective, last_undone, minutes_between
from knowngood.maps.device import Device, RailToGround, RailVoltage, Test
from knowngood.maps.words import CONDITIONS, PASTS
from knowngood.pages.unit_shapes import Blank, Mark, Sheet, Step, Tap
from knowngood.plan.moves import Move

PAUSE = 4 * 60.0
"""Minutes after which the page says by itself where the person left off (own judgement)."""

EXITS = ("sell", "sell-as-is", "part-out")

LEFT = {
    "working": "Sold as working.",
    "as-is": "Sold as it is.",
    "parts": "Parted out.",
    "scrapped": "Scrapped.",
}


def sheet(store: Store, unit: str) -> Sheet:
    """What the log alone says."""
    name = store.unit_id(unit)
    device, told = replayed(store, name)
    log = store.lines(name)
    lines = tuple(answers.lines(log, told.flags))
    last = last_effective(log)
    by_seq = {line.seq: line for line in lines}
    now = as_of(told, store.now())
    cash = [one.amount for one in now.state.bookings if one.kind == "cash"]
    return Sheet(
        unit=name,
        what=device.what,
        seq=log[-1].seq,
        lines=lines,
        undo=by_seq[last.seq] if last else None,
        redo=last_undone(log) is not None,
        last=next(line for line in reversed(lines) if line.holds),
        paused=minutes_between(log[-1].time, store.now()) > PAUSE,
        marks=tuple(_marks(device, now)),
        trays=tuple(_trays(device, now)),
        minutes=now.state.minutes,
        money=_in_words(total(cash, cash[0].currency)) if cash else "",
        left=LEFT.get(now.state.exit or "", ""),
        names=_names(device),
    )


def spoken(names: Iterable[str]) -> str:
    """Names of a map as a person says them."""
    return ", ".join(name.replace("-", " ") for name in names)


def means(condition: str) -> str:
    """What a condition means; empty where that is the word itself."""
    words = CONDITIONS[condition]
    return "" if words == spoken([condition]) else words


def way_in(move: Move | MoveShape) -> tuple[str, ...]:
    """The lines that a move's way in logs."""
    return (*(["closed all"] if move.closes else []), *(f"opened {one}" for one in move.opens))


def _in_words(sum_: Money) -> str:
    return f"{-sum_} spent" if sum_.minor < 0 else f"{sum_} gained"


def _marks(device: Device, now: Replay) -> Iterator[Mark]:
    state = now.state
    if state.wet:
        yield Mark("wet", "wet", "no power, no charging")
    for rail in sorted(state.shorted):
        yield Mark("over", "shorted", rail.replace("-", " "))
    if (state.powered or state.open_steps) and not state.exit:
        safe = state.discharged | state.removed
        charged = [part.id for part in device.parts.values() if STORED in part.hazards and part.id not in safe]
        if charged:
            yield Mark("charged", "may be charged", spoken(charged))
    if state.open_steps:
        yield Mark("open", "open", spoken(step for step in device.steps if step in state.open_steps))
    if state.unplugged:
        yield Mark("unplugged", "unplugged on purpose", spoken(sorted(state.unplugged)))
    if state.removed:
        yield Mark("out", "out", spoken(sorted(state.removed)))
    for part, left in sorted(state.curing.items()):
        yield Mark("waiting", "curing", f"{spoken([part])}, {format_minutes(left)} more")
    for part, order in sorted(state.incoming.ordered.items()):
        yield Mark(
            "ordered",
            "on order",
            f"{spoken([part])} from {order.supplier}" + (f", due {order.due}" if order.due else ""),
        )


def _trays(device: Device, now: Replay) -> Iterator[Tap]:
    """A tray is named by its step, as its label is (``knowngood label U1/STEP``)."""
    for step, one in now.state.fasteners.balances(device, now.state.open_steps).items():
        yield Tap(f"{step}: {one.out} out, {one.back} in", ())


def _names(device: Device) -> tuple[str, ...]:
    readable = [test.id for test in device.tests.values()]
    steps = [f"opened {step}" for step in device.steps]
    plugs = [f"unplugged {part.id}" for part in device.parts.values() if part.is_connection]
    return tuple(dict.fromkeys((*readable, *device.parts, *steps, *plugs)))


def step(device: Device, move: MoveShape, pasts: tuple[str, ...] = ()) -> Step:
    """A proposed move with its buttons."""
    way = way_in(move)
    joint = ". " if move.kind == "wait" else ": "
    do, _, detail = move.move.partition(joint)
    return Step(
        move=move,
        do=do,
        detail=detail,
        ends=move.kind in EXITS,
        opened=Tap("Open now" if move.opens else "Closed now", way) if way else None,
        taps=tuple(_taps(device, move, way, pasts)),
        blank=_blank(device, move, way),
        not_now=Tap("Not now", (f"deferred {move.target}",))
        if move.kind not in ("ask", "wait", "close", *EXITS) and move.target
        else None,
    )


def next_lines(steps: Sequence[Step]) -> list[tuple[str, ...]]:
    """What may be logged next, as far as the page has a button for it: each outcome of the proposed move, the most
    probable first, the way to it alone, that it is put off; then the same of the move that comes second."""
    found: list[tuple[str, ...]] = []
    for one in steps[:2]:
        found += [tap.lines for tap in sorted(one.taps, key=lambda tap: -(tap.chance or 0.0))]
        found += [tap.lines for tap in (one.opened, one.not_now) if tap]
    return list(dict.fromkeys(lines for lines in found if lines))


def _taps(device: Device, move: MoveShape, way: tuple[str, ...], pasts: tuple[str, ...]) -> Iterator[Tap]:
    match move.kind:
        case "ask":
            for past, says in PASTS.items():
                if past not in pasts:
                    yield Tap(past, (f"past {past}",), says)
            yield Tap("No, or no answer", (move.log,))
        case "look":
            for one in move.outcomes:
                if one.outcome in CONDITIONS:
                    yield Tap(one.outcome, (*way, f"{move.log} {one.outcome}"), means(one.outcome), one.probability)
        case "try" | "test":
            test = device.tests[move.target]
            chances = {one.outcome: one.probability for one in move.outcomes}
            for outcome in test.outcomes:
                yield Tap(outcome, (*way, f"{move.log} {outcome}"), "", chances.get(outcome))
        case "measure":
            if _unit(device.tests[move.target]) == "ohm":
                yield Tap("over range", (*way, f"{move.log} OL"), "the meter shows OL")
        case "discharge" | "sell" | "sell-as-is" | "part-out":
            return
        case "wait":
            label = {"arrived": "It is here", "resumed": "Take it up again"}.get(move.log.split()[0], "It is over")
            yield Tap(label, (move.log,))
        case _:
            yield Tap("Done", (*(way if move.kind != "close" else ()), *([move.log] if move.log not in way else [])))


def _blank(device: Device, move: MoveShape, way: tuple[str, ...]) -> Blank | None:
    if move.kind == "measure":
        return Blank("What it reads", move.log, _unit(device.tests[move.target]), way=way)
    if move.kind == "discharge":
        return Blank("What is left, measured", move.log, "V", way=way)
    if move.kind in EXITS:
        before, joint, price = move.log.rpartition(" EUR ")
        if joint:
            return Blank("What it brought", f"{before} EUR", value=price, way=way)
        return Blank("What it brought", "", value=move.log, way=way, number=False)
    return None


def _unit(test: Test) -> str:
    assert isinstance(test.senses, (RailVoltage, RailToGround))
    return test.senses.unit


def logged_words(lines: list[ev.Event]) -> str:
    """Lines that were just logged, in words to announce."""
    return "; ".join(ev.render(one) for one in lines)
