"""Best-first search between two bounds, exact where it comes to an end.

Each node is a belief on a bench. From the start the move with the least lower bound is followed, at tests to the
outcome that leaves most open, until what comes out is known; then the bounds go up to all who build on them (AO*:
A. Martelli, U. Montanari, Optimizing decision trees through heuristically guided search, CACM 21 (1978); trials between
two bounds: T. Smith, R. Simmons, UAI 2004). Equal beliefs reached in different order are one node. As tests are made
once and remedies spent, every line of moves ends, so the search ends with the optimum unless the nodes run out.
"""

from __future__ import annotations

import heapq
from dataclasses import dataclass
from math import inf

import numpy as np

from knowngood.plan.search.chain import NOTHING, Chains
from knowngood.plan.search.model import Model
from knowngood.plan.search.problem import Array, Situation

EXACT = 1e-9
"""Bounds nearer than this, relative to the loss from giving up, count as met."""


class Node:
    """A belief on a bench, with bounds on what the rest of the job costs."""

    __slots__ = (
        "belief",
        "check",
        "children",
        "low",
        "lows",
        "made",
        "opened",
        "parents",
        "rank",
        "spent",
        "told",
        "unchecked",
        "up",
    )

    def __init__(self, belief: Array, made: int, spent: int, opened: int, unchecked: bool) -> None:
        self.belief, self.made, self.spent, self.opened, self.unchecked = belief, made, spent, opened, unchecked
        self.low, self.up = 0.0, inf
        self.lows: list[float] = []
        self.told: list[float] = []
        self.children: dict[int, list[tuple[float, Node]]] = {}
        self.parents: list[tuple[Node, int]] = []
        self.rank = 0


@dataclass(frozen=True)
class Found:
    """The move, and between what bounds its cost lies; ``proved`` if no move can cost less."""

    move: int
    low: float
    up: float
    proved: bool
    nodes: int


class Search:
    """The nodes of one problem; what was proved once stays known."""

    def __init__(self, model: Model) -> None:
        self._model, self._chains = model, Chains(model)
        self._nodes: dict[tuple[bytes, int, int, int, bool], Node] = {}
        self._near = EXACT * max(model.problem.give_up, NOTHING)

    def find(self, now: Situation, most_nodes: int) -> Found:
        """The move to make now, from at most about ``most_nodes`` new nodes."""
        at = now.standing
        root = self._node(now.belief, at.made, at.spent, at.opened, at.unchecked)
        started = len(self._nodes)
        while root.up - root.low > self._near and len(self._nodes) - started < most_nodes:
            self._trial(root)
        return Found(self._move(root), root.low, root.up, root.up - root.low <= self._near, len(self._nodes) - started)

    def _move(self, node: Node) -> int:
        """The first move of the plan that costs least; what is searched goes before the fixed order of remedies."""
        best = min(sorted(node.children), key=lambda move: self._up(node, move), default=None)
        if best is not None and self._up(node, best) <= node.up + self._near:
            return best
        if node.up >= self._model.problem.give_up:
            return self._model.problem.giving_up
        return self._chains.first(node.belief, node.spent, node.opened, node.unchecked)

    def _node(self, belief: Array, made: int, spent: int, opened: int, unchecked: bool) -> Node:
        key = (np.round(belief, 9).tobytes(), made, spent, opened, unchecked)
        node = self._nodes.get(key)
        if node is None:
            node = self._nodes[key] = Node(belief, made, spent, opened, unchecked)
            self._bound(node)
        return node

    def _bound(self, node: Node) -> None:
        model, problem = self._model, self._model.problem
        bench = model.bench(node.spent, node.opened)
        lows = (bench.bound @ node.belief).tolist()
        node.told = (model.told @ node.belief).tolist()
        tests = len(problem.tests)
        for move, told in enumerate(node.told):
            if move < tests:
                if node.made >> move & 1 or told < NOTHING or told > 1.0 - NOTHING:
                    lows[move] = inf
            elif told < NOTHING or not bench.usable[move]:
                lows[move] = inf
        if not node.unchecked or node.belief[0] < NOTHING:
            lows[problem.check] = inf
        node.lows = lows
        node.rank = 2 * (node.made.bit_count() + bench.rank) + (not node.unchecked)
        node.up = min(problem.give_up, self._chains.cost(node.belief, node.spent, node.opened, node.unchecked))
        node.low = min(min(lows), problem.give_up, node.up)

    def _trial(self, root: Node) -> None:
        """One line of moves down from the root, then the bounds up again."""
        path, node = [], root
        while node.up - node.low > self._near:
            move = min(range(len(node.lows)), key=node.lows.__getitem__)
            if node.lows[move] >= self._model.problem.give_up:
                break
            if move not in node.children:
                self._branch(node, move)
            path.append(node)
            if not node.children[move]:
                break
            _, node = max(node.children[move], key=lambda one: one[0] * (one[1].up - one[1].low))
        self._raise(path)

    def _branch(self, node: Node, move: int) -> None:
        model, problem = self._model, self._model.problem
        bench = model.bench(node.spent, node.opened)
        after = bench.after[move]
        children: list[tuple[float, Node]] = []
        if move == problem.check:
            works = float(node.belief[0])
            if works < 1.0 - NOTHING:
                failed = node.belief / (1.0 - works)
                failed[0] = 0.0
                children.append((1.0 - works, self._node(failed, node.made, *after, False)))
        elif move < len(problem.tests):
            bad = node.belief * model.bad[move]
            made = node.made | 1 << move
            for chance, weight in ((node.told[move], bad), (1.0 - node.told[move], node.belief - bad)):
                children.append((chance, self._node(weight / chance, made, *after, node.unchecked)))
        else:
            moved = node.belief @ model.moves[move - len(problem.tests)]
            children.append((1.0, self._node(moved, node.made, *after, True)))
        node.children[move] = children
        for _, child in children:
            child.parents.append((node, move))

    def _own(self, node: Node, move: int) -> float:
        bench = self._model.bench(node.spent, node.opened)
        closing = float(node.belief[0]) * bench.success if move == self._model.problem.check else 0.0
        return bench.cost[move] + closing

    def _up(self, node: Node, move: int) -> float:
        return self._own(node, move) + sum(chance * child.up for chance, child in node.children[move])

    def _raise(self, path: list[Node]) -> None:
        """New bounds for the nodes and, where they changed, for all that build on them, the latest first."""
        waiting = [(-node.rank, id(node), node) for node in path]
        heapq.heapify(waiting)
        seen = {id(node) for node in path}
        while waiting:
            _, key, node = heapq.heappop(waiting)
            seen.discard(key)
            low, up = node.low, node.up
            for move, children in node.children.items():
                own = self._own(node, move)
                node.lows[move] = max(node.lows[move], own + sum(chance * child.low for chance, child in children))
                node.up = min(node.up, own + sum(chance * child.up for chance, child in children))
            node.low = max(node.low, min(min(node.lows), self._model.problem.give_up, node.up))
            if node.low != low or node.up != up:
                for parent, _ in node.parents:
                    if id(parent) not in seen:
                        seen.add(id(parent))
                        heapq.heappush(waiting, (-parent.rank, id(parent), parent))
