"""The device map of a real DC converter board, built from its netlist, and a bench with one such board and a fault.

The map has what an author could know: the schematic (``Circuit.nominal``), published failure rates and mode ratios, and
what each single fault does. What a meter would show comes from the circuit. What the board does when it runs, nothing
here computes: ``RUNNING`` is read off the schematic by hand, and the bench takes it from the map (``known_by_map``).

The bench has other values than the map: those measured on one real board. A reading is taken without noise.
"""

from __future__ import annotations

import csv
import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path

from circuit import GROUND, Circuit, Fault, rows

import knowngood.handbook
from knowngood.belief.evaluate import World, sensed_row
from knowngood.log import events as ev
from knowngood.log.state import Line, Replay, replay
from knowngood.maps.device import AnyMode, Device, RailToGround, RailVoltage, Test
from knowngood.maps.kinds import kinds
from knowngood.maps.load import load_text

RATIOS = Path(knowngood.handbook.__file__).parent / "tables" / "failure_mode_ratios.csv"
FED, LOW_BATTERY = 3.0, 1.3
"""Volts at the input: two fresh cells, and two that are empty (common practice, no source)."""
FAULTS_OF_A_BROKEN_BOARD = 1.0
"""Mean number of faults of a board that was bought as broken (own assumption): scales the published failure rates."""

SORTS = {
    "R": ("resistor", "resistor, film RL RN RM", "resistor, film, fixed"),
    "C": ("small-ceramics", "capacitor, ceramic chip CDR", "capacitor, ceramic"),
    "D": ("boost-rail", "diode, switching", "diode, general"),
    "D3": ("boost-rail", "diode, power or Schottky rectifier", "diode, general"),
    "D5": ("boost-rail", "diode, zener or reference", "diode, zener reference"),
    "Q": ("boost-rail", "transistor, bipolar, small signal", "transistor, bipolar"),
    "Q4": ("boost-rail", "transistor, bipolar, power", "transistor, bipolar"),
    "T": ("boost-rail", "transformer, switching", "transformer"),
    "J": ("board-plug", "connector, rectangular", "connector, connection"),
}
"""Of a part, or of all with its letter: the kind (which here brings only looks, pasts and the replacement, for there is
no kind of a single diode or transistor), the row of ``rates.csv``, and that of the handbook's failure-mode ratios."""

RUNNING: Mapping[Fault, Mapping[str, str]] = {
    # The winding that feeds back, its path to the base, and the switch itself keep the oscillation up.
    ("T1", "open-primary"): {"switching": "none"},
    ("T1", "open-feedback"): {"switching": "none"},
    ("T1", "short-turns"): {"switching": "none"},
    **{("Q4", f"open-{pin}"): {"switching": "none"} for pin in "BCE"},
    **{("Q4", f"short-{pins}"): {"switching": "none"} for pins in ("E-C", "E-B", "C-B")},
    ("Q3", "open-C"): {"switching": "none"},
    ("Q3", "short-C-B"): {"switching": "weak"},
    ("Q3", "short-B-E"): {"switching": "none"},
    ("C3", "open"): {"switching": "none"},
    ("C4", "short"): {"switching": "none"},
    ("R6", "open"): {"switching": "none"},
    ("D2", "open"): {"switching": "weak"},
    ("R7", "short"): {"switching": "none"},
    ("C7", "open"): {"switching": "weak"},
    ("R8", "open"): {"switching": "weak"},
    # The two rectifiers with what they charge.
    ("T1", "open-vdd"): {"vdd": "none"},
    ("D3", "open"): {"vdd": "none"},
    ("C5", "open"): {"vdd": "weak"},
    ("T1", "open-vee"): {"vee": "none"},
    ("D4", "open"): {"vee": "none"},
    ("D4", "short"): {"vee": "none"},
    ("C6", "open"): {"vee": "weak"},
    ("C6", "short"): {"vee": "none"},
    # What holds VDD at five volts: with it gone both outputs rise, with its zener shorted VDD stays at a base's 0.7 V.
    ("D5", "short"): {"vdd": "weak", "vee": "weak"},
    ("D5", "open"): {"vdd": "high", "vee": "weak"},
    **{("Q5", f"open-{pin}"): {"vdd": "high", "vee": "weak"} for pin in "BCE"},
    ("Q5", "short-E-B"): {"vdd": "high", "vee": "weak"},
    ("R8", "short"): {"vdd": "high", "vee": "weak"},
    ("C7", "short"): {"vdd": "high", "vee": "weak"},
    # The connector.
    ("J1", "open-vcc"): {"vcc": "none"},
    ("J1", "open-vdd"): {"vdd-out": "none"},
    ("J1", "open-vee"): {"vee-out": "none"},
    ("J1", "short-vcc-vdd"): {"vdd": "weak"},
    ("J1", "short-gnd-vee"): {"vee": "none"},
    ("J1", "short-vdd-vee"): {"vdd": "weak", "vee": "none"},
}
"""What single faults do to the running board beyond what the circuit says at rest, by hand from the schematic."""

UPSTREAM = {
    "vcc": [],
    "drive": ["vcc"],
    "switching": ["drive"],
    "vdd": ["switching"],
    "vee": ["switching"],
    "vdd-out": ["vdd"],
    "vee-out": ["vee"],
    "cut-off": [],
}
WHAT = {
    "vcc": "input rail",
    "drive": "base drive of the switch at switch-on",
    "switching": "switch oscillates",
    "vdd": "VDD on the board",
    "vee": "VEE on the board",
    "vdd-out": "VDD at the connector",
    "vee-out": "VEE at the connector",
    "cut-off": "stays off when the cells are empty",
}


@dataclass(frozen=True)
class Probe:
    """A test that one number decides: what is done, the number on a circuit, and the limits of a healthy one."""

    do: str
    measure: Callable[[Circuit], float]
    low: float
    high: float
    power: str
    minutes: float

    def says(self, circuit: Circuit) -> str:
        """'low', 'ok' or 'high'."""
        shown = self.measure(circuit)
        return "low" if shown < self.low else "high" if shown > self.high else "ok"


def short_name(net: str) -> str:
    return net.strip("/").lower()


@cache
def probes() -> dict[str, Probe]:
    """Everything that a person with a meter could measure on the schematic's nets, named after them.

    Resistance, impedance at 1 kHz, both between the nets of each part and from each net to ground; diode range along
    each junction; voltages of the nets that stay at rest whether or not the board runs, fed with 3 V.
    """
    healthy, found = Circuit.nominal(), {}

    def add(name: str, do: str, measure: Callable[[Circuit], float], margin: tuple[float, float], **of: object) -> None:
        right, (factor, offset) = measure(healthy), margin
        low, high = right / factor - offset, right * factor + offset
        found[name] = Probe(do, measure, low, high, **{"power": "off", "minutes": 0.5, **of})  # type: ignore[arg-type]

    for one, two in _pairs(healthy):
        a, b = short_name(one), short_name(two)

        def ohms(on: Circuit, one: str = one, two: str = two) -> float:
            return on.ohms(one, two)

        def impedance(on: Circuit, one: str = one, two: str = two) -> float:
            return on.impedance(one, two)

        add(f"ohms-{a}-{b}", f"Resistance, {a} to {b}", ohms, (1.1, 1.0))
        add(f"impedance-{a}-{b}", f"Impedance at 1 kHz, {a} to {b}", impedance, (1.35, 1.0), minutes=1.0)
    for plus, minus in _junctions(healthy):
        a, b = short_name(plus), short_name(minus)

        def diode(on: Circuit, plus: str = plus, minus: str = minus) -> float:
            return on.diode(plus, minus)

        add(f"diode-{a}-{b}", f"Diode range, red on {a}, black on {b}", diode, (1.0, 0.12))
    for net in ("N001", "N007", "N013"):

        def volts(on: Circuit, net: str = net) -> float:
            return on.fed(FED)[net]

        add(f"volts-{short_name(net)}", f"Voltage of {short_name(net)}", volts, (1.0, 0.2), power="bench")
    return found


def _pairs(circuit: Circuit) -> list[tuple[str, str]]:
    """The nets of each part in twos, and each net with ground; each pair once, those a person can reach."""
    own = [
        (one, two)
        for ref, pins in circuit.pins.items()
        if ref not in ("J1", "T1")
        for one in pins.values()
        for two in pins.values()
    ]
    to_ground = [(net, GROUND) for net in circuit.nets]
    found: dict[frozenset[str], tuple[str, str]] = {}
    for pair in [*to_ground, *own]:
        if len(set(pair)) == 2 and not {"N010", "N012"} & set(pair):
            found.setdefault(frozenset(pair), pair)
    return list(found.values())


def _junctions(circuit: Circuit) -> list[tuple[str, str]]:
    """From where to where each junction conducts."""
    found = []
    for ref, pins in circuit.pins.items():
        if ref[0] == "D":
            found.append((pins["A"], pins["K"]))
        if ref[0] == "Q":
            found += [(pins["B"], pins["E"]), (pins["B"], pins["C"])]
    return list(dict.fromkeys(found))


def cuts_off(circuit: Circuit) -> bool:
    """Whether the switch gets no base drive from cells that are empty."""
    return circuit.fed(LOW_BATTERY)["N014"] < 0.5


# ---- what each single fault does, by the schematic ------------------------------------------------------------------


def mode_name(mode: str) -> str:
    """A mode as the map names it."""
    return mode.lower()


@cache
def dictionary() -> dict[Fault, dict[str, str]]:
    """For each single fault, the probes that are not ok, with what they say: the schematic with that fault in it."""
    healthy, found = Circuit.nominal(), {}
    for fault in healthy.faults():
        circuit = healthy.with_fault(*fault)
        said = {name: probe.says(circuit) for name, probe in probes().items()}
        found[fault] = {name: word for name, word in said.items() if word != "ok"}
    return found


@cache
def effects() -> dict[Fault, dict[str, str]]:
    """For each single fault, the level of each function that it limits ('high' of VDD: too high), and 'takes-vcc' or
    'takes-vdd' if it loads a rail."""
    healthy = Circuit.nominal()
    right = healthy.base_current(FED)
    found: dict[Fault, dict[str, str]] = {}
    for fault in healthy.faults():
        circuit, does = healthy.with_fault(*fault), dict(RUNNING.get(fault, {}))
        for rail, net in (("vcc", "VCC"), ("vdd", "/VDD")):
            if circuit.ohms(net, GROUND) < 5.0:
                does[f"takes-{rail}"] = "short"
        share = circuit.base_current(FED) / right
        if share > 10.0:  # the switch is on for good
            does |= {"drive": "none", "takes-vcc": does.get("takes-vcc", "heavy")}
        elif share < 0.5:
            does["drive"] = "weak" if share > 0.1 else "none"
        if not cuts_off(circuit):
            does["cut-off"] = "none"
        found[fault] = does
    return found


@cache
def groups() -> dict[Fault, frozenset[Fault]]:
    """Faults that no test of the map tells apart: they do the same to all functions and to all probes."""
    by_sign: dict[object, list[Fault]] = {}
    for fault, does in effects().items():
        sign = (tuple(sorted(does.items())), tuple(sorted(dictionary()[fault].items())))
        by_sign.setdefault(sign, []).append(fault)
    return {fault: frozenset(group) for group in by_sign.values() for fault in group}


def unseen() -> set[Fault]:
    """Faults that do nothing to any test."""
    return {fault for fault in effects() if not effects()[fault] and not dictionary()[fault]}


# ---- the map --------------------------------------------------------------------------------------------------------


def _of(table: Mapping[str, tuple[str, str, str]], ref: str) -> tuple[str, str, str]:
    return table.get(ref, table[ref[0]])


@cache
def bases() -> dict[str, float]:
    """Chance that each part of a broken board is faulty: published failure rates with their quality factor, scaled."""
    rate = {
        row["part_type"]: float(row["rate_fpmh"]) * float(row["quality_factor_commercial"]) for row in rows("rates")
    }
    by_part = {ref: rate[_of(SORTS, ref)[1]] for ref in Circuit.nominal().pins}
    whole = sum(by_part.values())
    return {ref: FAULTS_OF_A_BROKEN_BOARD * one / whole for ref, one in by_part.items()}


@cache
def ratios() -> dict[tuple[str, str], float]:
    """Published share of each mode by its row and name."""
    with open(RATIOS, newline="", encoding="utf-8") as file:
        return {(row["part_type"], row["mode"]): float(row["ratio"]) for row in csv.DictReader(file)}


def ratios_of(ref: str) -> dict[str, float]:
    """Share of each mode of a part: the published share of opens and of shorts, shared evenly among its pins. Changes
    of value are left out, and the rest scaled to one: what they do to a reading is not definite."""
    names = Circuit.nominal().modes(ref)
    sorts = [name.partition("-")[0] for name in names]
    row = _of(SORTS, ref)[2]
    whole = sum(ratios()[row, what] for what in ("open", "short"))
    return {name: ratios()[row, what] / sorts.count(what) / whole for name, what in zip(names, sorts, strict=True)}


def map_text() -> str:
    """The device map, as an author would write it, a line for each part, function and test."""
    lines = [
        *("map: dc-board", "what: DC converter board of a handheld", "power: bench", "protection_class: III"),
        *("unknown: 2 %", "worth: {working: EUR 60, as_is: EUR 6, parts: EUR 4}", "", "parts:"),
        *(f"  {ref.lower()}: {json.dumps(_part(ref))}" for ref in Circuit.nominal().pins),
        *("", "functions:", *(f"  {name}: {json.dumps(_function(name))}" for name in UPSTREAM)),
        *("", "tests:", *(f"  {name}: {json.dumps(test)}" for name, test in _tests().items())),
    ]
    return "\n".join([*lines, ""])


def _part(ref: str) -> dict[str, object]:
    kind = _of(SORTS, ref)[0]
    names = Circuit.nominal().modes(ref)
    modes: dict[str, object] = dict.fromkeys(kinds()[kind].modes)
    loads: dict[str, None] = {}
    for name in names:
        does = effects()[ref, name]
        limits = {of: "good" if word == "high" else word for of, word in does.items() if of in UPSTREAM}
        mode: dict[str, object] = {"says": name.replace("-", " "), "ratio": ratios_of(ref)[name]}
        mode |= {"gives": "good"} | ({"limits": limits} if limits else {})
        mode |= {"high": True} if "high" in does.values() else {}
        for rail in ("vcc", "vdd"):
            if f"takes-{rail}" in does:
                mode["takes"], loads[rail] = does[f"takes-{rail}"], None
        modes[mode_name(name)] = mode
    made = {"what": f"{ref} ({_value(ref)})", "kind": kind, "base": f"{100 * bases()[ref]:.3f} %", "missing": "0 %"}
    return {
        **made,
        "on": list(loads),
        "modes": modes,
        "tests": dict.fromkeys(kinds()[kind].tests),
        "price": {"new": "EUR 1"},
    }


@cache
def _values() -> dict[str, str]:
    return {row["ref"]: row["value"] for row in rows("parts")}


def _value(ref: str) -> str:
    return _values()[ref].split(":")[0]


def _function(name: str) -> dict[str, object]:
    parts = dict.fromkeys(ref.lower() for (ref, _), does in effects().items() if name in does)
    table: dict[str, object] = {"what": WHAT[name], "carries": "power", "needs": [*UPSTREAM[name], *parts]}
    rails = {"vcc": (f"{FED} V +/- 10 %", "the coil side of c1"), "vdd": ("5.1 V +/- 10 %", "c5")}
    if name in rails:
        nominal, where = rails[name]
        table |= {"nominal": nominal, "probe": {"where": where, "power": "bench", "minutes": "1 min"}}
        table |= {"to_ground": "1 kohm to 10 Mohm", "short_below": "5 ohm"}
    table |= {"wanted": True} if name.endswith(("-out", "-off")) else {}
    if name.endswith("-out"):
        table["tried"] = {"do": f"Feed 3 V, measure {WHAT[name]}", "minutes": "1 min", "power": "bench"}
    return table


def _tests() -> dict[str, object]:
    """A test of several parts has two outcomes, so a number that can be too low or too high is two tests."""
    low = {"do": "Turn the feed down to 1.3 V, off and on: base of q4 stays low", "senses": "cut-off"}
    found: dict[str, object] = {
        "cuts-off": {**low, "minutes": "1 min", "power": "bench"},
        "scope": {"do": "Scope on the collector of q4", "senses": "switching", "minutes": "3 min", "power": "bench"},
        "vee-there": {
            "do": "Voltage of c6, leads the other way",
            "senses": "vee",
            "minutes": "1 min",
            "power": "bench",
        },
    }
    for name, probe in probes().items():
        for word in ("low", "high"):
            shows: dict[str, list[str]] = {}
            for (ref, mode), said in dictionary().items():
                if said.get(name) == word:
                    shows.setdefault(ref.lower(), []).append(mode_name(mode))
            if shows:
                found[f"{name}-{word}"] = {
                    **{"do": probe.do, "parts": shows, "outcomes": ["ok", word], "power": probe.power},
                    "minutes": f"{probe.minutes} min",
                }
    return found


@cache
def board() -> Device:
    """The map, through the ordinary checker and loader."""
    return load_text(map_text(), "dc-board.yaml")


# ---- the bench ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Bench:
    """One real board with one fault, or none."""

    fault: Fault | None

    @cached_property
    def circuit(self) -> Circuit:
        measured = Circuit.measured()
        return measured.with_fault(*self.fault) if self.fault else measured

    def outcome(self, test: Test) -> ev.Event:
        """What a test shows, as its line of the log."""
        if isinstance(test.senses, AnyMode):
            name, _, word = test.id.rpartition("-")
            says = probes()[name].says(self.circuit)
            return ev.Found(test=test.id, outcome=word if says == word else "ok")
        if test.id == "cuts-off":
            return ev.Found(test=test.id, outcome=test.outcomes[0 if cuts_off(self.circuit) else 1])
        return self.known_by_map(test)

    def known_by_map(self, test: Test) -> ev.Event:
        """A test of a function: its level as the map has it, without error."""
        modes = {self.fault[0].lower(): mode_name(self.fault[1])} if self.fault else {}
        row = sensed_row(board(), test, World(modes))
        assert row is not None
        if isinstance(test.senses, RailVoltage):
            nominal = board().functions[test.senses.function].nominal
            assert nominal is not None
            return ev.Read(test=test.id, reading=f"{nominal.nominal * (0.02, 0.6, 1.0, 1.5)[row]:.2f} V")
        if isinstance(test.senses, RailToGround):
            return ev.Read(test=test.id, reading=("1 ohm", "47 kohm")[row])
        word = (test.outcomes[0], *(["weak"] if test.verb == "tried" else [test.outcomes[-1]]), test.outcomes[-1])[
            2 - row
        ]
        return ev.parse(f"{test.verb} {test.id} {word}")


def log(events: Sequence[ev.Event]) -> Replay:
    return replay(board(), [Line(number, "", event) for number, event in enumerate(events, 1)])
