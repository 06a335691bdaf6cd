"""Small devices that can hurt, for tests of the hard rules and of what checks them."""

from __future__ import annotations

from small import device, found, ohms, part, rail, remedy, step, tried, volts, wanted

SWAP = remedy("replace", part=True, minutes=6.0)
ALL = device(
    [
        part(
            "supply",
            remedy("resolder"),
            SWAP,
            base=0.3,
            used="EUR 15",
            behind="lid",
            hazards=("mains", "stored-charge"),
        ),
        part("pack", remedy("wake", 0.3), SWAP, used="EUR 12", behind="lid", hazards=("cell",)),
        part("beam", SWAP, used="EUR 30", behind="lid", hazards=("laser",)),
        part("load", remedy("mend"), behind="lid", on=("rail",)),
        part("knob", remedy("glue")),
    ],
    [rail("rail", "supply"), wanted("works", "rail", "pack", "beam", "load", "knob")],
    [
        tried("works"),
        volts("rail", behind="lid"),
        ohms("rail", behind="lid"),
        found("charge", "pack", "battery"),
        found("inject", "load", "bench", behind="lid", feeds="rail"),
    ],
    [step("lid", 3.0, 4.0, hazards=("stored-charge", "sharp"), removes=("knob",))],
)
"""A device that carries every hazard with a hard rule."""

TWO_CELLS = device(
    [
        part("left", SWAP, used="EUR 12", behind="lid", hazards=("cell",)),
        part("right", SWAP, used="EUR 12", behind="lid", hazards=("cell",)),
        part("store", SWAP, used="EUR 9", hazards=("stored-charge",)),
    ],
    [wanted("works", "left", "right", "store")],
    [tried("works", power="battery")],
    [step("lid", 3.0, 4.0, removes=("store",))],
)
"""Two packs under a lid that comes off together with a charged store."""

IN_A_ROW = device(
    [
        part("lead", SWAP, behind="first", on=("bulk",), hazards=("stored-charge",), joins=("igniter", "supply")),
        part("supply", SWAP, remedy("resolder"), behind="first", hazards=("mains",), zone="inlet"),
        part("output", remedy("resolder"), behind="first", parent="bulk-cap"),
        part("bulk-cap", SWAP, behind="first", hazards=("stored-charge",), zone="inlet"),
        part("fuse", remedy("tighten", hazards=("stored-charge",)), behind="first", zone="inlet"),
        part("igniter", SWAP, behind="second", on=("bulk",), hazards=("stored-charge",)),
        part("lens", remedy("clean"), behind="second"),
    ],
    [rail("bulk", "supply", "bulk-cap"), wanted("works", "bulk", "output", "lead", "fuse", "igniter", "lens")],
    [tried("works", closed=True), ohms("bulk", behind="first")],
    [step("first", 3.0, 4.0), step("second", 3.0, 4.0, "first", unplugs=("lead",), removes=("igniter",))],
)
"""Stores one behind the other: the lead to the second is reached before the step that takes the second off."""
