"""The next move: every move that is allowed, ranked by what the whole job is worth if it comes first."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from knowngood.belief.believe import Belief, believe
from knowngood.belief.cases import Effort
from knowngood.belief.sensing import BY_THE_MAP, Measuring
from knowngood.belief.story import Donors
from knowngood.belief.what_if import Answer
from knowngood.log import events as ev
from knowngood.log.state import Replay
from knowngood.maps.device import Device, PartModes, Test
from knowngood.plan.constraints import Constraint, constraint, in_quarantine
from knowngood.plan.hazards import EVERYTHING, Breach
from knowngood.plan.judge import Judge
from knowngood.plan.lifting import allowed, lifts_in_a_row
from knowngood.plan.moves import Move, look_move, test_move, tests_here
from knowngood.plan.opening import ways_made
from knowngood.plan.plugging import Plugged, plugged, plugging
from knowngood.plan.ranked import Prospect, Ranked
from knowngood.plan.seller import Yes, asking, yeses
from knowngood.plan.shortlist import shortlist
from knowngood.plan.terms import Terms
from knowngood.plan.value import BIT_MINUTES, MOST_BIT_MINUTES
from knowngood.plan.waiting import waiting_move

__all__ = ["Advice", "Prospect", "Ranked", "advise"]


@dataclass(frozen=True)
class Asked:
    """What a decision rests on, whatever its terms: the belief, and the answers of the looks and tests followed."""

    device: Device
    replay: Replay
    belief: Belief
    informing: tuple[Move, ...]
    answers: tuple[Answer, ...]
    seller: tuple[Yes, ...] = ()
    """What the seller could say."""
    bit_minutes: float = BIT_MINUTES
    """The price at which what is found out was judged."""
    plugged: tuple[Plugged, ...] = ()
    """Connections unplugged or made again, and what could be asked then."""


@dataclass(frozen=True)
class Advice:
    """Moves in order of worth, those that a hard rule or the person holds back, and what it rests on.

    Every remedy and way out is among them, and of the ``considered`` looks and tests the ``followed`` that a quick
    estimate picked; each of the others would tell less for its cost by that estimate.
    """

    ranked: tuple[Ranked, ...]
    held: tuple[tuple[Move, Breach], ...]
    ruled_out: tuple[tuple[Move, Constraint], ...]
    """Looks, tests and remedies that would be asked about, had the person's word not held them back."""
    asked: Asked
    stop_worth: float
    log_seq: int
    considered: int
    followed: int
    judge: Judge
    """What judged them."""

    @property
    def best(self) -> Ranked:
        return self.ranked[0]

    @property
    def belief(self) -> Belief:
        return self.asked.belief


def advise(
    device: Device,
    replay: Replay,
    terms: Terms,
    *,
    donors: Donors | None = None,
    measuring: Measuring = BY_THE_MAP,
    effort: Effort = Effort.CASES,
) -> Advice:
    """The advice for a unit as its log leaves it. Raises what ``believe`` raises.

    Where it would stop because nothing is found out at the usual price of a bit, it looks again at the price that the
    job can bear: the way in may cost more than usual and be worth it.
    """
    belief = believe(device, replay, donors=donors, measuring=measuring, effort=effort)
    seller = yeses(device, replay, belief, donors, measuring) if terms.seller else ()
    judge = Judge(device, replay.state, terms, belief)
    considered = plugged(judge, replay, donors, measuring, effort=effort)
    advice = _advice(judge, replay, seller, considered)
    if advice.best.move.kind not in ("sell-as-is", "part-out"):
        return advice
    dearer = min(MOST_BIT_MINUTES, judge.bearable_minutes())
    if dearer <= BIT_MINUTES:
        return advice
    return _advice(judge.at_price(dearer), replay, seller, considered)


def _advice(judge: Judge, replay: Replay, seller: tuple[Yes, ...], considered: tuple[Plugged, ...]) -> Advice:
    """The advice at a judge's price of a bit."""
    free, later, ruled_out = _sorted_out(judge, _looks_and_tests(judge))
    informing = [*shortlist(judge, free), *(shortlist(judge, later) if later else ())]
    ruled_out += _sorted_out(judge, _remedies(judge))[2]
    answers = tuple(judge.answers(informing))
    asked = Asked(judge.device, replay, judge.belief, tuple(informing), answers, seller, judge.bit_minutes, considered)
    ranked, held = _ranked(asked, judge)
    followed = sum(move not in later for move in informing)
    return Advice(ranked, held, tuple(ruled_out), asked, judge.stop, replay.seq, len(free), followed, judge)


def ranked_under(asked: Asked, terms: Terms, like: Judge | None = None) -> tuple[Ranked, ...]:
    """The ranking that other terms would give, over the same looks and tests, at the same price of a bit. ``like``: a
    judge of the same unit."""
    judge = Judge(asked.device, asked.replay.state, terms, asked.belief, asked.bit_minutes, like)
    return _ranked(asked, judge)[0]


def _ranked(asked: Asked, judge: Judge) -> tuple[tuple[Ranked, ...], tuple[tuple[Move, Breach], ...]]:
    judged = judge.informing(asked.informing, asked.answers)
    judged += [one for one in judge.mending() if not _just_done(asked.replay, one.move)]
    judged += plugging(judge, asked.plugged)
    free, held = allowed(judge.device, judge.state, [one.move for one in judged], judge.stand_ins)
    may = {id(move) for move in free}
    by_move = {id(one.move): one for one in judged}
    can = [one for one in judged if id(one.move) in may]
    resting = [(one, found) for one in can if (found := constraint(judge.device, judge.state, judge.terms, one.move))]
    lifted = [(by_move[id(move)], breach) for move, breach in held]
    if judge.state.intake.quarantine:
        urgent = [one for one in lifted if one[1].rule.if_wet or one[1].rule.forbids == EVERYTHING]
        return _kept_apart(judge, resting, _lifting(judge, urgent)), tuple(held)
    lifting = _lifting(judge, lifted)
    known = {one.move.do for one in judged}  # a replacement that lifts a rule may be among them
    put_off = {id(one) for one, _ in resting}
    ranked = [one for one in can if id(one) not in put_off]
    ranked += [one for one in lifting if one.move.do not in known]
    making_way = ways_made(judge.device, judge.state, judge.terms, ranked, judge.stop, judge.closed_to_prove)
    open_to = {move.name for move in allowed(judge.device, judge.state, [one.move for one in making_way])[0]}
    ranked += [
        one
        for one in making_way
        if one.move.name in open_to - {other.move.name for other in ranked}
        and constraint(judge.device, judge.state, judge.terms, one.move) is None
    ]
    ranked += judge.exits
    asking_first = asking(judge, asked.seller, max(ranked, key=lambda one: one.worth))
    if asking_first and allowed(judge.device, judge.state, [asking_first.move])[0]:
        ranked.append(asking_first)
    ranked.sort(key=_order)
    if resting:
        later, why = min(resting, key=lambda one: _order(one[0]))
        waiting = waiting_move(later.move, why)
        # What is to be shown anyway is done meanwhile; anything else that is worth less would only be busy work.
        before = next((at for at, one in enumerate(ranked) if not _meanwhile(judge, one, later)), len(ranked))
        if later.worth > ranked[before].worth and allowed(judge.device, judge.state, [waiting])[0]:
            ranked.insert(
                before, Ranked(waiting, 0.0, later.worth, why.why, spread=later.spread, finishes=later.finishes)
            )
    return tuple(ranked), tuple(held)


def _kept_apart(
    judge: Judge, resting: Sequence[tuple[Ranked, Constraint]], lifting: Sequence[Ranked]
) -> tuple[Ranked, ...]:
    """What is done with a unit in quarantine: what cannot wait, then nothing until it ends. It goes to nobody."""
    leaving = [(one, found) for one in judge.exits if (found := in_quarantine(judge.state, one.move))]
    later, why = min((*resting, *leaving), key=lambda one: _order(one[0]))
    waiting = Ranked(
        waiting_move(later.move, why), 0.0, later.worth, why.why, spread=later.spread, finishes=later.finishes
    )
    return (*sorted(lifting, key=_order), waiting)


def _meanwhile(judge: Judge, one: Ranked, later: Ranked) -> bool:
    """Whether a move is done before one that has to wait: it hurries, is worth more, or has to be done anyway."""
    return one.move.hurries or one.worth > later.worth or judge.to_prove(one.move.test)


def _order(one: Ranked) -> tuple[bool, float, bool, float, str]:
    """What hurries, then best first; what only makes way for another comes after it. Rounding decides nothing between
    equals."""
    return not one.move.hurries, -round(one.worth, 6), one.move.kind in ("open", "close"), one.cost, one.move.name


def _looks_and_tests(judge: Judge) -> list[Move]:
    moves = [move for test in tests_here(judge.device, judge.state) if (move := _asked(judge, test)) is not None]
    return moves + [
        look_move(judge.device, judge.state, part)
        for part in judge.belief.parts
        if judge.matters(part.id) and not judge.belief.looked_at(part.id) and part.id not in judge.state.removed
    ]


def _remedies(judge: Judge) -> list[Move]:
    return [move for moves in judge.remedies_here.values() for move in moves]


def _sorted_out(judge: Judge, moves: Iterable[Move]) -> tuple[list[Move], list[Move], list[tuple[Move, Constraint]]]:
    """Moves that nothing rules out, those that can be done later, and all that are ruled out with the reason."""
    free, later, ruled_out = [], [], []
    for move in moves:
        found = constraint(judge.device, judge.state, judge.terms, move)
        if found is None:
            free.append(move)
        else:
            ruled_out.append((move, found))
            if found.passes:
                later.append(move)
    return free, later, ruled_out


def _asked(judge: Judge, test: Test) -> Move | None:
    """The test as a move, if it could tell or show anything now."""
    if isinstance(test.senses, PartModes) and not judge.matters(test.senses.part):
        return None
    before = judge.belief.outcome_in_this_state(test)
    if before is None or (before == test.outcomes[0] and judge.to_prove(test)):
        return test_move(judge.device, judge.state, test, judge.stand_ins)
    return None


def _just_done(replay: Replay, move: Move) -> bool:
    """Whether a remedy was done already and nothing was found since: whether it is worth another go is to be seen."""
    for line in reversed(replay.lines):
        match line.event:
            case ev.Saw() | ev.Read() | ev.Tried() | ev.Found():
                return False
            case ev.Mended(part=part, remedy=name) if move.remedy and (part, name) == (move.target, move.remedy.name):
                return True
            case ev.Fitted(part=part, origin=origin) if move.kind == "replace" and part == move.target:
                return origin != ev.BACK
            case _:
                pass
    return False


def _lifting(judge: Judge, held: Sequence[tuple[Ranked, Breach]]) -> list[Ranked]:
    """Moves that lift what holds others back, each worth what the best move it frees would be, less its cost and that
    of all that has to be lifted after it."""
    waiting: dict[str, tuple[Move, list[tuple[float, Ranked]]]] = {}
    for ranked, breach in held:
        found = constraint(judge.device, judge.state, judge.terms, ranked.move)
        if found and found.rule != "quarantine":
            continue
        row = lifts_in_a_row(judge.device, judge.state, judge.terms, ranked.move, breach)
        if row and not constraint(judge.device, judge.state, judge.terms, row[0]):
            worth = ranked.worth - sum(one.cost(judge.terms) for one in row)
            waiting.setdefault(row[0].name, (row[0], []))[1].append((worth, ranked))
    lifting = []
    for lifts, freed in waiting.values():
        worth, best = max(freed, key=lambda one: one[0])
        why = f"{lifts.remark} It frees: {best.move.do}.".strip()
        lifting.append(Ranked(lifts, lifts.cost(judge.terms), worth, why, spread=best.spread, finishes=best.finishes))
    return lifting
