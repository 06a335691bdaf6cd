"""Stop or go on: what each is worth, how sure that is, and what it hangs on most."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from knowngood.belief.cases import Effort
from knowngood.belief.sensing import BY_THE_MAP, Measuring
from knowngood.belief.story import Donors
from knowngood.belief.what_if import ask, query_stops
from knowngood.handbook.quantities import percent
from knowngood.log import events as ev
from knowngood.log.state import replay
from knowngood.plan.choose import Advice, advise
from knowngood.plan.judge import Judge
from knowngood.plan.moves import WORTH_A_LOOK, lower
from knowngood.plan.terms import Terms
from knowngood.plan.value import BIT_MINUTES

GOING_ON = (ev.Opened, ev.Closed, ev.Unplugged, ev.Plugged, ev.Removed, ev.Fitted, ev.Mended, ev.Dried)
"""Lines by which a person goes on with a job."""

NEWS_SHARE = 0.05
"""Stopping is named again once seeing it through lies further behind by this share of a working unit's price (own
judgement)."""


@dataclass(frozen=True)
class Reason:
    """A part that is probably fine, or probably at fault, and what going on would be worth less (or more) if not."""

    part: str
    what: str
    fine: bool
    probability: float
    """That it is as it probably is."""
    difference: float
    """Worth of going on if the part is otherwise, less what it is worth now."""

    @property
    def words(self) -> str:
        state = "fine" if self.fine else "at fault"
        return f"the {lower(self.what)}: probably {state} ({percent(self.probability)})"


@dataclass(frozen=True)
class Standing:
    """Stopping against going on."""

    stop: float
    """Worth of the best way out as it is."""
    going_on: float | None
    """Worth of the best move that does not end the job; None if there is none."""
    spread: float
    """One standard deviation of what going on brings, from one such unit to the next."""
    reason: Reason | None
    through: float | None = None
    """Worth of seeing it through, with no right to stop before all that is in the way is mended: about."""
    said: bool = False
    """Stopping came first before the last act, too; going on all the same was the person's choice."""

    def sentence(self, currency: str) -> str:
        """It in words."""
        stop = f"Stop is worth {currency} {self.stop:.0f}"
        if self.going_on is None:
            return f"{stop}; there is nothing else to do."
        because = f", mostly because of {self.reason.words}" if self.reason else ""
        said = f"{stop}; going on is worth {currency} {self.going_on:.0f} +/- {self.spread:.0f}{because}."
        if self.through is None or self.going_on > self.stop:
            return said
        return f"{said} Seeing it through, whatever turns up, is worth about {currency} {self.through:.0f}."


def standing(advice: Advice, terms: Terms) -> Standing:
    """Stopping against going on, as the log leaves the unit."""
    on = next((one for one in advice.ranked if not one.move.act.ends), None)
    if on is None:
        return Standing(advice.stop_worth, None, 0.0, None)
    judge = _judge(advice, terms)
    reason = _reason(judge, up=on.worth < advice.stop_worth)
    return Standing(advice.stop_worth, on.worth, on.spread, reason, judge.seen_through())


def _judge(advice: Advice, terms: Terms) -> Judge:
    """The decision at the usual price of a bit; made anew only for other terms."""
    if advice.judge.terms is terms:
        return advice.judge.at_price(BIT_MINUTES)
    return Judge(advice.asked.device, advice.asked.replay.state, terms, advice.belief)


def said_before(
    advice: Advice, terms: Terms, *, donors: Donors | None = None, measuring: Measuring = BY_THE_MAP
) -> bool:
    """Whether stopping came first already before the last act on the unit, which was done all the same, and nothing
    since speaks clearly more for it: it was said, and the person has decided. A new price is news."""
    device, lines = advice.asked.device, advice.asked.replay.lines
    at = next((n for n in reversed(range(len(lines))) if isinstance(lines[n].event, GOING_ON)), None)
    if not advice.best.move.act.ends or at is None or any(isinstance(one.event, ev.Priced) for one in lines[at:]):
        return False
    told = replay(device, lines[:at])
    before = advise(device, told, terms, donors=donors, measuring=measuring, effort=Effort.BOUNDS)
    if not before.best.move.act.ends:
        return False
    now, then = (one.stop_worth - _judge(one, terms).seen_through() for one in (advice, before))
    return now - then <= NEWS_SHARE * terms.price


def _reason(judge: Judge, *, up: bool) -> Reason | None:
    """The part whose being otherwise would, by its chance to be, take most from going on; ``up``: would add most.

    What going on is worth if a part is known to be one or the other is by the better of the two estimates of
    ``plan.value``, with the exact belief given that; they are estimates, so only their differences count.
    """
    belief = judge.belief
    unsure = [one for one in belief.suspects if WORTH_A_LOOK <= one.p_blocks <= 1.0 - WORTH_A_LOOK]
    if not unsure:
        return None
    answers = ask(belief, [query_stops(belief, one.part) for one in unsure])
    rows = np.nan_to_num(np.concatenate([judge.p_blocks, *(answer.p_blocks for answer in answers)]))
    good = np.nan_to_num(np.concatenate([judge.good, *(answer.known_good for answer in answers)]))
    worth = np.maximum(*judge.estimates(rows, good))
    found = []
    for number, (suspect, answer) in enumerate(zip(unsure, answers, strict=True)):
        fine = bool(answer.probability[0] >= 0.5)
        likely, other = (0, 1) if fine else (1, 0)
        difference = float(worth[1 + 2 * number + other] - worth[0])
        weight = float(answer.probability[other]) * (difference if up else -difference)
        found.append((weight, Reason(suspect.part, suspect.what, fine, float(answer.probability[likely]), difference)))
    weight, reason = max(found, key=lambda one: one[0])
    return reason if weight > 0.0 else None
