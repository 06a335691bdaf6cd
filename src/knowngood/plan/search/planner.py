"""The next move of an abstract repair problem: exact search where there are few sets of causes, else looking ahead."""

from __future__ import annotations

from weakref import WeakKeyDictionary

from knowngood.plan.search.best_first import Search
from knowngood.plan.search.model import Model
from knowngood.plan.search.problem import Problem, Situation

FEW_SETS = 600
"""Sets of causes up to which every move's effect is held as a full matrix and the search is between exact bounds."""

MOST_NODES = 8000
"""New nodes for one decision; about 1.5 s on one core of 2020. Small problems end long before that."""

_searches: WeakKeyDictionary[Problem, Search] = WeakKeyDictionary()


def best_move(problem: Problem, now: Situation) -> int:
    """The move to make now. What an earlier call on the same problem proved is used again."""
    search = _searches.get(problem)
    if search is None:
        search = _searches[problem] = Search(Model(problem))
    return search.find(now, MOST_NODES).move
