"""The grade of a unit from the facts: what was seen and not mended, what is declared, what is shown to work."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import get_args

from knowngood.log import events as ev
from knowngood.log.events.listing import Grade
from knowngood.log.state import Replay
from knowngood.maps.device import Device
from knowngood.maps.words import HARMLESS, MISSING
from knowngood.proof.flaws import SMALL_THINGS, Flaw, left, looks
from knowngood.proof.safety_test import SafetyTest
from knowngood.proof.standing import Standing, in_words, last_tries, shown_by

ORDER: tuple[Grade, ...] = get_args(Grade)
"""The best first."""

MEANS: dict[Grade, str] = {
    "unmarked": "no mark on the outside, and all that is promised was shown to work",
    "marked": "small marks of use, and all that is promised was shown to work",
    "scarred": "a dent, a crack or a repair that shows, and all that is promised was shown to work",
    "faulty": "something is declared as not working, or a part is broken or missing; all else was shown to work",
    "unproved": "something that is promised was not shown to work",
}
"""What each grade says (our own words and limits; common practice, no source)."""

LIGHT = HARMLESS | {"worn", "loose", "flux"}
"""Conditions that leave a unit ``marked``; on the inside the harmless ones count for nothing."""

BROKEN = frozenset(
    {
        "crushed",
        MISSING,
        "broken-off",
        "burnt",
        "melted",
        "bulged",
        "leaking",
        "swollen",
        "punctured",
        "wet",
        "stripped",
    }
)
"""Conditions that make it ``faulty``. All others leave it ``scarred``."""


@dataclass(frozen=True)
class Reason:
    """A fact, and the best grade that it allows."""

    grade: Grade
    says: str
    lines: tuple[int, ...]


@dataclass(frozen=True)
class Graded:
    """The grade that the facts give, and the one that a person gave."""

    by_facts: Grade
    reasons: tuple[Reason, ...]
    """All that keeps it from a better one, the gravest first."""
    not_looked: tuple[str, ...]
    """Parts of the outside that nobody looked at: by the facts it is at best what it says."""
    given: Grade | None
    given_by: int | None
    """The line that grades it."""
    why: str
    """Why the person gave it."""
    against: tuple[Reason, ...]
    """Facts that do not go with the given grade."""

    @property
    def grade(self) -> Grade:
        """The one that holds: a person's goes before that of the facts."""
        return self.given or self.by_facts


def grade(device: Device, told: Replay, stands: Standing, test: SafetyTest, wanted: Iterable[str]) -> Graded:
    """The grade of a unit as its log leaves it. ``wanted``: what is promised and not declared."""
    seen = looks(device, told)
    reasons = sorted(
        (
            *_not_shown(device, told, stands, test, wanted),
            *_declared(device, told),
            *_gone(device, told),
            *(reason for flaw in seen.flaws if (reason := _of_flaw(device, flaw))),
        ),
        key=lambda one: -ORDER.index(one.grade),
    )
    if seen.not_looked and not reasons:
        reasons = [Reason("marked", "not all of the outside was looked at", ())]
    by_facts = reasons[0].grade if reasons else ORDER[0]
    seq, given, why = told.state.listing.graded or (None, None, "")
    too_good = [one for one in reasons if given and ORDER.index(one.grade) > ORDER.index(given)]
    return Graded(by_facts, tuple(reasons), seen.not_looked, given, seq, why, tuple(too_good))


def _not_shown(
    device: Device, told: Replay, stands: Standing, test: SafetyTest, wanted: Iterable[str]
) -> Iterable[Reason]:
    shown, tries = shown_by(device, told, stands), last_tries(device, told)
    for function in wanted:
        if function not in shown:
            last = tries.get(function)
            said = "does not work fully" if function in stands.failing else "not shown to work since the last act on it"
            yield Reason("unproved", f"{said}: {in_words(device, function)}", (last.seq,) if last else ())
    if test.needed and test.verdict != "pass":
        seqs = tuple(sorted(one.seq for step in test.steps for one in step.readings))
        yield Reason("unproved", f"safety test after repair: {test.verdict}", seqs)


def _declared(device: Device, told: Replay) -> Iterable[Reason]:
    for line in told.lines:
        if isinstance(line.event, ev.Declared):
            yield Reason("faulty", f"declared as not working: {in_words(device, line.event.function)}", (line.seq,))


def _gone(device: Device, told: Replay) -> Iterable[Reason]:
    for part, seq in sorted(left(told).items()):
        if device.parts[part].kind not in SMALL_THINGS:
            yield Reason("faulty", f"without its part: {device.parts[part].what}", (seq,))


def _of_flaw(device: Device, flaw: Flaw) -> Reason | None:
    """What a flaw does to the grade: one that is slight or mended counts one step less, a severe one a step more."""
    if device.parts[flaw.part].kind in SMALL_THINGS or (
        not flaw.outside and (flaw.mended or flaw.condition in HARMLESS)
    ):
        return None
    step = ORDER.index("marked" if flaw.condition in LIGHT else "faulty" if flaw.condition in BROKEN else "scarred")
    step += {"slight": -1, "severe": 1}.get(flaw.degree or "", 0) - (1 if flaw.mended else 0)
    found = ORDER[min(max(step, ORDER.index("marked")), ORDER.index("faulty"))]
    degree = f"{flaw.degree} " if flaw.degree else ""
    mended = ", mended" if flaw.mended else ""
    where = "" if flaw.outside else " inside"
    return Reason(found, f"{flaw.what}{where}: {degree}{flaw.condition}{mended}", flaw.lines)
