"""A real DC converter board: its netlist as a legal map, and its single faults found by the program's own questions.

Data: ``data/dc-board``, CC BY 4.0, attribution in its README. The circuit's figures are checked by hand or against what
its source measured; the shares of ranks are ours today, with bounds below them (``benchmarks/board.py`` prints all).
"""

from __future__ import annotations

import math

import pytest
from board import Bench, board, dictionary, effects, groups, probes, ratios_of, unseen
from circuit import GROUND, Circuit, rows
from finding import Table, by_plan, find, weights

from knowngood.maps.device import AnyMode

EVERY, TESTS = 8, 5
"""Every so many of the faults are looked for here, with so many tests on each board."""


def test_the_tables_are_whole() -> None:
    assert (len(rows("parts")), len(rows("pins")), len(rows("measured"))) == (29, 74, 47)
    assert {row["ref"] for row in rows("pins")} == {row["ref"] for row in rows("parts")}


def test_resistances_by_hand() -> None:
    """R1 to R8 of the schematic: 100 k, 22 k, 82 k, 47 k, 22 k and three of 2.2 k; windings 1 ohm."""
    healthy = Circuit.nominal()
    assert healthy.ohms("VCC", "N008") == pytest.approx(22e3, rel=1e-3)  # R5, with nothing beside it
    assert healthy.ohms("VCC", GROUND) == pytest.approx(22e3 + 82e3 + 47e3, rel=2e-3)  # R2, R3, R4
    assert healthy.ohms("N013", GROUND) == pytest.approx(47e3, rel=2e-3)
    assert healthy.ohms("N005", GROUND) == pytest.approx(1 / (1 / 2.2e3 + 1 / 2.201e3), rel=1e-3)  # R8 and R7
    assert healthy.with_fault("R8", "open").ohms("N005", GROUND) == pytest.approx(2.201e3, rel=1e-3)
    assert healthy.with_fault("C5", "short").ohms("/VDD", GROUND) == pytest.approx(0.05, rel=1e-3)
    assert healthy.with_fault("R5", "open").ohms("VCC", "N008") == math.inf
    reactance = 1 / (2 * math.pi * 1000 * 2.2e-6)
    assert healthy.impedance("VCC", GROUND) == pytest.approx(reactance, rel=0.01)  # C1


def test_junctions_and_voltages_by_hand() -> None:
    """A diode passes 1 mA at 60 mV less than the 5 mA of its data, times log10(5); ground to VDD is D3 with T1."""
    measured = Circuit.measured()
    schottky = 0.205 - 0.0595 * math.log10(5)
    assert measured.diode(GROUND, "/VDD") == pytest.approx(schottky, abs=2e-3)
    assert measured.diode("/VDD", GROUND) == math.inf  # a zener of five volts and a base
    fed = measured.fed(3.0)
    assert fed["N001"] < 0.1  # q1 holds it down: the cells are good
    assert measured.base_current(3.0) == pytest.approx((3.0 - fed["N008"]) / 22150, rel=0.05)  # by R5, through q3
    assert measured.base_current(1.3) < 1e-8  # and no drive from empty ones


def test_the_schematic_agrees_with_the_measured_board() -> None:
    """Every limit that the map takes from the schematic holds on the board whose parts were measured."""
    healthy = Bench(None)
    assert {name: probe.says(healthy.circuit) for name, probe in probes().items()} == dict.fromkeys(probes(), "ok")


def test_the_map_is_legal_and_says_what_the_circuit_says() -> None:
    device = board()
    assert set(device.parts) == {row["ref"].lower() for row in rows("parts")}
    for ref in Circuit.nominal().pins:
        modes = {mode.name: mode for mode in device.parts[ref.lower()].modes}
        assert set(modes) == {name.lower() for name in ratios_of(ref)}
        assert sum(mode.share for mode in modes.values()) == pytest.approx(1.0)
    sensed = {
        (test.id, part, mode)
        for test in device.tests.values()
        if isinstance(test.senses, AnyMode)
        for part, names in test.senses.modes
        for mode in names
    }
    told = {
        (f"{name}-{word}", ref.lower(), mode.lower())
        for (ref, mode), said in dictionary().items()
        for name, word in said.items()
    }
    assert sensed == told


def test_faults_that_no_test_can_tell_apart() -> None:
    """Parts in parallel, or in series with a winding, and small capacitors beside large ones."""
    found = {frozenset(" ".join(fault) for fault in group) for group in groups().values() if len(group) > 1}
    assert found == {
        frozenset(group)
        for group in (
            ("C5 short", "D3 short"),
            ("C6 short", "D4 short", "J1 short-gnd-vee"),
            ("C2 short", "Q1 short-E-C", "Q2 short-E-B"),
            ("C4 short", "Q4 short-E-C"),
            ("C7 short", "Q5 short-E-B", "R8 short"),
            ("C3 short", "D2 short"),
            ("Q1 short-E-B", "R4 short"),
            ("C8 short", "R6 short"),
            ("C4 open", "C8 open", "C9 open"),
        )
    }
    assert unseen() == {("C4", "open"), ("C8", "open"), ("C9", "open")}
    assert set(effects()) == set(groups())


def test_the_program_finds_the_usual_faults_by_its_own_questions() -> None:
    """Bounds below what is found today; rare faults (a small transistor) stay behind commoner ones after five tests."""
    faults = [fault for fault in groups() if fault not in unseen()][::EVERY]
    found = [find(fault, by_plan, TESTS) for fault in faults]
    before = Table.of([find(fault, by_plan, 0) for fault in faults])
    alike, as_met = Table.of(found), Table.of(found, weights(faults))
    print(f"\nbefore     {before}\neach alike {alike}\nas met     {as_met}")
    assert not any(one.refused for one in found)
    assert alike.mean_rank < 0.8 * before.mean_rank
    assert alike.first >= 0.25
    assert as_met.first >= 0.4
    assert as_met.in_three >= 0.4
