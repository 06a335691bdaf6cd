"""Which planted closing mistakes the reassembly sheet and the list before power would find, and which they miss.

Jobs are drawn on the shipped maps that know how they open: a unit opened as far as a step that is drawn, up to two
things more out or apart, all of it put back. For each teardown one mistake is planted, a kind in turn, at a place drawn
from all where it can be made. It is caught where a line that can be done then asks for just what is wrong: by a
checker who misses nothing, and by one who misses 1 in 10 (THERP, Table 20-22 item 1, from memory; a second check by the
same person, low dependence, misses 0.145 of those). Then what is left in a job at the published rates, with every
mistake that is possible there.

No shipped map has a lead with two poles that can go in either way, so a wire lead of each is taken as such for
``polarity``.

Run: ``python benchmarks/teardowns.py [--units 1000] [--jobs 40] [--seed 0]``. Teardowns on the same job differ by their
mistake alone. Ends with 1 if a mistake is missed by sheet and list together.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Iterable
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from knowngood.maps.device import Device
from knowngood.maps.kinds import shipped_maps
from knowngood.maps.load import load
from knowngood.plan.closing_drill import CHECKER_MISSES, MISSES_AGAIN, Caught, Job, Mistake, caught, drawn_job
from knowngood.plan.terms import DEFAULTS, terms

MAPS = {"ceiling-projector": "ballast-signal-lead", "pocket-navigator": "motor-lead"}
"""Maps, each with the wire lead that is taken as reversible."""

KINDS = (
    *("plug not in", "latch open", "coax forgotten", "cable reversed", "polarity", "swapped with its twin"),
    *("screw left over", "long screw, wrong hole"),
)


def with_poles(name: str, lead: str) -> Device:
    """A shipped map on which one lead carries power and can go in either way."""
    text = shipped_maps()[name].read_text(encoding="utf-8")
    head, mark, tail = text.partition(f"\n  {lead}:\n")
    assert mark, f"{name} has no {lead}"
    entry, rest = tail.split("    behind:", 1)
    carries = "    carries: [signal, permission]\n"
    entry = entry.replace(carries, "    carries: [power]\n")
    with TemporaryDirectory() as folder:
        file = Path(folder) / f"{name}.yaml"
        file.write_text(f"{head}{mark}{entry}    reversible: true\n    behind:{rest}", encoding="utf-8")
        return load(str(file))


def missed(found: Caught, *, late: bool = False) -> dict[str, float]:
    """Chance that a mistake is missed, by what is followed, by a checker who misses 1 in 10."""
    listed = found.by_late_list if late else found.by_list
    alone = {"sheet": found.by_sheet, "list": found.by_list, "list, asked once closed": found.by_late_list}
    chances = {name: CHECKER_MISSES if yes else 1.0 for name, yes in alone.items()}
    both = CHECKER_MISSES * MISSES_AGAIN if found.by_sheet and listed else min(chances["sheet"], chances["list"])
    return {**chances, "both": both}


def planted(jobs: list[Job], units: int, draw: np.random.Generator) -> Iterable[tuple[Mistake, Caught, Job]]:
    """Mistakes, a kind in turn, each at a place that is drawn."""
    places = {kind: [(job, one) for job in jobs for one in job.mistakes if one.kind == kind] for kind in KINDS}
    for number in range(units):
        kind = KINDS[number % len(KINDS)]
        if places[kind]:
            job, mistake = places[kind][int(draw.integers(len(places[kind])))]
            yield mistake, caught(job, mistake), job


def main() -> None:
    """Draws, prints the tables."""
    asked = argparse.ArgumentParser(description="Planted closing mistakes.")
    asked.add_argument("--units", type=int, default=1000)
    asked.add_argument("--jobs", type=int, default=40)
    asked.add_argument("--seed", type=int, default=0)
    given = asked.parse_args()
    draw = np.random.default_rng(given.seed)
    devices = [with_poles(name, lead) for name, lead in MAPS.items()]
    jobs = [drawn_job(one, terms(one, **DEFAULTS), draw) for _ in range(given.jobs // 2) for one in devices]
    rows: dict[str, Counter[str]] = {kind: Counter() for kind in (*KINDS, "all")}
    why: Counter[str] = Counter()
    for mistake, found, job in planted(jobs, given.units, draw):
        left = missed(found)
        for row in (rows[mistake.kind], rows["all"]):
            row["planted"] += 1
            row["sheet"] += found.by_sheet
            row["list"] += found.by_list
            row["late"] += found.by_late_list
            row["either"] += found.by_sheet or found.by_list
            row["human, sheet"] += 1.0 - left["sheet"]  # type: ignore[assignment]  # an expected count
            row["human, list"] += 1.0 - left["list"]  # type: ignore[assignment]
            row["human, both"] += 1.0 - left["both"]  # type: ignore[assignment]
        if found.why:
            why[f"{mistake.kind}: {found.why} ({job.device.id})"] += 1
    total = rows["all"]["planted"]
    print(f"{total} teardowns with one mistake each, on {len(jobs)} drawn jobs. Share caught, %:\n")
    print(f"{'':<24}{'':>8}{'a checker who misses nothing':^38}{'who misses 1 in 10':^24}")
    print(f"{'':<24}{'planted':>8}{'sheet':>8}{'list':>8}{'either':>8}{'late list':>14}", end="")
    print(f"{'sheet':>8}{'list':>8}{'both':>8}")
    for kind, row in rows.items():
        if row["planted"]:
            shares = [100.0 * row[name] / row["planted"] for name in ("sheet", "list", "either")]
            human = [100.0 * row[f"human, {name}"] / row["planted"] for name in ("sheet", "list", "both")]
            late = 100.0 * row["late"] / row["planted"]
            print(f"{kind:<24}{row['planted']:>8}{''.join(f'{one:>8.1f}' for one in shares)}{late:>14.1f}", end="")
            print("".join(f"{one:>8.1f}" for one in human))
    print("\nThe late list is asked for only when all is closed.\nWhat was not caught everywhere, and why:")
    for said, count in sorted(why.items(), key=lambda one: -one[1])[:12]:
        print(f"  {count:>4}  {said}")
    every = [(one, missed(caught(job, one))) for job in jobs for one in job.mistakes]
    rate = sum(one.rate for one, _ in every) / len(jobs)
    print(
        f"\nAt the published rates, with no check: {rate:.2f} mistakes a job. Left by the checker who misses 1 in 10:"
    )
    for name in ("sheet", "list", "list, asked once closed", "both"):
        print(f"  {name:<24}{sum(one.rate * left[name] for one, left in every) / len(jobs):.4f}")
    raise SystemExit(rows["all"]["either"] < total)


if __name__ == "__main__":
    main()
