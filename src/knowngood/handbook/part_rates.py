"""The failure tables of parts: rates of the parts count, and modes. Rates leave here as ratios only, never as hours."""

from __future__ import annotations

import csv
from collections.abc import Iterable
from functools import lru_cache
from pathlib import Path

TABLES = Path(__file__).parent / "tables"

EDITION = "MIL-HDBK-217F Notice 2 (1995), Appendix A; the same part differs about 20-fold between editions"


@lru_cache(maxsize=2)
def _table(name: str) -> tuple[dict[str, str], ...]:
    with (TABLES / name).open(encoding="utf-8", newline="") as lines:
        return tuple(csv.DictReader(lines))


def rated_parts() -> tuple[str, ...]:
    """The parts that have a rate."""
    return tuple(dict.fromkeys(row["part_type"] for row in _table("parts_count_rates.csv")))


def rate(part: str, environment: str, *, commercial: bool) -> float:
    """Of one part, for ratios only; ``commercial`` multiplies it by the handbook's contested quality factor."""
    (row,) = (
        one for one in _table("parts_count_rates.csv") if one["part_type"] == part and one["environment"] == environment
    )
    return float(row["rate_fpmh"]) * (float(row["quality_factor_commercial"]) if commercial else 1.0)


def parts_with_modes() -> tuple[str, ...]:
    """The parts whose failure modes are known."""
    return tuple(dict.fromkeys(row["part_type"] for row in _table("failure_mode_ratios.csv")))


def modes(part: str) -> list[dict[str, str]]:
    """The rows of a part, the commonest mode first."""
    rows = [row for row in _table("failure_mode_ratios.csv") if row["part_type"] == part]
    return sorted(rows, key=lambda row: -float(row["ratio"]))


def named(words: str, among: Iterable[str]) -> list[str]:
    """The parts whose names hold all the words; the one that is exactly it, if it is there."""
    asked = words.lower().replace(",", " ").split()
    found = [part for part in among if set(asked) <= set(part.lower().replace(",", " ").split())]
    return [part for part in found if part.lower().replace(",", " ").split() == asked] or found
