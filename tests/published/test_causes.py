"""Published tables of competing causes, said as device maps: the part of them that a map can say, to 1e-9.

The network alone is checked in ``test_posteriors.py``. A function only falls as parts fail, so Poole and Mackworth's
alarm (tampering makes it rarer in a fire) cannot be a map. Russell and Norvig's alarm (both causes together 0.95, where
independent ones would give 0.957) is no noisy-OR, and would take an artificial part whose modes share out the cases.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

import pytest

from knowngood.belief.believe import Belief, believe
from knowngood.belief.what_if import ask, query_test
from knowngood.log.events import parse
from knowngood.log.state import Line, replay
from knowngood.maps.device import Device
from knowngood.maps.kinds import kinds
from knowngood.maps.load import load_text

CHECK = "ohms: {do: Test, detects: {open: 1}, false_alarm: 0, minutes: 1 min}"
SURE = "minutes: 1 min, power: off, miss: 0 %, false_alarm: 0 %"


def part(name: str, base: float, modes: str = "open: {ratio: 1}", tests: str = "ohms: null") -> str:
    gone = "".join(f", {mode}: null" for mode in kinds()["resistor"].modes if mode != "open")
    known = f"what: {name}, kind: resistor, base: {base:.10f}, missing: 0"
    return f"  {name}: {{{known}, modes: {{{modes}{gone}}}, tests: {{{tests}}}}}"


def device(parts: Sequence[str], function: str, tests: Sequence[str] = ()) -> Device:
    head = ["map: causes", "what: causes", "power: bench", "unknown: 0 %"]
    head += ["worth: {working: EUR 2, as_is: EUR 1, parts: EUR 1}"]
    more = ["tests:", *tests] if tests else []
    return load_text("\n".join([*head, "parts:", *parts, "functions:", function, *more, ""]), "causes.yaml")


def belief(on: Device, *lines: str) -> Belief:
    return believe(on, replay(on, [Line(number, "", parse(line)) for number, line in enumerate(lines, 1)]))


@pytest.mark.parametrize(
    ("leak", "failures", "expected"),
    [
        # Russell, Norvig, Artificial Intelligence: A Modern Approach, noisy-OR table, printed: cold, flu, malaria.
        (0.0, [0.6, 0.2, 0.1], [0, 0.9, 0.8, 0.98, 0.4, 0.94, 0.88, 0.988]),
        # BayesiaLab User Guide, NoisyOr example, printed: leak .1, strengths .8 and .6.
        (0.1, [0.2, 0.4], [0.1, 0.64, 0.82, 0.928]),
    ],
)
def test_noisy_or_as_a_device(leak: float, failures: list[float], expected: list[float]) -> None:
    """A cause with what holds it off as its backup (any of the two is enough); the leak is a part by itself."""
    causes = "abc"[: len(failures)]
    parts = [part(one, 0.5, tests=CHECK) for one in causes]
    parts += [part(f"{one}-held-off", 1.0 - q) for one, q in zip(causes, failures, strict=True)]
    parts += [part("leak", leak)] if leak else []
    groups = ", ".join(f"[{one}, {one}-held-off]" for one in causes)
    needs = "needs: [leak], " if leak else ""
    tried = f"tried: {{do: Try it, {SURE}}}"
    on = device(parts, f"  fine: {{what: no fever, {needs}any_of: [{groups}], wanted: true, {tried}}}")
    found = []
    for present in product((False, True), repeat=len(causes)):
        lines = [f"found {one}.ohms {'bad' if there else 'ok'}" for one, there in zip(causes, present, strict=True)]
        known = belief(on, *lines)
        (answer,) = ask(known, [query_test(known, on.tests["fine"])])
        found.append(1.0 - answer.probability[answer.query.outcomes.index("works")])
        assert found[-1] == pytest.approx(1.0 - known.known_good, abs=1e-12)
    assert found == pytest.approx(expected, abs=1e-9)


def test_explaining_away_on_a_device() -> None:
    """Flu and cold of the same table, each with chance one half (ours): P(flu | fever), then with a cold known as well;
    exact by the table: (0.8 + 0.88) / (0.8 + 0.4 + 0.88 + 0), and 0.88 / (0.88 + 0.4)."""
    parts = [part("cold", 0.5, tests=CHECK), part("flu", 0.5, tests=CHECK)]
    parts += [part("cold-held-off", 0.4), part("flu-held-off", 0.8)]
    groups = "any_of: [[cold, cold-held-off], [flu, flu-held-off]]"
    on = device(parts, f"  fine: {{what: no fever, {groups}, wanted: true, tried: {{do: Try it, {SURE}}}}}")
    for lines, expected in (
        (["tried fine fails"], 1.68 / 2.08),
        (["tried fine fails", "found cold.ohms bad"], 0.88 / 1.28),
        (["tried fine fails", "found cold.ohms ok"], 1.0),
    ):
        bad = {one.part: one.p_bad for one in belief(on, *lines).suspects}
        assert bad["flu"] == pytest.approx(expected, abs=1e-9)


def test_four_exclusive_causes_as_modes_of_one_part() -> None:
    """Satellite circuit failures, an engineering-probability textbook exercise: .045, 4/15 and .30157 printed, the rest
    computed. A mode is certain to be there only as nearly as a map allows, so given that one is."""
    shares = {"circuit": 0.40, "board": 0.25, "supply": 0.30, "other": 0.05}
    modes = ", ".join(f"{name}: {{says: {name}, ratio: {share}}}" for name, share in shares.items())
    modes = f"{modes}, open: null"
    shows = "symptom: {do: Look, detects: {circuit: 0.05, board: 0.05, supply: 0.04, other: 0.01}, "
    shows += "false_alarm: 0, minutes: 1 min}, ohms: null"
    on = device(
        [part("unit", 0.999999, modes, shows)],
        f"  works: {{what: works, needs: [unit], wanted: true, tried: {{do: Try it, {SURE}}}}}",
    )
    for outcome, expected in (
        ("bad", [4 / 9, 5 / 18, 4 / 15, 1 / 90]),
        ("ok", [0.397905759162, 0.248691099476, 0.301570680628, 0.051832460733]),
    ):
        known = belief(on, "tried works fails", f"found unit.symptom {outcome}")
        assert list(known.suspects[0].modes.values()) == pytest.approx(expected, abs=1e-9)
    failing = belief(on, "tried works fails")
    (answer,) = ask(failing, [query_test(failing, on.tests["unit.symptom"])])
    assert list(answer.probability) == pytest.approx([0.955, 0.045], abs=1e-9)
