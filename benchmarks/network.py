"""FactorNetwork in one batched pass against pyAgrum's LazyPropagation asked row by row, side by side in one run.

The question is the whole table "what does each single finding say about everything": one row of evidence per state of
every variable (or of every reading, on the drawn device), all posteriors in every row. pyAgrum is asked an evenly
spread sample of the rows, or the device alone would take two minutes. Both start from the same double precision
tables, and the answers are compared. Run: ``python benchmarks/network.py``.
"""

from __future__ import annotations

import warnings
from time import perf_counter

import numpy as np
import pyagrum as gum
from numpy.typing import NDArray

from knowngood.belief import FactorNetwork

Array = NDArray[np.float64]
Model = tuple[dict[str, int], dict[str, tuple[tuple[str, ...], Array]]]  # states; per node (node, parents...) and table
REPOSITORY = ("win95pts", "hepar2", "andes")
SAMPLE = 60


def repository_model(name: str) -> Model:
    """A network of the bnlearn repository, from the copy that pgmpy ships, rows renormalised."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from pgmpy.utils import get_example_model

        cpds = get_example_model(name).get_cpds()
    states = {c.variable: int(c.values.shape[0]) for c in cpds}
    return states, {c.variable: (tuple(c.variables), c.values / c.values.sum(axis=0, keepdims=True)) for c in cpds}


def drawn_device(parts: int, seed: int) -> tuple[Model, list[str]]:
    """Parts that feed each other as a tree, with a second feed now and then, and a noisy reading of each function.

    A function works if its part is good and its feed works; with two feeds, if either works.
    """
    rng = np.random.default_rng(seed)
    states: dict[str, int] = {}
    tables: dict[str, tuple[tuple[str, ...], Array]] = {}
    for i in range(parts):
        part, function, reading = f"part{i}", f"function{i}", f"reading{i}"
        states |= {part: 2, function: 2, reading: 2}
        bad = rng.uniform(0.002, 0.05)
        tables[part] = ((part,), np.array([bad, 1 - bad]))
        feeds = [] if i == 0 else [f"function{(i - 1) // 2}"]
        if i > 4 and rng.random() < 0.1:
            feeds.append(f"function{(i - 1) // 2 - 1}")
        works = np.zeros((2,) * (1 + len(feeds)))
        works[1] = np.indices((2,) * len(feeds)).max(axis=0) if feeds else 1
        tables[function] = ((function, part, *feeds), np.stack([1 - works, works]))
        miss, alarm = rng.uniform(0.01, 0.2, 2)
        tables[reading] = ((reading, function), np.array([[1 - miss, alarm], [miss, 1 - alarm]]))
    return (states, tables), [v for v in states if v.startswith("reading")]


def to_agrum(model: Model) -> gum.BayesNet:
    """Set entry by entry: pyAgrum's own reader of network files works in single precision."""
    states, tables = model
    bn = gum.BayesNet()
    for v, n in states.items():
        bn.add(gum.LabelizedVariable(v, v, n))
    for v, (scope, _) in tables.items():
        for parent in scope[1:]:
            bn.addArc(parent, v)
    for v, (scope, table) in tables.items():
        for index in np.ndindex(table.shape):
            bn.cpt(v)[dict(zip(scope, index, strict=True))] = float(table[index])
    return bn


def compare(name: str, model: Model, asked: list[str]) -> str:
    """One line: size, both times per row, their ratio, and the greatest difference between the answers."""
    states, tables = model
    start = perf_counter()
    network = FactorNetwork(states, list(tables.values()))
    compiled = perf_counter() - start

    rows = [(v, s) for v in asked for s in range(states[v])]
    evidence = {v: np.ones((len(rows), states[v])) for v in asked}
    for row, (v, s) in enumerate(rows):
        evidence[v][row] = np.arange(states[v]) == s
    start = perf_counter()
    ours = network.posteriors(evidence)
    batched = (perf_counter() - start) / len(rows)

    inference = gum.LazyPropagation(to_agrum(model))
    worst, spent = 0.0, 0.0
    sample = [row for row in range(0, len(rows), max(1, len(rows) // SAMPLE)) if ours.log_evidence[row] > -np.inf]
    for row in sample:
        v, s = rows[row]
        start = perf_counter()
        inference.setEvidence({v: s})
        inference.makeInference()
        theirs = {w: inference.posterior(w) for w in states}
        spent += perf_counter() - start
        worst = max(worst, *(float(np.abs(ours[w][row] - theirs[w].toarray()).max()) for w in states))
    one_by_one = spent / len(sample)
    return (
        f"{name:10} {len(states):5} {network.plan.largest:8} {len(rows):5} {1e3 * compiled:11.1f} "
        f"{1e3 * batched:11.3f} {1e3 * one_by_one:11.3f} {one_by_one / batched:7.1f} {worst:11.1e}"
    )


def main() -> None:
    print("network    nodes  largest  rows  compile ms  ours ms/row theirs ms/row ratio  difference")
    for name in REPOSITORY:
        model = repository_model(name)
        print(compare(name, model, list(model[0])), flush=True)
    device, readings = drawn_device(300, seed=7)
    print(compare("device", device, readings))


if __name__ == "__main__":
    main()
