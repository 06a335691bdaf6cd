"""Hears a listing's words: which lines of the log they stand for on a map, and which are not understood.

What sellers write and what it tends to mean is common practice, no source. A seller's "no" to a past counts for
nothing, and so do words that are not in the table: they are said, never guessed.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from knowngood.belief.reach import above, below
from knowngood.errors import LineError
from knowngood.log import events as ev
from knowngood.log.lines import understand
from knowngood.log.state import State
from knowngood.maps.device import Device, FunctionLevel
from knowngood.money.bid.seller import asked_to_try

POWER = "power"
"""Stands for the try that shows whether the device has power at all."""


@dataclass(frozen=True)
class Wording:
    """What sellers write, what it stands for, and how to hear it."""

    words: str
    """A regular expression over small letters."""
    past: str = ""
    tried: str = ""
    """``power`` with its outcome."""
    hear: str = ""


WORDINGS: tuple[Wording, ...] = (
    Wording(
        r"no power|dead|(?:wo|do|does|will|did)(?:n't| ?not) (?:turn|switch|power|start|boot|come)(?: (?:on|up))?|"
        r"no sign of life|nothing happens",
        tried="fails",
        hear="anything from a bad cord to a dead main chip",
    ),
    Wording(
        r"(?:turns|switches|powers|comes) on|has power|power(?:s)? ok|(?:standby|power) (?:light|led) (?:on|glows|lit)",
        tried="works",
        hear="it has power; the rest is open",
    ),
    Wording(r"small drop|drop(?:ped)?|fell|fall(?:en)?|hit|knocked (?:over|off)", past="dropped"),
    Wording(
        r"(?:got )?(?:slightly |a bit |a little )?wet|water|liquid|spill(?:ed|t)?|soaked|rain|flood(?:ed)?|moisture",
        past="wet",
        hear="assume that it was soaked, days ago, with power applied",
    ),
    Wording(r"surge|lightning|wrong (?:adaptor|adapter|charger|voltage|supply)|overvoltage", past="surged"),
    Wording(r"overheat(?:s|ed|ing)?|ran hot|(?:very )?dusty|smok(?:y|e|ers?)|gets hot", past="hot"),
    Wording(
        r"worked when (?:it was )?(?:stored|put away|last used)|stored|storage|cupboard|attic|loft|old|vintage",
        past="aged",
        hear="years in a cupboard: age, and batteries that leaked",
    ),
    Wording(
        r"(?:only |just )?needs a (?:new )?fuse",
        past="opened-before",
        hear="a fuse does not blow for no reason, and somebody has been inside",
    ),
    Wording(
        r"opened|repair(?:ed)? (?:by a friend|attempted|attempt)|attempted repair|tried to (?:fix|repair)|"
        r"taken apart|disassembled",
        past="opened-before",
        hear="an earlier attempt: everything that it touched is a suspect",
    ),
    Wording(r"untested|not tested|sold as seen", hear="mostly tested and found dead; counted as nothing said"),
    Wording(
        r"parts complete|all parts (?:there|included)|complete", hear="screws are missing; counted as nothing said"
    ),
)
"""Tried in this order on each clause of a listing (common practice, no source)."""

NOT = re.compile(r"^(?:no|not|never|without|was ?n[o']t|has ?n[o']t(?: been)?|no signs? of)\b ?")

CLAUSES = re.compile(r"[,;.!?\n]+|\s+(?:and|but|then)\s+")


@dataclass(frozen=True)
class Heard:
    """One clause of a listing and the line that it stands for."""

    words: str
    line: str = ""
    """Canonical; empty where the words stand for none."""
    hear: str = ""
    """What the trade makes of such words; empty where they are not understood either."""


def heard(device: Device, said: str) -> tuple[Heard, ...]:
    """What a listing's words stand for on a map, clause by clause."""
    clauses = (" ".join(one.split()).lower() for one in CLAUSES.split(said))
    return tuple(_clause(device, one) for one in clauses if one)


def lines_of(found: Iterable[Heard]) -> tuple[str, ...]:
    """The lines that were heard, each once."""
    return tuple(dict.fromkeys(one.line for one in found if one.line))


def _clause(device: Device, words: str) -> Heard:
    for one in WORDINGS:
        if re.fullmatch(rf"(?:it |has |was |is |been |got |a |has been |it was |it is )*(?:{one.words})", words):
            return Heard(words, _line(device, one), one.hear or f"counted as the past '{one.past}'")
    denied = NOT.sub("", words)
    if denied != words:
        past = next((one.past for one in WORDINGS if one.past and re.fullmatch(one.words, denied)), "")
        if past:
            return Heard(words, hear=f"a seller's no to '{past}' counts for nothing")
        line = _understood(device, f"tried {denied} fails")
        if line:
            return Heard(words, line, "as the seller found it")
    for typed in (words, _turned(words), f"tried {words}"):
        line = _understood(device, typed)
        if line:
            return Heard(words, line, "as the seller shows or found it")
    return Heard(words)


def _turned(words: str) -> str:
    """ "cracked top cover" as a line has it: "top cover cracked"."""
    first, _, rest = words.partition(" ")
    return f"{rest} {first}"


def _understood(device: Device, typed: str) -> str:
    try:
        event = understand(device, State(), typed)
    except LineError:
        return ""
    return ev.render(event) if isinstance(event, (ev.Saw, ev.Tried, ev.Found, ev.Read, ev.Past)) else ""


def _line(device: Device, one: Wording) -> str:
    if one.past:
        return f"past {one.past}"
    return f"tried {power_try(device)} {one.tried}" if one.tried and power_try(device) else ""


def power_try(device: Device) -> str:
    """The try that shows whether there is power at all, or nothing: of those that a seller can make and on which
    something else that is promised rests, the one that itself rests on least; of equals, that which most rests on."""
    rests_on, wanted = above(device), set(device.wanted)
    tries: list[tuple[int, int, str]] = []
    for test in asked_to_try(device):
        if isinstance(test.senses, FunctionLevel):
            function = test.senses.function
            others = wanted.intersection(rests_on[function]) - {function}
            if others:
                tries.append((len(below(device, function)[0]), -len(others), test.id))
    return min(tries)[2] if tries else ""
