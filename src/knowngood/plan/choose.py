"""The next move: every move that is allowed, ranked by what the whole job is worth if it comes first."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from knowngood.belief.believe import Belief, believe
from knowngood.belief.sensing import BY_THE_MAP, Measuring
from knowngood.belief.story import Donors
from knowngood.log import events as ev
from knowngood.log.state import Replay
from knowngood.maps.device import Device, PartModes, Test
from knowngood.plan.hazards import Breach
from knowngood.plan.judge import Judge, Prospect, Ranked
from knowngood.plan.moves import Move, allowed, lifting_move, look_move, possible_tests, test_move
from knowngood.plan.shortlist import shortlist
from knowngood.plan.terms import Terms
from knowngood.plan.value import BIT_MINUTES, MOST_BIT_MINUTES

__all__ = ["Advice", "Prospect", "Ranked", "advise"]


@dataclass(frozen=True)
class Advice:
    """Moves in order of worth, those that a hard rule holds back with the rule, and the belief they rest on.

    Every remedy and way out is among them, and of the ``considered`` looks and tests the ``followed`` that a quick
    estimate picked; each of the others would tell less for its cost by that estimate.
    """

    ranked: tuple[Ranked, ...]
    held: tuple[tuple[Move, Breach], ...]
    belief: Belief
    stop_worth: float
    log_seq: int
    considered: int
    followed: int

    @property
    def best(self) -> Ranked:
        return self.ranked[0]


def advise(
    device: Device,
    replay: Replay,
    terms: Terms,
    *,
    donors: Donors | None = None,
    measuring: Measuring = BY_THE_MAP,
) -> Advice:
    """The advice for a unit as its log leaves it. Raises what ``believe`` raises.

    Where it would stop because nothing is found out at the usual price of a bit, it looks again at the price that the
    job can bear: the way in may cost more than usual and be worth it.
    """

    def believed(tests: Sequence[Test] = ()) -> Belief:
        return believe(device, replay, donors=donors, measuring=measuring, tests=tests)

    judge = Judge(device, replay.state, terms, believed())
    advice = _advice(judge, replay, believed)
    if advice.best.move.kind not in ("sell-as-is", "part-out"):
        return advice
    dearer = min(MOST_BIT_MINUTES, judge.bearable_minutes())
    if dearer <= BIT_MINUTES:
        return advice
    return _advice(Judge(device, replay.state, terms, judge.belief, dearer), replay, believed)


def _advice(judge: Judge, replay: Replay, believed: Callable[[Sequence[Test]], Belief]) -> Advice:
    """The advice at a judge's price of a bit; ``believed`` gives a belief that can answer more tests."""
    device, state, terms, belief = judge.device, judge.state, judge.terms, judge.belief
    moves = [move for test in possible_tests(device, state, terms) if (move := _asked(judge, test)) is not None]
    moves += [
        look_move(device, state, part)
        for part in belief.parts
        if judge.matters(part.id) and not belief.looked_at(part.id) and part.id not in state.removed
    ]
    informing = shortlist(judge, moves)
    if any(move.test is not None and not belief.can_answer(move.test) for move in informing):
        asked = [move.test for move in informing if move.test]
        belief = believed(asked)
        judge = Judge(device, state, terms, belief, judge.bit_minutes)
    mending = [one for one in judge.mending() if not _just_done(replay, one.move)]
    judged = [*judge.informing(informing), *mending]
    free, held = allowed(device, state, [one.move for one in judged])
    may = {id(move) for move in free}
    by_move = {id(one.move): one for one in judged}
    ranked = [one for one in judged if id(one.move) in may]
    ranked += [Ranked(move, move.cost(terms), worth, _why_exit(judge, worth)) for move, worth in judge.exits]
    lifting = _lifting(judge, [(by_move[id(move)], breach) for move, breach in held])
    known = {one.move.do for one in judged}  # a replacement that lifts a rule may be among them
    ranked += [one for one in lifting if one.move.do not in known]
    ranked.sort(key=lambda one: (-one.worth, one.cost, one.move.name))
    return Advice(tuple(ranked), tuple(held), belief, judge.stop, replay.seq, len(moves), len(informing))


def _asked(judge: Judge, test: Test) -> Move | None:
    """The test as a move, if it could tell or show anything now."""
    if isinstance(test.senses, PartModes) and not judge.matters(test.senses.part):
        return None
    move = test_move(judge.device, judge.state, test)
    before = judge.belief.outcome_in_this_state(test)
    return move if before is None or (before == test.outcomes[0] and judge.to_prove(move)) else None


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
    """Moves that lift what holds others back, each worth what the best move it frees would be, less its cost."""
    waiting: dict[str, tuple[Move, list[Ranked]]] = {}
    for ranked, breach in held:
        lifts = lifting_move(judge.device, judge.state, judge.terms, ranked.move, breach)
        if lifts is not None and not allowed(judge.device, judge.state, [lifts])[1]:
            waiting.setdefault(lifts.name, (lifts, []))[1].append(ranked)
    found = []
    for lifts, freed in waiting.values():
        best = max(freed, key=lambda one: one.worth)
        cost = lifts.cost(judge.terms)
        why = f"{lifts.remark} It frees: {best.move.do}.".strip()
        found.append(Ranked(lifts, cost, best.worth - cost, why))
    return found


def _why_exit(judge: Judge, worth: float) -> str:
    return f"Brings about {worth:.0f} {judge.terms.currency}; the best way out as it is, {judge.stop:.0f}."
