"""Whether anything that the program proposes breaks a hard rule, over many plans on every shipped map.

Units are drawn from each map with a past, hurt before the first move (a supply seen burnt, a swollen cell, a shorted
rail, a cover lost, a charge measured too high), and worked on. Before every move all that is proposed goes to the
independent check (``knowngood.plan.safety``), which shares nothing with the rules. Plans are of two kinds: by the
planner's own advice (slow: a belief for every move), and any move that the rules allow, whatever it is worth.

Run: ``python benchmarks/hazards.py [--units 2000] [--advised 60] [--moves 6] [--seed 0] [--workers 2] [--seconds N]``.
``--units`` counts plans of any allowed move, ``--advised`` those of the planner, over all maps together. Ends with 1 on
a breach.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from time import perf_counter

import numpy as np

from knowngood.maps.kinds import shipped_maps
from knowngood.maps.load import load
from knowngood.plan.drill import Drilled, advised, any_allowed, drill
from knowngood.plan.terms import DEFAULTS, terms

CHUNK = 5
"""Units that one call of a process works on."""

Job = tuple[str, int, int, bool, int, int]
"""Map, first unit, units, whether by advice, moves, seed."""


def work(name: str, first: int, units: int, by_advice: bool, moves: int, seed: int) -> tuple[str, bool, Drilled]:
    """Some units of one map."""
    device = load(name)
    bench, found = terms(device, **DEFAULTS), Drilled()
    proposing = advised if by_advice else any_allowed
    for unit in range(first, first + units):
        found.add(drill(unit, device, bench, seed, moves=moves, proposing=proposing))
    return name, by_advice, found


def jobs(units: int, by_advice: bool, moves: int, seed: int) -> Iterator[Job]:
    """The plans shared out evenly over the shipped maps."""
    names = list(shipped_maps())
    for index, name in enumerate(names):
        own = units // len(names) + (index < units % len(names))
        for first in range(0, own, CHUNK):
            yield name, first, min(CHUNK, own - first), by_advice, moves, seed


def shuffled(ones: list[Job], seed: int) -> list[Job]:
    """In an order that leaves nothing out, wherever the time runs out."""
    return [ones[index] for index in np.random.default_rng(seed).permutation(len(ones))]


def main() -> None:
    """Works, prints the table."""
    asked = argparse.ArgumentParser(description="Proposals that break a hard rule.")
    asked.add_argument("--units", type=int, default=2000)
    asked.add_argument("--advised", type=int, default=60)
    asked.add_argument("--moves", type=int, default=6)
    asked.add_argument("--seed", type=int, default=0)
    asked.add_argument("--workers", type=int, default=2)
    asked.add_argument("--seconds", type=float, default=None, help="stop then, with what is done")
    given = asked.parse_args()
    rows: dict[tuple[str, bool], Drilled] = {}
    start = perf_counter()
    by_rules = list(jobs(given.units, False, given.moves, given.seed))
    by_advice_ = list(jobs(given.advised, True, given.moves, given.seed))
    with ProcessPoolExecutor(given.workers) as pool:
        futures = [pool.submit(work, *one) for one in shuffled([*by_rules, *by_advice_], given.seed)]
        try:
            for future in as_completed(futures, given.seconds):
                name, by_advice, found = future.result()
                rows.setdefault((name, by_advice), Drilled()).add(found)
        except TimeoutError:
            print(f"stopped after {given.seconds:.0f} s")
            pool.shutdown(cancel_futures=True)
    seconds = perf_counter() - start
    rules = sorted({rule for found in rows.values() for rule in found.meetings})
    print(f"seed {given.seed}, at most {given.moves} moves a plan; by rule: decisions at which it held a move back")
    heads = "".join(f"{rule:>16}" for rule in rules)
    print(f"{'map':<22}{'plans by':<12}{'plans':>7}{'proposals':>11}{heads}{'breaches':>10}")
    for (name, by_advice), found in sorted(rows.items()):
        met = "".join(f"{found.meetings[rule]:>16}" for rule in rules)
        who = "advice" if by_advice else "any allowed"
        print(f"{name:<22}{who:<12}{found.plans:>7}{found.proposals:>11}{met}{len(found.breaches):>10}")
    plans = sum(found.plans for found in rows.values())
    breaches = [one for found in rows.values() for one in found.breaches]
    print(f"{plans} plans, {len(breaches)} breaches; {seconds:.0f} s, {60 * plans / seconds:.0f} plans a minute")
    for word, move, lines in breaches[:5]:
        print(f"\n'{word}' broken by: {move}, after\n  " + "\n  ".join(lines))
    raise SystemExit(bool(breaches))


if __name__ == "__main__":
    main()
