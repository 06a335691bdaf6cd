"""Published examples of multiple-fault diagnosis, on the factor network that belief is computed with.

"Printed" marks what stands in the source; "computed" is exact from the model stated there, by enumeration. Sets are
compared exactly, probabilities to 1e-9.

A *diagnosis* is a set of parts whose being faulty leaves the rest consistent with the readings, when a faulty part may
put out anything (weak fault model). As a network: each part is healthy or faulty, and its output is what it ought to be
or free.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain, combinations, pairwise, product

import numpy as np
import pytest
from numpy.typing import NDArray

from knowngood.belief import FactorNetwork
from knowngood.belief.believe import believe
from knowngood.belief.explanations import likeliest
from knowngood.log.events import parse
from knowngood.log.state import Line, replay
from knowngood.maps.device import Device
from knowngood.maps.kinds import kinds
from knowngood.maps.load import load_text

Array = NDArray[np.float64]
Parts = frozenset[str]


@dataclass(frozen=True)
class Gate:
    """A part that makes ``output`` of its inputs."""

    output: str
    inputs: tuple[str, str]
    makes: Callable[[int, int], int]


@dataclass(frozen=True)
class System:
    """Parts with known inputs and some outputs observed; signals are numbers 0 to ``values`` - 1."""

    gates: Mapping[str, Gate]
    given: Mapping[str, int]
    observed: Mapping[str, int]
    values: int

    def network(self, faulty: float, *, weight_of_anything: float) -> FactorNetwork:
        """Each part faulty with that chance; a faulty one puts out each value with ``weight_of_anything``."""
        signals = dict.fromkeys([*self.given, *(gate.output for gate in self.gates.values())], self.values)
        factors: list[tuple[tuple[str, ...], Array]] = [
            ((signal,), np.eye(self.values)[value]) for signal, value in self.given.items()
        ]
        for name, gate in self.gates.items():
            table = np.full((2, self.values, self.values, self.values), weight_of_anything)
            table[0] = 0.0
            for left, right in product(range(self.values), repeat=2):
                made = gate.makes(left, right)
                if made < self.values:
                    table[0, left, right, made] = 1.0
            factors += [((name,), np.array([1.0 - faulty, faulty])), ((name, *gate.inputs, gate.output), table)]
        return FactorNetwork({**dict.fromkeys(self.gates, 2), **signals}, factors)

    def seen(self, **more: int) -> dict[str, Array]:
        """The observations as evidence."""
        return {signal: np.eye(self.values)[value] for signal, value in {**self.observed, **more}.items()}

    def sets(self) -> list[Parts]:
        """Every set of parts, small ones first."""
        return [frozenset(one) for n in range(len(self.gates) + 1) for one in combinations(self.gates, n)]

    def evidence_of(self, sets: Sequence[Parts]) -> dict[str, Array]:
        """One row for each set: exactly its parts are faulty."""
        return {name: np.array([[name not in one, name in one] for one in sets], float) for name in self.gates}

    def diagnoses(self) -> list[Parts]:
        """The sets that explain the observations, by one batched pass over all sets."""
        sets = self.sets()
        found = self.network(0.01, weight_of_anything=1.0).log_evidence({**self.seen(), **self.evidence_of(sets)})
        return [one for one, log_weight in zip(sets, found, strict=True) if log_weight > -np.inf]


def minimal(sets: Iterable[Parts]) -> set[Parts]:
    """Those that hold no other of them."""
    kept = list(sets)
    return {one for one in kept if not any(other < one for other in kept)}


def conflicts(system: System) -> set[Parts]:
    """Minimal sets of parts that cannot all be healthy: their faults are the diagnoses' hitting sets."""
    healthy = [frozenset(system.gates) - one for one in system.sets() if one not in set(system.diagnoses())]
    return minimal(healthy)


def sets(*named: str) -> set[Parts]:
    return {frozenset(one.split()) for one in named}


POLYBOX = System(
    {
        "M1": Gate("x", ("A", "C"), lambda a, b: a * b),
        "M2": Gate("y", ("B", "D"), lambda a, b: a * b),
        "M3": Gate("z", ("C", "E"), lambda a, b: a * b),
        "A1": Gate("f", ("x", "y"), lambda a, b: a + b),
        "A2": Gate("g", ("y", "z"), lambda a, b: a + b),
    },
    {"A": 3, "B": 2, "C": 2, "D": 3, "E": 3},
    {"f": 10, "g": 12},
    20,
)
"""Three multipliers, two adders. J. de Kleer, B. C. Williams, Diagnosing multiple faults, Artificial Intelligence 32
(1987) 97-130; inputs and readings as in B. C. Williams, Conflict-directed diagnosis and probabilistic mode estimation,
MIT lecture 16.412J/6.834J, 10 March 2004."""


def test_three_multipliers_two_adders() -> None:
    """{A2, M2} printed in the lecture; the rest computed: 27 of the 32 sets are diagnoses."""
    healthy = POLYBOX.network(0.0, weight_of_anything=1.0).posteriors()
    right = {"x": 6, "y": 6, "z": 6, "f": 12, "g": 12}
    assert {signal: int(healthy[signal][0].argmax()) for signal in right} == right
    found = POLYBOX.diagnoses()
    assert len(found) == 27
    assert minimal(found) == sets("A1", "M1", "A2 M2", "M2 M3")
    assert conflicts(POLYBOX) == sets("A1 M1 M2", "A1 A2 M1 M3")


def test_three_multipliers_two_adders_by_weight_of_the_diagnoses() -> None:
    """Each diagnosis weighs the product of its parts' priors (0.01 faulty); computed."""
    found = POLYBOX.diagnoses()
    weight = {one: 0.01 ** len(one) * 0.99 ** (5 - len(one)) for one in found}
    total = sum(weight.values())
    expected = {"M1": 0.497635239829, "A1": 0.497635239829, "M2": 0.019608814014, "M3": 0.014780264258}
    for part, chance in {**expected, "A2": 0.014780264258}.items():
        assert sum(w for one, w in weight.items() if part in one) / total == pytest.approx(chance, abs=1e-9), part
    exactly = {"M1": 0.478026425815, "A1": 0.478026425815, "A2 M2": 0.004828549756, "M2 M3": 0.004828549756}
    for names, chance in exactly.items():
        assert weight[frozenset(names.split())] / total == pytest.approx(chance, abs=1e-9), names


def test_the_likeliest_diagnoses_of_three_multipliers_two_adders() -> None:
    """By the same weights, with the signals hidden: the four above are the first four, in this order; computed."""
    network = POLYBOX.network(0.01, weight_of_anything=1.0)
    found = likeliest(network, POLYBOX.seen(), list(POLYBOX.gates), 5)
    named = [frozenset(part for part in POLYBOX.gates if course[part]) for course, _ in found]
    assert set(named[:2]) == sets("M1", "A1")
    assert set(named[2:4]) <= {one for one in POLYBOX.diagnoses() if len(one) == 2}
    weights = [math.exp(log) for _, log in found]
    assert weights == pytest.approx([0.01 * 0.99**4] * 2 + [0.01**2 * 0.99**3] * 3, abs=1e-12)


def entropy(weights: Array) -> Array:
    """Entropy in bits along the last axis, of weights that need not sum to one."""
    shares = weights / weights.sum(axis=-1, keepdims=True)
    bits: Array = -(shares * np.log2(np.where(shares > 0, shares, 1.0))).sum(axis=-1)
    return bits


def test_three_multipliers_two_adders_by_exact_bayes() -> None:
    """A faulty part puts out each of 0 to 19 alike; computed."""
    network = POLYBOX.network(0.01, weight_of_anything=1 / 20)
    posterior = network.posteriors(POLYBOX.seen())
    assert math.exp(posterior.log_evidence[0]) == pytest.approx(0.000967409647, abs=1e-9)
    expected = {"M1": 0.502258584601, "A1": 0.502259989151, "M2": 0.001015099592, "M3": 0.000765492677}
    for part, chance in {**expected, "A2": 0.000766388109}.items():
        assert posterior[part][0, 1] == pytest.approx(chance, abs=1e-9), part
    every = POLYBOX.sets()
    weights = np.exp(network.log_evidence({**POLYBOX.seen(), **POLYBOX.evidence_of(every)}))
    shares = dict(zip(every, weights / weights.sum(), strict=True))
    for names, chance in {"M1": 0.496478411752, "A1": 0.496478411752, "A1 M1": 0.005014933452}.items():
        assert shares[frozenset(names.split())] == pytest.approx(chance, abs=1e-9), names
    assert entropy(weights) == pytest.approx(1.065806555376, abs=1e-9)


def test_best_probe_of_three_multipliers_two_adders() -> None:
    """Entropy over the 32 fault sets that is left, on average, after probing a signal: x first, then y, then z;
    computed. One batched pass over all values of all signals and all fault sets."""
    network = POLYBOX.network(0.01, weight_of_anything=1 / 20)
    every = POLYBOX.sets()
    left = {}
    for signal in ("x", "y", "z"):
        rows = {name: np.tile(table, (20, 1)) for name, table in POLYBOX.evidence_of(every).items()}
        rows[signal] = np.repeat(np.eye(20), len(every), axis=0)
        weights = np.exp(network.log_evidence({**POLYBOX.seen(), **rows})).reshape(20, len(every))
        seen = weights.sum(axis=1) > 0
        left[signal] = float(weights.sum(axis=1)[seen] @ entropy(weights[seen]) / weights.sum())
    expected = {"x": 0.031452281845, "y": 1.059442895220, "z": 1.062271727173}
    assert left == pytest.approx(expected, abs=1e-9)
    gains = {signal: 1.065806555376 - bits for signal, bits in left.items()}
    assert gains == pytest.approx({"x": 1.034354273532, "y": 0.006363660156, "z": 0.003534828203}, abs=1e-9)
    assert sorted(left, key=left.__getitem__) == ["x", "y", "z"]


FULL_ADDER = System(
    {
        "X1": Gate("half", ("a", "b"), lambda a, b: a ^ b),
        "X2": Gate("sum", ("half", "c"), lambda a, b: a ^ b),
        "A1": Gate("both", ("a", "b"), lambda a, b: a & b),
        "A2": Gate("more", ("half", "c"), lambda a, b: a & b),
        "O1": Gate("carry", ("both", "more"), lambda a, b: a | b),
    },
    {"a": 1, "b": 0, "c": 1},
    {"sum": 1, "carry": 0},
    2,
)
"""R. Reiter, A theory of diagnosis from first principles, Artificial Intelligence 32 (1987) 57-95."""


def test_full_adder() -> None:
    """As remembered from Reiter's paper, recomputed by enumeration. With at most one faulty gate only X1: printed in
    the SICStus Prolog User's Manual, library(clpb), Example 4."""
    found = FULL_ADDER.diagnoses()
    assert len(found) == 22
    assert minimal(found) == sets("X1", "X2 A2", "X2 O1")
    assert conflicts(FULL_ADDER) == sets("X1 X2", "X1 A2 O1")
    assert [one for one in found if len(one) <= 1] == [frozenset({"X1"})]
    chosen, _ = FULL_ADDER.network(1e-3, weight_of_anything=1.0).most_probable(FULL_ADDER.seen())
    assert {name for name in FULL_ADDER.gates if chosen[name]} == {"X1"}


def nand(a: int, b: int) -> int:
    return 1 - a * b


C17 = {
    "N10": Gate("N10", ("N1", "N3"), nand),
    "N11": Gate("N11", ("N3", "N6"), nand),
    "N16": Gate("N16", ("N2", "N11"), nand),
    "N19": Gate("N19", ("N11", "N7"), nand),
    "N22": Gate("N22", ("N10", "N16"), nand),
    "N23": Gate("N23", ("N16", "N19"), nand),
}
"""ISCAS-85 circuit c17 (F. Brglez, H. Fujiwara, 1985), gates named by what they put out."""

C17_CASES = [
    ("01111", "10", "00", sets("N10", "N22")),
    ("11110", "01", "10", sets("N10 N19", "N10 N23", "N11 N22", "N16 N22", "N19 N22", "N22 N23")),
    ("10011", "10", "01", sets("N10 N11", "N10 N19", "N10 N23", "N11 N22", "N16 N23", "N19 N22", "N22 N23")),
    ("00010", "11", "00", sets("N16")),
]
"""Inputs N1 N2 N3 N6 N7, observed and right N22 N23, the smallest diagnoses. Computed, by enumeration and by a SAT
count that agree."""


def _c17(inputs: str, observed: str) -> System:
    gates = {f"gate {name}": gate for name, gate in C17.items()}
    given = dict(zip(("N1", "N2", "N3", "N6", "N7"), map(int, inputs), strict=True))
    return System(gates, given, dict(zip(("N22", "N23"), map(int, observed), strict=True)), 2)


def _gates(named: set[Parts]) -> set[Parts]:
    """Sets of gates under the names that they have as parts: those of their outputs are signals."""
    return {frozenset(f"gate {name}" for name in one) for one in named}


@pytest.mark.parametrize(("inputs", "observed", "right", "smallest"), C17_CASES)
def test_c17(inputs: str, observed: str, right: str, smallest: set[Parts]) -> None:
    """With tiny priors the weight of the evidence is that of the smallest diagnoses, and they are the most probable."""
    system, wanted = _c17(inputs, observed), _gates(smallest)
    healthy = system.network(0.0, weight_of_anything=1.0).posteriors()
    assert "".join(str(healthy[out][0].argmax()) for out in ("N22", "N23")) == right
    found = system.diagnoses()
    fewest = min(len(one) for one in found)
    assert {one for one in found if len(one) == fewest} == wanted
    tiny = 1e-6
    network = system.network(tiny, weight_of_anything=0.5)
    chosen, _ = network.most_probable(system.seen())
    assert frozenset(name for name in system.gates if chosen[name]) in wanted
    posterior = network.posteriors(system.seen())
    assert {name for name in system.gates if posterior[name][0, 1] > 100 * tiny} == set(chain(*wanted))


DIAGNOSES = {"C1 C2": 0.2, "C3 C4": 0.16, "C3 C5": 0.16, "C3 C6": 0.16, "C3 C7": 0.16, "C3 C8": 0.16}
"""R. Stern, M. Kalech, S. Rogov, A. Feldman, How many diagnoses do we need?, Artificial Intelligence 248 (2017) 26-45,
sections 2.1, 3, 4, Table 1. True faults C3 and C5."""


def test_from_diagnoses_to_one_number_for_each_part() -> None:
    """Printed: the likeliest diagnosis does not hold the likeliest part."""
    names = [f"C{n}" for n in range(1, 9)]
    factors: list[tuple[tuple[str, ...], Array]] = [(("diagnosis",), np.array(list(DIAGNOSES.values())))]
    for name in names:
        holds = np.array([[name not in one.split(), name in one.split()] for one in DIAGNOSES], float)
        factors.append((("diagnosis", name), holds))
    posterior = FactorNetwork({"diagnosis": 6, **dict.fromkeys(names, 2)}, factors).posteriors()
    chances = {name: float(posterior[name][0, 1]) for name in names}
    assert chances == pytest.approx({**dict.fromkeys(names, 0.16), "C1": 0.2, "C2": 0.2, "C3": 0.8}, abs=1e-9)
    assert max(DIAGNOSES, key=DIAGNOSES.__getitem__) == "C1 C2"
    assert max(chances, key=chances.__getitem__) == "C3"
    true = {"C3", "C5"}
    squares = sum((chance - (name in true)) ** 2 for name, chance in chances.items())
    assert squares == pytest.approx(0.928, abs=1e-9)  # printed as 0.93 and called Euclidean; the root is the distance
    assert math.sqrt(squares) == pytest.approx(0.963327566303, abs=1e-9)
    assert wasted(sorted(names, key=lambda name: (-chances[name], name)), true) == 3
    by_diagnosis = list(dict.fromkeys(chain(*(one.split() for one in sorted(DIAGNOSES, key=lambda d: -DIAGNOSES[d])))))
    assert wasted(by_diagnosis, true) == 3
    assert area_under_curve(chances, true) == pytest.approx(2 / 3, abs=1e-9)  # printed 0.6675, from 1/3 as .33


def wasted(order: Sequence[str], faulty: set[str]) -> int:
    """Healthy parts mended, in this order, before all faults are gone."""
    last = max(order.index(name) for name in faulty)
    return sum(name not in faulty for name in order[: last + 1])


def area_under_curve(chances: Mapping[str, float], faulty: set[str]) -> float:
    """Area under the operating characteristic over thresholds 0, .1, .., 1 (a chance equal to one passes it)."""
    healthy = set(chances) - faulty
    points = {(0.0, 0.0), (1.0, 1.0)}
    for step in range(11):
        accused = {name for name, chance in chances.items() if chance > step / 10 - 1e-9}
        points.add((len(accused & healthy) / len(healthy), len(accused & faulty) / len(faulty)))
    line = sorted(points)
    return sum((right[0] - left[0]) * (right[1] + left[1]) / 2 for left, right in pairwise(line))


LIMITS = {
    "three multipliers, two adders": (POLYBOX, sets("A1", "M1")),
    "full adder": (FULL_ADDER, sets("X1")),
    **{f"c17, {case[0]}": (_c17(case[0], case[1]), _gates(case[3])) for case in C17_CASES},
}


@pytest.mark.parametrize(("system", "smallest"), LIMITS.values(), ids=LIMITS)
def test_as_faults_become_rare_the_smallest_diagnoses_take_all(system: System, smallest: set[Parts]) -> None:
    """What other fault sets keep falls in proportion to the chance of a fault, and each of the smallest keeps a share
    that does not: consistency-based diagnosis is the limit of rare faults (J. de Kleer, A. Mackworth, R. Reiter,
    Characterizing diagnoses and systems, Artificial Intelligence 56 (1992), from memory)."""
    every = system.sets()
    rest, least = [], []
    for rare in (1e-3, 1e-5, 1e-7):
        network = system.network(rare, weight_of_anything=1 / system.values)
        weights = np.exp(network.log_evidence({**system.seen(), **system.evidence_of(every)}))
        share = dict(zip(every, weights / weights.sum(), strict=True))
        rest.append(math.fsum(chance for one, chance in share.items() if one not in smallest))
        least.append(min(share[one] for one in smallest))
    assert rest[-1] < 1e-5
    assert np.diff(np.log10(rest)) == pytest.approx([-2, -2], abs=0.05)
    assert least[-1] == pytest.approx(least[-2], rel=1e-3)
    assert least[-1] > 0.01


CONFLICTS = {
    "three multipliers, two adders": (
        ("A1 M1 M2", "A1 A2 M1 M3"),
        {"A1": 0.5, "M1": 0.5},
        {"M2": 1.0, "A2": 0.5, "M3": 0.5},
    ),
    "full adder": (("X1 X2", "X1 A2 O1"), {"X1": 1.0}, {"X2": 1.0, "A2": 0.5, "O1": 0.5}),
}
"""Published minimal conflicts; what the smallest diagnoses make of each part as faults become rare; and, with these
parts known to be healthy, what the next smallest do: {A2, M2}, {M2, M3} and {X2, A2}, {X2, O1}."""


def device_of_conflicts(conflicts: Sequence[str]) -> Device:
    """Each conflict as a function that needs its parts: it fails, so they are not all healthy.

    A device has no gates: its functions only fall as parts fail, and a gate's output may do either. So a circuit as
    such cannot be a map, and its conflicts, found by the network above, can.
    """
    names = dict.fromkeys(name.lower() for one in conflicts for name in one.split())
    kind = kinds()["resistor"]
    gone = ", ".join(f"{mode}: null" for mode in kind.modes if mode != "open")
    check = "{do: Test it, detects: {open: 100 %}, false_alarm: 0 %, minutes: 1 min}"
    part = f"kind: resistor, base: 0.0001 %, missing: 0 %, modes: {{{gone}}}, tests: {{ohms: {check}}}"
    tried = "{do: Try it, minutes: 1 min, power: off, miss: 0 %, false_alarm: 0 %}"
    lines = ["map: conflicts", "what: conflicts", "power: bench", "unknown: 0 %"]
    lines += ["worth: {working: EUR 2, as_is: EUR 1, parts: EUR 1}", "parts:"]
    lines += [f"  {name}: {{what: {name}, {part}}}" for name in names] + ["functions:"]
    for number, one in enumerate(conflicts):
        needs = ", ".join(one.lower().split())
        lines.append(f"  all-of-{number}: {{what: all, needs: [{needs}], wanted: true, tried: {tried}}}")
    return load_text("\n".join([*lines, ""]), "conflicts.yaml")


@pytest.mark.parametrize(("conflicts", "first", "then"), CONFLICTS.values(), ids=CONFLICTS)
def test_diagnoses_of_a_device_hit_its_conflicts(
    conflicts: Sequence[str], first: Mapping[str, float], then: Mapping[str, float]
) -> None:
    device = device_of_conflicts(conflicts)
    failing = [f"tried all-of-{number} fails" for number in range(len(conflicts))]
    healthy = [f"found {name.lower()}.ohms ok" for name in first]
    for lines, expected in ((failing, first), (failing + healthy, then)):
        events = [Line(number, "", parse(line)) for number, line in enumerate(lines, 1)]
        bad = {one.part.upper(): one.p_bad for one in believe(device, replay(device, events)).suspects}
        assert bad == pytest.approx({**dict.fromkeys(bad, 0.0), **expected}, abs=1e-5)
