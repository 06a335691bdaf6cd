"""Understands what a person types at the bench: canonical lines, shorthand, names written with spaces.

Shorthand expands on entry and never guesses: what could mean two things is an error that lists them.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable
from contextlib import suppress

from knowngood.errors import LineError, QuantityError
from knowngood.handbook.colour_bands import COLOURS, OTHER_NAMES
from knowngood.handbook.quantities import Reading, parse_reading
from knowngood.handbook.small_parts import named
from knowngood.log import events as ev
from knowngood.log.events.going import TRANSPORT, USE
from knowngood.log.events.release import UNITS
from knowngood.log.fasteners import sorts
from knowngood.log.intake import shown_on_photos, tried_functions
from knowngood.log.misfit import misfit
from knowngood.log.state import State
from knowngood.maps.device import Device, RailToGround, RailVoltage, Test
from knowngood.maps.kinds import kinds
from knowngood.maps.shape import as_name, nearest, similar
from knowngood.maps.words import CHECKS, CONDITIONS, PASTS

SHORT_VERBS = {"reseated": "reseat", "cleaned": "clean", "resoldered": "resolder"}
"""Verbs that stand for ``mended PART REMEDY``."""

PHRASES = {
    **{"not now": "deferred", "not-now": "deferred", "no such tool": "lacks tool", "no such part": "lacks part"},
    **{"serial": "recorded serial", "dispute until": "disputable until", "came back": "returned"},
    **{"cause unknown": "caused unknown", "cause": "caused by", "not tried": "left", "sent with": "dispatched with"},
    **{"returned unit": "returned", "quarantine": "quarantined", "refund": "refunded"},
}
"""What a person says, and the start of the line that stands for it."""


WHOLE = ("quarantined", "cleared")
"""Verbs after which the word ``unit`` may be left out."""


def understand(device: Device, state: State, text: str) -> ev.Event:
    """The event that a typed line means on this device and in this state. Raises LineError."""
    event = _resolved(device, ev.parse(_expanded(device, text, state)))
    problem = misfit(device, state, event)
    if problem:
        raise LineError(f"'{text.strip()}': {problem}")
    return event


def _expanded(device: Device, text: str, state: State) -> str:
    words = text.split()
    if not words:
        raise LineError("An empty line. Say what happened, for example: saw exhaust-fan missing")
    said = " ".join(words).lower()
    for phrase, start in PHRASES.items():
        if (said == phrase or said.startswith(f"{phrase} ")) and not _begins_a_name(device, phrase):
            words = [*start.split(), *words[len(phrase.split()) :]]
            break
    verb, rest = words[0].lower(), words[1:]
    if verb in WHOLE and rest[:1] != [ev.UNIT]:
        return " ".join([verb, ev.UNIT, *rest])
    if verb == "dispatched" and rest[:1] == ["with"]:
        return " ".join([verb, "with", *(word.lower() for word in rest[1:2]), *rest[2:]])
    if verb == "left":
        name, tail = _name_first(rest, tried_functions(device), _NAMED[verb], strict=True)
        return " ".join([verb, name, *([] if tail[:1] == ["untried"] else ["untried"]), *tail])
    if verb == "caused" and rest[:1] == ["by"] and rest[1:2] and rest[1].lower() not in (TRANSPORT, USE):
        name, tail = _name_first(rest[1:], device.parts, _NAMED["removed"], strict=True)
        return " ".join([verb, "by", name, *tail])
    if verb == "marked" and "as" in rest:
        at = rest.index("as") + 1
        known = shown_on_photos(device, state.met.sorts)
        name, tail = _name_first(rest[at:], known, _NAMED["photographed"], strict=True)
        return " ".join([verb, *rest[:at], name, *tail])
    if verb in ("lacks", "has"):
        return " ".join([verb, *_of_a_sort(device, rest)])
    if verb in SHORT_VERBS:
        name, tail = _name_first(rest, _names_for(device, "mended"), "part", strict=True)
        return " ".join(["mended", name, SHORT_VERBS[verb], *tail])
    if verb == "used":
        return _of_a_lot(device, rest)
    if verb == "swapped":
        verb = "fitted"
    if verb == "listed" and rest[:1] in ([], ["--"]):
        rest = [ev.UNIT, *rest]
    if verb == "closed" and not rest:
        return f"closed {ev.ALL}"
    if verb in ev.EVENTS:
        if verb not in _NAMED:
            return " ".join([verb, *rest])
        names = _names_for(device, verb)
        if verb in ("unscrewed", "screwed", "closed"):
            names += state.met.steps
        if verb == "photographed":
            names += state.met.sorts
        try:
            name, tail = _name_first(rest, names, _NAMED[verb], strict=False)
        except LineError as error:
            raise _unless_met(verb, rest, error) from None
        if verb in ("unscrewed", "screwed") and len(tail) > 1 and re.match(r"M\d", tail[1], re.IGNORECASE):
            tail.insert(1, "x")
        if verb == "saw":
            tail = _joined(tail, CONDITIONS)
            tail = ["marked" if word.lower() == "marked" else word for word in tail]
            if tail[:1] == ["marked"] and tail[1:]:
                raise LineError(f"What was seen on '{name}' besides the mark? For example: saw {name} burnt marked 10R")
        if verb == "found" and name in device.tests:
            tail = _joined(tail, device.tests[name].outcomes)
        if verb == "identified" and tail and tail[0].lower() != "as":
            tail = ["as", *tail]
        return " ".join([verb, name, *tail] if name else [verb, *tail])
    return _without_verb(device, words)


def _begins_a_name(device: Device, phrase: str) -> bool:
    """Whether a part or test is named so, as "serial port missing" may say of one."""
    return any(name.startswith(f"{phrase.replace(' ', '-')}-") for name in (*device.parts, *device.tests))


_NAMED = {
    "saw": "part",
    "read": "test with a number",
    "tried": "function that can be tried",
    "found": "test",
    "opened": "access step",
    "closed": "access step",
    "unscrewed": "access step",
    "screwed": "access step",
    "unplugged": "connection",
    "plugged": "connection",
    "removed": "part",
    "harvested": "part",
    "put": "part, or 'unit'",
    "fitted": "part",
    "mended": "part",
    "discharged": "part",
    "declared": "function",
    "deferred": "part, test or access step",
    "resumed": "part, test or access step",
    "identified": "part",
    "reserved": "part",
    "ordered": "part",
    "arrived": "part",
    "released": "part",
    "vended": "part",
    "scrapped": "part, or 'unit'",
    "wiped": "part, or 'unit'",
    "disposed": "part, or 'unit'",
    "left": "function that can be tried",
    "photographed": "part, connection, step, test or function, or 'unit' or 'serial'",
}


def _names_for(device: Device, verb: str) -> list[str]:
    if verb in ("read", "tried", "found"):
        return [test.id for test in device.tests.values() if test.verb == verb]
    if verb in ("opened", "closed", "unscrewed", "screwed"):
        return [*device.steps, *([ev.ALL] if verb == "closed" else [])]
    if verb in ("unplugged", "plugged"):
        return [part.id for part in device.parts.values() if part.is_connection]
    if verb == "declared":
        return list(device.functions)
    if verb in ("put", "scrapped", "wiped", "disposed"):
        return [*device.parts, ev.UNIT]
    if verb == "photographed":
        return list(shown_on_photos(device))
    if verb in ("deferred", "resumed"):
        return list(dict.fromkeys((*device.parts, *device.tests, *device.steps)))
    return list(device.parts)


def _name_first(words: list[str], names: Iterable[str], what: str, *, strict: bool) -> tuple[str, list[str]]:
    """The name that the words start with, and the words after it."""
    known = set(names)
    for count in range(len(words), 0, -1):
        joined = "-".join(words[:count]).lower()
        if joined in known:
            return joined, words[count:]
    if not words:
        if strict:
            raise LineError(f"Which {what}? {similar('', known)}")
        return "", []
    word = words[0].lower()
    having = sorted(name for name in known if word in name.replace(".", "-").split("-"))
    if len(having) == 1:
        return having[0], words[1:]
    if having:
        raise LineError(f"'{word}' could be {_or(having)}. Say which.", having)
    raise LineError(f"No {what} '{word}'. {similar(word, known)}", nearest(word, known))


_MEETING = {"opened": "step", "unscrewed": "step", "unplugged": "plug", "removed": "part", "saw": "part"}
"""How a thing is met that such a line speaks of and the map does not know."""


def _unless_met(verb: str, rest: list[str], error: LineError) -> LineError:
    """The error about a name, with how to log what the map does not know."""
    sort = _MEETING.get(verb)
    if sort is None or not str(error).startswith("No "):
        return error
    return LineError(f"{error} Is it not on the map? Log 'met {sort} {as_name(rest[0])}'.", error.similar)


_LOT = re.compile(r"(?:(\d+) ?x? (?:of )?)?(S\d+)\b(?: on (?=\S))?", re.IGNORECASE)


def _of_a_lot(device: Device, words: list[str]) -> str:
    """``used 2 of S3 on PART`` from "used S3", "used 2 x s3 on PART"."""
    rest = " ".join(words)
    found = _LOT.match(rest)
    if found is None:
        return f"used {rest}"
    tail = rest[found.end() :].split()
    if found[0].endswith(" on "):
        name, tail = _name_first(tail, device.parts, "part", strict=True)
        tail = ["on", name, *tail]
    return " ".join(["used", found[1] or "1", "of", found[2].upper(), *tail])


def _of_a_sort(device: Device, words: list[str]) -> list[str]:
    """The words after ``lacks`` or ``has``, with the sort of what they name: a tool or a part."""
    sort = words[0].lower() if words else ""
    if sort == "part" and words[1:]:
        name, tail = _name_first(words[1:], device.parts, "part", strict=True)
        return ["part", name, *tail]
    if sort in ("tool", "part", ""):
        tool = _tool_first(device, words[1:])
        return ["tool", *tool] if tool else words
    found = []
    if tool := _tool_first(device, words):
        found.append(["tool", *tool])
    with suppress(LineError):
        name, tail = _name_first(words, device.parts, "part", strict=True)
        found.append(["part", name, *tail])
    if len(found) == 1:
        return found[0]
    if found:
        could = [" ".join(one) for one in found]
        raise LineError(f"'{' '.join(words)}' could be {_or(could)}. Say which.", could)
    known = [*device.tools, *device.parts]
    raise LineError(f"No tool and no part '{words[0]}' on this map. {similar(words[0], known)}")


def _tool_first(device: Device, words: list[str]) -> list[str]:
    """The words with the tool that they start with as the map spells it, or nothing."""
    by_name = {tool.lower(): tool for tool in device.tools}
    for count in range(len(words), 0, -1):
        tool = by_name.get(" ".join(words[:count]).lower())
        if tool:
            return [tool, *words[count:]]
    return []


def _or(names: list[str]) -> str:
    shown = [f"'{name}'" for name in names[:8]]
    return ", ".join(shown[:-1]) + (" or " if len(shown) > 1 else "") + shown[-1]


def _without_verb(device: Device, words: list[str]) -> str:
    """A line that starts with a name: what follows it says which verb is meant."""
    meanings: list[str] = []
    for count in range(len(words) - 1, 0, -1):
        name, tail = "-".join(words[:count]).lower(), words[count:]
        meanings = _meanings(device, name, tail)
        if meanings:
            break
    if len(meanings) == 1:
        return meanings[0]
    if meanings:
        raise LineError(f"'{' '.join(words)}' could mean {_or(meanings)}. Type one of them.", meanings)
    first = words[0].lower()
    known = {*ev.EVENTS, *device.parts, *device.tests}
    having = [name for name in device.parts if first in name.split("-")]
    if len(having) > 1 and len(words) > 1:
        raise LineError(f"'{first}' could be {_or(sorted(having))}. Say which.", sorted(having))
    if len(having) == 1 and len(words) > 1 and _meanings(device, having[0], words[1:]):
        return _meanings(device, having[0], words[1:])[0]
    raise LineError(
        f"'{' '.join(words)}' is not understood: it starts with no verb and no name of this map. "
        f"{similar(first, known)}",
        nearest(first, known),
    )


def _joined(words: list[str], known: Collection[str]) -> list[str]:
    """The words, of which the first few are one word that is known, as "broken off" is ``broken-off``."""
    for count in (3, 2):
        if (word := "-".join(words[:count]).lower()) in known:
            return [word, *words[count:]]
    return words


def _meanings(device: Device, name: str, tail: list[str]) -> list[str]:
    if name in device.parts:
        tail = _joined(tail, CONDITIONS)
    if name in device.tests:
        tail = _joined(tail, device.tests[name].outcomes)
    word, rest = tail[0].lower(), " ".join(tail)
    found: list[str] = []
    if name in device.parts and word in CONDITIONS:
        found.append(f"saw {name} {rest}")
    if name in device.functions and word == "untried":
        found.append(f"left {name} {rest}")
    test = device.tests.get(name)
    if test is not None:
        if test.verb == "read" and (word[0].isdigit() or word[0] in "+-." or word.startswith("ol")):
            found.append(f"read {name} {rest}")
        elif test.verb != "read" and word in test.outcomes:
            found.append(f"{test.verb} {name} {rest}")
    return found


def _resolved(device: Device, event: ev.Event) -> ev.Event:
    """The event with its words checked against the map and its reading with a unit."""
    match event:
        case ev.Saw(condition=condition) if condition not in CONDITIONS:
            raise LineError(
                f"No condition '{condition}'. {similar(condition, CONDITIONS)}", nearest(condition, CONDITIONS)
            )
        case ev.Saw(mark=str(mark)):
            return event.model_copy(update={"mark": _bands(mark)})
        case ev.Checked(what=what, lock=None) if what not in CHECKS:
            raise LineError(f"No check '{what}'. {similar(what, CHECKS)}", nearest(what, CHECKS))
        case ev.Met(kind=str(kind)) if kind not in kinds():
            raise LineError(f"No part kind '{kind}'. {similar(kind, kinds())}", nearest(kind, kinds()))
        case ev.Unscrewed(step=step, sort=str(sort)) | ev.Screwed(step=step, sort=str(sort)) if step in device.steps:
            spelt = {one.lower(): one for one in sorts(device.steps[step])}
            return event.model_copy(update={"sort": spelt.get(sort.lower(), sort)})
        case ev.Past(what=what) if what not in PASTS:
            raise LineError(f"No past '{what}'. {similar(what, PASTS)}", nearest(what, PASTS))
        case ev.Bought(past=past) | ev.Offered(past=past):
            for what in past:
                if what not in PASTS:
                    raise LineError(f"No past '{what}'. {similar(what, PASTS)}", nearest(what, PASTS))
        case ev.Read(test=name, reading=reading):
            return event.model_copy(update={"reading": _with_unit(device.tests[name], reading)})
        case ev.Found(test=name, outcome=outcome):
            test = device.tests[name]
            if outcome not in test.outcomes:
                raise LineError(f"'{name}' has no outcome '{outcome}'. It is {_or(list(test.outcomes))}.")
        case ev.Mended(part=part, remedy=remedy):
            names = [one.name for one in device.parts[part].remedies if not one.part]
            if remedy not in names:
                hint = similar(remedy, names) if names else "It has none; log a replacement as 'fitted'."
                raise LineError(f"'{part}' has no remedy '{remedy}'. {hint}", nearest(remedy, names))
        case ev.Identified(part=part, revision=revision):
            return event.model_copy(update={"revision": _revision(device, part, revision)})
        case ev.Discharged(reading=reading):
            _quantity(reading, "V")
        case ev.Drew(reading=reading, what=what):
            if _quantity(reading, "A").unit not in ("A", "W"):
                raise LineError(f"What a unit draws is read in A or W, and '{reading}' is not.")
            tries = [one.id for one in device.tests.values() if one.verb == "tried" and one.power != "off"]
            if what not in (ev.IDLE, *tries):
                raise LineError(f"No function '{what}' that is tried with power. {similar(what, [ev.IDLE, *tries])}")
        case ev.Measured():
            _safety_reading(event)
        case _:
            pass
    return event


def _revision(device: Device, part: str, typed: str) -> str:
    """A revision as the map spells it. Raises LineError if the map has none such of the part."""
    known = dict(device.parts[part].revisions)
    if not known:
        raise LineError(
            f"The map names no revisions of '{part}'. Log it as 'noted ...', or add 'revisions' to the map."
        )
    spelt = [one for one in known if one.lower() == typed.lower()]
    if typed in known or len(spelt) == 1:
        return typed if typed in known else spelt[0]
    raise LineError(f"'{part}' has no revision '{typed}'. {similar(typed, known)}", nearest(typed, known))


def _bands(mark: str) -> str:
    """A mark as it stands; colours of bands in one form. Raises LineError for a colour among others that is none."""
    kind, _, rest = named(mark)
    words = rest.lower().replace(",", " ").split()
    strange = [word for word in words if word not in COLOURS]
    if not words or len(strange) == len(words):
        return mark
    wrong = [word for word in strange if word.isalpha()]
    if wrong and len(words) > 2:
        raise LineError(f"No colour '{wrong[0]}'. {similar(wrong[0], COLOURS)}", nearest(wrong[0], COLOURS))
    colours = ",".join(OTHER_NAMES.get(word, word) for word in words)
    return mark if strange else f"{kind} {colours}".strip()


def _with_unit(test: Test, text: str) -> str:
    assert isinstance(test.senses, (RailVoltage, RailToGround))
    unit = test.senses.unit
    reading = _quantity(text, unit)
    if reading.unit == unit:
        return text
    if reading.unit:
        raise LineError(f"'{test.id}' is read in {unit}, and '{text}' is in {reading.unit}.")
    return f"{text} {unit}"


def _safety_reading(event: ev.Measured) -> None:
    """Raises LineError unless a reading of the safety test, and the limit beside it, is in the unit of its quantity."""
    unit = UNITS[event.quantity]
    for text in (event.reading, event.limit):
        if text is not None and _quantity(text, unit).unit not in (unit, ""):
            raise LineError(f"'{event.quantity}' is read in {unit}, and '{text}' is not.")
        if text == event.limit and text and text.startswith("OL"):
            raise LineError("'OL' is no limit. Write the figure of your copy of the rules, as 'against 1 Mohm'.")


def _quantity(text: str, unit: str) -> Reading:
    try:
        return parse_reading(text)
    except QuantityError as error:
        raise LineError(f"{error} Write it as '12 {unit}'.") from None
