"""What a timetable saves against the order of gain for an hour, and how long it takes.

    python benchmarks/timetable.py [--bench]

First drawn benches of 10, 20 and 40 units, three of each: 30 % of the units start something that cures for half an
hour to a day, some under the only clamp. Printed beside each other, in one run: what waiting costs (gain times
minutes until the unit is done) if the hands go to whatever can be started and gains most for an hour, without and
with the waits started first; the same of the timetable, its gap to what is proved, and its seconds. With ``--bench``,
instead, 8 units of the shipped maps are booked in and logged: the seconds of their advice (``knowngood next``), and
of the timetable with that in it.
"""

from __future__ import annotations

import random
import sys
import time
from itertools import cycle, islice
from pathlib import Path
from tempfile import TemporaryDirectory

from knowngood.plan.timetable.jobs import Job, Phase, Problem
from knowngood.plan.timetable.solve import by_rules, cost_of, timetable

CLAMP = frozenset({"clamp"})
ALONE = (300, 1200, 7200, 14400)
LINES = {
    "ceiling-projector": ("asked seller", "read rail-12v 0.03 V"),
    "pocket-navigator": ("asked seller",),
    "some-mains-device": ("asked seller",),
    "some-battery-device": ("asked seller", "mended frame glue-boss"),
}


def drawn(units: int, seed: int) -> Problem:
    """Jobs in tenths of a minute; gains in hundredths."""
    draw, jobs = random.Random(f"{units} {seed}"), []
    for number in range(units):
        rest = Phase(draw.randint(50, 900))
        phases: tuple[Phase, ...] = (rest,)
        if draw.random() < 0.3:
            holds = CLAMP if draw.random() < 0.2 else frozenset()
            phases = (Phase(draw.randint(50, 250), draw.choice(ALONE), frozenset(), holds), rest)
        ready = draw.choice((0, 0, 0, 300, 5000)) if len(phases) == 1 else 0
        jobs.append(Job(f"U{number}", draw.randint(0, 20000), phases, ready))
    return Problem(tuple(jobs))


def compare(units: int, seed: int) -> None:
    problem = drawn(units, seed)
    hour, starter = (cost_of(problem, order) for order in by_rules(problem))
    begun = time.perf_counter()
    found = timetable(problem)
    took = time.perf_counter() - begun
    print(
        f"{units:>3} units, bench {seed}: by the hour {hour / found.cost:.3f}, waits first {starter / found.cost:.3f} "
        f"times the timetable's; gap {100 * found.gap:.2f} %; {took:.1f} s"
    )


def whole_bench(units: int = 8) -> None:
    from knowngood.bench.questions import turns
    from knowngood.bench.store import Store
    from knowngood.bench.timetable import timetable_of
    from knowngood.bench.work import log_lines, new_unit

    with TemporaryDirectory() as home, Store(Path(home)) as store:
        for name in islice(cycle(LINES), units):
            unit = new_unit(store, name, "EUR 5", ["dropped"])
            log_lines(store, unit, list(LINES[name]))
        begun = time.perf_counter()
        turns(store)
        advised = time.perf_counter()
        day = timetable_of(store, 40)
        both = time.perf_counter()
        print(
            f"{units} units of four maps: advice alone {advised - begun:.0f} s, with the timetable "
            f"{both - advised:.0f} s; gap {100 * day.strip.found.gap:.2f} %, {len(day.strip.rings)} rings"
        )


if __name__ == "__main__":
    for count in () if "--bench" in sys.argv else (10, 20, 40):
        for number in range(3):
            compare(count, number)
    if "--bench" in sys.argv:
        whole_bench()
