"""What a unit that is not bought yet would bring, and what an answer is worth, every course of the job listed.

Where no test reads a number, each move has few outcomes; on a small map the jobs of the planner can be written out:
a tree of logs, each outcome with its chance by the belief. So nothing is drawn, and after an answer the planner knows
it too. Only courses rarer than ``RAREST`` are not followed further: the unit is parted out there, and what share of
all units they are is said. Larger maps are refused here, and drawn (``drawing``).
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from knowngood.belief import sensing
from knowngood.belief.believe import Belief, believe
from knowngood.belief.what_if import ask, query_test
from knowngood.errors import TooLargeError
from knowngood.log import events as ev
from knowngood.log.state import Line, Replay, replay
from knowngood.maps.device import Device, Part, Test
from knowngood.money.bid.asking import Asking, asking, best_first, past_chance
from knowngood.money.bid.drawing import Case, with_line
from knowngood.money.bid.outcome import Outcome
from knowngood.money.bid.seller import SOMETHING_ELSE, Question, photo_answers, photo_table
from knowngood.plan.compare import Remembering
from knowngood.plan.moves import done_by, way_there
from knowngood.plan.rehearse import LONGEST_JOB, WAYS_OUT, brings

MOST_PARTS = 4
"""Parts of a map that is worth trying; with more the tree outgrows any patience."""

MOST_LOGS = 400
"""Decisions of the planner that are worked out for one candidate."""

RAREST = 1e-4
"""Chance of a course of the job below which it is not followed further."""

Leaf = tuple[float, float]
"""Chance of a course of the job, and what it brings."""


class Courses:
    """The courses of the policy's jobs on one device at one bench's terms; each log is decided once."""

    def __init__(self, case: Case) -> None:
        self.case, self._policy = case, Remembering(case.policy)
        self.logs, self.missed = 0, 0.0
        """Decisions so far, and the chance of the courses of the last outcome that were not followed to their end."""

    def outcome(self, told: Replay) -> Outcome:
        """What a unit comes to from a log on. Raises TooLargeError for a map that is not small."""
        device = self.case.device
        numbers = [test.id for test in device.tests.values() if test.verb == "read"]
        if len(device.parts) > MOST_PARTS or numbers:
            raise TooLargeError("the courses of this map's jobs are too many to list", len(device.parts))
        self.missed = 0.0
        leaves = list(self._from(tuple(line.event for line in told.lines), told.state.minutes, 0.0, 0, 1.0))
        chance, net = (np.array([leaf[place] for leaf in leaves]) for place in (0, 1))
        return Outcome(net, np.zeros(len(net), bool), np.full(len(net), np.nan), chance / chance.sum())

    def _from(
        self, lines: tuple[ev.Event, ...], spent: float, materials: float, moves: int, chance: float
    ) -> Iterator[Leaf]:
        device, terms = self.case.device, self.case.terms
        log = _replayed(device, lines)
        minutes = log.state.minutes - spent
        if chance < RAREST or moves >= LONGEST_JOB:
            self.missed += chance
            yield chance, brings(terms, "given-up", works=False) - materials - minutes * terms.rate
            return
        self.logs += 1
        if self.logs > MOST_LOGS:
            raise TooLargeError(f"the courses of this unit's job come to more than {MOST_LOGS} logs", self.logs)
        move = self._policy(device, log, terms)
        if move.act.ends:
            ways = self._ended(WAYS_OUT[move.kind], lines, log, spent, materials)
            yield from ((chance * share, net) for share, net in ways)
            return
        if way := way_there(move, log.state):  # what is worth doing once the way is open is another question
            yield from self._from((*lines, *way), spent, materials, moves + 1, chance)
            return
        materials += move.materials
        for share, event in self._outcomes(lines, move.test, move.target if move.kind == "look" else None):
            yield from self._from((*lines, event or done_by(move)), spent, materials, moves + 1, chance * share)

    def _ended(
        self, way: str, lines: tuple[ev.Event, ...], log: Replay, spent: float, materials: float
    ) -> Iterator[Leaf]:
        device, terms = self.case.device, self.case.terms
        if way == "as-is" and log.state.open_steps:
            log = _replayed(device, (*lines, ev.Closed(step=ev.ALL)))
        listing = terms.list_minutes if way in ("working", "as-is") else 0.0
        cost = materials + (log.state.minutes - spent + listing) * terms.rate
        good = believe(device, log).known_good if way == "working" else 0.0
        for chance, works in ((good, True), (1.0 - good, False)):
            if chance > 0.0:
                yield chance, brings(terms, way, works=works) - cost

    def _outcomes(
        self, before: tuple[ev.Event, ...], test: Test | None, looked_at: str | None
    ) -> Iterator[tuple[float, ev.Event | None]]:
        """The outcomes of a move with their chances; one with no event for a move that asks nothing."""
        if test is None and looked_at is None:
            yield 1.0, None
            return
        belief = believe(self.case.device, _replayed(self.case.device, before))
        if looked_at is not None:
            yield from looks(belief, self.case.device.parts[looked_at])
        elif test is not None:
            again = belief.outcome_in_this_state(test)  # the same test of the same thing errs the same way
            yield from tries(belief, test) if again is None else [(1.0, ev.parse(f"{test.verb} {test.id} {again}"))]


def looks(belief: Belief, part: Part) -> Iterator[tuple[float, ev.Event]]:
    """What a close look could find. Conditions that the kind does not list move nothing: one stands for them all, but
    that those which a hard rule knows stand for themselves."""
    chances = belief.posterior[belief.story.now[part.id]][0] @ sensing.look_table(part, None)
    by_rule = {one for _, rule, _ in belief.device.hard_rules for one in rule.if_seen} | {"wet"}
    listed = {one for table in (part.looks, *(mode.looks for mode in part.modes)) for one, _ in table}
    own = [one for one in sensing.LOOKS if one == sensing.LOOKS[0] or one in listed | by_rule]
    odd = [one for one in sensing.LOOKS if one not in own]
    for condition in own:
        if (chance := float(chances[sensing.LOOKS.index(condition)])) > 0.0:
            yield chance, ev.Saw(part=part.id, condition=condition)
    rest = float(sum(chances[sensing.LOOKS.index(one)] for one in odd))
    if rest > 0.0:
        yield rest, ev.Saw(part=part.id, condition=odd[0])


def tries(belief: Belief, test: Test) -> Iterator[tuple[float, ev.Event]]:
    """What a test with named outcomes could give."""
    [answer] = ask(belief, [query_test(belief, test)])
    for outcome, chance in zip(answer.query.outcomes, answer.probability, strict=True):
        if chance > 0.0:
            yield float(chance), ev.parse(f"{test.verb} {test.id} {outcome}")


def exact_askings(courses: Courses, keeps: float, cost: float) -> tuple[Asking, ...]:
    """Every question with its worth as in ``asking.askings``, but exact, and with the answer known to the planner."""
    return best_first(_asked(courses, one, keeps, cost) for one in courses.case.questions)


def _asked(courses: Courses, question: Question, keeps: float, cost: float) -> Asking:
    case = courses.case
    answers = list(_answers(case, believe(case.device, case.told), question))
    chances = np.array([chance for _, chance, _ in answers])
    nets = np.array([courses.outcome(then.told).net.mean for _, _, then in answers])
    words = tuple(word for word, _, _ in answers)
    return asking(question, words, np.eye(len(answers)), chances / chances.sum(), keeps * nets - cost)


def _answers(case: Case, belief: Belief, question: Question) -> Iterator[tuple[str, float, Case]]:
    """Each possible answer with its chance, and the case with it in its listing."""
    if question.kind == "past":
        yes, then = past_chance(case, belief, question.name)
        yield "yes", yes, then
        yield "no", 1.0 - yes, case
    elif question.kind == "try":
        for chance, event in tries(belief, case.device.tests[question.name]):
            yield ev.render(event).split()[-1], chance, with_line(case, event)
    else:
        states = belief.posterior[belief.story.now[question.name]][0]
        table = photo_table(case.device, question.name)
        for answer, chance in zip(photo_answers(case.device, question.name), states @ table, strict=True):
            if answer == SOMETHING_ELSE:
                yield answer, float(chance), case
            elif chance > 0.0:
                event = ev.Saw(part=question.name, condition=answer, look="glance")
                yield answer, float(chance), with_line(case, event)


def _replayed(device: Device, lines: tuple[ev.Event, ...]) -> Replay:
    return replay(device, [Line(seq, "", event) for seq, event in enumerate(lines, start=1)])
