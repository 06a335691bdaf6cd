"""The next move of an abstract repair problem: exact search where it is small, else looking ahead over likely sets."""

from __future__ import annotations

from weakref import WeakKeyDictionary

from knowngood.plan.search.ahead import Ahead, Effort
from knowngood.plan.search.best_first import Search
from knowngood.plan.search.likely import Device
from knowngood.plan.search.model import Model
from knowngood.plan.search.problem import Problem, Situation

FEW_SETS = 600
"""Sets of causes up to which each remedy is held as a full matrix."""

FEW_REMEDIES = 10
"""Remedies up to which the cost of every set is worked out for every choice of those that are spent."""

MOST_NODES = 6_000
"""New nodes for one decision, about a second of one core. Of 40 small problems 35 end before that, proved; on the other
five the plan in hand is the optimum by then as well."""

_searches: WeakKeyDictionary[Problem, Search] = WeakKeyDictionary()
_devices: WeakKeyDictionary[Problem, Device] = WeakKeyDictionary()


def best_move(problem: Problem, now: Situation) -> int:
    """The move to make now. What an earlier call on the same problem has found is used again.

    On large problems looking ahead leaves out what remedies may introduce; the belief in ``now`` does not.
    """
    if len(problem.remedies) <= FEW_REMEDIES and len(problem.sets) <= FEW_SETS:
        search = _searches.get(problem)
        if search is None:
            search = _searches[problem] = Search(Model(problem))
        return search.find(now, MOST_NODES).move
    return Ahead(device(problem), now, Effort()).best()


def device(problem: Problem) -> Device:
    """The arrays of a large problem, made once."""
    found = _devices.get(problem)
    if found is None:
        found = _devices[problem] = Device(problem)
    return found
