"""How sure is this reading, is it inside its limits, is one of these readings an outlier, what does the line say?

Methods of JCGM 100:2008 (GUM), JCGM 106:2012 and the NIST/SEMATECH e-Handbook of Statistical Methods. Readings may be
in any unit, the same one throughout a question.
"""

from __future__ import annotations

from knowngood.handbook.uncertainty.lines import (
    straight_line,
)
from knowngood.handbook.uncertainty.repeated import (
    correlation,
    grubbs,
    grubbs_critical,
    mean_of,
    robust,
)
from knowngood.handbook.uncertainty.single import (
    conformity,
    from_limits,
    meter_accuracy,
)
from knowngood.handbook.uncertainty.together import (
    combine,
    coverage_factor,
    effective_degrees,
    tolerance_stack,
    volts_and_amps,
)

__all__ = [
    "combine",
    "conformity",
    "correlation",
    "coverage_factor",
    "effective_degrees",
    "from_limits",
    "grubbs",
    "grubbs_critical",
    "mean_of",
    "meter_accuracy",
    "robust",
    "straight_line",
    "tolerance_stack",
    "volts_and_amps",
]
