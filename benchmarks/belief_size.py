"""How belief grows with the device: drawn tree-like devices of 50 to 1,000 parts (``drawn.py``), no part of them alike.

1. The whole what-if table of 300 parts and 400 tests (every outcome of every test: the posterior of every part), in
   one batched pass, against pyAgrum's LazyPropagation on the very same network, one evidence set at a time. pyAgrum is
   asked an evenly spread sample of the sets, and the whole is scaled from that. The answers are compared.
2. One posterior of all variables after the evidence changed, on the compiled network of that device.
3. 1,000 parts and 1,200 tests in a process of its own: belief and whole what-if table, and its peak memory.
4. A log of 60 lines in 8 configurations on 170 parts.
5. Growth from 50 to 800 parts, with the time for each part. (The what-if table itself grows with parts times tests.)

Times are what the processor spends, so that other work on the machine does not count; the engine runs on one core.
Run: ``python benchmarks/belief_size.py``.
"""

from __future__ import annotations

import resource
import subprocess
import sys
from collections.abc import Callable
from time import process_time
from typing import TypeVar

import numpy as np
import pyagrum as gum
from drawn import long_log, some_tried, tree
from numpy.typing import NDArray

from knowngood.belief.believe import Belief, believe
from knowngood.belief.evaluate import effects
from knowngood.belief.evidence import Batch
from knowngood.belief.network import Posteriors
from knowngood.belief.story import Sensed, tell
from knowngood.belief.what_if import ask, query_test
from knowngood.log.state import Replay

SAMPLE = 20
GIB = 2**20
"""In the kibibytes that the system counts memory in."""

T = TypeVar("T")


def best(work: Callable[[], T]) -> tuple[float, T]:
    """The shortest of three times on the processor, in ms, and what came of it."""
    times, result = [], work()
    for _ in range(3):
        start = process_time()
        result = work()
        times.append(1e3 * (process_time() - start))
    return min(times), result


class WithTests(Belief):
    """A belief with a variable for what each test senses, as an engine that takes evidence on variables needs it. The
    program itself needs none (``what_if``): its own time is printed beside."""

    def _same_again(self) -> list[list[Sensed]]:
        for test in self.device.tests.values():
            self.wiring.ask(test, self.configuration_for(test))
        return super()._same_again()


def believed(parts: int, tests: int) -> Belief:
    """A belief from a log in which every tenth function was tried, compiled for all tests."""
    device = tree(parts, tests, seed=7)
    log = some_tried(device, seed=7)
    return WithTests(tell(device, log), log)


def asked(parts: int, tests: int) -> None:
    """What the program does: one belief, and the whole table of what each outcome would make of it."""
    device = tree(parts, tests, seed=7)
    log = some_tried(device, seed=7)
    effects(device)  # what is worked out once for a map
    compiled, belief = best(lambda: believe(device, log))
    queries = [query_test(belief, test) for test in device.tests.values()]
    table, _ = best(lambda: ask(belief, queries))
    print(f"the program's own {len(queries)} tests: belief {compiled:.0f} ms, whole what-if {table:.0f} ms")


def to_agrum(belief: Belief) -> gum.BayesNet:
    """Each factor is the table of its last variable, given those before it."""
    factors = [(tuple(scope), np.asarray(table, float)) for scope, table in belief.wiring._factors]
    bn = gum.BayesNet()
    for variable, count in belief.network.states.items():
        bn.add(gum.LabelizedVariable(variable, variable, count))
    for scope, _ in factors:
        for parent in scope[:-1]:
            bn.addArc(parent, scope[-1])
    for scope, table in factors:
        cpt = bn.cpt(scope[-1])
        cpt.fillWith(table.transpose([scope.index(name) for name in reversed(cpt.names)]).ravel().tolist())
    return bn


Finding = tuple[str, NDArray[np.float64]]


def outcomes(belief: Belief) -> list[Finding]:
    """What each outcome of each test would say, as evidence on one variable."""
    found = []
    for test in belief.device.tests.values():
        handle = belief.wiring.handle(test, belief.configuration_for(test))
        assert handle.variable is not None
        table = belief.table(test)[list(handle.rows)]
        found += [(handle.variable, table[:, outcome]) for outcome in range(len(test.outcomes))]
    return found


def whole_table(belief: Belief, findings: list[Finding]) -> Posteriors:
    """The posterior of every part, one row an outcome."""
    batch = Batch(belief.base, len(findings), belief.network.states)
    for row, (variable, chances) in enumerate(findings):
        batch.multiply(row, variable, chances)
    return belief.network.posteriors(batch.rows, of=belief.story.now.values())


def what_if(parts: int, tests: int) -> None:
    belief = believed(parts, tests)
    findings = outcomes(belief)
    one_pass, ours = best(lambda: whole_table(belief, findings))
    inference = gum.LazyPropagation(to_agrum(belief))
    sample = range(0, len(findings), max(1, len(findings) // SAMPLE))
    spent, worst = 0.0, 0.0
    for row in sample:
        variable, chances = findings[row]
        evidence = {v: np.array(weights, float).ravel() for v, weights in belief.base.items()}
        evidence[variable] = evidence.get(variable, np.ones(len(chances))) * chances
        start = process_time()
        inference.eraseAllEvidence()
        for v, weights in evidence.items():
            inference.addEvidence(v, (weights / weights.max()).tolist())
        inference.makeInference()
        theirs = {v: inference.posterior(v).toarray() for v in belief.story.now.values()}
        spent += process_time() - start
        worst = max(worst, *(float(np.abs(ours[v][row] - found).max()) for v, found in theirs.items()))
    whole = 1e3 * spent / len(sample) * len(findings)
    print(
        f"what if, {parts} parts, {tests} tests, {len(findings)} outcomes: {one_pass:.0f} ms (goal 500), pyAgrum "
        f"{whole / 1e3:.1f} s (scaled from {len(sample)} sets), ratio {whole / one_pass:.0f} (goal 200), greatest "
        f"difference {worst:.1e}",
        flush=True,
    )
    draw = np.random.default_rng(1)

    def update() -> None:
        changed = {v: draw.uniform(0.5, 1.0, belief.network.states[v]) for v in belief.base}
        belief.network.posteriors({v: weights * changed[v] for v, weights in belief.base.items()})

    spent, _ = best(update)
    print(
        f"one update of all {len(belief.network.states)} posteriors, {len(belief.base)} findings: "
        f"{spent:.1f} ms (goal 30)"
    )


def large(parts: int, tests: int) -> None:
    """What the program does, in a process of its own."""
    device = tree(parts, tests, seed=7)
    start = process_time()
    effects(device)
    once = process_time() - start
    start = process_time()
    belief = believe(device, some_tried(device, seed=7))
    compiled = process_time() - start
    ask(belief, [query_test(belief, test) for test in device.tests.values()])
    whole = process_time() - start + once
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    print(
        f"{parts} parts, {tests} tests: once a map {once:.2f} s, belief {compiled:.2f} s, these and the whole what-if "
        f"table {whole:.2f} s (goal 5), peak memory {memory / GIB:.2f} GiB (goal 1)"
    )


def long(parts: int, lines: int) -> None:
    device = tree(parts, parts, seed=7)
    for seed in range(3):
        done = long_log(device, lines, seed)

        def work(done: Replay = done) -> Belief:
            belief = believe(device, done)
            assert belief.suspects
            assert belief.known_good >= 0.0
            return belief

        spent, belief = best(work)
        configurations = {line.configuration for line in belief.story.evidence if isinstance(line, Sensed)}
        print(
            f"{parts} parts, log of {len(done.lines)} lines in {len(configurations)} configurations: belief "
            f"{spent:.0f} ms (goal 300), {belief.network.entries} entries",
            flush=True,
        )


def growth() -> None:
    """Times from 50 to 800 parts, and the power of the number of parts that each grows by (least squares on logs): 1 is
    linear. ``map`` is what each single fault would stop, worked out once a map and kept; ``belief`` is without it."""
    sizes = (50, 100, 200, 400, 800)
    rows = [_grown(parts) for parts in sizes]
    print(f"{'parts':>6}" + "".join(f"{name:>12}{'a part':>9}" for name in rows[0]))
    for parts, row in zip(sizes, rows, strict=True):
        print(f"{parts:6}" + "".join(f"{value:12.1f}{value / parts:9.3f}" for value in row.values()))
    powers = (np.polyfit(np.log(sizes), np.log([row[name] for row in rows]), 1)[0] for name in rows[0])
    print(f"{'power':>6}" + "".join(f"{power:12.2f}{'':9}" for power in powers), flush=True)


def _grown(parts: int) -> dict[str, float]:
    device = tree(parts, parts, seed=7)
    log = some_tried(device, seed=7)
    start = process_time()
    effects(device)
    once = 1e3 * (process_time() - start)
    spent, belief = best(lambda: believe(device, log))
    update, _ = best(lambda: belief.network.posteriors(belief.base))
    queries = [query_test(belief, test) for test in device.tests.values()]
    table, _ = best(lambda: ask(belief, queries))
    return {
        "entries": belief.network.entries,
        "map ms": once,
        "belief ms": spent,
        "update ms": update,
        "what-if ms": table,
    }


def main() -> None:
    if sys.argv[1:]:
        large(1000, 1200)
        return
    what_if(300, 400)
    asked(300, 400)
    subprocess.run([sys.executable, __file__, "large"], check=True)
    long(170, 60)
    growth()


if __name__ == "__main__":
    main()
