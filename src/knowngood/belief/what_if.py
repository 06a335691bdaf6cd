"""What each outcome of each possible test or look would make of the belief, in batched passes.

What a test senses falls into *cells*: disjoint sets of worlds in which its outcomes have fixed chances (a rail absent,
weak, good, too high; a part fine, or in modes that do the same to everything else). Each cell is evidence, or what one
piece of evidence leaves of another: a function is good if no part keeps it from that, weak if none keeps it from being
weak but for those worlds. So no variable is needed for what is only asked about. The posterior given an outcome is the
mixture of the posteriors given the cells; a pass has one row for each piece of evidence, and stays exact.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knowngood.belief import sensing
from knowngood.belief.believe import Belief
from knowngood.belief.configuration import Configuration
from knowngood.belief.evidence import Batch, Evidence, Vector
from knowngood.belief.terms import GOOD, WEAK
from knowngood.maps.device import AnyMode, Part, PartModes, RailToGround, RailVoltage, Test

SOMETHING_ELSE = "something-else"
"""Outcome of a look: a condition that the kind's table does not list. It moves nothing."""

Cell = tuple[tuple[str, tuple[float, ...]], ...]
"""Evidence that says 'in this cell': for each of its variables, weight one for the states inside, zero for the rest."""

EVERYTHING: Cell = ()
"""The cell of all worlds."""

AT_A_TIME = 256
"""Cells of one pass. Queries that stand near each other in a map touch the same parts, so a portion touches few."""

REST = None
"""The cell of all worlds that the other cells of a query leave."""


@dataclass(frozen=True)
class Between:
    """The cell of all worlds in ``outer`` but not in ``inner``, which is a part of it."""

    outer: Cell
    inner: Cell


@dataclass(frozen=True)
class Query:
    """A test or look that could be made now: its cells, and P(outcome | cell), shape (cells, outcomes)."""

    id: str
    outcomes: tuple[str, ...]
    cells: tuple[Cell | Between | None, ...]
    chances: NDArray[np.float64]


@dataclass(frozen=True)
class Answer:
    """What the outcomes of one query would make of the belief."""

    query: Query
    probability: Vector
    """Chance of each outcome, shape (outcomes,), summing to one."""
    p_blocks: NDArray[np.float64]
    """Shape (outcomes, parts), parts in the order of ``Belief.parts``; NaN for an impossible outcome."""
    known_good: Vector
    """Shape (outcomes,); NaN for an impossible outcome."""
    no_unknown: Vector
    """Chance that nothing is there which the map does not know, its functions taken as independent in each cell; shape
    (outcomes,), NaN for an impossible outcome."""


def query_test(belief: Belief, test: Test) -> Query:
    """A test that could be made now, as a question."""
    table = belief.table(test)
    sensed = test.senses
    outcomes = test.outcomes
    if isinstance(sensed, (RailVoltage, RailToGround)):
        outcomes = sensing.reading_outcomes(belief.device, test)
    if isinstance(sensed, PartModes):
        variable = belief.configuration_for(test).slot(sensed.part)
        return _of_part(belief, sensed.part, test.id, outcomes, variable, table)
    if isinstance(sensed, AnyMode):
        return Query(test.id, outcomes, (REST, _none_of(belief, sensed)), table)
    now = belief.configuration_for(test)
    if isinstance(sensed, RailToGround):
        return Query(test.id, outcomes, (REST, _cell(belief.shown(_not_shorted(belief, sensed.function, now)))), table)
    good, weak = (_cell(belief.within([sensed.function], now, level)) for level in (GOOD, WEAK))
    cells: tuple[Cell | Between | None, ...] = (REST, Between(weak, good), good)
    if isinstance(sensed, RailVoltage) and belief.device.can_be_high(sensed.function):
        held = _cell(belief.within([sensed.function], now, GOOD, _not_high(belief, sensed.function, now)))
        cells = (REST, Between(weak, good), held, Between(good, held))
    if isinstance(sensed, RailVoltage) and belief.device.can_pulse(sensed.function):
        cells = (*cells, Between(_cell(belief.within([sensed.function], now, WEAK, unshorted=True)), weak))
    return Query(test.id, outcomes, cells, table)


def query_look(belief: Belief, name: str) -> Query:
    """A close look at a part: each condition that its kind's table lists, 'fine', and 'something else'."""
    part = belief.device.parts[name]
    table = sensing.look_table(part, None)
    listed = {condition for looks in (part.looks, *(mode.looks for mode in part.modes)) for condition, _ in looks}
    names = ("fine", *(condition for condition in sensing.LOOKS[1:] if condition in listed))
    columns = table[:, [sensing.LOOKS.index(one) for one in names]]
    rest = 1.0 - columns.sum(axis=1, keepdims=True)
    outcomes = (*names, SOMETHING_ELSE)
    return _of_part(belief, name, name, outcomes, belief.story.now[name], np.hstack([columns, rest]))


def query_stops(belief: Belief, name: str) -> Query:
    """Whether a part stops something, as if that could be told for certain: its outcomes are 'fine' and 'stops'."""
    stopping = belief.stopping(belief.device.parts[name])
    table = np.column_stack([~stopping, stopping]).astype(float)
    return _of_part(belief, name, name, ("fine", "stops"), belief.story.now[name], table)


def everything(belief: Belief) -> list[Query]:
    """Every test and close look that could be made now and has not been made in this state. One compiled belief answers
    them all; to ask after an act that is only considered (an unplugging, a swap), believe the log with its line added.
    """
    gone = belief.story.empty | belief.story.state.removed
    tests = [
        query_test(belief, test)
        for test in belief.device.tests.values()
        if not (isinstance(test.senses, PartModes) and test.senses.part in gone)
        if belief.outcome_in_this_state(test) is None
    ]
    return tests + [
        query_look(belief, part) for part in belief.device.parts if part not in gone and not belief.looked_at(part)
    ]


def ask(belief: Belief, queries: Sequence[Query]) -> list[Answer]:
    """The answers to all queries, in their order."""
    cells = list(dict.fromkeys(cell for query in queries for one in query.cells for cell in _evidence(one)))
    row_of = {cell: row for row, cell in enumerate(cells)}
    cells.append(EVERYTHING)
    portions = (cells[start : start + AT_A_TIME] for start in range(0, len(cells), AT_A_TIME))
    joint = np.concatenate([_joint(belief, portion) for portion in portions])
    return [_mixed(query, row_of, joint) for query in queries]


def _joint(belief: Belief, cells: Sequence[Cell]) -> NDArray[np.float64]:
    """For each cell how likely it is, and how likely with all that is wanted good, with nothing unknown there, or with
    each part stopping something, shape (cells, 3 + parts)."""
    batch = Batch(belief.base, len(cells), belief.network.states)
    for row, cell in enumerate(cells):
        for variable, weights in cell:
            batch.multiply(row, variable, weights)
    unknowns = tuple(belief.unknowns.values())
    posterior = belief.network.posteriors(batch.rows, of=(*belief.read, *unknowns))
    chance: Vector = np.exp(posterior.log_evidence - belief.log_evidence)
    blocks = belief.blocks(posterior, [belief.slot(posterior, part) for part in belief.parts])
    # Joint with 'in this cell', so that the rest of a query is what its cells leave of the whole.
    with np.errstate(invalid="ignore"):
        known = np.prod([posterior[name][:, 0] for name in unknowns], axis=0) * np.ones(len(cells))
        others = np.column_stack([known, blocks])
        joint = np.where(chance[:, None] > 0, chance[:, None] * others, 0.0)
    return np.column_stack([chance, _good_and_in(belief, cells), joint])


def _good_and_in(belief: Belief, cells: Sequence[Cell]) -> Vector:
    """P(all that is wanted is good, and in the cell) for each cell, shape (cells,)."""
    given = belief.when_good
    if given is None:
        return np.zeros(len(cells))
    found = np.full(len(cells), belief.known_good)
    several: dict[int, Cell] = {}
    for row, cell in enumerate(cells):
        # That a function is good says nothing new of parts that what is wanted rests on too.
        news = tuple((name, weights) for name, weights in cell if _says_more(belief, name, weights))
        if len(news) == 1:
            found[row] *= given[news[0][0]][0] @ np.array(news[0][1])
        elif news:
            several[row] = news
    if several:
        batch = Batch(belief.base_when_good, len(several), belief.network.states)
        for row, cell in enumerate(several.values()):
            for variable, weights in cell:
                batch.multiply(row, variable, weights)
        found[list(several)] = np.exp(belief.network.log_evidence(batch.rows) - belief.log_evidence)
    return found


def _says_more(belief: Belief, variable: str, weights: tuple[float, ...]) -> bool:
    """Whether a cell rules anything out beside what 'all that is wanted is good' does."""
    known = belief.base_when_good.get(variable)
    return any(weight < 1.0 and (known is None or known[state] > 0.0) for state, weight in enumerate(weights))


def _mixed(query: Query, row_of: dict[Cell, int], joint: NDArray[np.float64]) -> Answer:
    """The answer to a query, from ``_joint`` of all cells, the last of them everything."""
    by_cell = np.array([_inside(cell, row_of, joint) for cell in query.cells])
    rest = [number for number, cell in enumerate(query.cells) if cell is REST]
    by_cell[rest] = np.maximum(joint[-1] - by_cell.sum(axis=0), 0.0)
    mixed = query.chances.T @ by_cell
    with np.errstate(divide="ignore", invalid="ignore"):
        given = mixed[:, 1:] / mixed[:, :1]
    return Answer(query, mixed[:, 0], given[:, 2:], given[:, 0], given[:, 1])


def _of_part(
    belief: Belief, part: str, name: str, outcomes: tuple[str, ...], variable: str | None, table: NDArray[np.float64]
) -> Query:
    """Cells of a part: its ways of acting. Inside a cell the modes keep their odds, whatever else is found."""
    if variable is None:
        return Query(name, outcomes, (REST,), table[:1])
    acting, theirs, own = belief.wiring.acting(variable, belief.told_apart(belief.device.parts[part]))
    states = belief.posterior[variable][0]
    cells, rows = [], []
    for way, modes in zip(theirs, own, strict=True):
        mass = float(states[modes].sum())
        if mass > 0.0:
            cells.append(((acting, tuple(float(one in way) for one in range(belief.network.states[acting]))),))
            rows.append(states[modes] @ table[modes] / mass)
    return Query(name, outcomes, (REST, *cells[1:]), np.array(rows))


def _evidence(cell: Cell | Between | None) -> tuple[Cell, ...]:
    """The evidence that a cell is made of."""
    if isinstance(cell, Between):
        return cell.outer, cell.inner
    return () if cell is REST else (cell,)


def _inside(cell: Cell | Between | None, row_of: dict[Cell, int], joint: NDArray[np.float64]) -> Vector:
    """What is joint with a cell; nothing for the rest, which is known once all others are."""
    rows = [joint[row_of[one]] for one in _evidence(cell)]
    if isinstance(cell, Between):
        left: Vector = np.maximum(rows[0] - rows[1], 0.0)
        return left
    return rows[0] if rows else np.zeros(joint.shape[1])


def _cell(evidence: Evidence) -> Cell:
    """The cell that evidence keeps to."""
    listed = ((name, tuple(values.tolist())) for name, values in evidence.items())
    return tuple((name, values) for name, values in listed if min(values) < 1.0)


def _none_of(belief: Belief, sensed: AnyMode) -> Cell:
    """The cell in which no part is in one of the sensed modes."""
    gone = belief.story.empty | belief.story.state.removed
    there = ((name, modes) for name, modes in sensed.modes if name not in gone)
    return _cell({belief.story.now[name]: _not_in(belief.device.parts[name], modes) for name, modes in there})


def _not_high(belief: Belief, rail: str, now: Configuration) -> Iterator[tuple[str, Vector]]:
    """That no part drives the rail too high."""
    for part in (belief.device.parts.get(need) for need in belief.device.functions[rail].needs):
        if part and (variable := now.variable(part.id)):
            yield variable, _not_in(part, {mode.name for mode in part.modes if mode.high and now.acts(mode)})


def _not_shorted(belief: Belief, rail: str, now: Configuration) -> Iterator[tuple[str, Vector]]:
    """That no load pulls the rail to ground."""
    for part in (belief.device.parts[name] for name in belief.wiring.loads(rail, now)):
        if variable := now.variable(part.id):
            yield (
                variable,
                _not_in(part, {mode.name for mode in part.modes if mode.takes == "short" and now.acts(mode)}),
            )


def _not_in(part: Part, modes: Collection[str]) -> Vector:
    """Weights that say that a part is in none of some modes, shape (states,)."""
    return np.array([1.0, *(float(mode.name not in modes) for mode in part.modes)])
