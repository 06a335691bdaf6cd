"""Policies compared: each works on the same drawn units, and what is compared is unit by unit."""

from __future__ import annotations

import pickle
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache, partial
from typing import NamedTuple

from knowngood.belief.evaluate import effects
from knowngood.handbook.intervals import Interval, of_mean, of_share
from knowngood.log import events as ev
from knowngood.log.state import Replay
from knowngood.maps.device import Device
from knowngood.plan.foreknown import worth_if_known
from knowngood.plan.moves import Move
from knowngood.plan.policies import POLICIES
from knowngood.plan.rehearse import Policy, Rehearsed, drawn_unit, rehearse_unit
from knowngood.plan.spread import Spread, here
from knowngood.plan.terms import Terms

LARGEST_BATCH, BATCHES = 25, 100
"""Units that go to a worker at a time: one, up to the number of batches; never more than the largest."""

REMEMBERED_LINES, REMEMBERED = 12, 20_000
"""Logs up to this long recur from unit to unit, longer ones hardly do; and so many logs are remembered at most."""


@dataclass(frozen=True)
class Drawn:
    """One drawn unit, and how it went under each policy."""

    unit: int
    faults: tuple[str, ...]
    stopping_faults: int
    """Faults at the start that stop a wanted function."""
    if_known: float
    """About the most that it could bring: its worth if what is wrong were known."""
    jobs: Mapping[str, Rehearsed]


def rehearse(
    device: Device,
    terms: Terms,
    *,
    units: int,
    seed: int,
    past: tuple[str, ...] = (),
    policies: Iterable[str] = tuple(POLICIES),
    spread: Spread = here,
) -> Iterator[Drawn]:
    """Drawn units 0 to ``units`` - 1, as each is done, in order. Raises KeyError for a policy that is not there."""
    job = Job(device, terms, past, seed, {name: POLICIES[name] for name in policies})
    size = min(LARGEST_BATCH, 1 + units // BATCHES)
    batches = [range(first, min(first + size, units)) for first in range(0, units, size)]
    for done in spread(partial(_batch, job=pickle.dumps(job)), batches):
        yield from done


def _batch(batch: range, job: bytes) -> list[Drawn]:
    at = _at_work(job)
    return [at.work_on(unit) for unit in batch]


@lru_cache(maxsize=1)
def _at_work(job: bytes) -> Job:
    """The job as this process has it: unpacked once, so that what its policies remember lasts from unit to unit."""
    found: Job = pickle.loads(job)
    return replace(found, policies={name: Remembering(policy) for name, policy in found.policies.items()})


@dataclass(frozen=True)
class Job:
    """What is to be done with every drawn unit."""

    device: Device
    terms: Terms
    past: tuple[str, ...]
    seed: int
    policies: Mapping[str, Policy]

    def work_on(self, unit: int) -> Drawn:
        """Draws a unit and has every policy work on it."""
        hidden = drawn_unit(unit, self.device, self.past, self.seed)
        alone = effects(self.device).alone
        known = worth_if_known(self.device, hidden.at_start, hidden.unknown, self.past, self.terms)
        return Drawn(
            unit=unit,
            faults=hidden.faults,
            stopping_faults=sum(bool(alone[one]) for one in hidden.at_start.items()) + len(hidden.unknown),
            if_known=known,
            jobs={
                name: rehearse_unit(unit, self.device, self.terms, self.past, self.seed, policy)
                for name, policy in self.policies.items()
            },
        )


class Remembering:
    """A policy that is asked once about the same log: it is a function of the log, the device and the terms."""

    def __init__(self, policy: Policy) -> None:
        self._policy = policy
        self._moves: dict[tuple[str, ...], Move] = {}

    def __call__(self, device: Device, log: Replay, terms: Terms) -> Move:
        lines = tuple(ev.render(line.event) for line in log.lines)
        known = self._moves.get(lines)
        if known is not None:
            return known
        move = self._policy(device, log, terms)
        if len(lines) <= REMEMBERED_LINES and len(self._moves) < REMEMBERED:
            self._moves[lines] = move
        return move


@dataclass(frozen=True)
class Summary:
    """What one policy came to: means per unit and shares of all units, with their 95 % intervals."""

    policy: str
    net: Interval
    behind: Interval | None
    """Net less that of the first policy on the same unit; None for the first."""
    minutes: Interval
    materials: Interval
    moves: Interval
    brought_back: Interval
    """Share of units sold as working that really work."""
    would_return: Interval
    """Share of units sold as working that do not."""
    as_is: Interval
    parted: Interval
    given_up: Interval


@dataclass(frozen=True)
class Comparison:
    """What a rehearsal came to, by policy in the order asked for."""

    units: int
    stopping_faults: float
    parted_at_once: float
    """Net of parting a unit out on arrival."""
    if_known: Interval
    """About the most that any policy could bring: the net if what is wrong were known."""
    policies: tuple[Summary, ...]


class Figures(NamedTuple):
    """What is kept of a job for the means."""

    net: float
    minutes: float
    materials: float
    moves: int
    way_out: str
    """Its exit, or 'returned' if it was sold as working and is not."""


class Tally:
    """The figures of the units so far, without their logs."""

    def __init__(self) -> None:
        self._if_known: list[float] = []
        self._stopping = 0
        self._jobs: dict[str, list[Figures]] = {}

    def add(self, drawn: Drawn) -> Drawn:
        """Counts a unit, and hands it on."""
        self._if_known.append(drawn.if_known)
        self._stopping += drawn.stopping_faults
        for name, job in drawn.jobs.items():
            way_out = "returned" if job.exit == "working" and not job.works else job.exit
            figures = Figures(job.net, job.minutes, job.materials, job.moves, way_out)
            self._jobs.setdefault(name, []).append(figures)
        return drawn

    def comparison(self, terms: Terms) -> Comparison:
        """The means so far. At least one unit."""
        count = len(self._if_known)
        first = next(iter(self._jobs.values()))
        found = [
            Summary(
                policy=name,
                net=of_mean([job.net for job in jobs]),
                behind=of_mean([own.net - other.net for own, other in zip(jobs, first, strict=True)])
                if jobs is not first
                else None,
                minutes=of_mean([job.minutes for job in jobs]),
                materials=of_mean([job.materials for job in jobs]),
                moves=of_mean([job.moves for job in jobs]),
                brought_back=_share(jobs, "working"),
                would_return=_share(jobs, "returned"),
                as_is=_share(jobs, "as-is"),
                parted=_share(jobs, "parts"),
                given_up=_share(jobs, "given-up"),
            )
            for name, jobs in self._jobs.items()
        ]
        return Comparison(count, self._stopping / count, terms.parts, of_mean(self._if_known), tuple(found))


def _share(jobs: Sequence[Figures], way_out: str) -> Interval:
    return of_share(sum(job.way_out == way_out for job in jobs), len(jobs))
