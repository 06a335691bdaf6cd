"""What does the voltage of this lithium cell mean, may it be charged, may I send the battery?"""

from __future__ import annotations

from dataclasses import dataclass

from knowngood.handbook.formula import formula
from knowngood.handbook.limits import limits


@dataclass(frozen=True)
class CellState:
    state: str
    do: str
    charge_limit: str
    floor: str


@formula
def cell_voltage(cell: float, chemistry: str = "cobalt-or-nmc", error: float = 0.0) -> CellState:
    """What the voltage that a lithium cell reads at rest means, and whether it may be charged as it is.

    The voltage says nothing of capacity, inner resistance or swelling. Only limits of the common cell decide; what is
    from memory, as of iron phosphate, is shown and decides nothing.

    Formula: 2.5 V <= V (1 +- e) <= 4.20 V
    Args:
        cell: measured at the cell itself, not behind its protection board (V, 0 to 6)
        chemistry: as its label says (one of cobalt-or-nmc, high-4.35, high-4.40, high-4.45, iron-phosphate)
        error: the meter's stated error at this reading, as a share of it (1, 0 to 0.5)
    Gives:
        state: of the cell (text)
        do: what follows (text)
        charge_limit: of this chemistry (text)
        floor: its end of discharge (text)
    Source: Large Power, Common sense of lithium ion battery (4.20 V, 2.5 V); the rest from memory
    Caution: A cell that is swollen, dented, wet or hot: stop, no charge, no press, no puncture; outdoors in sand or in
        metal with a lid. Local codes and licensed practice come first.

    >>> cell_voltage(cell=1.8).state
    'below its end of discharge'
    """
    charge_id = {"cobalt-or-nmc": "cell.v_charge", "iron-phosphate": "lfp.v_charge"}.get(
        chemistry, f"cell.v_charge.hv_{chemistry[-4:].replace('.', '')}"
    )
    charge = limits()[charge_id]
    floor = limits()["lfp.v_end" if chemistry == "iron-phosphate" else "cell.v_end"]
    low, high = cell * (1.0 - error), cell * (1.0 + error)
    common = limits()["cell.v_charge"].quantity_in("V")
    if floor.decides and high < floor.quantity_in("V"):
        state, do = "below its end of discharge", _DEEP
    elif floor.decides and low < floor.quantity_in("V"):
        state, do = "not shown to be above its end of discharge", _DEEP
    elif charge.decides and high > charge.quantity_in("V"):
        over = low > charge.quantity_in("V")
        state = "above its charge limit" if over else "not shown to be below its charge limit"
        do = "Do not charge it. Overcharged, unless its label names a higher limit."
    elif floor.decides and (charge.decides or high <= common):
        state, do = "within its limits", "Judge capacity and swelling apart; below 3.0 V it wants charging soon."
    else:
        state = "no verdict: a limit of this chemistry is from memory"
        do = "Go by the label or the data sheet of this cell."
    return CellState(state, do, charge.text(), floor.text())


_DEEP = (
    "Do not just charge it. From memory: below about 2.0 V it is suspect; one that was long below 1.5 V has dissolved "
    "copper inside: dispose of it. No voltage at all can be an open protection board: measure at the cell."
)


@dataclass(frozen=True)
class CellUse:
    charge: bool
    discharge: bool


@formula
def cell_temperature(temperature: float) -> CellUse:
    """Whether a lithium cell may be charged or discharged at its temperature.

    Formula: charge 0 to 45 degC, discharge -20 to 60 degC
    Args:
        temperature: of the cell (degC, -60 to 200)
    Gives:
        charge: whether it may be charged (yes or no)
        discharge: whether it may be discharged (yes or no)
    Source: Large Power, Common sense of lithium ion battery
    Caution: A cell that warms by itself: away from people, do not charge. Its label and data sheet, local codes and
        licensed practice come first.

    >>> cell_temperature(temperature=-5.0)
    CellUse(charge=False, discharge=True)
    """
    row = limits()

    def inside(use: str) -> bool:
        ends = (row[f"cell.t_{use}.{end}"].quantity_in("degC") for end in ("min", "max"))
        return next(ends) <= temperature <= next(ends)

    return CellUse(inside("charge"), inside("discharge"))


@formula
def charge_current(capacity: float) -> float:
    """The highest charge current of a lithium cell whose label does not say.

    Formula: I = 0.5 Q / h
    Args:
        capacity: of the cell or pack (Ah, above 0 to 1000)
    Gives:
        charge_current: at most (A)
    Source: Large Power, Common sense of lithium ion battery (0.5 C)
    Caution: Never leave a cell of unknown history on charge alone. Its label, local codes and licensed practice come
        first.

    >>> charge_current(capacity=2.6)
    1.3
    """
    return float(limits()["cell.i_charge"].value) * capacity


@dataclass(frozen=True)
class Carriage:
    verdict: str
    limit: str
    energy: float | None
    rules: str
    source: str


@formula
def battery_transport(
    nominal: float, capacity: float, cells: int = 1, filled: float | None = None, damaged: bool = False
) -> tuple[Carriage, ...]:
    """Whether a lithium battery is within the limits of the small-package, air and passenger rules.

    Batteries in or with equipment (UN 3481) have rules of their own that change by year: ask the carrier. A pack
    rebuilt with other cells counts as a new type for UN 38.3 (from memory).

    Formula: E = U Q; E / cells for a cell
    Args:
        nominal: voltage on the label of the battery (V, above 0 to 1000)
        capacity: of the battery (Ah, above 0 to 1000)
        cells: in the battery (1, 1 to 1000)
        filled: state of charge, for batteries sent alone by air (1, 0 to 1)
        damaged: whether it is damaged, defective or recalled (yes or no)
    Gives:
        verdict: by this rule (text)
        limit: of the rule (text)
        energy: of the battery, or of one cell (Wh)
        rules: what it is a rule of (text)
        source: where the limit stands (text)
    Source: of each row, beside it
    Caution: Local transport law and the carrier's current rules come first, and licensed practice for damaged cells.
        Damaged, defective or recalled: forbidden by air; by ground only in special packing.

    >>> [row.verdict for row in battery_transport(nominal=11.1, capacity=5.2, cells=6)][:2]
    ['within', 'within']
    """
    if damaged:
        source = "Lion Technology, Signs of a Damaged or Defective Lithium Battery (2023)"
        return (
            Carriage("FORBIDDEN by air", "none may fly", None, "damaged, defective or recalled", source),
            Carriage(
                "only in special packing by ground",
                "49 CFR 173.185(f); ADR/IMDG SP 376, P908/LP904 (packing numbers from memory)",
                None,
                "damaged, defective or recalled",
                "PHMSA interpretation 24-0050 (2 Jul 2024)",
            ),
        )
    energy = nominal * capacity
    sizes = {
        "ship.us.cell": energy / cells,
        "ship.us.battery": energy,
        "fly.spare": energy,
        "fly.spare_approved": energy,
    }
    rows = [_carried(name, size, size, "Wh") for name, size in sizes.items()]
    if filled is not None:
        rows.append(_carried("ship.air.soc_alone", filled, None, ""))
    return tuple(rows)


def _carried(name: str, value: float, energy: float | None, unit: str) -> Carriage:
    row = limits()[name]
    verdict = "within" if value <= row.quantity_in(unit) else "BEYOND"
    rules = f"{row.rules}: {row.quantity}, {row.applies_to}"
    return Carriage(verdict, row.text(), energy, rules, row.source)
