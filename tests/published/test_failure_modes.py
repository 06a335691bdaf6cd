"""The failure-mode table of the handbook against published ratios, typed here a second time by hand.

Only rows that were confirmed against a source decide; rows from memory are never a pass or fail, apart from their sum.
"""

from __future__ import annotations

import csv
from collections import defaultdict
from pathlib import Path

import pytest

import knowngood.handbook

TABLE = Path(knowngood.handbook.__file__).parent / "tables" / "failure_mode_ratios.csv"

MIL = "MIL-HDBK-338B (1 October 1998), section 7"
"""Failure-mode distributions of the handbook, from the collection FMD-91; an open transcription of its list."""

CAPACITORS = f"{MIL}; also Capacitors: failure mechanisms and anomalies, Rev A (23 April 2004), Table 1"
PTC = "PTC, Windchill Risk and Reliability 12.0, Practitioner's Guide, Table A-1"

CONFIRMED = [
    (
        CAPACITORS,
        "capacitor, aluminium electrolytic",
        "short 0.53, open 0.35, electrolyte leak 0.10, value change 0.02",
    ),
    (CAPACITORS, "capacitor, tantalum electrolytic", "short 0.69, open 0.17, value change 0.14"),
    (CAPACITORS, "capacitor, ceramic", "short 0.49, value change 0.29, open 0.22"),
    (CAPACITORS, "capacitor, plastic film", "open 0.42, short 0.40, value change 0.18"),
    (CAPACITORS, "capacitor, paper", "short 0.63, open 0.37"),
    (MIL, "resistor, film, fixed", "open 0.59, parameter change 0.36, short 0.05"),
    (MIL, "resistor, composition", "parameter change 0.66, open 0.31, short 0.03"),
    (MIL, "resistor network", "open 0.92, short 0.08"),
    (MIL, "coil, inductor", "short 0.42, open 0.42, value change 0.16"),
    (MIL, "transformer", "open 0.42, short 0.42, parameter change 0.16"),
    (MIL, "diode, general", "short 0.49, open 0.36, parameter change 0.15"),
    (MIL, "transistor, bipolar", "short 0.73, open 0.27"),
    (
        MIL,
        "transistor, FET or MOSFET",
        "short 0.51, output low 0.22, parameter change 0.17, open 0.05, output high 0.05",
    ),
    (MIL, "opto emitter, LED", "open 0.70, short 0.30"),
    (MIL, "IC, linear", "improper output 0.77, no output 0.23"),
    (MIL, "IC, digital bipolar", "output stuck high 0.28, output stuck low 0.28, input open 0.22, output open 0.22"),
    (MIL, "IC, memory MOS", "data bit loss 0.34, short 0.26, open 0.23, slow transfer 0.17"),
    (MIL, "connector, connection", "open 0.61, poor or intermittent contact 0.23, short 0.16"),
    (MIL, "switch, toggle", "open 0.65, sticking 0.19, short 0.16"),
    (MIL, "fuse", "fails to open 0.49, slow to open 0.43, premature open 0.08"),
    (PTC, "battery, lithium", "degraded output 0.78, start delay 0.14, short 0.06, open 0.02"),
    (PTC, "battery, NiCd", "degraded output 0.72, no output 0.28"),
]
"""Source, part type, and the share of its failures that take each mode."""


def typed(row: str) -> dict[str, float]:
    pairs = (one.rsplit(" ", 1) for one in row.split(", "))
    return {mode: float(ratio) for mode, ratio in pairs}


def rows() -> list[dict[str, str]]:
    with TABLE.open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


def ratios(status: str | None = None) -> dict[str, dict[str, float]]:
    found: dict[str, dict[str, float]] = defaultdict(dict)
    for row in rows():
        if status in (None, row["status"]):
            assert row["mode"] not in found[row["part_type"]], "a mode stands twice"
            found[row["part_type"]][row["mode"]] = float(row["ratio"])
    return found


@pytest.mark.parametrize(("source", "part_type", "modes"), CONFIRMED, ids=[one[1] for one in CONFIRMED])
def test_a_confirmed_row_is_the_published_one(source: str, part_type: str, modes: str) -> None:
    assert ratios("confirmed")[part_type] == typed(modes)
    names = {row["source"].split(" ", 1)[0].rstrip(",") for row in rows() if row["part_type"] == part_type}
    assert names == {source.split(" ", 1)[0].rstrip(",")}


def test_every_confirmed_row_of_the_table_is_typed_here() -> None:
    assert set(ratios("confirmed")) == {one[1] for one in CONFIRMED}


@pytest.mark.parametrize("part_type", ratios())
def test_the_ratios_of_a_part_sum_to_one_as_far_as_rounding_lets_them(part_type: str) -> None:
    """0.011: printed to two decimals, one row of five entries sums to 1.01."""
    assert sum(ratios()[part_type].values()) == pytest.approx(1.0, abs=0.011)


def test_what_is_from_memory_says_so() -> None:
    assert {row["status"] for row in rows()} == {"confirmed", "from memory"}
    assert not set(ratios("confirmed")) & set(ratios("from memory"))
