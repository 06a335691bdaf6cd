"""A real board's netlist as a circuit, and what a meter shows on it with power off, whatever single fault it has.

The board is a DC converter (``data/dc-board``, CC BY 4.0). ``Circuit.nominal`` has the values on its schematic,
``Circuit.measured`` those that were measured on one such board. A fault changes the netlist and nothing else: a pin
that is open hangs on a net of its own, a short is a wire between two nets.

Node equations with conductances (the nodal method of any circuit-theory textbook), by Newton's method where junctions
conduct. A diode is I = Is (exp(V / Vt) - 1), a transistor the transport form of J. J. Ebers and J. L. Moll,
Large-signal behavior of junction transistors, Proceedings of the IRE 42 (1954) 1761-1772. Nothing here knows the
program.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from itertools import combinations
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Fault = tuple[str, str]
"""Part and mode: ``open-PIN``, ``short-PIN-PIN``; a part with two pins has plain ``open`` and ``short``."""

DATA = Path(__file__).parent / "data" / "dc-board"
GROUND = "GND"
WIRE = 0.05
"""Resistance of a short, ohm (own assumption)."""
WINDING = 1.0
"""Resistance of a winding at direct current and at 1 kHz, ohm (own assumption: the source gives none)."""
LEAK = 1e-9
"""Conductance from every net to ground, siemens, so that a net that floats has a voltage."""
THERMAL = 0.02585
"""kT / q at 300 K, volt."""
WINDINGS = {"primary": ("1", "4"), "feedback": ("3", "2"), "vee": ("5", "6"), "vdd": ("7", "8")}
"""Pins of each winding of the transformer: inferred, for the source draws none, from what hangs on them (the switch,
its base drive, the rectifiers of VEE and VDD)."""
REVERSE_GAIN = 2.0
"""Current gain of a transistor the wrong way round (own assumption)."""
OVERLOAD = {"ohms": 40e6, "diode": 2.9}
"""Above this an ordinary meter shows overload: ohm, and volt in its diode range (common practice, no source)."""


def rows(name: str) -> list[dict[str, str]]:
    """A table of the board, as it is shipped."""
    with open(DATA / f"{name}.csv", newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


@dataclass(frozen=True)
class Junctions:
    """A diode: saturation current and, where it is a zener, breakdown voltage at 5 mA. A transistor: also its gain."""

    saturation: float
    breakdown: float = math.inf
    gain: float = 0.0


@dataclass(frozen=True)
class Circuit:
    """Each part's pins with their nets, and what is known of its value (ohm, farad, junctions)."""

    pins: Mapping[str, Mapping[str, str]]
    values: Mapping[str, float]
    junctions: Mapping[str, Junctions]
    wires: tuple[tuple[str, str], ...] = ()
    _fed: dict[float, dict[str, float]] = field(default_factory=dict, init=False, repr=False)
    """What ``fed`` found, for it answers many questions."""

    @staticmethod
    def nominal() -> Circuit:
        """The board as drawn. Gains and forward voltages are typical of such parts (common practice, no source)."""
        values = {row["ref"]: _value(row["value"]) for row in rows("parts") if row["ref"][0] in "RC"}
        junctions = {
            row["ref"]: _diode(0.7) if row["ref"][0] == "D" else _transistor(0.75, 200.0)
            for row in rows("parts")
            if row["ref"][0] in "DQ"
        }
        junctions |= {"D3": _diode(0.25), "D5": _diode(0.75, 5.1)}  # a Schottky, and the zener of 5.1 V
        return Circuit(_pins(), values, junctions)

    @staticmethod
    def measured() -> Circuit:
        """One board's own parts, each measured by itself (capacitors at 1 kHz)."""
        found = {(row["ref"], row["quantity"]): float(row["measured"]) for row in rows("measured")}
        values = {ref: value for (ref, what), value in found.items() if what in "RC"}
        junctions = {}
        for (ref, what), value in found.items():
            if what == "Vf":
                junctions[ref] = _diode(value, found.get((ref, "Vr"), math.inf))
            elif what == "VBE":
                junctions[ref] = _transistor(value, found[ref, "hFE"])
        return Circuit(_pins(), values, junctions)

    @property
    def nets(self) -> list[str]:
        ends = [net for pins in self.pins.values() for net in pins.values()]
        return list(dict.fromkeys([*ends, *(net for wire in self.wires for net in wire)]))

    def modes(self, ref: str) -> list[str]:
        """Every way in which one pin can be open or two shorted (turns shorted, in a winding); not all change much."""
        if ref == "T1":
            return [f"open-{winding}" for winding in WINDINGS] + ["short-turns"]
        pins = self.pins[ref]
        if len(pins) == 2:
            return ["open", "short"]
        nets = [net for net in dict.fromkeys(pins.values()) if _used(net)]
        if ref == "J1":  # a bridge between contacts that stand side by side or face each other: 1-2-3 over 6-5-4
            return [f"open-{_short(net)}" for net in nets if net != GROUND] + [
                *("short-vcc-vdd", "short-gnd-vee", "short-vdd-vee")
            ]
        names = [name for name in pins if _used(pins[name])]
        if ref[0] == "D":
            return ["open", "short"]
        return [f"open-{name}" for name in names] + [f"short-{one}-{two}" for one, two in combinations(names, 2)]

    def faults(self) -> list[Fault]:
        return [(ref, mode) for ref in self.pins for mode in self.modes(ref)]

    def with_fault(self, ref: str, mode: str) -> Circuit:
        """The circuit with one fault. Shorted turns change nothing that a meter shows."""
        pins = dict(self.pins[ref])
        what, *which = mode.split("-")
        if mode == "short-turns":
            return self
        if ref == "J1":  # the far side of the connector is not part of the board
            if what == "open":
                return self
            one, two = (next(net for net in pins.values() if _short(net) == name) for name in which)
            return replace(self, wires=((one, two),))
        if ref == "T1":
            which = [WINDINGS[which[0]][1]]
        names = [name for name in pins if _used(pins[name])]
        if what == "short":
            one, two = (pins[name] for name in which or names)
            return replace(self, wires=((one, two),))
        opened = which[0] if which else names[0]
        pins[opened] = f"{ref}.{opened}"
        return replace(self, pins={**self.pins, ref: pins})

    # ---- what a meter shows --------------------------------------------------------------------------------------

    def ohms(self, one: str, two: str) -> float:
        """Resistance between two nets, with so little across the probes that no junction conducts; inf is overload."""
        shown = abs(self._between(one, two, 0.0))
        return math.inf if shown > OVERLOAD["ohms"] else shown

    def impedance(self, one: str, two: str, hertz: float = 1000.0) -> float:
        """Magnitude of the impedance between two nets, ohm, likewise."""
        return abs(self._between(one, two, 2j * math.pi * hertz))

    def diode(self, plus: str, minus: str) -> float:
        """Voltage that 1 mA, from a source of at most 3 V, makes from one net to another; inf is overload."""
        shown = self._settled([Source(plus, minus, 1e-3, 1e-3 / 3.0)])
        volts = shown[plus] - shown[minus]
        return math.inf if volts > OVERLOAD["diode"] else volts

    def fed(self, volts: float) -> dict[str, float]:
        """Voltage of every net a while after ``volts`` was applied to the input, as long as nothing oscillates."""
        if volts not in self._fed:
            self._fed[volts] = self._switched_on([Source("VCC", GROUND, 1e3 * volts, 1e3)])
        return self._fed[volts]

    def base_current(self, volts: float) -> float:
        """Current into the base of the switch Q4 when ``volts`` was applied, before anything oscillates; ampere."""
        shown = self.fed(volts)
        pins, q4 = self.pins["Q4"], self.junctions["Q4"]
        forward, reverse = (math.expm1(min(60.0, (shown[pins["B"]] - shown[pins[one]]) / THERMAL)) for one in "EC")
        return q4.saturation * (forward / q4.gain + reverse / REVERSE_GAIN)

    # ---- the equations -------------------------------------------------------------------------------------------

    def _conductances(self, s: complex) -> list[tuple[str, str, complex]]:
        found: list[tuple[str, str, complex]] = [(one, two, 1.0 / WIRE) for one, two in self.wires]
        for ref, pins in self.pins.items():
            ends = list(pins.values())
            if ref[0] == "R":
                found.append((ends[0], ends[1], 1.0 / self.values[ref]))
            elif ref[0] == "C" and s:
                found.append((ends[0], ends[1], s * self.values[ref]))
            elif ref == "T1":
                found += [(pins[one], pins[two], 1.0 / WINDING) for one, two in WINDINGS.values()]
        return found

    def _matrix(self, s: complex) -> tuple[dict[str, int], NDArray[np.complex128]]:
        """Conductances between nets, ground left out."""
        place = {net: number for number, net in enumerate(net for net in self.nets if net != GROUND)}
        matrix: NDArray[np.complex128] = LEAK * np.eye(len(place)).astype(np.complex128)
        for one, two, size in self._conductances(s):
            for net, other in ((one, two), (two, one)):
                if net != GROUND:
                    matrix[place[net], place[net]] += size
                    if other != GROUND:
                        matrix[place[net], place[other]] -= size
        return place, matrix

    def _between(self, one: str, two: str, s: complex) -> complex:
        place, matrix = self._matrix(s)
        current = np.zeros(len(place), dtype=complex)
        for net, sign in ((one, 1.0), (two, -1.0)):
            if net != GROUND:
                current[place[net]] = sign
        volts = np.linalg.solve(matrix, current)
        return complex(current @ volts)

    def _settled(self, sources: Sequence[Source]) -> dict[str, float]:
        """Voltage of every net at rest, with sources connected."""
        network = Network(self, sources)
        try:
            return network.named(network.solved(np.zeros(network.size), 0.0))
        except ArithmeticError:  # a long way round, that always gets there
            return self._switched_on(sources)

    def _switched_on(self, sources: Sequence[Source]) -> dict[str, float]:
        """Voltage of every net long after the sources were connected to a board without any charge.

        Which of two stable states that is, the capacitors decide on the way: by backward Euler in steps that grow from
        a nanosecond to an hour, shorter where Newton's method does not get there.
        """
        network = Network(self, sources)
        volts, step = np.zeros(network.size), 1e-9
        while step < 3600.0:
            try:
                volts, step = network.solved(volts, 1.0 / step), 2.0 * step
            except ArithmeticError:
                step *= 0.1
                if step < 1e-12:
                    raise
        return network.named(volts)


@dataclass(frozen=True)
class Source:
    """Amperes into one net and out of another, with siemens beside them."""

    plus: str
    minus: str
    amps: float
    siemens: float


class Network:
    """The equations of a circuit: conductances and capacities between nets, currents of junctions by their voltages."""

    def __init__(self, circuit: Circuit, sources: Sequence[Source]) -> None:
        place, matrix = circuit._matrix(1j)
        self.place, self.size = place, len(place)
        self.conductances, self.capacities = matrix.real.copy(), matrix.imag.copy()
        self.fixed = np.zeros(self.size)
        for source in sources:
            ends = self._row(source.plus, source.minus)
            self.fixed += source.amps * ends
            self.conductances += source.siemens * np.outer(ends, ends)
        carried = [self._carried(circuit, ref, junctions) for ref, junctions in circuit.junctions.items()]
        flat = [one for of_part in carried for one in of_part]
        self.into = np.array([self._row(one[1], one[0]) for one in flat]).T
        self.across = np.array([self._row(*one[2]) for one in flat])
        self.saturation, self.breakdown = np.array([one[3] for one in flat]), np.array([one[4] for one in flat])

    def _carried(
        self, circuit: Circuit, ref: str, of: Junctions
    ) -> list[tuple[str, str, tuple[str, str], float, float]]:
        """Exponential currents of a part: from, to, the two nets whose voltage drives it, saturation, offset."""
        pins = circuit.pins[ref]
        if not of.gain:
            plus, minus = pins["A"], pins["K"]
            found = [(plus, minus, (plus, minus), of.saturation, 0.0)]
            if math.isfinite(of.breakdown):
                found.append((minus, plus, (minus, plus), 5e-3, of.breakdown))
            return found
        base, collector, emitter = (pins[name] for name in "BCE")
        forward, reverse, size = (base, emitter), (base, collector), of.saturation
        return [
            (collector, emitter, forward, size, 0.0),
            (emitter, collector, reverse, size, 0.0),
            (base, emitter, forward, size / of.gain, 0.0),
            (base, collector, reverse, size / REVERSE_GAIN, 0.0),
        ]

    def _row(self, plus: str, minus: str) -> Array:
        row = np.zeros(self.size)
        for net, sign in ((plus, 1.0), (minus, -1.0)):
            if net != GROUND:
                row[self.place[net]] += sign
        return row

    def named(self, volts: Array) -> dict[str, float]:
        return {GROUND: 0.0, **{net: float(volts[number]) for net, number in self.place.items()}}

    def solved(self, before: Array, per_second: float) -> Array:
        """Voltages one step after those before, or at rest for a step without end (0 per second)."""
        volts, matrix = before, self.conductances + per_second * self.capacities
        fixed = self.fixed + per_second * self.capacities @ before
        driven = self.across @ volts - self.breakdown
        for _ in range(60):
            grown = self.saturation * np.exp(np.minimum(driven, 1.5) / THERMAL)
            slope = grown / THERMAL
            currents = np.where(self.breakdown > 0.0, grown, grown - self.saturation) - slope * driven
            straight = currents - slope * self.breakdown
            volts = np.linalg.solve(matrix - self.into @ (slope[:, None] * self.across), fixed + self.into @ straight)
            wanted = self.across @ volts - self.breakdown
            if np.abs(wanted - driven).max() < 1e-9:
                return volts
            # A junction that is to carry more goes there by the logarithm of the step, or the exponential overflows.
            up = wanted - driven
            slow = driven + THERMAL * np.log1p(np.maximum(up, 0.0) / THERMAL)
            driven = np.where((wanted > 0.5) & (up > 2 * THERMAL), np.where(driven > 0.3, slow, 0.5), wanted)
        raise ArithmeticError("Newton's method found no state of this circuit")


def _diode(forward: float, breakdown: float = math.inf) -> Junctions:
    """From the forward voltage at 5 mA."""
    return Junctions(5e-3 / math.exp(forward / THERMAL), breakdown)


def _transistor(base_emitter: float, gain: float) -> Junctions:
    """From the base-emitter voltage at a base current of 5 mA."""
    return Junctions(gain * 5e-3 / math.exp(base_emitter / THERMAL), gain=gain)


def _used(net: str) -> bool:
    """Whether anything else hangs on a net: pins that are not connected have one of their own."""
    return net not in ("N010", "N012")


def _short(net: str) -> str:
    return net.strip("/").lower()


@cache
def _pins() -> dict[str, dict[str, str]]:
    """Nets by part and pin; pins of diodes and transistors by what they are, others by number."""
    found: dict[str, dict[str, str]] = {}
    for row in rows("pins"):
        name = row["pin_name"] if row["ref"][0] in "DQ" else row["pin"]
        found.setdefault(row["ref"], {})[name] = row["net"]
    return found


def _value(text: str) -> float:
    """'4.7k' or '100n' as a number."""
    scale = {"p": 1e-12, "n": 1e-9, "u": 1e-6, "k": 1e3}.get(text[-1])
    return float(text[:-1]) * scale if scale else float(text)
