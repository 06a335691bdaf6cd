"""In which order to sum variables out, and the tree of tables that follows from it.

A plan is made from names and state counts alone, so that its cost can be looked at, and refused, before any memory is
taken. The order is the greedy least-fill one (U. Kjærulff, Triangulation of graphs, 1990), the tree the usual one of
maximal cliques.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from heapq import heapify, heappop, heappush
from itertools import combinations
from math import prod

Score = Callable[[int, int], tuple[int, int]]
"""What eliminating a variable now costs, from the edges that this adds and the entries of its neighbours' table."""

SMALL = 2**12
"""Entries of a table up to which two are put together."""

WORTH_IT = 1.5
"""How much more two tables may be as one than apart, with what they tell each other: of drawn devices the tables that
hold only what is possible were then smallest."""

CHEAP = 200
"""Entries for each variable; below that, one order is as good as another."""


@dataclass(frozen=True)
class Clique:
    """One table of the tree. ``variables`` stand in order of elimination.

    The first ``own`` of them are summed out here; the rest is the separator, which the clique ``parent`` (its index in
    the plan, always a later one) holds too. A root has no separator and ``parent`` None.
    """

    variables: tuple[str, ...]
    own: int
    parent: int | None
    entries: int

    @property
    def separator(self) -> tuple[str, ...]:
        return self.variables[self.own :]


@dataclass(frozen=True)
class Plan:
    """What exact inference will cost: ``largest`` and ``total`` count table entries for one row of evidence."""

    order: tuple[str, ...]
    cliques: tuple[Clique, ...]
    largest: int
    total: int

    @property
    def children(self) -> list[list[int]]:
        """For each clique those it is the parent of."""
        children: list[list[int]] = [[] for _ in self.cliques]
        for i, clique in enumerate(self.cliques):
            if clique.parent is not None:
                children[clique.parent].append(i)
        return children

    def __str__(self) -> str:
        lines = [
            f"{len(self.order)} variables in {len(self.cliques)} tables; "
            f"largest table {self.largest} entries, all tables {self.total} entries"
        ]
        for number, clique in enumerate(self.cliques, 1):
            own, rest = " ".join(clique.variables[: clique.own]), " ".join(clique.separator)
            target = "" if clique.parent is None else f" given {rest}, to table {clique.parent + 1}"
            lines.append(f"  table {number} ({clique.entries} entries): {own}{target}")
        return "\n".join(lines)


def make_plan(states: Mapping[str, int], scopes: Iterable[tuple[str, ...]]) -> Plan:
    """The greedy order of least fill; where its tables are not ``CHEAP``, the smallest table first if that is better.

    Runs with some chance in the choice, a dozen for each network, found nothing better on the logs of drawn devices.
    """
    scopes = list(scopes)
    plan = _tree(states, _eliminate(states, scopes, lambda fill, size: (fill, size)))
    if plan.total > CHEAP * len(states):
        other = _tree(states, _eliminate(states, scopes, lambda fill, size: (size, fill)))
        plan = min(plan, other, key=lambda plan: plan.total)
    return plan


def _eliminate(states: Mapping[str, int], scopes: list[tuple[str, ...]], score: Score) -> dict[str, set[str]]:
    """Each variable, in order of elimination, with its neighbours at that moment.

    Fill-in counts and table sizes are kept up to date edge by edge; recounting them would take most of the time.
    """
    near: dict[str, set[str]] = {v: set() for v in states}
    for scope in scopes:
        for v in scope:
            near[v].update(scope)
    for v, around in near.items():
        around.discard(v)
    fill = {v: sum(len(around) - 1 - len(around & near[a]) for a in around) // 2 for v, around in near.items()}
    size = {v: prod((states[a] for a in around), start=states[v]) for v, around in near.items()}
    place = {v: i for i, v in enumerate(states)}
    scored = {v: score(fill[v], size[v]) for v in states}
    heap = [(scored[v], place[v], v) for v in states]
    heapify(heap)
    later: dict[str, set[str]] = {}
    while heap:
        found, _, v = heappop(heap)
        if v in later or found != scored[v]:
            continue
        around = later[v] = near.pop(v)
        touched = set(around)
        for a, b in combinations(around, 2):
            if b in near[a]:
                continue
            shared = near[a] & near[b]
            shared.discard(v)
            for w in shared:
                fill[w] -= 1
            fill[a] += len(near[a] - near[b])
            fill[b] += len(near[b] - near[a])
            near[a].add(b)
            near[b].add(a)
            size[a] *= states[b]
            size[b] *= states[a]
            touched |= shared
        for a in around:
            fill[a] -= len(near[a] - around) - 1  # the missing pairs that held v itself
            near[a].discard(v)
            size[a] //= states[v]
        for a in touched:
            scored[a] = score(fill[a], size[a])
            heappush(heap, (scored[a], place[a], a))
    return later


def _tree(states: Mapping[str, int], later: dict[str, set[str]]) -> Plan:
    """Merge elimination cliques into maximal ones; hang each on the clique that next removes one of its variables."""
    place = {v: i for i, v in enumerate(later)}
    members: list[set[str]] = []
    separators: list[list[str]] = []
    parents: list[int | None] = []
    waiting: defaultdict[str, list[int]] = defaultdict(list)
    for v, around in later.items():
        children = waiting.pop(v, [])
        # A child whose separator is all of {v} and its neighbours already holds this clique: it goes on removing v.
        here = next((c for c in children if len(separators[c]) == len(around) + 1), len(members))
        separator = sorted(around, key=place.__getitem__)
        if here == len(members):
            members.append({v} | around)
            separators.append(separator)
            parents.append(None)
        separators[here] = separator
        for c in children:
            parents[c] = here if c != here else None
        if separator:
            waiting[separator[0]].append(here)

    # Sorted by the last variable each removes, a clique always comes before its parent.
    tables = [sorted(m, key=place.__getitem__) for m in members]
    last = [place[t[len(t) - len(s) - 1]] for t, s in zip(tables, separators, strict=True)]
    ranked = sorted(range(len(tables)), key=last.__getitem__)
    rank = {old: new for new, old in enumerate(ranked)}
    cliques = []
    for i in ranked:
        parent = parents[i]
        own = len(tables[i]) - len(separators[i])
        entries = prod(states[v] for v in tables[i])
        cliques.append(Clique(tuple(tables[i]), own, None if parent is None else rank[parent], entries))
    return _plan(tuple(later), cliques)


def _plan(order: tuple[str, ...], cliques: Sequence[Clique]) -> Plan:
    sizes = [clique.entries for clique in cliques]
    return Plan(order, tuple(cliques), max(sizes, default=0), sum(sizes))


def merged(plan: Plan, states: Mapping[str, int]) -> Plan:
    """The plan with small tables put together with that of their parent, where that makes little more to multiply and
    add: most tables cost more to make than to work with, and what two tell each other is as long as they are."""
    place = {v: i for i, v in enumerate(plan.order)}
    tables = list(plan.cliques)
    into = list(range(len(tables)))
    """Each table's parent if it went into that, else itself."""
    for i, parent in enumerate(clique.parent for clique in plan.cliques):
        if parent is None:
            continue
        ours, theirs = tables[i], tables[parent]
        separator = prod(states[v] for v in ours.separator)
        entries = theirs.entries * (ours.entries // separator)
        if entries <= min(SMALL, WORTH_IT * (ours.entries + theirs.entries + 2 * separator)):
            variables = tuple(sorted({*ours.variables, *theirs.variables}, key=place.__getitem__))
            tables[parent] = Clique(variables, ours.own + theirs.own, theirs.parent, entries)
            into[i] = parent
    for i in reversed(range(len(into))):
        into[i] = into[into[i]]
    kept = [i for i in range(len(tables)) if into[i] == i]
    rank = {old: new for new, old in enumerate(kept)}
    above = (tables[i].parent for i in kept)
    parents = (None if parent is None else rank[into[parent]] for parent in above)
    return _plan(plan.order, [replace(tables[i], parent=parent) for i, parent in zip(kept, parents, strict=True)])
