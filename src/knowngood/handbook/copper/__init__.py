"""What resistance has this wire or trace, how warm does it get, when does it melt, what wire replaces this trace?

A wire is given by its diameter or its gauge ("0.1 mm", "AWG 36"), always of the bare copper: enamel and insulation come
on top. Foil is given by its thickness; its weight does not fix that.
"""

from __future__ import annotations

from knowngood.handbook.copper.conducting import (
    copper_at,
    foil_thickness,
    sheet_resistance,
    trace_drop,
    trace_resistance,
    via_resistance,
    wire_resistance,
    wire_size,
)
from knowngood.handbook.copper.fusing import (
    fusing_current,
    fusing_pulse,
    trace_fusing_pulse,
)
from knowngood.handbook.copper.jumpers import (
    jumper,
)
from knowngood.handbook.copper.warming import (
    trace_current,
    trace_rise,
    trace_width,
)

__all__ = [
    "copper_at",
    "foil_thickness",
    "fusing_current",
    "fusing_pulse",
    "jumper",
    "sheet_resistance",
    "trace_current",
    "trace_drop",
    "trace_fusing_pulse",
    "trace_resistance",
    "trace_rise",
    "trace_width",
    "via_resistance",
    "wire_resistance",
    "wire_size",
]
