"""Whether belief is calibrated when the planner chooses: of the parts believed faulty at p, a share p is faulty.

Units are drawn from a map and worked on by the program's own planner, as in a rehearsal. Before every move the chance
that each part is faulty, as the log leaves it, is set beside whether it is. All moves count: to pick some of a job's
moves would favour jobs by their length, which depends on what was found. The moves of one unit repeat much of one
another, so units are what is counted as independent: intervals, z and chi-square rest on the spread of the sums over
each unit (``knowngood.belief.calibration``). As right as the map is: the units are drawn from it.

Run: ``python benchmarks/calibration.py [--map MAP] [--units N] [--past dropped] [--seed 0] [--workers 2]``. It ends
with 1 if belief is not calibrated; a right one fails once in a thousand seeds.
"""

from __future__ import annotations

import argparse
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from time import perf_counter

import numpy as np

from knowngood.belief.calibration import EDGES, Array, calibration
from knowngood.errors import TooLargeError
from knowngood.maps.load import load
from knowngood.plan.choose import advise
from knowngood.plan.rehearse import LONGEST_JOB, HiddenUnit
from knowngood.plan.terms import DEFAULTS, terms

LEAST = len(EDGES) + 2
"""Units below which their spread cannot be told."""


def claims(unit: int, name: str, past: tuple[str, ...], seed: int) -> tuple[Array, Array]:
    """What was believed of every part before each move on a drawn unit, and 1 or 0 for faulty or not.

    Both have the shape (moves, parts).
    """
    device = load(name)
    bench = terms(device, **DEFAULTS)
    hidden = HiddenUnit(device, past, np.random.default_rng([seed, unit]))
    chances, facts = [], []
    for _ in range(LONGEST_JOB):
        try:
            advice = advise(device, hidden.replayed, bench)
        except TooLargeError:
            break  # the log alone decides that, so what was believed before stands
        p_bad = {suspect.part: suspect.p_bad for suspect in advice.belief.suspects}
        chances.append([p_bad[part] for part in device.parts])
        facts.append([part in hidden.modes for part in device.parts])
        if advice.best.move.act.ends:
            break
        hidden.carry_out(advice.best.move)
    return np.array(chances, float), np.array(facts, float)


def main() -> None:
    """Draws, works, prints the table."""
    asked = argparse.ArgumentParser(description="Calibration of belief under the planner.")
    asked.add_argument("--map", default="some-mains-device")
    asked.add_argument("--units", type=int, default=60)
    asked.add_argument("--past", nargs="*", default=["dropped"])
    asked.add_argument("--seed", type=int, default=0)
    asked.add_argument("--workers", type=int, default=2)
    given = asked.parse_args()
    if given.units < LEAST:
        asked.error(f"--units must be at least {LEAST}: the spread over fewer units cannot be told")
    start = perf_counter()
    work = partial(claims, name=given.map, past=tuple(given.past), seed=given.seed)
    with ProcessPoolExecutor(given.workers) as pool:
        units = list(pool.map(work, range(given.units)))
    parts = len(load(given.map).parts)
    moves = sum(len(chances) for chances, _ in units)
    past = ", ".join(given.past) or "unknown"
    print(f"{given.map}, past {past}, seed {given.seed}: {given.units} units, {moves} moves, {parts} parts each")
    found = calibration(units)
    print(found)
    print(f"{perf_counter() - start:.0f} s")
    raise SystemExit(not found.calibrated)


if __name__ == "__main__":
    main()
