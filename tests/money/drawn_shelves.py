"""Shelves drawn at random: ``any_shelf`` small and odd, for proofs; ``trade_shelf`` of any size, like the trade's.

All figures are invented.
"""

from __future__ import annotations

from itertools import accumulate

import numpy as np

from knowngood.money.shelf.problem import (
    Alternative,
    Demand,
    Item,
    Need,
    Offer,
    Outlet,
    Problem,
    Supplier,
    Unit,
    Way,
)

Draw = np.random.Generator


def any_shelf(draw: Draw, units: int = 6, kinds: int = 5, least: int = 1) -> Problem:
    """Up to so many units (and at least so many) and part kinds, with anything that a problem can say now and then."""

    def number(low: int, high: int) -> int:
        return int(draw.integers(low, high + 1))

    def happens(chance: float) -> bool:
        return bool(draw.random() < chance)

    count = number(1, kinds)
    keys = [f"kind-{k}" for k in range(count)]
    if count > 1 and happens(0.5):
        keys.append("kind-0+kind-1")
    demands = [Demand("working", number(1, units)), Demand("as-is", number(0, 3) if happens(0.6) else None)]
    steps = [list(accumulate((number(0, 500) for _ in range(number(1, 3))), initial=0))[:0:-1] for _ in range(3)]
    demands += [
        Demand(f"likely-{n}", None if happens(0.5) else number(0, 3), tuple(step)) for n, step in enumerate(steps)
    ]
    names = [demand.id for demand in demands]

    def serves() -> frozenset[str]:
        return frozenset(keys[number(0, len(keys) - 1)] for _ in range(1 + happens(0.3)))

    def item(name: str) -> Item:
        outlets = tuple(Outlet(one, number(0, 900), number(0, 5)) for one in names[1:] if happens(0.25))
        return Item(
            name,
            serves(),
            outlets,
            number(0, 6),
            number(0, 40),
            test_minutes=number(0, 6),
            chance=0.5 + draw.random() / 2,
            if_bad=number(0, 900),
        )

    def alternative(number_of: int) -> Alternative:
        takes = tuple(keys[number(0, len(keys) - 1)] for _ in range(number(0, 2) if happens(0.3) else 1))
        return Alternative(f"by-{number_of}", number(0, 400), number(0, 20), takes)

    def way(unit: int, name: str) -> Way:
        needs = tuple(
            Need(f"need-{n}", tuple(alternative(a) for a in range(number(1, 2)))) for n in range(number(0, 2))
        )
        return Way(
            name,
            number(-200, 4000),
            number(0, 60),
            tuple(one for one in names if happens(0.25)),
            needs if name == "finish" else (),
            tuple(item(f"u{unit}-{name}-{n}") for n in range(number(1, 3))) if happens(0.4) else (),
            number(0, 10) if happens(0.5) else None,
        )

    made: list[Unit] = []
    for unit in range(number(least, units)):
        ways = [way(unit, name) for name in ("finish", "parts")[: number(1, 2)]]
        inside = None
        if made and happens(0.25):
            outer = made[number(0, len(made) - 1)]
            inside = (outer.id, outer.ways[number(0, len(outer.ways) - 1)].id)
        waits = () if happens(0.1) else (Way("wait", number(0, 600)),)
        made.append(Unit(f"u{unit}", (*ways, *waits), inside))
    suppliers = tuple(Supplier(f"s{n}", number(0, 500)) for n in range(number(1, 2)))
    offers = tuple(
        Offer(
            f"o{n}",
            suppliers[number(0, len(suppliers) - 1)].id,
            serves(),
            number(0, 800),
            number(0, 10),
            number(0, 2) if happens(0.5) else None,
            test_minutes=number(0, 5),
            chance=0.8 + draw.random() / 5,
            if_bad=number(0, 500),
        )
        for n in range(number(0, 3))
    )
    return Problem(
        tuple(made),
        tuple(item(f"loose-{n}") for n in range(number(0, 3))),
        tuple(demands),
        suppliers,
        offers,
        number(0, 60 * units) if happens(0.7) else None,
        number(0, 3000),
    )


def trade_shelf(draw: Draw, units: int = 300, kinds: int = 40, suppliers: int = 12) -> Problem:
    """A shelf of several maps, each of about seven kinds of parts with one married pair and one that is revised."""
    maps = max(1, kinds // 7)
    of_map = [[k for k in range(kinds) if k % maps == m] for m in range(maps)]
    price = draw.uniform(6000, 25000, maps)
    used = [price[k % maps] * draw.uniform(0.03, 0.15) for k in range(kinds)]
    odds = draw.uniform(0.1, 0.4, kinds)
    demands: list[Demand] = []
    for m in range(maps):
        share = units / maps
        chance = np.sort(draw.uniform(0.05, 0.95, 6))[::-1]
        demands += [
            Demand(f"m{m} working", int(share * draw.uniform(0.3, 0.7)) + 1),
            Demand(f"m{m} as-is", int(share * draw.uniform(0.1, 0.4)) + 1),
            Demand(f"m{m} donor", 4, tuple(int(0.3 * price[m] * one) for one in chance[:4])),
        ]
    for k in range(kinds):
        chance = np.sort(draw.uniform(0.05, 0.95, 6))[::-1]
        demands.append(Demand(f"k{k} sold", int(units / kinds * draw.uniform(0.2, 1.0)) + 1))
        demands.append(Demand(f"k{k} kept", None, tuple(int(0.8 * used[k] * one) for one in chance)))

    def keys(k: int) -> frozenset[str]:
        """The last kind of each map has a revision B that also serves as A."""
        if k == of_map[k % maps][-1]:
            return frozenset([f"k{k}@A"] if draw.random() < 0.6 else [f"k{k}@A", f"k{k}@B"])
        return frozenset([f"k{k}"])

    def need_key(k: int) -> str:
        if k == of_map[k % maps][-1]:
            return f"k{k}@{'A' if draw.random() < 0.6 else 'B'}"
        return f"k{k}"

    def item(name: str, k: int) -> Item:
        outlets = (
            Outlet(f"k{k} sold", int(used[k] * draw.uniform(0.5, 0.9)), int(draw.integers(5, 15))),
            Outlet(f"k{k} kept"),
        )
        minutes, test = int(draw.integers(2, 12)), int(draw.integers(2, 10))
        chance, if_bad = float(draw.uniform(0.7, 0.99)), int(1.5 * used[k])
        return Item(name, keys(k), outlets, minutes, test_minutes=test, chance=chance, if_bad=if_bad)

    def unit(number: int) -> Unit:
        m = int(draw.integers(maps))
        bad = [k for k in of_map[m] if draw.random() < odds[k]]
        good = [k for k in of_map[m] if k not in bad]
        pair = of_map[m][:2]
        married = len(pair) == 2 and bool(set(pair) & set(bad))
        needs: list[Need] = []
        if married:
            cost = int(used[pair[0]] * draw.uniform(0.5, 1.0))
            both = f"k{pair[0]}+k{pair[1]}"
            needs.append(
                Need(both, (Alternative("mend", cost, int(draw.integers(20, 90))), Alternative("take", 0, 15, (both,))))
            )
        for k in bad:
            if married and k in pair:
                continue
            ways = [Alternative("take", 0, int(draw.integers(5, 25)), (need_key(k),))]
            if draw.random() < 0.6:
                ways.append(Alternative("mend", int(used[k] * draw.uniform(0.1, 0.9)), int(draw.integers(10, 60))))
            if draw.random() < 0.3:
                ways.append(Alternative("without", int(price[m] * draw.uniform(0.1, 0.3))))
            needs.append(Need(f"k{k}", tuple(ways)))
        gives = [item(f"u{number} k{k}", k) for k in good if k not in pair]
        if len(pair) == 2 and not married:
            worth = int(used[pair[0]] + used[pair[1]])
            outlets = (Outlet(f"k{pair[0]} sold", worth, 12), Outlet(f"k{pair[0]} kept", worth // 3))
            serves = frozenset([f"k{pair[0]}+k{pair[1]}"])
            good = float(draw.uniform(0.7, 0.99))
            gives.append(Item(f"u{number} pair", serves, outlets, 15, test_minutes=15, chance=good, if_bad=worth))
        value = int(price[m] * draw.uniform(0.75, 1.0))
        as_is = int(price[m] * draw.uniform(0.1, 0.3))
        return Unit(
            f"u{number}",
            (
                Way("finish", value, int(draw.integers(20, 120)), (f"m{m} working",), tuple(needs), (), 30),
                Way("as-is", as_is, int(draw.integers(8, 20)), (f"m{m} as-is",)),
                Way("parts", 0, int(draw.integers(15, 45)), (), (), tuple(gives)),
                Way("donor", 0, 3, (f"m{m} donor",)),
                Way("wait", int(as_is * draw.uniform(0.2, 0.6))),
            ),
        )

    offers: list[Offer] = []
    for k in range(kinds):
        for s in draw.choice(suppliers, size=min(suppliers, int(draw.integers(1, 4))), replace=False):
            dear = float(draw.uniform(1.2, 2.5))
            offers.append(
                Offer(
                    f"s{s} k{k}",
                    f"s{s}",
                    keys(k),
                    int(used[k] * dear),
                    int(draw.integers(2, 45)),
                    test_minutes=2,
                    chance=0.97,
                    if_bad=500,
                )
            )
    return Problem(
        tuple(unit(number) for number in range(units)),
        tuple(item(f"loose-{n}", int(draw.integers(kinds))) for n in range(units // 6)),
        tuple(demands),
        tuple(Supplier(f"s{s}", int(draw.integers(300, 1500))) for s in range(suppliers)),
        tuple(offers),
        units * 45,
        1500,
    )
