"""What the planner costs against known optima, and on device-size problems against other planners.

Small instances: regret of the expected cost, computed exactly. Device size: the same drawn units for everybody; the
mean cost over that of the textbook one-step planner, whose cost of each unit ``large/index.json`` holds, with the error
of the paired differences, and against the best planner in it. ``--wrong-priors`` gives every policy priors that are off
by a factor of up to 3 each way, on the true units. Run: ``python benchmarks/yardstick.py [DIR] [--units 200]``.
"""

from __future__ import annotations

import argparse
import json
import math
import random
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from knowngood.plan import baselines
from knowngood.plan.yardstick import Instance, Move, Policy, Step, choose, evaluate, load

ONE_STEP = "one-step value of information"
WRONG_FACTOR = 3.0


def small(folder: Path) -> None:
    """Regret on the instances with known optimum."""
    index = json.loads((folder / "index.json").read_text())["instances"]
    kinds: dict[str, list[float]] = {}
    mean_seconds, worst_seconds = [], 0.0
    for name, known in index.items():
        found = evaluate(load(folder / f"{name}.json"))
        regret = 100 * (found.expected_cost / known["optimal_cost"] - 1)
        kinds.setdefault(name.rsplit("-", 1)[0], []).append(regret)
        mean_seconds.append(found.seconds_per_decision)
        worst_seconds = max(worst_seconds, found.worst_seconds_per_decision)
        print(
            f"  {name:26} regret {regret:9.5f} %   {found.decisions:4} decisions,"
            f" mean {1e3 * found.seconds_per_decision:6.1f} ms, worst {found.worst_seconds_per_decision:5.2f} s",
            flush=True,
        )
    print("Regret by kind, mean and worst:")
    for kind, regrets in kinds.items():
        print(f"  {kind:26} {sum(regrets) / len(regrets):9.5f} % {max(regrets):9.5f} %")
    every = [one for regrets in kinds.values() for one in regrets]
    print(
        f"  {'all':26} {sum(every) / len(every):9.5f} % {max(every):9.5f} %   decisions: mean"
        f" {1e3 * sum(mean_seconds) / len(mean_seconds):.1f} ms, worst {worst_seconds:.2f} s"
    )


def paired(costs: Sequence[float], other: Sequence[float]) -> tuple[float, float]:
    """Mean difference and its standard error."""
    differences = [one - two for one, two in zip(costs, other, strict=True)]
    mean = sum(differences) / len(differences)
    spread = sum((one - mean) ** 2 for one in differences)
    return mean, math.sqrt(spread / max(len(differences) - 1, 1) / len(differences))


def large(folder: Path, units: int) -> None:
    """Cost over the one-step planner's on the same units."""
    index: dict[str, Any] = json.loads((folder / "large" / "index.json").read_text())["instances"]
    ratios = []
    for name, known in index.items():
        found = evaluate(load(folder / "large" / f"{name}.json"), units=units)
        others = {key: value["costs"][:units] for key, value in known.items() if key != "bound"}
        best = min(others, key=lambda key: sum(others[key]))
        base = sum(others[ONE_STEP]) / units
        _, error = paired(found.costs, others[ONE_STEP])
        behind, behind_error = paired(found.costs, others[best])
        ratios.append(found.expected_cost / base)
        print(
            f"  {name}: cost {found.expected_cost:7.2f}, over one-step {ratios[-1]:.3f} ± {error / base:.3f};"
            f" best prototype ({best}) {sum(others[best]) / units / base:.3f},"
            f" dearer than it by {behind:+.2f} ± {behind_error:.2f};"
            f" bound {sum(known['bound']['costs'][:units]) / units / base:.3f};"
            f" decision mean {found.seconds_per_decision:.3f} s, worst {found.worst_seconds_per_decision:.3f} s",
            flush=True,
        )
    print(f"  mean of the ratios {sum(ratios) / len(ratios):.4f} over {units} units an instance")


def misled(instance: Instance, seed: int) -> Instance:
    """The instance with each prior off by a factor drawn log-uniformly up to 3 each way."""
    draw = random.Random(f"{instance.name}/{seed}")
    priors = tuple(
        min(0.95, prior * math.exp(draw.uniform(-1, 1) * math.log(WRONG_FACTOR))) for prior in instance.problem.priors
    )
    return replace(instance, problem=replace(instance.problem, priors=priors))


def with_wrong_priors(folder: Path, units: int, seed: int) -> None:
    """What every policy loses when the priors it is told are wrong."""
    policies: dict[str, Policy] = {"planner": choose, **baselines.POLICIES}
    totals: dict[str, list[float]] = {}
    for name in json.loads((folder / "large" / "index.json").read_text())["instances"]:
        instance = load(folder / "large" / f"{name}.json")
        wrong = misled(instance, seed)
        row = []
        for label, policy in policies.items():

            def told_wrongly(
                _: Instance, history: Sequence[Step], policy: Policy = policy, wrong: Instance = wrong
            ) -> Move:
                return policy(wrong, history)

            right, off = evaluate(instance, policy, units), evaluate(instance, told_wrongly, units)
            loss, error = paired(off.costs, right.costs)
            totals.setdefault(label, []).append(off.expected_cost)
            row.append(
                f"    {label:30} {off.expected_cost:7.2f}  (right priors {right.expected_cost:7.2f},"
                f" loss {loss:+.2f} ± {error:.2f})"
            )
        print(f"  {name}", *row, sep="\n", flush=True)
    print("  mean cost over the instances with wrong priors:")
    for label, costs in totals.items():
        print(f"    {label:30} {sum(costs) / len(costs):7.2f}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", nargs="?", type=Path, default=Path(__file__).parent / "yardstick")
    parser.add_argument("--units", type=int, default=50, help="units drawn for each device-size instance")
    parser.add_argument("--wrong-priors", action="store_true", help="the wrong-prior table only")
    parser.add_argument("--seed", type=int, default=0, help="seed of the wrong priors")
    parser.add_argument("--only", choices=["small", "large"], help="one of the two tables")
    told = parser.parse_args()
    if told.wrong_priors:
        print("Device size, priors off by a factor of up to 3:")
        with_wrong_priors(told.folder, told.units, told.seed)
        return
    if told.only != "large":
        print("Small instances:")
        small(told.folder)
    if told.only != "small":
        print("Device size:")
        large(told.folder, told.units)


if __name__ == "__main__":
    main()
