"""How soon a bid is there, how long 2,000 drawn units take, what its stand-in is off by, and what remembering saves.

    python benchmarks/bid.py [MAP] [--long]

By the clock of this machine, in two processes. ``--long`` measures the stand-in on 100 units (each unfinished one is
worked to the end by the planner: minutes). Whatever else runs on the machine is in the times; the processor time of all
processes is printed beside them.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from dataclasses import replace

from knowngood.log import events as ev
from knowngood.maps import load
from knowngood.money.bid.drawing import Case, outcomes
from knowngood.money.bid.seller import questions
from knowngood.plan.spread import Spread, here, processes
from knowngood.plan.terms import DEFAULTS, terms


def cpu() -> float:
    """Processor seconds of this process and those it has ended."""
    used = os.times()
    return used.user + used.system + used.children_user + used.children_system


def case_of(name: str) -> Case:
    """A fallen unit whose seller says that it has power, at a target rate of 24 an hour (invented)."""
    device = load(name)
    said = ("past dropped", "tried standby-light works") if "standby-light" in device.tests else ("past dropped",)
    lines = (ev.parse(f"offered {name} at EUR 60"), *map(ev.parse, said))
    case = Case(device, lines, terms(device, **{**DEFAULTS, "hour": 24.0}))
    return replace(case, questions=questions(device, case.told))


def draw(case: Case, units: int, pairs: int, spread: Spread, what: str) -> float:
    """Draws, prints the first answer and the last, and returns the seconds."""
    start, used = time.perf_counter(), cpu()
    first = True
    for progress in outcomes(case, units, pairs, spread):
        if first:
            net = progress.outcome.net
            print(
                f"{what}: first answer after {time.perf_counter() - start:.1f} s: "
                f"{net.mean:.1f} ({net.low:.1f} to {net.high:.1f}) from {len(progress.drawn)} units"
            )
            first = False
    outcome, took = progress.outcome, time.perf_counter() - start
    net, unfinished, pairs = outcome.net, int(outcome.unfinished.sum()), int(outcome.pairs.sum())
    print(
        f"{what}: {len(outcome.quick)} units, {unfinished} unfinished, {pairs} worked to the end: {took:.1f} s, "
        f"{cpu() - used:.1f} s of processor; {net.mean:.2f} ({net.low:.2f} to {net.high:.2f})"
    )
    if outcome.pairs.sum() > 1:
        bias = outcome.bias
        print(
            f"{what}: the stand-in is {bias.mean:.2f} ({bias.low:.2f} to {bias.high:.2f}) a unit too high, all of the "
            f"first {outcome.checked} units compared"
        )
    return took


def main() -> None:
    """Prints all of it."""
    given = argparse.ArgumentParser(description=__doc__)
    given.add_argument("map", nargs="?", default="ceiling-projector")
    given.add_argument("--long", action="store_true")
    asked = given.parse_args()
    case = case_of(asked.map)
    print(f"{asked.map}: {len(case.device.parts)} parts; load {os.getloadavg()[0]:.1f}")
    draw(case, 2000, 0, processes(2), "2000 units")
    few = 12
    without = draw(replace(case, remember=False), few, 0, here, "without memory")
    with_it = draw(case, few, 0, here, "with memory")
    print(f"remembering decisions: {without / with_it:.1f} times as quick on {few} units, in one process")
    if asked.long:
        draw(case, 100, 100, processes(2), "100 units to the end")
    else:
        draw(case, 100, 4, processes(2), "a few to the end")
    sys.stdout.flush()


if __name__ == "__main__":
    main()
