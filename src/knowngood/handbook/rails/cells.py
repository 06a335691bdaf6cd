"""What a lithium-ion charger and a cell's protector do at a voltage and a temperature."""

from __future__ import annotations

from dataclasses import dataclass

from knowngood.handbook.formula import formula


@dataclass(frozen=True)
class Charging:
    """What a charger does (A)."""

    phase: str
    precharge: float
    termination: float


@formula
def charger(cell: float, fast_current: float) -> Charging:
    """What a lithium-ion charger should be doing at a cell's voltage.

    One charger's defaults; others differ, so its own data sheet comes first.

    Formula: precharge below 2.5 V at 20 % of the fast current; ends at 10 % of it
    Args:
        cell: voltage of the cell (V, 0 to 5)
        fast_current: that the charger is set to (A, above 0 to 20)
    Gives:
        phase: of the charge (text)
        precharge: current of the first phase (A)
        termination: current at which charging ends (A)
    Source: TI BQ24090 data sheet
    Caution: A swollen, hurt or deeply drained cell can burn: no charging unattended, and away from what burns.

    >>> charger(2.3, 0.5).phase
    'precharge'
    """
    phase = "precharge" if cell < 2.5 else "fast charge, or constant voltage near full"
    return Charging(phase, 0.2 * fast_current, 0.1 * fast_current)


@formula
def charge_zone(cell_temperature: float) -> str:
    """How a charger should hold back at a cell's temperature.

    Registers of one charger. Below 0 and above 60 degC it does not charge (from memory, so not said as a verdict).

    Formula: 0 to 10 degC reduced current; 45 to 60 degC reduced voltage
    Args:
        cell_temperature: at its sensor (degC, -40 to 100)
    Gives:
        zone: of charging (text)
    Source: TI BQ25882 data sheet, registers
    Caution: Charging a cell that is too cold or too hot hurts it, and can set it on fire.

    >>> charge_zone(5.0)
    'reduced current'
    """
    if not 0.0 <= cell_temperature <= 60.0:
        return "indeterminate: outside the zones with a source; do not charge"
    if cell_temperature <= 10.0:
        return "reduced current"
    return "reduced voltage" if cell_temperature >= 45.0 else "usual current and voltage"


@dataclass(frozen=True)
class Protected:
    """What a protector does."""

    voltage: str
    temperature: str | None


@formula
def protector(cell: float, cell_temperature: float | None = None) -> Protected:
    """Whether a cell's protector has cut off, at a voltage and a temperature.

    Defaults of two protectors; a pack's own may be set otherwise. Over-voltage from 4.25 to 4.30 V is from memory.

    Formula: under-voltage below 2.500 V; too hot to charge above 55 degC
    Args:
        cell: voltage of the cell, before the protector (V, 0 to 6)
        cell_temperature: at its sensor (degC, -40 to 100)
    Gives:
        voltage: what it does about the voltage (text)
        temperature: what it does about the temperature while charging (text)
    Source: TI BQ77307 and BQ76942 data sheets
    Caution: Do not bridge a protector to wake a cell: a deeply drained cell can burn when charged.

    >>> protector(2.3).voltage
    'cut off: under-voltage'
    """
    voltage = "not cut off by voltage"
    if cell < 2.5:
        voltage = "cut off: under-voltage"
    elif cell > 4.25:
        voltage = "indeterminate: over-voltage trips at 4.25 to 4.30 V are from memory"
    if cell_temperature is None:
        return Protected(voltage, None)
    return Protected(voltage, "cut off: too hot to charge" if cell_temperature > 55.0 else "not cut off by heat")
