"""Posteriors printed in books, or computed exactly from a published model, to 1e-9.

"Printed" marks a figure that stands in the source (in its rounding); the rest was computed from the source's model by
two independent programs in double precision, which agree to 2.3e-16.
"""

from __future__ import annotations

import math
from functools import cache
from itertools import product

import numpy as np
import pytest
from repository import network

from knowngood.belief import FactorNetwork, Posteriors

Node = tuple[
    str, list[float]
]  # parents, one letter each; P(true) per parents' states, the last parent's changing first


def binary_network(nodes: dict[str, Node]) -> FactorNetwork:
    """Two-state nodes named by one letter, state 1 true; P(true) is listed from all parents false to all true."""
    factors = []
    for v, (parents, chances) in nodes.items():
        true = np.array(chances).reshape((2,) * len(parents))
        factors.append(((v, *parents), np.stack([1 - true, true])))
    return FactorNetwork(dict.fromkeys(nodes, 2), factors)


def given(net: FactorNetwork, found: str) -> Posteriors:
    return net.posteriors({v: np.array([0.0, 1.0]) for v in found})


def check(net: FactorNetwork, found: str, expected: dict[str, float], chance: float | None = None) -> None:
    p = given(net, found)
    for v, value in expected.items():
        assert p[v][0, 1] == pytest.approx(value, abs=1e-9), v
    if chance is not None:
        assert math.exp(p.log_evidence[0]) == pytest.approx(chance, abs=1e-9)


def test_asia() -> None:
    """S. Lauritzen, D. Spiegelhalter, Local computations with probabilities on graphical structures, JRSS B 50 (1988)
    157-224: the model; figures computed. Asia, smoke, tuberculosis, lung cancer, bronchitis, either, xray, dyspnoea."""
    net = binary_network(
        {
            "a": ("", [0.01]),
            "s": ("", [0.5]),
            "t": ("a", [0.01, 0.05]),
            "l": ("s", [0.01, 0.1]),
            "b": ("s", [0.3, 0.6]),
            "e": ("tl", [0, 1, 1, 1]),
            "x": ("e", [0.05, 0.98]),
            "d": ("be", [0.1, 0.7, 0.8, 0.9]),
        }
    )
    check(net, "", {"t": 0.0104, "l": 0.055, "b": 0.45, "e": 0.064828, "x": 0.11029004, "d": 0.4359706}, 1)
    check(net, "d", {"t": 0.018845307459, "l": 0.102759222755, "b": 0.833967336330}, 0.4359706)
    asia_dyspnoea = {"t": 0.087750964983, "l": 0.099525145095, "b": 0.811402071589, "e": 0.182299852823}
    check(net, "ad", {**asia_dyspnoea, "x": 0.219538863125, "s": 0.625919857821}, 0.004501375)
    positive = {"t": 0.391711720008, "l": 0.444270507755, "b": 0.628821775974, "s": 0.702025117211}
    check(net, "axd", positive, 0.00098822675)


def alarm_at_home(burglary: float, earthquake: float) -> FactorNetwork:
    return binary_network(
        {
            "b": ("", [burglary]),
            "e": ("", [earthquake]),
            "a": ("be", [0.001, 0.29, 0.94, 0.95]),
            "j": ("a", [0.05, 0.9]),
            "m": ("a", [0.01, 0.7]),
        }
    )


def test_burglary() -> None:
    """S. Russell, P. Norvig, Artificial Intelligence: A Modern Approach: .284 printed in its companion code."""
    expected = {"b": 0.284171835364, "e": 0.176066838405, "a": 0.760692038863}
    check(alarm_at_home(0.001, 0.002), "jm", expected, 0.002084100239)


def test_earthquake() -> None:
    """K. Korb, A. Nicholson, Bayesian Artificial Intelligence: the same net with other priors; figures computed."""
    expected = {"b": 0.556522062157, "e": 0.351769361290, "a": 0.953781657755}
    check(alarm_at_home(0.01, 0.02), "jm", expected, 0.0106438889)


def test_cancer() -> None:
    """K. Korb, A. Nicholson, Bayesian Artificial Intelligence: the model; figures computed. High pollution, smoker."""
    net = binary_network(
        {
            "p": ("", [0.1]),
            "s": ("", [0.3]),
            "c": ("ps", [0.001, 0.03, 0.02, 0.05]),
            "x": ("c", [0.2, 0.9]),
            "d": ("c", [0.3, 0.65]),
        }
    )
    check(net, "xd", {"c": 0.102919186304, "s": 0.348532465028, "p": 0.113794942195}, 0.06610575)


def test_fire_alarm() -> None:
    """D. Poole, A. Mackworth, Artificial Intelligence: Foundations of Computational Agents, Example 8.15: tampering
    given a report is printed as 0.399; the rest computed. Tampering, fire, alarm, smoke, leaving, report."""
    net = binary_network(
        {
            "t": ("", [0.02]),
            "f": ("", [0.01]),
            "a": ("tf", [0.0001, 0.99, 0.85, 0.5]),
            "s": ("f", [0.01, 0.9]),
            "l": ("a", [0.001, 0.88]),
            "r": ("l", [0.01, 0.75]),
        }
    )
    report = {"t": 0.399168903930, "f": 0.230504601429, "s": 0.215149095271, "a": 0.628355561559, "l": 0.653167994253}
    check(net, "r", report, 0.028126158349)
    check(net, "", {"a": 0.02672902, "l": 0.02449480858, "r": 0.028126158349, "s": 0.0189})
    smoke = {"f": 0.476190476190, "t": 0.02, "a": 0.475718, "l": 0.419156122, "r": 0.32017553028}
    check(net, "s", smoke, 0.0189)


@pytest.mark.parametrize(
    ("leak", "failures", "expected"),
    [
        # Russell, Norvig, noisy-OR table, printed: fever of cold, flu, malaria.
        (0.0, [0.6, 0.2, 0.1], [0, 0.9, 0.8, 0.98, 0.4, 0.94, 0.88, 0.988]),
        # BayesiaLab User Guide, NoisyOr example, printed: leak .1, strengths .8 and .6.
        (0.1, [0.2, 0.4], [0.1, 0.64, 0.82, 0.928]),
    ],
)
def test_noisy_or(leak: float, failures: list[float], expected: list[float]) -> None:
    """The usual unfolding: each present cause fails alone, a deterministic "or" joins what does not."""
    causes = "abc"[: len(failures)]
    nodes: dict[str, Node] = {c: ("", [0.5]) for c in causes}
    nodes |= {c.upper(): (c, [0, 1 - q]) for c, q in zip(causes, failures, strict=True)}
    nodes["o"] = ("", [leak])
    links = causes.upper() + "o"
    nodes["y"] = (links, [float(any(on)) for on in product((0, 1), repeat=len(links))])
    net = binary_network(nodes)
    rows = np.array(list(product((0, 1), repeat=len(causes))))
    p = net.posteriors({c: np.stack([1.0 - rows[:, i], rows[:, i]], axis=1) for i, c in enumerate(causes)})
    np.testing.assert_allclose(p["y"][:, 1], expected, rtol=0, atol=1e-9)


def test_four_exclusive_causes() -> None:
    """Satellite circuit failures, an engineering-probability textbook exercise: .045, 4/15 and .30157 printed, the rest
    computed. Integrated circuit, board, power supply, other."""
    symptom = np.array([0.05, 0.05, 0.04, 0.01])
    prior = (("cause",), np.array([0.40, 0.25, 0.30, 0.05]))
    net = FactorNetwork({"cause": 4, "symptom": 2}, [prior, (("symptom", "cause"), np.stack([1 - symptom, symptom]))])
    p = net.posteriors({"symptom": np.array([[0, 1], [1, 0]])})
    np.testing.assert_allclose(np.exp(p.log_evidence), [0.045, 0.955], rtol=0, atol=1e-9)
    without = [0.397905759162, 0.248691099476, 0.301570680628, 0.051832460733]
    np.testing.assert_allclose(p["cause"], [[4 / 9, 5 / 18, 4 / 15, 1 / 90], without], rtol=0, atol=1e-9)


@cache
def repository_network(name: str) -> tuple[FactorNetwork, dict[str, list[str]]]:
    """The network and its variables' state names."""
    labels, tables = network(name)
    return FactorNetwork({v: len(names) for v, names in labels.items()}, list(tables.values())), labels


def check_repository(name: str, found: dict[str, str], expected: dict[str, float], chance: float) -> None:
    """``expected`` maps "variable=state" to its posterior."""
    net, labels = repository_network(name)
    p = net.posteriors({v: np.array([float(s == state) for s in labels[v]]) for v, state in found.items()})
    assert math.exp(p.log_evidence[0]) == pytest.approx(chance, abs=1e-12)
    for what, value in expected.items():
        v, state = what.split("=")
        assert p[v][0, labels[v].index(state)] == pytest.approx(value, abs=1e-9), what


def test_win95pts() -> None:
    """Printer troubleshooting, bnlearn repository: the model; figures computed."""
    nothing = {
        "Problem1=No_Output": 0.427446035951,
        "Problem2=Too_Long": 0.052095066713,
        "Problem3=Yes": 0.889458205939,
        "Problem4=Yes": 0.914375275,
        "Problem5=Yes": 0.862216958426,
        "Problem6=Yes": 0.115773468779,
    }
    check_repository("win95pts", {}, nothing, 1)
    no_output = {
        "PrtOn=No": 0.184208447425,
        "PrtPaper=No_Paper": 0.035743981448,
        "DrvOK=Corrupt": 0.015597211791,
        "PrtCbl=Loose": 0.036045312066,
        "NtwrkCnfg=Incorrect": 0.021742685804,
        "AppOK=Incorrect_Corrupt": 0.008892371505,
    }
    check_repository("win95pts", {"Problem1": "No_Output"}, no_output, 0.427446035950624)


def test_alarm() -> None:
    """I. Beinlich et al., The ALARM monitoring system, 1989, bnlearn repository: the model; figures computed."""
    expected = {
        "HYPOVOLEMIA=TRUE": 0.151820593840,
        "LVFAILURE=TRUE": 0.571781791237,
        "KINKEDTUBE=TRUE": 0.026452609682,
        "INTUBATION=NORMAL": 0.884554759902,
        "INTUBATION=ESOPHAGEAL": 0.041335026036,
        "INTUBATION=ONESIDED": 0.074110214061,
        "ANAPHYLAXIS=TRUE": 0.019921677836,
    }
    found = {"HRBP": "HIGH", "BP": "LOW", "PRESS": "HIGH", "CVP": "LOW"}
    check_repository("alarm", found, expected, 0.022249413614678)
