"""Small repair problems of known optimum and device-size ones, to measure what a planner costs.

An instance file says what is hidden, the moves and their costs (format ``yardstick-1``). A *policy* names the next move
from what has happened; ``evaluate`` gives its expected cost, exactly by following every outcome, or on drawn units that
are the same for everybody.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path
from time import perf_counter
from typing import Annotated, Literal, Protocol, runtime_checkable

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from knowngood.errors import ProblemError, TooLargeError
from knowngood.plan.search import planner
from knowngood.plan.search.problem import (
    OUTSIDE,
    Compartment,
    Problem,
    Remedy,
    Situation,
    Standing,
    Test,
    after,
    chance_bad,
    move_cost,
    moved,
    start,
    success_cost,
    usable,
)

Kind = Literal["test", "remedy", "check", "give_up"]
Move = tuple[Kind, str | None]
"""Kind and id; the id is None for a check and for giving up."""
Step = tuple[Kind, str | None, str | None]
"""Kind, id and outcome: bad or ok, works or fails, None for a remedy."""
Policy = Callable[["Instance", Sequence[Step]], Move]

MOST_MOVES = 40
"""Tests and remedies up to which every outcome is followed; the tree of outcomes may double with each."""


@runtime_checkable
class Drawing(Protocol):
    """A policy that draws."""

    def seeded(self, seed: int) -> Policy:
        """The policy with its draws made from this seed."""
        ...


@dataclass(frozen=True, eq=False)
class Instance:
    """A problem with the names its file gives."""

    name: str
    problem: Problem
    causes: tuple[str, ...]
    tests: tuple[str, ...]
    remedies: tuple[str, ...]
    _path: list[tuple[Step, Situation]] = field(default_factory=list, init=False, repr=False)
    """The history that was asked for last, with the situation after each step: the next one mostly begins alike."""

    def move(self, number: int) -> Move:
        """The move by the problem's number for it."""
        if number < len(self.tests):
            return "test", self.tests[number]
        if number < self.problem.check:
            return "remedy", self.remedies[number - len(self.tests)]
        return ("check", None) if number == self.problem.check else ("give_up", None)

    def number(self, move: Move) -> int:
        """The problem's number for a move. Raises ProblemError if there is no such move."""
        kind, name = move
        if kind == "test" and name in self.tests:
            return self.tests.index(name)
        if kind == "remedy" and name in self.remedies:
            return len(self.tests) + self.remedies.index(name)
        if kind == "check" and name is None:
            return self.problem.check
        if kind == "give_up" and name is None:
            return self.problem.giving_up
        raise ProblemError(
            [
                f"{self.name}: no move {move!r}; a move is ('test', id), ('remedy', id), ('check', None) or"
                " ('give_up', None), with an id of this instance"
            ]
        )

    def situation(self, history: Sequence[Step]) -> Situation:
        """How the job stands after the history. Raises ProblemError where it breaks the rules or cannot be."""
        steps: list[Step] = [(kind, name, outcome) for kind, name, outcome in history]
        alike = 0
        while alike < min(len(steps), len(self._path)) and steps[alike] == self._path[alike][0]:
            alike += 1
        del self._path[alike:]
        now = self._path[-1][1] if self._path else start(self.problem)
        for place, (kind, name, outcome) in enumerate(steps[alike:], start=alike + 1):
            number = self.number((kind, name))
            where = f"{self.name}: step {place} of the history, {kind}{' ' + name if name else ''}"
            if kind == "give_up" or (kind == "check" and outcome == "works"):
                raise ProblemError([f"{where}: the job ends there; ask for a move only while it goes on"])
            _require(self.problem, now.standing, number, where)
            right = {"test": ("bad", "ok"), "check": ("fails",), "remedy": (None,)}[kind]
            if outcome not in right:
                raise ProblemError([f"{where}: outcome {outcome!r}; it can be {' or '.join(map(str, right))}"])
            chance = chance_bad(self.problem, now, number) if kind == "test" else 1.0 - now.works
            if kind != "remedy" and (chance if outcome != "ok" else 1.0 - chance) <= 0.0:
                raise ProblemError([f"{where}: outcome {outcome!r} has no chance after what came before"])
            now = after(self.problem, now, number, outcome != "ok")
            self._path.append(((kind, name, outcome), now))
        return now


@dataclass(frozen=True)
class Evaluation:
    """What a policy costs and how long it thinks; ``costs`` holds the cost of each drawn unit."""

    expected_cost: float
    standard_error: float
    """Of the mean over drawn units; 0 where every outcome was followed."""
    seconds_per_decision: float
    """Mean over the decisions the policy was asked for; the same history is asked once."""
    worst_seconds_per_decision: float
    decisions: int
    costs: tuple[float, ...] = ()


# ---- reading a file ------------------------------------------------------------------------------------------------


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True)


_Cost = Annotated[float, Field(ge=0.0, allow_inf_nan=False)]
_Chance = Annotated[float, Field(ge=0.0, le=1.0)]
_Id = Annotated[str, Field(min_length=1)]


class _Check(_Strict):
    cost: _Cost
    where: Literal["closed", "open"]


class _Compartment(_Strict):
    id: _Id
    parent: _Id | None
    open_cost: _Cost
    close_cost: _Cost


class _Cause(_Strict):
    id: _Id
    prior: _Chance


class _Test(_Strict):
    id: _Id
    compartment: _Id | None
    cost: _Cost
    bad_if_present: dict[_Id, _Chance]
    false_alarm: _Chance


class _Remedy(_Strict):
    id: _Id
    compartment: _Id | None
    cost: _Cost
    removes: dict[_Id, _Chance]
    introduces: dict[_Id, _Chance] = Field(default_factory=dict)


class _File(_Strict):
    format: Literal["yardstick-1"]
    name: _Id
    family: Literal["single", "multi"]
    max_present: Annotated[int, Field(ge=1)] | None = None
    check: _Check
    give_up_cost: _Cost
    compartments: list[_Compartment]
    causes: Annotated[list[_Cause], Field(min_length=1)]
    tests: list[_Test]
    remedies: list[_Remedy]


def load(path: str | Path) -> Instance:
    """The instance in a file. Raises ProblemError with what is wrong, where, and what would be right."""
    try:
        text = Path(path).read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise ProblemError([f"{path}: cannot be read ({error}); give the path of a yardstick-1 JSON file"]) from error
    try:
        raw = json.loads(text, object_pairs_hook=_no_key_twice)
    except ValueError as error:
        raise ProblemError([f"{path}: not JSON ({error}); a yardstick-1 file is one JSON object"]) from error
    try:
        read = _File.model_validate(raw)
    except ValidationError as error:
        raise ProblemError(
            [
                f"{path}: {'.'.join(map(str, one['loc'])) or 'top level'}: {one['msg']}"
                + (f"; found {one['input']!r}" if isinstance(one["input"], str | int | float | None) else "")
                for one in error.errors()
            ]
        ) from error
    findings = [f"{path}: {finding}" for finding in _findings(read)]
    if findings:
        raise ProblemError(findings)
    return _instance(read)


def _no_key_twice(pairs: list[tuple[str, object]]) -> dict[str, object]:
    found = dict(pairs)
    if len(found) < len(pairs):
        keys = [key for key, _ in pairs]
        twice = next(key for key in keys if keys.count(key) > 1)
        raise ValueError(f"key {twice!r} stands twice in one object")
    return found


def _findings(read: _File) -> Iterator[str]:
    """What is wrong beyond the shape: names and what must hold between them."""
    kinds: dict[str, Sequence[_Compartment | _Cause | _Test | _Remedy]] = {
        "compartments": read.compartments,
        "causes": read.causes,
        "tests": read.tests,
        "remedies": read.remedies,
    }
    for kind, items in kinds.items():
        names = [item.id for item in items]
        for name in dict.fromkeys(name for name in names if names.count(name) > 1):
            yield f"{kind}: id {name!r} is given {names.count(name)} times; give each its own"
    compartments = {one.id: one.parent for one in read.compartments}
    causes = {one.id for one in read.causes}
    for one in read.compartments:
        if one.parent is not None and one.parent not in compartments:
            yield f"compartments.{one.id}: parent {one.parent!r} is no compartment; null is the outside"
        way, at = {one.id}, one.parent
        while at is not None and at in compartments:
            if at in way:
                yield f"compartments.{one.id}: lies in itself by way of {at!r}; the parents must form a forest"
                break
            way.add(at)
            at = compartments[at]
    used: list[tuple[str, _Test | _Remedy]] = [("tests", one) for one in read.tests]
    used += [("remedies", one) for one in read.remedies]
    for kind, item in used:
        where = f"{kind}.{item.id}"
        if item.compartment is not None and item.compartment not in compartments:
            yield f"{where}: compartment {item.compartment!r} does not exist; null is the outside"
        touched = {"bad_if_present": item.bad_if_present} if isinstance(item, _Test) else {"removes": item.removes}
        if isinstance(item, _Remedy):
            touched["introduces"] = item.introduces
        for key, listed in touched.items():
            for cause in listed:
                if cause not in causes:
                    yield f"{where}: {key} names {cause!r}, which is no cause"
    introduced = {cause for remedy in read.remedies for cause in remedy.introduces}
    for remedy in read.remedies:
        renewed = sorted(introduced & set(remedy.removes))
        if renewed and (remedy.introduces or any(chance != 1.0 for chance in remedy.removes.values())):
            yield (
                f"remedies.{remedy.id}: removes {renewed[0]!r}, which a remedy may introduce; such a remedy must"
                " remove all it removes with chance 1 and introduce nothing"
            )
    total = math.fsum(one.prior for one in read.causes)
    if read.family == "single" and not math.isclose(total, 1.0, abs_tol=1e-6):
        yield f"causes: the priors sum to {total:g}; in family 'single' they must sum to 1"
    if read.family == "single" and read.max_present is not None:
        yield "max_present: only family 'multi' has it; leave it out"
    if read.family == "multi":
        certain = sum(one.prior >= 1.0 for one in read.causes)
        if total == 0.0:
            yield "causes: every prior is 0, and a unit that does not work has a cause; raise one above 0"
        if read.max_present is not None and certain > read.max_present:
            yield f"max_present: {read.max_present}, but {certain} causes have prior 1; raise it or lower a prior"


def _instance(read: _File) -> Instance:
    # A file may give parents and causes in any order.
    places = {one.id: number for number, one in enumerate(read.compartments)}
    causes = {one.id: number for number, one in enumerate(read.causes)}

    def place(name: str | None) -> int:
        return OUTSIDE if name is None else places[name]

    def numbered(chances: dict[str, float]) -> tuple[tuple[int, float], ...]:
        return tuple((causes[name], chance) for name, chance in chances.items())

    problem = Problem(
        priors=tuple(one.prior for one in read.causes),
        single=read.family == "single",
        most=1 if read.family == "single" else read.max_present or len(causes),
        tests=tuple(
            Test(place(one.compartment), one.cost, numbered(one.bad_if_present), one.false_alarm) for one in read.tests
        ),
        remedies=tuple(
            Remedy(place(one.compartment), one.cost, numbered(one.removes), numbered(one.introduces))
            for one in read.remedies
        ),
        compartments=tuple(Compartment(place(one.parent), one.open_cost, one.close_cost) for one in read.compartments),
        check_cost=read.check.cost,
        check_open=read.check.where == "open",
        give_up=read.give_up_cost,
    )
    return Instance(
        name=read.name,
        problem=problem,
        causes=tuple(causes),
        tests=tuple(one.id for one in read.tests),
        remedies=tuple(one.id for one in read.remedies),
    )


# ---- the planner and what it costs ---------------------------------------------------------------------------------


def choose(instance: Instance, history: Sequence[Step]) -> Move:
    """Our planner's next move after the history. Raises ProblemError where the history breaks the rules."""
    return instance.move(planner.best_move(instance.problem, instance.situation(history)))


def evaluate(instance: Instance, policy: Policy | None = None, units: int | None = None, seed: int = 0) -> Evaluation:
    """What the policy (None: our planner) costs on the instance.

    ``units=None`` follows both outcomes of every test and check; a number follows the units 0 to units - 1 that the
    hashes of the yardstick fix. ``seed`` only feeds a policy that draws. Raises TooLargeError where all outcomes of a
    large instance are asked for, ProblemError where the policy breaks the rules.
    """
    policy = choose if policy is None else policy
    if isinstance(policy, Drawing):
        policy = policy.seeded(seed)
    asked = _Asked(instance, policy)
    if units is None:
        moves = len(instance.tests) + len(instance.remedies)
        if moves > MOST_MOVES:
            raise TooLargeError(
                f"{instance.name}: {moves} tests and remedies are too many to follow every outcome (at most"
                f" {MOST_MOVES}); give a number of units to draw.",
                moves,
            )
        cost = _followed(instance, asked, start(instance.problem), [])
        return Evaluation(cost, 0.0, asked.mean, asked.worst, asked.count)
    if units < 1:
        raise ProblemError([f"{instance.name}: units is {units}; at least 1 must be drawn, or None to follow all"])
    costs = tuple(_unit_cost(instance, asked, unit) for unit in range(units))
    mean = math.fsum(costs) / units
    spread = math.fsum((cost - mean) ** 2 for cost in costs)
    error = math.sqrt(spread / (units - 1) / units) if units > 1 else math.inf
    return Evaluation(mean, error, asked.mean, asked.worst, asked.count, costs)


class _Asked:
    """A policy with its decisions timed; the same history is asked once."""

    def __init__(self, instance: Instance, policy: Policy) -> None:
        self._instance, self._policy = instance, policy
        self._known: dict[tuple[Step, ...], int] = {}
        self.seconds, self.worst, self.count = 0.0, 0.0, 0

    def __call__(self, history: Sequence[Step]) -> int:
        key = tuple(history)
        if key not in self._known:
            began = perf_counter()
            move = self._policy(self._instance, list(history))
            took = perf_counter() - began
            self.seconds, self.worst, self.count = self.seconds + took, max(self.worst, took), self.count + 1
            self._known[key] = self._instance.number(move)
        return self._known[key]

    @property
    def mean(self) -> float:
        return self.seconds / max(self.count, 1)


def _followed(instance: Instance, asked: _Asked, now: Situation, history: list[Step]) -> float:
    """Expected cost from here on."""
    problem = instance.problem
    number = asked(history)
    _require(problem, now.standing, number, f"{instance.name}: the policy, after {len(history)} moves")
    kind, name = instance.move(number)
    cost = move_cost(problem, now.standing, number)
    if kind == "give_up":
        return cost
    if kind == "remedy":
        return cost + _followed(instance, asked, after(problem, now, number), [*history, (kind, name, None)])
    if kind == "check":
        works = now.works
        cost += works * success_cost(problem, now.standing)
        if works < 1.0:
            failed = after(problem, now, number)
            cost += (1.0 - works) * _followed(instance, asked, failed, [*history, (kind, name, "fails")])
        return cost
    chance = chance_bad(problem, now, number)
    for bad, weight in ((True, chance), (False, 1.0 - chance)):
        if weight > 0.0:
            step: Step = (kind, name, "bad" if bad else "ok")
            cost += weight * _followed(instance, asked, after(problem, now, number, bad), [*history, step])
    return cost


def _require(problem: Problem, now: Standing, number: int, where: str) -> None:
    """Raises ProblemError if the rules forbid the move."""
    if not usable(problem, now, number):
        if number < len(problem.tests):
            why = "this test was made; a repetition would show the same answer, so choose another move"
        elif number < problem.check:
            why = "this remedy is spent; it is usable again once a later one may have introduced what it removes"
        else:
            why = "no remedy was used since the last check, so its answer is known; use a remedy first"
        raise ProblemError([f"{where}: {why}"])


# ---- drawn units ---------------------------------------------------------------------------------------------------


def drawn(text: str) -> float:
    """The uniform number that the yardstick gives a text."""
    return int.from_bytes(sha256(text.encode()).digest()[:8], "big") / 2**64


def present_at_start(instance: Instance, unit: int) -> set[int]:
    """The causes that the unit has. With exactly one, the priors share out a single number in the order of the file."""
    problem = instance.problem
    if problem.single:
        left = drawn(f"{instance.name}/{unit}/start/0") * math.fsum(problem.priors)
        for cause, prior in enumerate(problem.priors):
            left -= prior
            if left < 0.0:
                return {cause}
        return {max(cause for cause, prior in enumerate(problem.priors) if prior > 0.0)}
    attempt = 0
    while True:
        found = {
            cause
            for cause, name in enumerate(instance.causes)
            if drawn(f"{instance.name}/{unit}/start/{attempt}/{name}") < problem.priors[cause]
        }
        if 1 <= len(found) <= problem.most:
            return found
        attempt += 1


def _unit_cost(instance: Instance, asked: _Asked, unit: int) -> float:
    problem, here = instance.problem, f"{instance.name}/{unit}"
    present = present_at_start(instance, unit)
    standing, total = Standing(), 0.0
    history: list[Step] = []
    uses: dict[str, int] = {}
    while True:
        number = asked(history)
        _require(problem, standing, number, f"{instance.name}: the policy, after {len(history)} moves on unit {unit}")
        kind, name = instance.move(number)
        cost = total + move_cost(problem, standing, number)
        outcome: str | None = None
        if kind == "give_up":
            return cost
        if kind == "check":
            if not present:
                return cost + success_cost(problem, standing)
            outcome = "fails"
        elif kind == "test":
            test = problem.tests[number]
            ok = 1.0 - test.false_alarm
            for cause, chance in test.bad_if_present:
                ok *= 1.0 - chance if cause in present else 1.0
            outcome = "bad" if drawn(f"{here}/test/{name}") < 1.0 - ok else "ok"
        else:
            remedy = problem.remedies[number - len(problem.tests)]
            assert name is not None
            use = uses[name] = uses.get(name, 0) + 1
            again = f"/{use}" if use > 1 else ""  # a further use, which no large instance allows, is drawn afresh
            for cause, chance in remedy.removes:
                if drawn(f"{here}/remedy/{name}/{instance.causes[cause]}{again}") < chance:
                    present.discard(cause)
            for cause, chance in remedy.introduces:
                if cause not in present and drawn(f"{here}/introduced/{name}/{instance.causes[cause]}{again}") < chance:
                    present.add(cause)
        history.append((kind, name, outcome))
        total, standing = cost, moved(problem, standing, number)
