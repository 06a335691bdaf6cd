"""What a map should expect after known-good units were read, by hand."""

from __future__ import annotations

import pytest

from knowngood.handbook.learned import learned
from knowngood.handbook.quantities import Expected
from knowngood.handbook.readings import Reference

RAIL = Expected(5.0, 4.75, 5.25, "V")
GROUND = Expected(1000.0, 100.0, 10e3, "ohm")


@pytest.mark.parametrize(
    ("mapped", "units", "meter", "limits"),
    [
        # Five weigh as much as the map: half of 5.1 V -+ 3 x 10 mV, half of 4.75 V and 5.25 V.
        (RAIL, Reference(5.1, 0.0, 5), 0.01, (4.91, 5.05, 5.19)),
        # One of six, and the map's five.
        (RAIL, Reference(5.1, 0.0, 1), 0.01, (4.803, 5.0166667, 5.23)),
        # Six stand alone.
        (RAIL, Reference(5.1, 0.0, 6), 0.01, (5.07, 5.1, 5.13)),
        # 3 x 1.4826 x 20 mV x sqrt(1 + pi / 24) = 94.6 mV; a limit says no more than a hundredth of the width.
        (RAIL, Reference(5.0, 0.02, 12), 0.01, (4.905, 5.0, 5.095)),
        # No spread and no meter: one value.
        (RAIL, Reference(5.0123456, 0.0, 6), 0.0, (5.0123456, 5.0123456, 5.0123456)),
        # Decades: half of 3 -+ 3 x 0.04, half of 2 and 4: 10^2.44 and 10^3.56.
        (GROUND, Reference(1000.0, 0.0, 5), 1.0, (280.0, 1000.0, 3630.0)),
        # A meter of 0.1 decades, alone: 10^2.7 and 10^3.3.
        (GROUND, Reference(1000.0, 0.0, 6), 230.2585, (500.0, 1000.0, 2000.0)),
        # 148.26 ohm x sqrt(1 + pi / 16) = 162.2 ohm, 0.07043 decades: 10^2.7887 and 10^3.2113.
        (GROUND, Reference(1000.0, 100.0, 8), 1.0, (610.0, 1000.0, 1630.0)),
    ],
)
def test_what_a_map_learns_by_hand(
    mapped: Expected, units: Reference, meter: float, limits: tuple[float, float, float]
) -> None:
    found = learned(mapped, units, meter)
    assert (found.low, found.nominal, found.high) == pytest.approx(limits, rel=1e-6)
    assert found.unit == mapped.unit
