"""How long a belief takes: on the shipped maps with a log of some length, and as devices grow.

First table, per shipped map: a log of tests, an opening, a closing and a swap is believed; then the reasons of all
suspects, and the whole table of what each outcome of each test and look would make of it, in one batched pass. Second
table: drawn tree-like devices of 50 to 400 parts, each part on the feed of another. ``largest`` and ``all`` are table
entries for one row of evidence. Best of three runs. Run: ``python benchmarks/belief.py``.
"""

from __future__ import annotations

from collections.abc import Callable
from hashlib import sha256
from time import perf_counter
from typing import TypeVar

import numpy as np

from knowngood.belief.believe import Belief, believe
from knowngood.belief.what_if import ask, query_look, query_test
from knowngood.handbook.quantities import Money
from knowngood.log import events as ev
from knowngood.log.state import Line, Replay, replay
from knowngood.maps.device import Device, Function, FunctionLevel, Mode, Part, Prices, Test, Worth
from knowngood.maps.load import load
from knowngood.maps.words import Level

T = TypeVar("T")

LOGS = {
    "ceiling-projector": [
        "past dropped",
        "saw top-cover dented",
        "tried standby-light works",
        "tried fans-turn fails",
        "opened cover-off",
        "saw exhaust-fan missing",
        "read rail-12v 11.9 V",
        "fitted exhaust-fan from used",
        "closed all",
        "tried fans-turn works",
        "tried lamp-lights fails",
        "tried picture fails",
    ],
    "some-battery-device": [
        "past wet",
        "tried starts fails",
        "tried charges fails",
        "opened board-out",
        "saw charger corroded",
        "read input-rail 5.1 V",
        "read system-node 0.02 V",
        "read io-rail-to-ground 0.4 ohm",
        "fitted charger from new",
        "closed all",
        "tried charges works",
    ],
    "some-mains-device": [
        "past surged",
        "tried standby-light fails",
        "opened cover-off",
        "found fuse.continuity bad",
        "fitted fuse from new",
        "closed all",
        "tried standby-light works",
        "tried starts fails",
    ],
}
HEAD = f"{'device':22}{'parts':>6}{'lines':>6}{'variables':>10}{'largest':>9}{'all':>9}{'believe ms':>12}"


def logged(device: Device, lines: list[str]) -> Replay:
    """The lines replayed; a line that does not fit the map is an error here."""
    done = replay(device, [Line(number, "", ev.parse(line)) for number, line in enumerate(lines, 1)])
    if done.flags:
        raise SystemExit(f"{device.id}: {done.flags[0].message}")
    return done


def best(work: Callable[[], T]) -> tuple[float, T]:
    """The shortest of three times, in ms, and what came of it. The first run also fills what is kept per map."""
    times, result = [], work()
    for _ in range(3):
        start = perf_counter()
        result = work()
        times.append(1e3 * (perf_counter() - start))
    return min(times), result


def believed(device: Device, done: Replay) -> tuple[str, Belief]:
    """The left half of a line: the device, its network, and the time for suspects and known good."""

    def work() -> Belief:
        belief = believe(device, done)
        assert belief.suspects
        assert belief.known_good >= 0.0
        return belief

    spent, belief = best(work)
    plan = belief.network.plan
    sizes = f"{len(device.parts):6}{len(done.lines):6}{len(belief.network.states):10}{plan.largest:9}{plan.total:9}"
    return f"{device.id:22}{sizes}{spent:12.1f}", belief


def shipped(name: str) -> str:
    device = load(name)
    line, belief = believed(device, logged(device, LOGS[name]))
    reasons, _ = best(belief.suspects_with_reasons)
    out = belief.story.empty | belief.story.state.removed
    queries = [query_test(belief, test) for test in device.tests.values()]
    queries += [query_look(belief, part) for part in device.parts if part not in out]
    outcomes = sum(len(query.outcomes) for query in queries)
    table, _ = best(lambda: ask(belief, queries))
    return f"{line}{reasons:12.1f}{table:12.1f}{len(queries):9}{outcomes:9}"


def drawn(parts: int, seed: int) -> tuple[Device, Replay]:
    """A tree: part i works on the feed of part i // 3; some feeds have a second one beside them, some parts drag their
    feed down. Every tenth function was tried."""
    draw = np.random.default_rng(seed)
    of: dict[str, Part] = {}
    functions: dict[str, Function] = {}
    for number in range(parts):
        feed = f"f{(number - 1) // 3}" if number else None
        short = Mode("short", "short", 0.3, Level.NONE, takes="heavy" if feed else None)
        modes = (Mode("open", "open", 0.4, Level.NONE), Mode("weak", "weak", 0.3, Level.WEAK), short)
        base = float(draw.uniform(0.005, 0.05))
        name = f"p{number}"
        of[name] = Part(name, name, "drawn", base, modes, (), (), (), Prices(), on=(feed,) if feed else ())
        beside = (number - 1) // 3 - 1
        doubled = feed and beside >= 0 and draw.random() < 0.05
        groups = ((feed, f"f{beside}"),) if feed and doubled else ()
        needs = (name,) if doubled or not feed else (name, feed)
        wanted = 3 * number + 1 >= parts  # what nothing else is fed by
        functions[f"f{number}"] = Function(f"f{number}", "drawn", "power", needs, groups, wanted=wanted)
    tests = {
        f"t{number}": Test(
            f"t{number}", "tried", "", FunctionLevel(f"f{number}"), ("works", "weak", "fails"), 1.0, "off"
        )
        for number in range(parts)
    }
    nothing = Money("EUR", 0)
    device = Device(
        id=f"tree of {parts}",
        what="drawn",
        power="mains",
        protection_class="none",
        unknown=0.05,
        worth=Worth(nothing, nothing, nothing),
        parts=of,
        functions=functions,
        tests=tests,
        steps={},
        married=(),
        hazards={},
        stores_data=False,
        content_hash=sha256(f"{parts} {seed}".encode()).hexdigest(),
    )
    words = draw.choice(["works", "works", "weak", "fails"], size=parts)
    return device, logged(device, [f"tried t{number} {words[number]}" for number in range(0, parts, 10)])


def main() -> None:
    print(f"{HEAD}{'reasons ms':>12}{'what if ms':>12}{'queries':>9}{'outcomes':>9}")
    for name in LOGS:
        print(shipped(name), flush=True)
    print(f"\n{HEAD}")
    for parts in (50, 100, 200, 400):
        print(believed(*drawn(parts, seed=7))[0], flush=True)


if __name__ == "__main__":
    main()
