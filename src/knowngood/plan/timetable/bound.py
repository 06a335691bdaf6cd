"""What no order of the jobs can cost less than.

Each job is taken as one piece of work that may be broken off: all its hands from when it is ready, or only its last
phase from when all before it can be over. The other phases, the tools and the waits between are left out. The bound on
such pieces is that of mean busy times, which the list by weight over length reaches: M. X. Goemans, M. Queyranne,
A. S. Schulz, M. Skutella, Y. Wang, "Single Machine Scheduling with Release Dates", SIAM Journal on Discrete
Mathematics 15 (2002), section 2 (from memory). With no ready times it is the rule of W. E. Smith (1956), and no bound
but the optimum.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from heapq import heappop, heappush
from math import ceil

from knowngood.plan.timetable.jobs import Job, Problem


@dataclass(frozen=True)
class _Piece:
    weight: int
    length: int
    ready: int
    alone: int


def least_cost(problem: Problem) -> int:
    """A cost that no timetable is below."""
    ready = [_ready(problem, job) for job in problem.jobs]
    wholes = [_whole(job, at) for job, at in zip(problem.jobs, ready, strict=True)]
    lasts = [_last(job, at) for job, at in zip(problem.jobs, ready, strict=True)]
    best, chosen = max(((_mean_busy(one), one) for one in (wholes, lasts)), key=lambda one: one[0])
    for number, (whole, last) in enumerate(zip(wholes, lasts, strict=True)):
        other = [*chosen]
        other[number] = last if chosen[number] is whole else whole
        if whole != last and (found := _mean_busy(other)) > best:
            best, chosen = found, other
    return ceil(best)


def _ready(problem: Problem, job: Job) -> int:
    first = job.phases[0]
    return max([job.ready, *(problem.held.get(tool, 0) for tool in first.tools | first.holds)])


def _whole(job: Job, ready: int) -> _Piece:
    return _Piece(job.weight, sum(phase.hands for phase in job.phases), ready, job.phases[-1].alone)


def _last(job: Job, ready: int) -> _Piece:
    before = sum(phase.hands + phase.alone for phase in job.phases[:-1])
    return _Piece(job.weight, job.phases[-1].hands, ready + before, job.phases[-1].alone)


def _mean_busy(pieces: list[_Piece]) -> Fraction:
    """Weighted sum over the pieces of the mean of the time they are worked on and half their length, in the list by
    weight over length that breaks off for a better one."""
    to_come = sorted(pieces, key=lambda one: -one.ready)
    at_hand: list[tuple[Fraction, int, _Piece, int]] = []
    total, now = Fraction(0), 0
    while to_come or at_hand:
        if not at_hand:
            now = max(now, to_come[-1].ready)
        while to_come and to_come[-1].ready <= now:
            piece = to_come.pop()
            heappush(at_hand, (Fraction(-piece.weight, piece.length), len(to_come), piece, piece.length))
        key, tie, piece, left = heappop(at_hand)
        worked = min(left, to_come[-1].ready - now) if to_come else left
        total += Fraction(piece.weight * worked * (2 * now + worked), 2 * piece.length)
        now += worked
        if worked < left:
            heappush(at_hand, (key, tie, piece, left - worked))
        else:
            total += Fraction(piece.weight * (piece.length + 2 * piece.alone), 2)
    return total
