"""The fixed words of maps and logs: levels, conditions that an eye can find, pasts, powers, what a link carries."""

from __future__ import annotations

from enum import IntEnum
from typing import Literal


class Level(IntEnum):
    """How far a function works; the order is the meaning (needs take the minimum)."""

    NONE = 0
    WEAK = 1
    GOOD = 2


LEVEL_WORDS = {"none": Level.NONE, "weak": Level.WEAK, "good": Level.GOOD}

CONDITIONS: dict[str, str] = {
    "fine": "looked at, nothing wrong",
    "dusty": "dust or fluff",
    "greasy": "grease or tar film",
    "scratched": "scratched",
    "dented": "pushed in",
    "bent": "out of its plane or line",
    "cracked": "cracked",
    "crushed": "crushed",
    "torn": "torn",
    "cut": "cut or pinched",
    "burnt": "burnt, scorched, a hole",
    "browned": "browned by heat",
    "melted": "melted or deformed",
    "bulged": "bulged (capacitor)",
    "leaking": "leaking",
    "swollen": "swollen (pack)",
    "punctured": "punctured (pack)",
    "wet": "wet now",
    "corroded": "white or grey corrosion",
    "green": "green or black corrosion",
    "tide-line": "tide line or residue",
    "liquid-mark": "liquid mark has coloured",
    "loose": "loose",
    "unseated": "not seated or half latched",
    "misaligned": "out of alignment",
    "missing": "not there",
    "broken-off": "broken off",
    "worn": "worn",
    "stripped": "stripped",
    "lifted": "lifted or delaminated",
    "foreign-object": "something there that does not belong",
    "flux": "flux, wick or tool marks of an earlier attempt",
    "wrong-part": "another part than it should be",
    "mismatched-label": "identity labels do not match",
    "mould": "insects, mould or odour",
    "yellowed": "yellowed or brittle",
    "hot-spot": "hot spot in the heat view",
}
"""Conditions that ``saw`` takes, with what each means (common practice, no source)."""

HARMLESS = frozenset({"fine", "dusty", "greasy", "scratched", "yellowed"})
"""Conditions that say little of how a part works (common practice, no source)."""

PASTS: dict[str, str] = {
    "dropped": "fell or was struck",
    "wet": "liquid got in",
    "surged": "surge, lightning or a wrong adaptor",
    "hot": "ran hot, full of dust or smoke",
    "aged": "more than ten years old, or years in a cupboard",
    "opened-before": "somebody was in here before",
}
"""What may have happened to a unit before it was bought; multiplies the odds of its parts."""

CHECKS: dict[str, str] = {
    "nothing-left": "Mat, trays and case: no screw, tape, film, pad, spring or sheet left over, no tool left inside",
    "long-screws": "Each long screw is back in its own hole, none in a shorter one's",
    "pinched": "The lid closes without force, and no lead is under an edge",
    "shaken": "Turn it over and shake it: nothing rattles",
    "fuse": "The fuse that is fitted has the rating and type that its marking asks for",
    "covers": "Insulating sheets and covers are back over everything that carries mains or keeps a charge",
    "married": "Parts that are married carry this unit's number, both of them",
    "heat": "Heat sinks do not rock, the film is off new pads, fans face the right way and turn freely by hand",
    "interlocks": "Lids, doors and magnets that let it start are in place for this stage",
    "battery-last": "The pack's plug goes in last, after everything above",
    "set-up": "The right input, current limit and load; earth and isolation as they must be; hand at the switch",
}
"""General checks before power that ``checked`` takes (common practice, no source)."""

HICCUP, LATCHED_OFF = "hiccup", "latched-off"

UNDER_SHORT = {"off": Level.NONE, HICCUP: Level.NONE, "foldback": Level.WEAK, LATCHED_OFF: Level.NONE}
"""What a supply does under a short of its rail, and the level it leaves (common practice, no source): it gives nothing
while the short lasts; tries again and again, so that the rail pulses; gives a little; or stays off, the short gone or
not, until its own input was away."""

POWERS: dict[str, str] = {
    "off": "power off",
    "mains": "on its own mains supply",
    "battery": "on its own pack",
    "adaptor": "on its own adaptor",
    "bench": "on a current-limited bench supply",
}

Power = Literal["off", "mains", "battery", "adaptor", "bench"]
LevelWord = Literal["none", "weak", "good"]
Takes = Literal["short", "heavy"]
UnderShort = Literal["off", "hiccup", "foldback", "latched-off"]
When = Literal["closed", "open", "warm", "cold"]
Carries = Literal["power", "signal", "permission", "heat", "light", "air", "hold", "identity", "input", "behaviour"]
ProtectionClass = Literal["I", "II", "III", "none"]
Forbids = Literal["power", "touch", "everything else"]
Holds = Literal["glue", "seal", "one-way"]
"""What holds an access step beside its fasteners: glue, a seal, or what can be opened once and not made again."""

Feeds = Literal["unit", "rail", "part"]
Lifts = Literal["replaced", "removed", "discharged", "dried", "covered", "apart", "unplugged"]
"""Facts that lift a hard rule: on the part (another one sits there, it is out, its charge is measured off, its plugs
are out), on the unit (dried, covered), on the move (it feeds a part apart from the unit)."""

PrecautionWhen = Literal["no-stand-in", "injected"]
"""Where a precaution suffices: no known-good part can be had, or the move feeds the shorted rail alone."""
Bond = Literal["cryptographic", "serial", "calibration", "keys"]

MISSING = "missing"
"""Every part has this mode unless its kind says otherwise: what is not there gives nothing."""

REVISION = r"[A-Za-z0-9][A-Za-z0-9.-]*"
"""What a revision is written as: one word, as it is read off the part."""

REVERSED = "reversed"
"""A connection that can go in the wrong way round has this mode."""

SEATED = "seated"
"""Last part of the name of the check that a connection sits as it should."""

FINE = "fine"
"""The state of a part with no fault; also the condition 'looked at, nothing wrong'."""

ANY = "any"
"""In a remedy's cures: every mode of the part."""

TO_GROUND = "-to-ground"
"""Suffix of the test that reads a rail's resistance to ground with power off."""

DIODE = "-diode"
"""Suffix of the test that reads a rail to ground in diode mode with power off."""
