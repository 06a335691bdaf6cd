"""What the hard rules ask of a unit before it may be tried and leave."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from knowngood.belief.believe import Belief
from knowngood.log.effect import DRY_WAIT
from knowngood.log.state import State
from knowngood.log.takes import DRY_CHECK_MINUTES, DRY_MINUTES
from knowngood.maps.device import Device, FunctionLevel
from knowngood.money.choices.courses import Course
from knowngood.money.choices.options import Once
from knowngood.plan.constraints import stand_ins
from knowngood.plan.hazards import Act, breaches
from knowngood.plan.moves import WORTH_A_LOOK, test_move
from knowngood.plan.terms import Terms

NOTHING = Once("", "")


@dataclass(frozen=True)
class Must:
    """One of these parts must be replaced (or only worked on) first."""

    parts: frozenset[str]
    replaced: bool
    why: str

    def met(self, chosen: Iterable[Course]) -> bool:
        return any(self.parts & (one.replaces if self.replaced else one.changes) for one in chosen)


@dataclass(frozen=True)
class Asked:
    """All that is asked."""

    musts: tuple[Must, ...] = ()
    drying: Once = NOTHING
    barred: str = ""
    """Why it may not be tried at all, whatever is done to its parts."""


def to_decide(belief: Belief, state: State, terms: Terms) -> list[str]:
    """The parts about which something is to be decided, the most suspect first: suspects, and what a rule wants
    replaced, however well it works."""
    suspects = [one.part for one in belief.suspects if one.p_blocks >= WORTH_A_LOOK]
    wanted = (part for must in asked(belief.device, state, terms).musts if must.replaced for part in sorted(must.parts))
    return list(dict.fromkeys((*suspects, *wanted)))


def asked(device: Device, state: State, terms: Terms) -> Asked:
    """What the rules ask of a unit that is closed, tried in full, and leaves whole."""
    closed = replace(state, open_steps=frozenset(), loose=frozenset())
    others = stand_ins(device, state, terms)
    tries = [
        test_move(device, closed, test, others).act
        for test in device.tests.values()
        if isinstance(test.senses, FunctionLevel) and test.senses.function in device.wanted
    ]
    musts: dict[tuple[str, str], Must] = {}
    drying, barred = NOTHING, ""
    for act in (*tries, Act(ends=True, ships=True)):
        for breach in breaches(device, closed, act, others):
            facts = breach.rule.unless
            if "dried" in facts:
                do, caution = (
                    "Wash what the liquid reached, and dry the unit through",
                    device.hazards[breach.hazard].caution,
                )
                hands, wait = DRY_MINUTES, DRY_WAIT
                if state.drying is not None:  # it is washed already
                    do, hands, wait = "Let the unit dry through, and look that it is", DRY_CHECK_MINUTES, state.drying
                drying = Once("dry unit", do, hands, wait=wait, cautions=(caution,))
            elif breach.rule.if_short:
                for rail in state.shorted:
                    loads = frozenset(device.loads_of[rail])
                    musts[breach.rule.id, rail] = Must(loads, False, f"{rail} is shorted. {breach}")
            elif "replaced" in facts and breach.part:
                musts[breach.rule.id, breach.part] = Must(frozenset({breach.part}), True, f"{breach.part}: {breach}")
            else:
                barred = str(breach)
    return Asked(tuple(musts.values()), drying, barred)
