"""The best plan for a shelf, with a proven bound on how much better any other could be.

Solved by HiGHS, imported on first use because a command's start should not pay for it. HiGHS counts in floats: its
bound holds within its own tolerance, so it is raised by what that can amount to before it is rounded down to what a
worth can be. The plan itself is counted exactly (``plan.tally``), and checked, without the solver.
"""

from __future__ import annotations

import os
import signal
import sys
from collections import deque
from collections.abc import Callable, Collection, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from enum import StrEnum
from math import floor, gcd, inf, isfinite
from threading import Event, Thread, current_thread, main_thread
from time import perf_counter
from typing import TYPE_CHECKING

import numpy as np

from knowngood.errors import ProblemError, StoppedError
from knowngood.money.shelf.greedy import greedy
from knowngood.money.shelf.plan import Plan, broken, tally
from knowngood.money.shelf.problem import Problem
from knowngood.money.shelf.program import Program

if TYPE_CHECKING:
    from highspy import Highs, HighsCallbackEvent

TOLERANCE = 1e-9
"""By how much of its unit (``SCALE``) the solver may take a column to be worth less than it is. A bound may be too low
by this for each one of each column; that much is added to it."""
LARGE = 2000
"""Columns from which it pays to narrow the gap before the whole program is solved: the solver looks for cuts first, for
ten seconds and more on 300 units, and tells nothing meanwhile."""
SCALE = 6000.0
"""Sixtieths of a minor unit in what the solver counts in, so that its figures lie near one."""


class Ended(StrEnum):
    """Why there is no better plan in the answer."""

    OPTIMAL = "proved optimal"
    WITHIN = "proved within the gap asked for"
    """Or, of a very large shelf of which no gap is asked for, within what the solver rounds; see ``Answer.gap``."""
    TIME = "best within the time limit"
    STOPPED = "best when stopped"


@dataclass(frozen=True)
class Progress:
    """How far it is: sixtieths of a minor unit, as in ``Answer``."""

    seconds: float
    worth: int | None
    """None before there is any plan."""
    bound: int


@dataclass(frozen=True)
class Answer:
    """The best plan found. No plan is worth more than ``bound``; both in sixtieths of a minor unit."""

    plan: Plan
    worth: int
    bound: int
    ended: Ended
    seconds: float

    @property
    def gap(self) -> float:
        """The most that any plan could be better, as a part of this one's worth."""
        return gap(self.worth, self.bound)


def gap(worth: int, bound: int) -> float:
    """How far a bound lies above a worth, as a part of the worth; infinite above a worth of nothing."""
    return 0.0 if bound <= worth else (bound - worth) / abs(worth) if worth else inf


def solve(
    problem: Problem,
    *,
    gap: float = 0.0,
    seconds: float = inf,
    seed: int = 0,
    start: Plan | None = None,
    forbid: Collection[tuple[str, str]] = (),
    progress: Callable[[Progress], None] | None = None,
    stop: Event | None = None,
) -> Answer:
    """The best plan, or one proved within ``gap`` (a part of its worth) of the best.

    It begins from ``start``, by itself the sensible rule's plan, and looks at no plan with a unit and way of
    ``forbid``; a start that has one, or does not hold, only says which ways the other units may go. It ends early after
    ``seconds``, when ``stop`` is set, or at Ctrl-C: then the best so far comes back with the bound proved so
    far. The same seed gives the same plan, unless time or a stop ended it. Raises ProblemError if no plan keeps the
    limits, and StoppedError if it was ended before there was any plan.
    """
    begun, stop = perf_counter(), stop or Event()
    with _ctrl_c_sets(stop):
        program = Program(problem)
        for chosen in forbid:
            program.most[program.ways[chosen]] = 0
        run = _Run(program, start or greedy(problem, stop), begun, progress, stop)
        run.go(gap, seconds - (perf_counter() - begun), seed)
        if run.impossible and not forbid:
            raise ProblemError(list(_in_the_way(problem, stop)))
    return run.answer(gap)


def _in_the_way(problem: Problem, stop: Event) -> Iterator[str]:
    """Why no plan keeps the limits: each that alone is in the way, as there would be a plan without it."""
    yield "shelf: no plan keeps all limits"
    limits = [(f"its {problem.minutes} minutes", replace(problem, minutes=None))]
    for demand in problem.demands:
        lifted = tuple(replace(one, most=None) if one is demand else one for one in problem.demands)
        limits.append((f"demand {demand.id}, at most {demand.most}", replace(problem, demands=lifted)))
    for offer in problem.offers:
        more = tuple(replace(one, most=None) if one is offer else one for one in problem.offers)
        limits.append((f"offer {offer.id}, at most {offer.most}", replace(problem, offers=more)))
    alone = False
    for limit, without in limits:
        if without != problem and not stop.is_set():
            run = _Run(Program(without), None, perf_counter(), None, stop)
            run.go(inf, inf, 0)
            if not run.impossible and not stop.is_set():
                alone = True
                yield f"shelf: there is a plan without {limit}; raise it, or give a unit a way that takes none of it"
    if not alone:
        yield "shelf: no single limit is in the way; give each unit a way that takes nothing, such as waiting"


class _Run:
    """One run of the solver, in a thread of its own: this one waits, hears Ctrl-C and passes on what is seen."""

    def __init__(
        self,
        program: Program,
        start: Plan | None,
        begun: float,
        progress: Callable[[Progress], None] | None,
        stop: Event,
    ) -> None:
        self.program, self.begun, self.progress, self.stop = program, begun, progress, stop
        self.seen: deque[Progress] = deque()
        self.start: Plan | None = None
        self.hint = {} if start is None else _hint(program, start)
        if len(self.hint) == len(program.most):
            self.start = start
        self.step = gcd(*program.worth) or 1
        """Worths of plans differ by multiples of this."""
        self.known = sum(max(0, worth) * most for worth, most in zip(program.worth, program.most, strict=True))
        """The lowest bound yet; at first one that needs no proof: all that brings something, and nothing that costs."""
        self.off = TOLERANCE * SCALE * sum(program.most)
        """How much too low a bound of the solver may be."""
        self.highs: Highs = _model(program)

    def go(self, gap: float, seconds: float, seed: int) -> None:
        end = perf_counter() + seconds
        if len(self.program.most) > LARGE:
            self._narrow(gap, end, seed)
        if self.start is not None and self.stop.is_set():
            return
        if self.start is None or self._open(tally(self.program.problem, self.start).worth, gap):
            self._run(self.highs, gap, end, seed)
            self.known = min(self.known, self._bound(self.highs.getInfo().mip_dual_bound))

    def _open(self, worth: int, wanted: float) -> bool:
        """Whether a plan of this worth is not yet proved good enough."""
        return gap(worth, self.known) > wanted

    def _narrow(self, wanted: float, end: float, seed: int) -> None:
        """A bound and a plan near it: the program's relaxation, and the best plan that has whatever is whole there."""
        import highspy

        loose = _model(self.program)
        loose.setOptionValue("solve_relaxation", True)
        self._run(loose, wanted, end, seed)
        if loose.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return
        self.known = self._bound(loose.getInfo().objective_function_value)
        self._say()
        values = np.array(loose.getSolution().col_value)
        whole = np.flatnonzero(np.abs(values - values.round()) < 1e-6).astype(np.int32)
        near = _model(self.program)
        near.changeColsBounds(len(whole), whole, values[whole].round(), values[whole].round())
        self._run(near, wanted / 4, end, seed)
        plan = self._plan_of(near)
        if plan is not None and (self.start is None or _better(self.program.problem, plan, self.start)):
            self.start, self.hint = plan, dict(enumerate(self.program.values(plan)))
            self._say()

    def _say(self) -> None:
        worth = None if self.start is None else tally(self.program.problem, self.start).worth
        self.seen.append(Progress(perf_counter() - self.begun, worth, self.known))
        self._pass_on()

    def _run(self, highs: Highs, gap: float, end: float, seed: int) -> None:
        for name, value in (
            ("mip_rel_gap", gap),
            ("mip_abs_gap", (self.step - 0.5) / SCALE),
            ("dual_feasibility_tolerance", TOLERANCE),
            ("random_seed", seed),
            # Presolve ties the flows of parts together so that the first relaxation rounds worse, and takes longer.
            ("presolve", "off"),
            ("time_limit", max(end - perf_counter(), 0.0)),
        ):
            highs.setOptionValue(name, value)
        if highs is self.highs and self.hint:
            columns = np.array(list(self.hint), dtype=np.int32)
            highs.setSolution(len(columns), columns, np.array(list(self.hint.values()), dtype=np.float64))
        highs.cbMipInterrupt.subscribe(self._look)
        highs.cbSimplexInterrupt.subscribe(self._look)
        if highs is self.highs:
            highs.cbMipLogging.subscribe(self._tell)
            highs.cbMipImprovingSolution.subscribe(self._tell)
        thread = Thread(target=highs.run, daemon=True)
        thread.start()
        try:
            while thread.is_alive():
                thread.join(0.1)
                self._pass_on()
        finally:
            if thread.is_alive():
                self.stop.set()
                thread.join()

    def _plan_of(self, highs: Highs) -> Plan | None:
        import highspy

        if highs.getInfo().primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
            return None
        return self.program.plan([round(value) for value in highs.getSolution().col_value])

    def _pass_on(self) -> None:
        while self.seen:
            seen = self.seen.popleft()
            if self.progress is not None:
                self.progress(seen)

    def _look(self, event: HighsCallbackEvent) -> None:
        if self.stop.is_set() and event.data_in is not None:
            event.data_in.user_interrupt = True

    def _tell(self, event: HighsCallbackEvent) -> None:
        found = event.data_out.mip_primal_bound
        worth = round(found * SCALE) if isfinite(found) else None
        self.seen.append(Progress(perf_counter() - self.begun, worth, self._bound(event.data_out.mip_dual_bound)))

    def _bound(self, proved: float) -> int:
        """The most that a plan can be worth, by a bound of the solver."""
        if not isfinite(proved):
            return self.known
        return min(self.known, floor((proved * SCALE + self.off) / self.step) * self.step)

    @property
    def impossible(self) -> bool:
        import highspy

        return bool(self.highs.getModelStatus() == highspy.HighsModelStatus.kInfeasible)

    def answer(self, wanted: float) -> Answer:
        import highspy

        if self.impossible:
            raise ProblemError(["shelf: no plan keeps all limits without the ways that are ruled out"])
        found = self._plan_of(self.highs)
        plans = [plan for plan in (self.start, found) if plan is not None]
        if not plans:
            raise StoppedError("Ended before there was any plan for the shelf. Give it more time.")
        plan = max(plans, key=lambda one: tally(self.program.problem, one).worth)
        worth = tally(self.program.problem, plan).worth
        wrong = broken(self.program.problem, plan)
        assert not wrong, f"a plan of the solver that does not hold, which is a mistake of this program: {wrong}"
        bound = max(worth, self.known)
        if bound == worth:
            ended = Ended.OPTIMAL
        elif not self._open(worth, wanted) or self.highs.getModelStatus() == highspy.HighsModelStatus.kOptimal:
            ended = Ended.WITHIN
        else:
            ended = Ended.STOPPED if self.stop.is_set() else Ended.TIME
        return Answer(plan, worth, bound, ended, perf_counter() - self.begun)


def _better(problem: Problem, plan: Plan, than: Plan) -> bool:
    return tally(problem, plan).worth > tally(problem, than).worth


def _hint(program: Program, start: Plan) -> dict[int, int]:
    """Where the solver may begin: all columns if the plan holds, else the ways of the units that may go theirs."""
    shut = {one[0] for one in start.ways.items() if not program.most[program.ways[one]]}
    if not shut and not broken(program.problem, start):
        return dict(enumerate(program.values(start)))
    return {
        column: int(start.ways.get(unit) == way) for (unit, way), column in program.ways.items() if unit not in shut
    }


@contextmanager
def _ctrl_c_sets(stop: Event) -> Iterator[None]:
    """Ctrl-C ends the search and not the program. Only the main thread hears it, and only there it can be changed."""
    if current_thread() is not main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, lambda *_: stop.set())
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, signal.SIG_DFL if before is None else before)


@contextmanager
def _hushed() -> Iterator[None]:
    """Keeps the standard output clean of the line with which HiGHS announces itself, as the first model is made."""
    sys.stdout.flush()
    kept, nowhere = os.dup(1), os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        yield
    finally:
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)


def _model(program: Program) -> Highs:
    import highspy

    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = len(program.most), len(program.rows)
    lp.sense_ = highspy.ObjSense.kMaximize
    lp.col_cost_ = np.array(program.worth, dtype=np.float64) / SCALE
    lp.col_lower_ = np.zeros(len(program.most))
    lp.col_upper_ = np.array(program.most, dtype=np.float64)
    lp.integrality_ = [highspy.HighsVarType.kInteger] * len(program.most)
    lp.row_lower_ = np.array([-inf if row.low is None else row.low for row in program.rows], dtype=np.float64)
    lp.row_upper_ = np.array([inf if row.high is None else row.high for row in program.rows], dtype=np.float64)
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    lp.a_matrix_.start_ = np.cumsum([0, *(len(row.terms) for row in program.rows)], dtype=np.int32)
    lp.a_matrix_.index_ = np.array([column for row in program.rows for column, _ in row.terms], dtype=np.int32)
    lp.a_matrix_.value_ = np.array([factor for row in program.rows for _, factor in row.terms], dtype=np.float64)
    with _hushed():
        highs = highspy.Highs()  # type: ignore[no-untyped-call]
    highs.silent()
    highs.passModel(lp)
    return highs
