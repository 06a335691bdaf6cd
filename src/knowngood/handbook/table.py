"""The tables of the book: CSV files with a source and a status in each row."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from functools import lru_cache
from importlib.resources import files


@lru_cache
def table(name: str) -> tuple[Mapping[str, str], ...]:
    """The rows of ``tables/NAME.csv`` by their headings."""
    text = (files(__package__) / "tables" / f"{name}.csv").read_text(encoding="utf-8")
    return tuple(csv.DictReader(text.splitlines()))


def number(row: Mapping[str, str], column: str) -> float | None:
    """A figure of a row; None where the cell is empty."""
    return float(row[column]) if row[column] else None


def sourced(row: Mapping[str, str]) -> str:
    """Where a row stands, with its status where that is not confirmed."""
    return row["source"] if row["status"] == "confirmed" else f"{row['source']} ({row['status']})"
