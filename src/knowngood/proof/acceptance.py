"""The tests that are still to pass before a unit counts as proved: least time, in order, with what each adds.

First the unit is put together as far as it is not (nothing is taken apart that is not, unless a test pays for it), then
it rests if a start from cold is still to be shown, then it is tried closed. All chances are those of one belief of the
log with these lines added, whichever of them have passed so far (``belief.passes``).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from knowngood.belief.believe import Belief, believe
from knowngood.belief.cases import Effort
from knowngood.belief.passes import known_good, likelihoods, missed
from knowngood.belief.sensing import BY_THE_MAP, Measuring
from knowngood.belief.story import Donors
from knowngood.log import events as ev
from knowngood.log.state import Replay, State, considered
from knowngood.maps.device import AnyMode, FunctionLevel, PartModes, Test
from knowngood.plan.constraints import constraint, stand_ins
from knowngood.plan.lifting import allowed, first_lift
from knowngood.plan.moves import Move
from knowngood.plan.moves import test_move as move_of
from knowngood.plan.terms import Terms
from knowngood.proof.demands import Demand, can_start_cold, demands, of_closing
from knowngood.proof.least_time import Choice, Problem, least_time
from knowngood.proof.standing import REST, Standing, is_start, is_whole, standing


@dataclass(frozen=True)
class Due:
    """A test of the set, in its place of the order."""

    move: Move
    shows: tuple[Demand, ...]
    """What it is in the set for; several tests may show the same."""
    p_pass: float
    """Chance that it passes if all before it did."""
    before: float
    """Known good before it, all before it passed."""
    after: float
    """Known good once it passed too."""
    from_cold: bool = False
    """It is the start from cold: the first power after the rest."""

    @property
    def test(self) -> Test:
        assert self.move.test is not None
        return self.move.test


@dataclass(frozen=True)
class Held:
    """A test that would show something, and that may not be made yet."""

    test: str
    why: str
    lifts: str
    """What lifts it, in words; empty where nothing at the bench does."""


@dataclass(frozen=True)
class Acceptance:
    """What is still to be done, and what it will have shown."""

    first: tuple[str, ...]
    """Lines to log before the first test: what is unplugged or out goes back, what was worked on cures."""
    due: tuple[Due, ...]
    minutes: float
    """Hands-on, putting together, opening and closing each counted once."""
    wait: float
    """Minutes without hands: curing, and the rest before the start from cold."""
    known_good: float
    """Now."""
    put_together: float
    """Once it is put together, before the first test."""
    p_all_pass: float
    known_good_after: float
    """Once all passed."""
    standing: Standing
    unshown: tuple[str, ...]
    """Promised functions still to be shown."""
    held: tuple[Held, ...]
    out_of_reach: tuple[Demand, ...]
    """What is to be shown and no test that may be made shows: all of them held, or of a function that is masked."""
    gaps: tuple[Demand, ...]
    """What no test of this map shows; the belief has it in."""
    whole: bool
    """The unit is closed, with everything in it."""
    missed: float
    """How far at most the chances after some of the tests lie from the true ones; 0 where all is exact."""
    later: Belief = field(repr=False, compare=False)
    """The belief once all passed."""

    @property
    def proved(self) -> bool:
        """Nothing promised is left unshown, nor anything touched, warm, closed or cold that a test could show."""
        blocked = self.standing.failing or self.standing.masked or self.out_of_reach or self.unshown
        promised = bool(self.later.wanted)
        return promised and self.whole and not (self.first or self.due or blocked)


def acceptance(
    belief: Belief,
    told: Replay,
    terms: Terms,
    *,
    donors: Donors | None = None,
    measuring: Measuring = BY_THE_MAP,
    asked: Iterable[Test] = (),
) -> Acceptance:
    """The tests still to pass. ``asked`` are variants of tests that will be asked about later (see ``believe``).

    Raises what ``believe`` raises.
    """
    return _Plan(belief, told, terms).acceptance(donors, measuring, tuple(asked))


class _Plan:
    """What is to be shown, by what, and how the unit is while that is done."""

    def __init__(self, belief: Belief, told: Replay, terms: Terms) -> None:
        self.belief, self.device, self.told, self.terms = belief, belief.device, told, terms
        self.standing = standing(belief, told)
        self.first = tuple(_put_back(told.state))
        self.start = considered(self.device, told, self.first).state if self.first else told.state
        self.closed = self._closed_state()
        # What was mended stays to be shown though closing makes a connection anew.
        touched = replace(self.closed, mended=told.state.mended)
        wanted = demands(self.device, touched, remade=self.start.loose)
        self.demands = [one for one in wanted if not self._stands(one)]
        self.held: dict[str, Held] = {}
        self.moves = dict(self._free())

    def acceptance(self, donors: Donors | None, measuring: Measuring, asked: tuple[Test, ...]) -> Acceptance:
        """See ``acceptance``."""
        open_to, gaps, out = self._in_reach(self.demands)
        made = self._chosen(open_to)
        out += [one for one in open_to if not (one.by.intersection(made) or self._has_passed(one))]
        opened = [
            step for step in self.device.steps if step in {each for one in made for each in self.moves[one].opens}
        ]
        inside = [test for test in made if self.device.tests[test].behind is not None]
        outside = [test for test in made if test not in inside]
        # What opening touches is to be shown, too; what of it no test shows is a gap like any other.
        brought = [one for step in opened for one in of_closing(self.device, self.told.state, step)]
        _, more, _ = self._in_reach(brought)
        lines, numbers = self._lines(opened, inside, outside)
        later_told = considered(self.device, self.told, lines) if lines else self.told
        later = believe(
            self.device,
            later_told,
            donors=donors,
            measuring=measuring,
            effort=Effort.BOUNDS,
            asked=asked,
            planned=list(numbers.values()),
        )
        order, passing = self._ordered(later, inside, outside, numbers)
        sets = [frozenset(numbers[one] for one in order[:count]) for count in range(len(order) + 1)]
        good = known_good(later, sets, list(numbers.values()))
        shown = [*open_to, *brought]
        cold = next((one for one in order if one in outside and can_start_cold(self.device.tests[one])), None)
        needs_cold = not self._cold_stands(opens=bool(inside))
        due = tuple(
            Due(
                self.moves[test],
                tuple(
                    one
                    for one in shown
                    if test in one.by and (one.kind != "cold-start" or (needs_cold and test == cold))
                ),
                passing[place],
                float(good[place]),
                float(good[place + 1]),
                needs_cold and test == cold,
            )
            for place, test in enumerate(order)
        )
        still = {one.name for one in self.demands if one.kind == "function" and not one.by & self.standing.passed}
        return Acceptance(
            tuple(ev.render(one) for one in self.first),
            due,
            later_told.state.minutes - self.told.state.minutes,
            sum(one.wait for one in lines if isinstance(one, ev.Waited)),
            self.belief.known_good,
            float(good[0]),
            float(np.prod(passing)),
            float(good[-1]),
            self.standing,
            tuple(one for one in self.belief.wanted if one in still),
            tuple(one for name, one in self.held.items() if any(name in each.by for each in out)),
            tuple(out),
            tuple(dict.fromkeys((*gaps, *more))),
            is_whole(self.told.state),
            float(missed(later, sets, list(numbers.values())).max()),
            later,
        )

    # ---- which ----------------------------------------------------------------------------------------------------

    def _stands(self, demand: Demand) -> bool:
        """Whether a test of a part that stands shows it, whatever is opened."""
        remade = demand.name in self.start.loose
        return demand.kind == "touched" and not remade and bool(demand.by & self.standing.found_fine)

    def _free(self) -> Iterator[tuple[str, Move]]:
        """The tests that show something and may be made; the others that would are noted with what holds them."""
        device, others = self.device, stand_ins(self.device, self.told.state, self.terms)
        steps = {step for test in device.tests.values() if test.behind for step in device.path_to[test.behind]}
        brought = [one for step in steps for one in of_closing(device, self.told.state, step)]
        for name in dict.fromkeys(test for one in (*self.demands, *brought) for test in sorted(one.by)):
            test = device.tests[name]
            if isinstance(test.senses, FunctionLevel) and test.senses.function in self.standing.dark:
                continue
            if not set(_parts_of(test)) - self.start.removed and _parts_of(test):
                continue
            state = self.closed if test.behind is None else self.start
            move = move_of(device, state, test, others)
            free, broken = allowed(device, state, [move], others)
            if met := constraint(device, state, self.terms, move):
                self.held[name] = Held(name, met.why, "")
            elif free:
                yield name, move
            else:
                breach = broken[0][1]
                lifts = first_lift(device, state, self.terms, move, breach)
                self.held[name] = Held(name, str(breach), f"{lifts.do} ({lifts.log})" if lifts else "")

    def _closed_state(self) -> State:
        """The state in which the closed unit is tried: whole, rested, cured."""
        lines: list[ev.Event] = [*self.first]
        if self.start.open_steps:
            lines.append(ev.Closed(step=ev.ALL))
        return considered(self.device, self.told, lines).state if lines else self.told.state

    def _has_passed(self, demand: Demand) -> bool:
        """Whether a test that passed before shows it, as long as nothing is opened."""
        if demand.kind == "cold-start":
            return self.standing.started_cold
        return bool(demand.by & self.standing.passed)

    def _in_reach(self, wanted: Iterable[Demand]) -> tuple[list[Demand], list[Demand], list[Demand]]:
        """Demands that a free test shows, those that no test of the map shows, and those whose tests are all held or
        masked."""
        found: tuple[list[Demand], list[Demand], list[Demand]] = ([], [], [])
        for one in wanted:
            reach = one.by & self.moves.keys() or self._has_passed(one)
            found[0 if reach else 2 if one.by else 1].append(one)
        return found

    def _chosen(self, open_to: Sequence[Demand]) -> list[str]:
        """The set of least time. A test that passed stands as long as nothing is opened: where it cannot be made again,
        nothing may be."""
        moves, standing, device = self.moves, self.standing.passed, self.device
        cold = [one.by for one in open_to if one.kind == "cold-start"]
        by = [one.by for one in open_to if one.kind != "cold-start"]
        if any(not one & moves.keys() for one in (*by, *cold)):
            moves = {name: move for name, move in moves.items() if not move.opens}
        steps = {step for move in moves.values() for step in move.opens}
        brought = {step: [one.by for one in of_closing(device, self.told.state, step)] for step in steps}
        problem = Problem(
            {name: Choice(device.tests[name].minutes, move.opens) for name, move in moves.items()},
            tuple(dict.fromkeys(one for one in by if one & (moves.keys() | standing))),
            () if self.standing.started_cold else tuple(cold),
            {step: device.steps[step].open_minutes + device.steps[step].close_minutes for step in steps},
            {step: (*cold, *(one for one in brought[step] if one & moves.keys())) for step in steps},
            standing,
        )
        made = least_time(problem)
        return [name for name in device.tests if name in made]

    # ---- in which order -------------------------------------------------------------------------------------------

    def _lines(
        self, opened: Sequence[str], inside: Sequence[str], outside: Sequence[str]
    ) -> tuple[list[ev.Event], dict[str, int]]:
        """The lines that log it all, passed, and the number of the line of each test."""
        device = self.device
        lines: list[ev.Event] = list(self.first)
        numbers: dict[str, int] = {}
        lines += [ev.Opened(step=step) for step in opened if step not in self.start.open_steps]

        def passed(tests: Iterable[str]) -> None:
            for test in tests:
                lines.append(ev.parse(f"{device.tests[test].verb} {test} {device.tests[test].outcomes[0]}"))
                numbers[test] = self.told.seq + len(lines)

        passed(inside)
        if self.start.open_steps or opened:
            lines.append(ev.Closed(step=ev.ALL))
        if outside and (wait := self._rest(inside)):
            lines.append(ev.Waited(wait=wait))
        passed(outside)
        return lines, numbers

    def _rest(self, inside: Sequence[str]) -> float:
        """Minutes that the closed unit still has to rest for a start from cold."""
        if self._cold_stands(opens=bool(inside)):
            return 0.0
        powered = any(is_start(self.device.tests[one]) for one in inside)
        cured = sum(one.wait for one in self.first if isinstance(one, ev.Waited))
        return max(0.0, REST - (0.0 if powered else self.standing.lain + cured))

    def _cold_stands(self, *, opens: bool) -> bool:
        """Whether no start from cold is to be shown any more."""
        return self.standing.started_cold and not opens

    def _ordered(
        self, later: Belief, inside: Sequence[str], outside: Sequence[str], numbers: Mapping[str, int]
    ) -> tuple[list[str], list[float]]:
        """The tests, the likeliest to fail for its minutes first, with the chance of each that it passes if all before
        it did. What is made with the unit open comes first, and no power before the start from cold."""
        order: list[str] = []
        passing: list[float] = []
        among = list(numbers.values())
        cold = not self._cold_stands(opens=bool(inside))
        for stage in (list(inside), list(outside)):
            left = stage
            while left:
                may = left
                if stage is not inside and cold:
                    starts = [one for one in left if can_start_cold(self.device.tests[one])]
                    still = [one for one in left if not is_start(self.device.tests[one])]
                    may = [*starts, *still] if starts and not self._has_started(order, outside) else left
                kept = frozenset(numbers[one] for one in order)
                sets = [kept, *(kept | {numbers[one]} for one in may)]
                joint = likelihoods(later, sets, among)
                chances = joint[1:] / joint[0]
                rates = [
                    (1.0 - chance) / max(self.device.tests[one].minutes, 0.1)
                    for one, chance in zip(may, chances, strict=True)
                ]
                best = int(np.argmax(rates))
                order.append(may[best])
                passing.append(float(min(1.0, chances[best])))
                left = [one for one in left if one != may[best]]
        return order, passing

    def _has_started(self, order: Sequence[str], outside: Sequence[str]) -> bool:
        return any(one in outside and is_start(self.device.tests[one]) for one in order)


def _put_back(state: State) -> Iterator[ev.Event]:
    """What has to go back before anything is tried (parts that are out, connections that were taken apart), and the
    time until all of it has cured."""
    for part in sorted(state.removed - state.harvested):
        yield ev.Fitted(part=part, origin=ev.BACK)
    for connection in sorted(state.unplugged):
        yield ev.Plugged(connection=connection)
    if state.curing:
        yield ev.Waited(wait=max(state.curing.values()))


def _parts_of(test: Test) -> tuple[str, ...]:
    match test.senses:
        case PartModes(part=part):
            return (part,)
        case AnyMode(modes=modes):
            return tuple(part for part, _ in modes)
        case _:
            return ()
