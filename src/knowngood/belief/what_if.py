"""What each outcome of each possible test or look would make of the belief, all in one batched pass.

What a test senses falls into *cells*: disjoint sets of worlds in which its outcomes have fixed chances (a rail absent,
weak, good, too high; a part fine, or in modes that do the same to everything else). Each cell is evidence on one or
two variables, many tests share the same cells, and the posterior given an outcome is the mixture of the posteriors
given the cells. So the pass has one row for each cell, not one for each outcome, and stays exact.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knowngood.belief import sensing
from knowngood.belief.believe import Batch, Belief, Vector
from knowngood.belief.wiring import GOOD, Handle
from knowngood.maps.device import AnyMode, PartModes, RailToGround, RailVoltage, Test

SOMETHING_ELSE = "something-else"
"""Outcome of a look: a condition that the kind's table does not list. It moves nothing."""

Cell = tuple[tuple[str, tuple[float, ...]], ...]
"""Evidence that says 'in this cell': for each of its variables, weight one for the states inside, zero for the rest."""

REST = None
"""The cell of all worlds that the other cells of a query leave."""


@dataclass(frozen=True)
class Query:
    """A test or look that could be made now: its cells, and P(outcome | cell), shape (cells, outcomes)."""

    id: str
    outcomes: tuple[str, ...]
    cells: tuple[Cell | None, ...]
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


def query_test(belief: Belief, test: Test) -> Query:
    """A test that was named when the belief was built, as a question."""
    table = belief.table(test)
    sensed = test.senses
    outcomes = test.outcomes
    if isinstance(sensed, (RailVoltage, RailToGround)):
        outcomes = sensing.reading_states(test, high=belief.can_be_high(test))
    if isinstance(sensed, PartModes):
        variable = belief.configuration_for(test).variable(sensed.part)
        return _of_part(belief, test.id, outcomes, variable, table)
    if isinstance(sensed, AnyMode):
        return Query(test.id, outcomes, (REST, _none_of(belief, sensed)), table)
    now = belief.configuration_for(test)
    if not isinstance(sensed, RailVoltage):
        return _of_handle(test.id, outcomes, belief.wiring.handle(test, now), table)
    level = belief.wiring.level(sensed.function, now)
    if not belief.can_be_high(test):
        return _of_handle(test.id, outcomes, level, table)
    high = _not_high(belief, sensed.function)
    cells = (_inside(level, {0}), _inside(level, {1}), _both(_inside(level, {GOOD}), high), REST)
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
    return _of_part(belief, name, outcomes, belief.story.now[name], np.hstack([columns, rest]))


def ask(belief: Belief, queries: Sequence[Query]) -> list[Answer]:
    """The answers to all queries, in their order."""
    cells = list(dict.fromkeys(cell for query in queries for cell in query.cells if cell is not None))
    batch = Batch(belief.base, len(cells) + 1, belief.network.states)  # the last row is the belief as it is
    for row, cell in enumerate(cells):
        for variable, weights in cell:
            batch.multiply(row, variable, np.array(weights))
    posterior = belief.network.posteriors(batch.rows)
    chance: Vector = np.exp(posterior.log_evidence - belief.log_evidence)
    blocks = belief.blocks(posterior, [belief.slot(posterior, part) for part in belief.parts])
    good = belief.all_good(batch.rows, posterior)
    # Joint with 'in this cell', so that the rest of a query is what its cells leave of the whole.
    with np.errstate(invalid="ignore"):
        joint_blocks = np.where(chance[:, None] > 0, chance[:, None] * blocks, 0.0)
        joint_good = np.where(chance > 0, chance * good, 0.0)
    row_of = {cell: row for row, cell in enumerate(cells)}
    return [_mixed(query, row_of, chance, joint_blocks, joint_good) for query in queries]


def _mixed(
    query: Query,
    row_of: dict[Cell, int],
    chance: Vector,
    joint_blocks: NDArray[np.float64],
    joint_good: Vector,
) -> Answer:
    stacked = np.column_stack([chance, joint_good, joint_blocks])
    named = [stacked[row_of[cell]] for cell in query.cells if cell is not None]
    left = np.maximum(stacked[-1] - np.sum(named, axis=0), 0.0)
    by_cell = np.array([left if cell is None else stacked[row_of[cell]] for cell in query.cells])
    mixed = query.chances.T @ by_cell
    with np.errstate(divide="ignore", invalid="ignore"):
        given = mixed[:, 1:] / mixed[:, :1]
    return Answer(query, mixed[:, 0], given[:, 1:], given[:, 0])


def _of_part(
    belief: Belief, name: str, outcomes: tuple[str, ...], variable: str | None, table: NDArray[np.float64]
) -> Query:
    """Cells of a part: its ways of acting. Inside a cell the modes keep their odds, whatever else is found."""
    if variable is None:
        return Query(name, outcomes, (REST,), table[:1])
    acting, class_of = belief.wiring.acting(variable)
    states = belief.posterior[variable][0]
    count = max(class_of) + 1
    cells, rows = [], []
    for one in range(count):
        inside = np.array([state == one for state in class_of])
        mass = float(states[inside].sum())
        if mass > 0.0:
            cells.append(((acting, tuple(float(state == one) for state in range(count))),))
            rows.append(states[inside] @ table[inside] / mass)
    return Query(name, outcomes, (REST, *cells[1:]), np.array(rows))


def _of_handle(name: str, outcomes: tuple[str, ...], handle: Handle, table: NDArray[np.float64]) -> Query:
    if handle.variable is None:
        return Query(name, outcomes, (REST,), table[[handle.rows[0]]])
    rows = sorted(set(handle.rows))
    cells = (*(_inside(handle, {row}) for row in rows[:-1]), REST)
    return Query(name, outcomes, cells, table[rows])


def _inside(handle: Handle, rows: set[int]) -> Cell:
    if handle.variable is None:
        return ()
    return ((handle.variable, tuple(float(row in rows) for row in handle.rows)),)


def _both(one: Cell, other: Cell) -> Cell:
    return (*one, *other)


def _none_of(belief: Belief, sensed: AnyMode) -> Cell:
    """The cell in which no part is in one of the sensed modes."""
    cell: list[tuple[str, tuple[float, ...]]] = []
    for part_name, modes in sensed.modes:
        if part_name not in belief.story.empty | belief.story.state.removed:
            part = belief.device.parts[part_name]
            weights = (1.0, *(float(mode.name not in modes) for mode in part.modes))
            cell.append((belief.story.now[part_name], weights))
    return tuple(cell)


def _not_high(belief: Belief, rail: str) -> Cell:
    """The cell in which no part drives the rail too high."""
    needs: Iterable[str] = belief.device.functions[rail].needs
    cell: list[tuple[str, tuple[float, ...]]] = []
    for name in needs:
        part = belief.device.parts.get(name)
        if part is not None and any(mode.high for mode in part.modes) and name not in belief.story.empty:
            cell.append((belief.story.now[name], (1.0, *(float(not mode.high) for mode in part.modes))))
    return tuple(cell)
