"""The order of least cost, proved, or with what is left between it and what is proved."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from knowngood.plan.timetable.bound import least_cost
from knowngood.plan.timetable.jobs import Order, Problem, Slot, cost, placed

EFFORT = 0.4
"""How long the solver may go on, in its own units (some seconds each): the same answer on every machine."""


@dataclass(frozen=True)
class Timetable:
    """Every phase, by its start."""

    slots: tuple[Slot, ...]
    cost: int
    bound: int
    """No timetable costs less."""

    @property
    def proved(self) -> bool:
        return self.bound == self.cost

    @property
    def gap(self) -> float:
        """Share of the cost that another order may save at most."""
        return (self.cost - self.bound) / self.cost if self.cost else 0.0


def timetable(problem: Problem, effort: float = EFFORT) -> Timetable:
    """The best order that was found: by rules and moves of single phases, and where that is not proved, by CP-SAT."""
    bound = least_cost(problem)
    order = improved(problem, min(by_rules(problem), key=lambda one: cost_of(problem, one)), bound)
    if cost_of(problem, order) > bound and effort > 0.0:
        order, known = searched(problem, order, effort)
        bound = max(bound, known)
    slots = placed(problem, order)
    return Timetable(slots, cost(problem, slots), bound)


def cost_of(problem: Problem, order: Order) -> int:
    """What an order costs."""
    return cost(problem, placed(problem, order))


def by_rules(problem: Problem) -> Iterator[Order]:
    """Orders to begin with: what may start first, by weight over the hands that it still takes, or that with the waits
    started first."""
    for key in (_ratio, _starter):
        at = [job.ready for job in problem.jobs]
        done = [0] * len(problem.jobs)
        order: list[int] = []
        now = 0
        left = {number for number, job in enumerate(problem.jobs) if job.phases}
        while left:
            now = max(now, min(at[number] for number in left))
            able = [number for number in left if at[number] <= now]
            best = min(able, key=lambda number: (key(problem, number, done[number]), number))
            order.append(best)
            last = placed(problem, order)[-1]
            now, at[best] = last.hands_free, last.over
            done[best] += 1
            if done[best] == len(problem.jobs[best].phases):
                left.remove(best)
        yield order


def _ratio(problem: Problem, number: int, done: int) -> float:
    job = problem.jobs[number]
    return -job.weight / sum(phase.hands for phase in job.phases[done:])


def _starter(problem: Problem, number: int, done: int) -> tuple[bool, float]:
    job = problem.jobs[number]
    waits = job.phases[done].alone > 0 and done + 1 < len(job.phases)
    return not waits, -job.weight / job.phases[done].hands if waits else _ratio(problem, number, done)


def improved(problem: Problem, order: Order, bound: int) -> Order:
    """The order after every move of a single turn to another place that makes it cheaper."""
    best, worth = list(order), cost_of(problem, order)
    again = True
    while again and worth > bound:
        again = False
        for here in range(len(best)):
            for there in range(len(best)):
                # Turns of one job keep their places among each other: moved past one another they are the same order.
                other = [*best[:here], *best[here + 1 :]]
                other.insert(there, best[here])
                if other != best and (found := cost_of(problem, other)) < worth:
                    best, worth, again = other, found, True
    return best


def searched(problem: Problem, order: Order, effort: float) -> tuple[Order, int]:
    """What CP-SAT makes of an order, and the least cost by its proof."""
    # Half a second that only a timetable with waits has to pay.
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    hint = {(slot.job, slot.phase): slot for slot in placed(problem, order)}
    most = max(slot.over for slot in hint.values()) + sum(p.hands + p.alone for j in problem.jobs for p in j.phases)
    starts: dict[tuple[int, int], Any] = {}
    hands, taken = [], defaultdict(list)
    for number, job in enumerate(problem.jobs):
        before: Any = job.ready
        for place, phase in enumerate(job.phases):
            start = starts[number, place] = model.new_int_var(0, most, f"{number} {place}")
            model.add(start >= before)
            model.add_hint(start, hint[number, place].start)
            hands.append(model.new_fixed_size_interval_var(start, phase.hands, f"{number} {place} hands"))
            for tool in sorted(phase.tools | phase.holds):
                length = phase.hands + (phase.alone if tool in phase.holds else 0)
                taken[tool].append(model.new_fixed_size_interval_var(start, length, f"{number} {place} {tool}"))
                model.add(start >= problem.held.get(tool, 0))
            before = start + (phase.hands + phase.alone)
    model.add_no_overlap(hands)
    for uses in taken.values():
        model.add_no_overlap(uses)
    ends = []
    for number, job in enumerate(problem.jobs):
        last = job.phases[-1]
        ends.append(job.weight * (starts[number, len(job.phases) - 1] + (last.hands + last.alone)))
    model.minimize(sum(ends))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 0
    # Its bound is poor without the relaxation: 9 % short instead of none on ten jobs.
    solver.parameters.linearization_level = 2
    solver.parameters.max_deterministic_time = effort
    status = solver.solve(model)
    known = round(solver.best_objective_bound)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return order, known
    begins = {one: solver.value(start) for one, start in starts.items()}
    found = [number for number, _ in sorted(begins, key=lambda one: (begins[one], *one))]
    return min(found, order, key=lambda one: cost_of(problem, one)), known
