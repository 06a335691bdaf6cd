"""AND/OR graphs of taking things apart: their published size, and the way in on the small ones.

Representation: L. S. Homem de Mello and A. C. Sanderson, "AND/OR graph representation of assembly plans", AAAI 1986: a
node is a connected subassembly, a hyperarc splits one into two connected halves, a plan is a binary tree of splits.
Counts by closed form. Chain of n: n(n+1)/2 nodes, (n-1)n(n+1)/6 hyperarcs, Catalan(n-1) plans. All pairs joined:
2^n - 1, (3^n - 2^(n+1) + 1)/2, (2n-3)!!. Ring, star and all pairs but one: counted (the project's own figures).
"""

from __future__ import annotations

from functools import cache
from itertools import combinations
from math import comb, prod

import pytest

from knowngood.maps.access import cost, way_in
from knowngood.maps.device import Step

Parts = frozenset[int]
Joints = frozenset[frozenset[int]]


def chain(count: int) -> Joints:
    return frozenset(frozenset({one, one + 1}) for one in range(count - 1))


def ring(count: int) -> Joints:
    return chain(count) | {frozenset({0, count - 1})}


def star(count: int) -> Joints:
    return frozenset(frozenset({0, one}) for one in range(1, count))


def all_pairs(count: int) -> Joints:
    return frozenset(frozenset(pair) for pair in combinations(range(count), 2))


def connected(parts: Parts, joints: Joints) -> bool:
    reached, waiting = set(), [min(parts)]
    while waiting:
        one = waiting.pop()
        if one not in reached:
            reached.add(one)
            waiting += [other for joint in joints if one in joint for other in joint & parts]
    return reached == parts


def graph(joints: Joints) -> dict[Parts, list[tuple[Parts, Parts]]]:
    """For each connected subassembly its splits into two connected halves."""
    whole = sorted({part for joint in joints for part in joint})
    some = [frozenset(one) for size in range(1, len(whole) + 1) for one in combinations(whole, size)]
    nodes = [one for one in some if connected(one, joints)]
    known = set(nodes)
    return {
        node: [(half, node - half) for half in nodes if half < node and min(node) in half and node - half in known]
        for node in nodes
    }


def plans(splits: dict[Parts, list[tuple[Parts, Parts]]]) -> int:
    @cache
    def of(node: Parts) -> int:
        return 1 if len(node) == 1 else sum(of(one) * of(other) for one, other in splits[node])

    return of(max(splits, key=len))


def size(joints: Joints) -> tuple[int, int, int]:
    splits = graph(joints)
    return len(splits), sum(map(len, splits.values())), plans(splits)


@pytest.mark.parametrize(
    ("joints", "counts"),
    [
        (chain(4), (10, 10, 5)),
        (chain(7), (28, 56, 132)),
        (chain(8), (36, 84, 429)),
        (all_pairs(4), (15, 25, 15)),
        (all_pairs(5), (31, 90, 105)),
        (all_pairs(6), (63, 301, 945)),
        (all_pairs(7), (127, 966, 10395)),
        (all_pairs(4) - {frozenset({2, 3})}, (14, 21, 12)),
        (ring(4), (13, 18, 10)),
        (star(4), (11, 12, 6)),
    ],
)
def test_the_graph_has_its_published_size(joints: Joints, counts: tuple[int, int, int]) -> None:
    assert size(joints) == counts


@pytest.mark.parametrize("count", range(2, 8))
def test_the_closed_forms(count: int) -> None:
    n = count
    assert size(chain(n)) == (n * (n + 1) // 2, (n - 1) * n * (n + 1) // 6, comb(2 * n - 2, n - 1) // n)
    odd = prod(range(1, 2 * n - 2, 2))
    assert size(all_pairs(n)) == (2**n - 1, (3**n - 2 ** (n + 1) + 1) // 2, odd)


def as_steps(joints: Joints) -> dict[str, Step]:
    """The graph as access: a subassembly is free once one of the splits that give it is done, a split takes a minute
    once its subassembly is free."""
    splits = graph(joints)
    arcs = [(node, half, rest) for node, pairs in splits.items() for half, rest in pairs]
    steps = {}
    for node in splits:
        gives = tuple(named(*arc) for arc in arcs if node in arc[1:])
        name = named(node)
        steps[name] = Step(name, name, (), 0.0, 0.0, any_of=(gives,) if gives else ())
    for arc in arcs:
        steps[named(*arc)] = Step(named(*arc), "split", (named(arc[0]),), 1.0, 0.0)
    return steps


def named(*subassemblies: Parts) -> str:
    return "=".join("".join(map(str, sorted(one))) for one in subassemblies)


@pytest.mark.parametrize("joints", [chain(3), chain(4), chain(5), ring(4), star(4), all_pairs(4)])
def test_the_way_in_takes_a_whole_apart_in_as_many_splits_as_a_plan_has(joints: Joints) -> None:
    """A plan is a binary tree: one split fewer than there are parts. One part alone is freed by fewer."""
    steps = as_steps(joints)
    parts = sorted({part for joint in joints for part in joint})
    order = way_in(steps, frozenset(), [str(part) for part in parts])
    assert cost(steps, order)[1] == len(parts) - 1
    assert cost(steps, way_in(steps, frozenset(), [str(parts[-1])]))[1] == 1  # an end, or what leaves the rest whole


def test_the_hub_of_a_star_is_free_only_when_every_arm_is_off() -> None:
    steps = as_steps(star(4))
    assert cost(steps, way_in(steps, frozenset(), ["0"]))[1] == 3
