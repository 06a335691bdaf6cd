"""What has to be so before a unit goes, as forms: data, safety test, lock, overrides, and the sale."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import get_args

from knowngood.log.events.release import STATED, UNITS, Method, RuleSet
from knowngood.pages.saying import Choice, Piece, Saying
from knowngood.proof.release import METHODS, DataPlace, Release, Stop
from knowngood.proof.safety_test import Instrument, SafetyStep, SafetyTest

STATED_WORDS = {
    "class": "Protection class, as its plate says",
    "cord": "Its cord",
    "metal": "Metal that can be touched",
}
PREFIX = {"protective-earth": "", "insulation": "M", "protective-current": "m", "touch-current": "m"}


@dataclass(frozen=True)
class Place:
    """A part that may hold data of a stranger."""

    data: DataPlace
    sayings: tuple[Saying, ...]


@dataclass(frozen=True)
class Held:
    """Something that holds the unit here and may be overridden."""

    stop: Stop
    sayings: tuple[Saying, ...]
    override: Saying


@dataclass(frozen=True)
class Test:
    """A step of the safety test; the forms stand at the next one that is open."""

    step: SafetyStep
    sayings: tuple[Saying, ...]


def places(found: Release) -> Iterator[Place]:
    """Where data may be, with the form that says it is gone."""
    for one in found.places:
        if one.done:
            yield Place(one, ())
            continue
        methods = tuple(Choice(name, f"{name}: {METHODS[name]}") for name in get_args(Method))
        pieces = (
            Piece("How", methods, "by"),
            Piece("With what", before="with", hint="factory reset", optional=True),
            Piece("How it was checked", before="verified", hint="first start asks for a language", optional=True),
        )
        yield Place(one, (Saying(f"wipe-{one.part}", "Data removed", f"wiped {one.part}", pieces),))


def warnings(found: Release) -> Iterator[Held]:
    """What holds the unit and may be overridden, each with its reason."""
    for one in found.warnings:
        own = []
        if one.matter == "account-lock":
            locks = (Choice("none", "none"), Choice("locked", "locked to somebody's account"))
            own.append(Saying("lock", "Lock to an account", "checked account-lock", (Piece("Found", locks),)))
        if one.matter == "open-steps":
            own.append(Saying("closed", "Close it first", "closed all", button="All closed"))
        override = Saying(
            f"override-{one.matter}", "", f"overrode {one.matter} --", (Piece("Why"),), button="Override", strong=False
        )
        yield Held(one, tuple(own), override)


def asked(test: SafetyTest) -> Iterator[Saying]:
    """What is not known of the unit and decides which tests it gets."""
    for line in test.asked:
        topic = line.split()[1]
        choices = tuple(Choice(word, word) for word in STATED[topic])
        pieces = [Piece(STATED_WORDS[topic], choices)]
        if topic == "cord":
            pieces += [
                Piece("Length", after="m", number=True, optional=True, hint="1.8"),
                Piece("Section of its earth wire", after="mm2", number=True, optional=True, hint="0.75"),
            ]
        yield Saying(f"stated-{topic}", STATED_WORDS[topic], f"stated {topic}", tuple(pieces))


def steps(test: SafetyTest, instruments: Iterable[Instrument], rules: str) -> Iterator[Test]:
    """The steps in order. Only the first open one has its form, since a visual failure ends it all."""
    names = tuple(dict.fromkeys(one.name for one in instruments))
    free = True
    for one in test.steps:
        if one.status == "not asked for":
            continue
        mine: tuple[Saying, ...] = ()
        if free and one.status in ("open", "failed"):
            mine = tuple(_step(one, names, rules))
            free = False
        yield Test(one, mine)


def _step(step: SafetyStep, instruments: tuple[str, ...], rules: str) -> Iterator[Saying]:
    if step.step not in UNITS:
        both = (("passed", "Passed", True), ("failed", "Failed", False))
        for outcome, button, strong in both:
            yield Saying(f"{step.step}-{outcome}", "", f"inspected {step.step} {outcome}", button=button, strong=strong)
        return
    if not instruments:
        return
    unit = f"{PREFIX[step.step]}{UNITS[step.step]}"
    pieces = [
        Piece("What it reads", after=unit, number=True),
        Piece("Instrument", tuple(Choice(one, one) for one in instruments), "by"),
    ]
    if step.step == "insulation":
        pieces.append(Piece("Test voltage", before="at", after="V", value="500", number=True))
    pieces.append(
        Piece("Limit in your own copy of the rules", before="against", after=unit, number=True, optional=True)
    )
    if rules == "none":
        pieces.append(Piece("By which rules", tuple(Choice(one, one) for one in get_args(RuleSet)), "under"))
    yield Saying(f"measure-{step.step}", "Reading", f"measured {step.step}", tuple(pieces))


def sale(found: Release, currency: str) -> Saying:
    """The sale; what forbids it says so when it is tried."""
    how = "working" if found.how == "working" else "as-is"
    return Saying(
        f"sold-{how}",
        "Sold as working" if how == "working" else "Sold as it is",
        f"sold {how} for",
        (Piece("For how much", hint=f"{currency} 215", value=f"{currency} "),),
        button="Sold",
        strong=found.free,
    )
