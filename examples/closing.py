"""The end of ``month.py``: whether each cent and each part is in one place, what came of it, what looked wrong."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from hands import Hands, euros

from knowngood.bench.ledger import books_of
from knowngood.bench.shelf.planning import ShelfPlan
from knowngood.bench.stock import moves_about
from knowngood.money.ledger.yields import yields
from knowngood.money.shelf.explain import one_more
from knowngood.money.shelf.plan import SIXTIETHS, Plan
from knowngood.money.shelf.solve import solve


def check(bench: Hands) -> None:
    """The ledger closes to the cent with the till, no part is in two places, and every reservation came to an end."""
    books = books_of(bench.store).books
    for unit in bench.pieces:
        mine = sum(cents for what, cents in bench.till if what.split()[0] == unit)
        cash = books.units[unit].got - books.units[unit].paid
        assert cash.minor == mine, f"{unit}: the ledger has {cash}, the till {euros(mine)}"
    assert books.balance.minor == sum(cents for _, cents in bench.till), "the ledger is not what is in the till"
    assert books.balance == books.settled - books.in_units - books.in_parts + books.own, "the parts are not the whole"
    moved = moves_about(bench.store, bench.store.names())
    assert not moved.unexplained, "a part was taken that nobody gave"
    taken = [*moved.taken.values(), *moved.shelf]
    assert len(taken) == len(set(taken)), "a part is in two places"
    for unit in bench.pieces:
        incoming = bench.state(unit).incoming
        assert not {**incoming.reserved, **incoming.ordered}, f"{unit} still waits for something"


@dataclass(frozen=True)
class Wrong:
    """What one unit would cost, if it went the way that looks right."""

    unit: str
    way: str
    looks_right: str
    alone: float
    """Euros by which that way looks better, nobody else on the shelf."""
    loses: float
    """Euros that the whole shelf loses by it, everything else arranged anew."""
    why: tuple[str, ...]


def looks_wrong(found: ShelfPlan, asked: int = 8) -> Wrong | None:
    """The unit whose planned way is not that which is best for it alone, and that would cost most."""
    problem, answer = found.built.problem, found.answer
    candidates = []
    for unit in problem.units:
        alone = {
            one.id: solve(replace(problem, units=(replace(unit, ways=(one,)),), minutes=None)).worth
            for one in unit.ways
        }
        best, is_ = max(alone, key=lambda one: alone[one]), answer.plan.ways[unit.id]
        if alone[best] > alone[is_]:
            candidates.append((alone[best] - alone[is_], unit, best))
    worst = None
    for gain, unit, best in sorted(candidates, key=lambda one: -one[0])[:asked]:
        others = [(unit.id, one.id) for one in unit.ways if one.id != best]
        forced = solve(problem, seconds=10.0, start=answer.plan, forbid=others)
        loss = (answer.worth - forced.bound) / SIXTIETHS / 100
        if worst is None or loss > worst.loses:
            why = tuple(_reasons(found, unit.id, forced.plan))
            worst = Wrong(unit.id, answer.plan.ways[unit.id], best, gain / SIXTIETHS / 100, loss, why)
    return worst


def _reasons(found: ShelfPlan, unit: str, forced: Plan) -> Iterator[str]:
    """What else changes if a unit goes the way that looks right, and what is scarce."""
    problem, plan = found.built.problem, found.answer.plan
    for (taker, need), met in plan.met.items():
        if any(found.built.units.get(source) == unit for source in met.sources):
            then = forced.met.get((taker, need))
            how = f"would have to get it by '{then.alternative}'" if then else "would not be finished at all"
            yield f"its {need} goes to {taker}, which otherwise {how}"
    for demand in problem.way[unit, forced.ways[unit]].demands:
        most = problem.demand[demand].most
        if found.sums.taken.get(demand, 0) == most:
            yield f"only {most} buyers of '{demand}' are there, and the others who go there gain more by it"
    if problem.minutes is not None and problem.minutes - found.sums.minutes < 60:
        hour = solve(one_more(problem, "hour", ""), start=plan, seconds=10.0).worth - found.answer.worth
        yield f"the hours are all used: one more would bring EUR {hour / SIXTIETHS / 100:.2f} beyond its wage"
    turned = [
        f"{one} {plan.ways[one]} -> {to}" for one, to in forced.ways.items() if one != unit and plan.ways[one] != to
    ]
    yield f"others that would go another way then: {', '.join(turned) or 'none'}"


def report(bench: Hands, plans: list[ShelfPlan], begun: tuple[int, float], wrong: Wrong | None) -> None:
    """The ledger by map, past and source, forecast beside truth, and the decision that looked wrong."""
    books = books_of(bench.store).books
    got = sum(cents for _, cents in bench.till if cents > 0)
    print(f"\nTill: got {euros(got)}, paid {euros(got - bench.cash())}; left {euros(bench.cash())}.")
    print(f"Ledger: {books.balance}. Profit of units settled {books.settled}, in units still here {books.in_units},")
    print(f"in parts on the shelf {books.in_parts}, the shelf's own {books.own}. To the cent.")
    for by in ("map", "past", "source"):
        print(f"\n{f'by {by}':<20}{'units':>6}{'profit':>14}{'hours':>7}{'an hour':>9}{'still here':>12}")
        for row in yields(books.units.values(), by, "EUR"):
            hour = f"{row.per_hour.mean:.2f}" if row.per_hour else ""
            hours, profit = f"{row.minutes / 60:.1f}", str(row.profit)
            print(f"{row.name:<20}{row.units:>6}{profit:>14}{hours:>7}{hour:>9}{row.open_units:>12}")
    cash, minutes = begun
    brought = bench.cash() - cash - round(1200 * (bench.minutes() - minutes) / 60)
    forecast = plans[0].answer.worth / SIXTIETHS / 100
    print(f"\nForecast of the first plan, after hands at EUR 12 an hour: EUR {forecast:.2f}.")
    print(f"Since then came {euros(brought)}; {len(bench.here())} units are still here.")
    if wrong:
        print(f"\nLooks wrong, and is right: by the first plan {wrong.unit} goes '{wrong.way}'.")
        print(f"By itself it is worth EUR {wrong.alone:.2f} more if it goes '{wrong.looks_right}', and so a sensible")
        print(f"person would do. The shelf would lose EUR {wrong.loses:.2f} by it:")
        for one in wrong.why:
            print(f"  - {one}")
