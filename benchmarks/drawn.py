"""Devices of any size, and logs of them: what the benchmarks of size and growth are made of."""

from __future__ import annotations

from collections.abc import Iterator
from hashlib import sha256

import numpy as np

from knowngood.handbook.quantities import Money
from knowngood.log import events as ev
from knowngood.log.state import Line, Replay, replay
from knowngood.maps.device import Device, Function, FunctionLevel, Mode, Part, PartModes, Prices, Step, Test, Worth
from knowngood.maps.words import Level

OUTCOMES = ("works", "weak", "fails")


def logged(device: Device, lines: list[str]) -> Replay:
    """The lines replayed; a line that does not fit the map is an error here."""
    done = replay(device, [Line(number, "", ev.parse(line)) for number, line in enumerate(lines, 1)])
    if done.flags:
        raise SystemExit(f"{device.id}: {done.flags[0].message}")
    return done


def tree(parts: int, tests: int, seed: int, doubled_share: float = 0.05) -> Device:
    """Part i works on the feed of part i // 3; some feeds have a second one beside them, all parts can drag their feed
    down. Every tenth part is a plug, and each of four steps of opening pulls a quarter of the plugs.

    The first tests try each function once; the rest check single parts.
    """
    draw = np.random.default_rng(seed)
    of: dict[str, Part] = {}
    functions: dict[str, Function] = {}
    plugs = [f"p{number}" for number in range(10, parts, 10)]
    for number in range(parts):
        feed = f"f{(number - 1) // 3}" if number else None
        short = Mode("short", "short", 0.3, Level.NONE, takes="heavy" if feed else None)
        modes = (Mode("open", "open", 0.4, Level.NONE), Mode("weak", "weak", 0.3, Level.WEAK), short)
        base = float(draw.uniform(0.005, 0.05))
        name = f"p{number}"
        joins = (f"p{number - 1}",) if name in plugs else ()
        on = (feed,) if feed else ()
        of[name] = Part(name, name, "drawn", base, modes, (), (), (), Prices(), on=on, joins=joins)
        beside = (number - 1) // 3 - 1
        doubled = feed and beside >= 0 and draw.random() < doubled_share
        groups = ((feed, f"f{beside}"),) if feed and doubled else ()
        needs = (name,) if doubled or not feed else (name, feed)
        wanted = 3 * number + 1 >= parts  # what nothing else is fed by
        functions[f"f{number}"] = Function(f"f{number}", "drawn", "power", needs, groups, wanted=wanted)
    tried = (_tried(number) for number in range(min(parts, tests)))
    checks = (_check(number, 3 * number % parts) for number in range(parts, tests))
    nothing = Money("EUR", 0)
    return Device(
        id=f"tree of {parts}",
        what="drawn",
        power="mains",
        protection_class="none",
        unknown=0.05,
        worth=Worth(nothing, nothing, nothing),
        parts=of,
        functions=functions,
        tests={test.id: test for test in (*tried, *checks)},
        steps={f"s{n}": Step(f"s{n}", "open", (), 1.0, 1.0, unplugs=tuple(plugs[n::4])) for n in range(4)},
        married=(),
        hazards={},
        stores_data=False,
        content_hash=sha256(f"{parts} {tests} {seed}".encode()).hexdigest(),
    )


def _tried(number: int) -> Test:
    return Test(f"t{number}", "tried", "", FunctionLevel(f"f{number}"), OUTCOMES, 1.0, "off")


def _check(number: int, part: int) -> Test:
    senses = PartModes(f"p{part}", (("open", 0.9), ("weak", 0.6), ("short", 0.95)))
    return Test(f"t{number}", "found", "", senses, ("ok", "bad"), 1.0, "off")


def some_tried(device: Device, seed: int) -> Replay:
    """A log in which every tenth function was tried."""
    draw = np.random.default_rng(seed)
    words = draw.choice(["works", "works", "weak", "fails"], size=len(device.parts))
    return logged(device, [f"tried t{number} {words[number]}" for number in range(0, len(device.parts), 10)])


def long_log(device: Device, lines: int, seed: int) -> Replay:
    """A log of so many lines in eight configurations: opened, plugs pulled and put back, parts replaced, closed again;
    the other lines try functions."""
    draw = np.random.default_rng(seed)
    changes = iter(
        [
            "opened s0",
            "unplugged p10",
            "fitted p7 from new",
            "unplugged p20",
            "plugged p10",
            "fitted p41 from used",
            "closed all",
        ]
    )
    words: Iterator[str] = iter(draw.choice(["works", "weak", "fails"], size=lines, p=[0.4, 0.3, 0.3]))
    functions = iter(draw.permutation(len(device.functions)))
    every = lines // 8
    log = [f"tried t{next(functions)} {next(words)}" for _ in range(lines)]
    for number, change in enumerate(changes, 1):
        log[number * every] = change
    return logged(device, log)
