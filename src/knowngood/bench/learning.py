"""What the known-good units of a map read, beside what the map expects, and the map as it would be after learning."""

from __future__ import annotations

import difflib
import os
from dataclasses import dataclass
from pathlib import Path

from knowngood.bench.references import references
from knowngood.bench.settings import read_settings
from knowngood.bench.store import Store
from knowngood.errors import NotFoundError
from knowngood.handbook.learned import learned
from knowngood.handbook.quantities import Expected, format_expected
from knowngood.handbook.readings import Measured, Reference
from knowngood.maps.device import Device, RailToGround, RailVoltage, Test
from knowngood.maps.load import file_of
from knowngood.maps.rewrite import Value, rewritten

SWITCHED: dict[str, Measured] = {"nominal": "V", "to_ground": "ohm", "diode": "diode"}
"""What the meter is switched to for what a key of a map expects."""


@dataclass(frozen=True)
class Row:
    """One test that reads a number."""

    test: Test
    mapped: Expected
    units: Reference | None
    """What known-good units read, if any were read."""
    learned: Expected | None
    """What the map would expect after learning, from enough of them."""
    place: Value
    """Function and key in the map."""


def rows(store: Store, device: Device) -> list[Row]:
    """Every test of a map that reads a number, in the order of the map."""
    known, meter = references(store, device), read_settings(store.bench_lines()).meter
    found = []
    for test in device.tests.values():
        if not isinstance(test.senses, (RailVoltage, RailToGround)):
            continue
        name, key = test.senses.function, test.senses.key
        mapped = device.functions[name].expected[key]
        units, then = known.get(test.id), None
        if units is not None and units.enough:
            then = learned(mapped, units, meter.standard_uncertainty(SWITCHED[key], units.median))
        found.append(Row(test, mapped, units, then, (name, key)))
    return found


def relearned(name: str, found: list[Row]) -> tuple[str, str, Path]:
    """The text of a map, the text with what was learned, and its file."""
    file = file_of(name)
    text = file.read_text(encoding="utf-8")
    values = {row.place: format_expected(row.learned) for row in found if row.learned}
    return text, rewritten(text, str(file), values), file


def difference(text: str, changed: str, file: Path | str, how: str = "learned") -> str:
    """What changes in a map, line by line, as a unified diff; "" if nothing does."""
    lines = difflib.unified_diff(
        text.splitlines(keepends=True), changed.splitlines(keepends=True), str(file), f"{file} ({how})", n=0
    )
    return "".join(lines)


def write(changed: str, into: Path) -> None:
    """Writes a map, all of it or nothing. Raises NotFoundError if the file cannot be written."""
    beside = into.with_name(into.name + ".new")
    try:
        beside.write_text(changed, encoding="utf-8")
        os.replace(beside, into)
    except OSError as error:
        raise NotFoundError(f"The map cannot be written to '{into}': {error.strerror}.") from None
