"""What one reading says by itself: where the true value lies, and whether the map and known-good units agree with it.

The belief weighs all lines together; this is the line beside a reading, for the person who holds the probe.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from knowngood.belief.sensing import BY_THE_MAP, Measuring, reading_model
from knowngood.belief.surprise import is_slip
from knowngood.handbook.quantities import Expected, Reading, format_expected, format_quantity, parse_reading
from knowngood.handbook.readings import OPEN, Conformity, Reference, conformity_of
from knowngood.log import events as ev
from knowngood.log.state import Line
from knowngood.maps.device import Device, RailToGround, RailVoltage, Test


@dataclass(frozen=True)
class Verdict:
    """One reading. ``zones`` are the chances of in tolerance, low, absent, shorted, high and open, as far as the test
    can tell them, by the reading alone; they leave the share of slips."""

    seq: int
    test: str
    reading: Reading
    zones: dict[str, float]
    expected: Expected
    conformity: Conformity
    """The reading held to the map's limits, as the handbook's formula of that name has it."""
    reference: Reference | None
    fits_reference: bool | None
    """None where no known-good unit was read, or too few."""
    slip: bool
    """Whether no state of what is measured reads so, whatever else is known: a slip of the hand or pen."""

    @property
    def fits_map(self) -> bool:
        """Whether it is not certainly beyond the map's limits."""
        return self.conformity != "outside"

    @property
    def zone(self) -> str:
        """The most probable one."""
        return max(self.zones, key=lambda one: self.zones[one])

    @property
    def flag(self) -> str | None:
        """One line, if known-good units were read and the reading disagrees with them, with the map or with both."""
        if self.reference is None or (self.fits_map and self.fits_reference is not False):
            return None
        shown = f"{self.test} {self.reading.text}"
        by_map, by_units = f"map says {format_expected(self.expected)}", self._units()
        if self.fits_map:
            return f"{shown} fits the map only: {by_map}, {by_units}"
        if self.fits_reference:
            return f"{shown} fits the known-good units only: {by_map}, {by_units}"
        return f"{shown}: {by_map}, {by_units}"

    def _units(self) -> str:
        assert self.reference is not None
        one = self.reference
        unit = self.expected.unit
        units = "1 known-good unit reads" if one.count == 1 else f"{one.count} known-good units read"
        spread = f" (MAD {format_quantity(one.mad, unit)})" if one.count > 1 else ""
        return f"{units} {format_quantity(one.median, unit)}{spread}"


def verdict(
    device: Device, test: Test, text: str, *, measuring: Measuring = BY_THE_MAP, seq: int | None = None
) -> Verdict:
    """The verdict on a reading as written."""
    model = reading_model(device, test, high=True, measuring=measuring, seq=seq)
    read, expected, known = parse_reading(text), _expected(device, test), measuring.references.get(test.id)
    zones = model.falls(read.value, read.digit)
    if model.is_overload(read.value):
        # A rail to ground may be above the meter's range and healthy; a voltage only if its limits are, too.
        fits_reference = OPEN in zones or expected.high > model.meter.top(model.measured)
        held: Conformity = "cannot be told" if fits_reference else "outside"
    else:
        uncertainty = model.uncertainty(read.value, read.digit)
        held = conformity_of(abs(read.value), uncertainty, expected)
        fits_reference = known is not None and known.fits(abs(read.value), uncertainty)
    judged = known is not None and known.enough
    meant = 1.0 - model.slips(read.value) / max(model.likelihood(read.value, read.digit).values())
    slip = is_slip(model.slip, meant)
    return Verdict(seq or 0, test.id, read, zones, expected, held, known, fits_reference if judged else None, slip)


def _expected(device: Device, test: Test) -> Expected:
    assert isinstance(test.senses, (RailVoltage, RailToGround))
    return device.functions[test.senses.function].expected[test.senses.key]


def verdicts(
    device: Device, lines: Iterable[Line], *, measuring: Measuring = BY_THE_MAP, repeats: bool = False
) -> tuple[Verdict, ...]:
    """The verdicts on the readings among lines that hold, in their order; without ``repeats`` on each test's last."""
    made = [(line.seq, line.event) for line in lines if isinstance(line.event, ev.Read)]
    last = {event.test: seq for seq, event in made}
    return tuple(
        verdict(device, device.tests[event.test], event.reading, measuring=measuring, seq=seq)
        for seq, event in made
        if repeats or last[event.test] == seq
    )
