"""A shelf's best worth by another formulation in another solver: Google OR-Tools CP-SAT, in whole numbers throughout.

Nothing is put together here: every single part has a yes or no for each single need that it could serve.
"""

from __future__ import annotations

from collections import defaultdict
from typing import Any

from ortools.sat.python import cp_model

from knowngood.money.shelf.problem import Item, Offer, Problem


def best_worth(problem: Problem) -> int | None:
    """Worth of the best plan in sixtieths of a minor unit, proved; None if there is no plan."""
    model = cp_model.CpModel()
    money: list[Any] = []
    minutes: list[Any] = []
    taken: dict[str, list[Any]] = defaultdict(list)
    uses: dict[str, list[Any]] = defaultdict(list)
    """By item or offer."""
    there: dict[str, list[Any]] = defaultdict(list)
    chosen: dict[tuple[str, str], Any] = {}
    for item in problem.items:
        there[item.id].append(1)
    for unit in problem.units:
        for way in unit.ways:
            yes = chosen[unit.id, way.id] = model.new_bool_var(f"{unit.id} {way.id}")
            money.append(way.value * yes)
            minutes.append(way.minutes * yes)
            for demand in way.demands:
                taken[demand].append(yes)
            for item in way.gives:
                there[item.id].append(yes)
        model.add(sum(chosen[unit.id, way.id] for way in unit.ways) == (chosen[unit.inside] if unit.inside else 1))
    parts: list[Item | Offer] = [*problem.item.values(), *problem.offers]
    for (unit_id, way_id), yes in chosen.items():
        way = problem.way[unit_id, way_id]
        for need in way.needs:
            met = []
            for one in need.alternatives:
                met.append(model.new_bool_var(f"{unit_id} {way_id} {need.id} {one.id}"))
                money.append(-one.cost * met[-1])
                minutes.append(one.minutes * met[-1])
                for place, key in enumerate(one.takes):
                    serving = []
                    for part in parts:
                        late = isinstance(part, Offer) and way.within is not None and part.days > way.within
                        if key not in part.serves or late:
                            continue
                        use = model.new_bool_var(f"{part.id} for {unit_id} {need.id} {one.id} {place}")
                        serving.append(use)
                        uses[part.id].append(use)
                        money.append(-(part.risk + (part.price if isinstance(part, Offer) else part.cost)) * use)
                        minutes.append((part.test_minutes + (0 if isinstance(part, Offer) else part.minutes)) * use)
                    model.add(sum(serving) == met[-1])
            model.add(sum(met) == yes)
    for item in problem.item.values():
        for outlet in item.outlets:
            use = model.new_bool_var(f"{item.id} to {outlet.demand}")
            uses[item.id].append(use)
            taken[outlet.demand].append(use)
            money.append((outlet.value - item.cost) * use)
            minutes.append((outlet.minutes + item.minutes) * use)
        model.add(sum(uses[item.id]) <= sum(there[item.id]))
    for offer in problem.offers:
        if offer.most is not None:
            model.add(sum(uses[offer.id]) <= offer.most)
    for supplier in problem.suppliers:
        order = model.new_bool_var(f"order from {supplier.id}")
        money.append(-supplier.postage * order)
        for offer in problem.offers:
            if offer.supplier == supplier.id:
                for use in uses[offer.id]:
                    model.add_implication(use, order)
    for demand in problem.demands:
        count = sum(taken[demand.id])
        if demand.most is not None and taken[demand.id]:
            model.add(count <= demand.most)
        filled = [model.new_bool_var(f"{demand.id} {place}") for place in range(len(demand.steps))]
        for place, (step, yes) in enumerate(zip(demand.steps, filled, strict=True)):
            # A place is filled if and only if more than so many go there.
            model.add(count >= place + 1).only_enforce_if(yes)
            model.add(count <= place).only_enforce_if(~yes)
            money.append(step * yes)
    if problem.minutes is not None:
        model.add(sum(minutes) <= problem.minutes)
    model.maximize(60 * sum(money) - problem.hour * sum(minutes))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.linearization_level = 2
    status = solver.solve(model)
    assert status in (cp_model.OPTIMAL, cp_model.INFEASIBLE), solver.status_name(status)
    return round(solver.objective_value) if status == cp_model.OPTIMAL else None
