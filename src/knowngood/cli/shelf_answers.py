"""From what the bench answers about the whole shelf to the shapes that are printed or given as JSON."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from math import isfinite

from knowngood.bench.gists import Here
from knowngood.bench.market import Market
from knowngood.bench.shelf.accepted import Difference, Standing
from knowngood.bench.shelf.orders import Basket, Maybe, Orders, Woken
from knowngood.bench.shelf.planning import Going, Settled, ShelfPlan
from knowngood.bench.store import BenchEntry
from knowngood.cli import shelf_shapes as shapes
from knowngood.handbook.quantities import Money, minor_digits, total
from knowngood.log import events as ev
from knowngood.log.incoming import Order
from knowngood.log.state import Line
from knowngood.money.shelf.explain import Explanation, Price
from knowngood.money.shelf.plan import SIXTIETHS


def market(found: Market, seq: int) -> shapes.MarketAnswer:
    return shapes.MarketAnswer(
        log_seq=seq,
        lines=[shapes.MarketLine(seq=line.seq, line=ev.render(line.event)) for line in found.lines],
        flags=[f"line {flag.seq}: {flag.message}" for flag in found.flags],
    )


def glance(stands: Standing | None, rows: Iterable[Here], conflicts: Iterable[str]) -> shapes.ShelfAnswer:
    accepted = stands and shapes.AcceptedShape(
        seq=stands.seq,
        time=stands.time,
        stale=stands.stale,
        changed=[shapes.ChangedShape(log=log, lines=list(lines)) for log, lines in stands.changed.items()],
        new=list(stands.new),
    )
    return shapes.ShelfAnswer(accepted=accepted, units=[_row(row) for row in rows], conflicts=list(conflicts))


def _row(row: Here) -> shapes.ShelfRow:
    incoming = row.incoming
    return shapes.ShelfRow(
        unit=row.unit,
        map=row.map,
        planned=row.planned,
        reserved=dict(incoming.reserved),
        ordered=[_coming(part, order) for part, order in incoming.ordered.items()],
        arrived=list(incoming.arrived),
    )


def _coming(part: str, order: Order) -> shapes.ComingShape:
    return shapes.ComingShape(
        part=part, condition=order.condition, supplier=order.supplier, price=str(order.price), due=order.due
    )


def plan(
    found: ShelfPlan, differences: Iterable[Difference] | None, accepted: BenchEntry | None = None
) -> shapes.ShelfPlanAnswer:
    settings, answer = found.facts.settings, found.answer
    currency = settings.currency
    return shapes.ShelfPlanAnswer(
        currency=currency,
        period=settings.period,
        hours=settings.hours,
        minutes=found.sums.minutes,
        brings=_major(found.sums.money * SIXTIETHS, currency),
        worth=_major(answer.worth, currency),
        bound=_major(answer.bound, currency),
        gap=answer.gap if isfinite(answer.gap) else None,
        ended=str(answer.ended),
        seconds=answer.seconds,
        rule_worth=_major(found.rule.worth, currency) if found.rule else None,
        units=[_going(one, found.why, currency) for one in found.units],
        orders=_bought(found),
        scarce=None if found.why is None else [_scarce(one, currency) for one in found.why.prices],
        left_out=list(found.why.left_out) if found.why else [],
        troubles=dict(found.facts.troubles),
        differences=None if differences is None else [_difference(one) for one in differences],
        accepted=accepted.seq if accepted else None,
    )


def _major(sixtieths: int, currency: str) -> float:
    """An expectation counted in sixtieths of a minor unit, in whole units."""
    return float(sixtieths / SIXTIETHS / 10 ** minor_digits(currency))


def _next_best(unit: str, why: Explanation | None, currency: str) -> shapes.NextBest | None:
    margin = next((one for one in why.margins if one.unit == unit), None) if why else None
    if margin is None:
        return None
    return shapes.NextBest(
        way=margin.instead,
        least=_major(margin.least, currency),
        most=None if margin.most is None else _major(margin.most, currency),
    )


def _scarce(one: Price, currency: str) -> shapes.ScarceShape:
    least, most = _major(one.least, currency), _major(one.most, currency)
    return shapes.ScarceShape(kind=one.kind, id=one.id, least=least, most=most)


def _going(one: Going, why: Explanation | None, currency: str) -> shapes.GoingShape:
    return shapes.GoingShape(
        unit=one.unit,
        way=one.way,
        settled=[_settled(each) for each in one.settled],
        gives=[shapes.GivenShape(part=part, to=to) for part, to in one.gives],
        next_best=_next_best(one.unit, why, currency),
    )


def _settled(one: Settled) -> shapes.SettledShape:
    return shapes.SettledShape(
        parts=list(one.parts),
        how=one.how,
        origin=one.origin,
        supplier=one.offer.supplier if one.offer else None,
        price=str(one.offer.price) if one.offer else None,
        chance=one.chance,
    )


def _bought(found: ShelfPlan) -> list[shapes.OrderShape]:
    currency = found.facts.settings.currency
    orders = []
    for name, supplier in found.facts.market.suppliers.items():
        buys = [buy for one in found.units for buy in one.plan.buys if buy.supplier == name]
        if buys:
            orders.append(
                shapes.OrderShape(
                    supplier=name,
                    postage=str(supplier.price),
                    days=supplier.days,
                    parts=[_buy(one.unit, one.part, one.condition, one.price) for one in buys],
                    payable=str(total((one.price for one in buys), currency) + supplier.price),
                )
            )
    return orders


def _difference(one: Difference) -> shapes.DifferenceShape:
    parts = {part: [was, now] for part, (was, now) in one.parts.items()}
    return shapes.DifferenceShape(unit=one.unit, was=one.way[0], way=one.way[1], parts=parts)


def orders(found: Orders, currency: str, sent: Iterable[shapes.SentShape] = ()) -> shapes.OrdersAnswer:
    return shapes.OrdersAnswer(
        currency=currency,
        baskets=[_basket(one) for one in found.baskets],
        nowhere={unit: list(parts) for unit, parts in found.nowhere.items()},
        coming=[
            shapes.OnOrderShape(unit=unit, **_coming(part, order).model_dump()) for unit, part, order in found.coming
        ],
        sent=list(sent),
    )


def sent(lines: Mapping[str, Iterable[Line]], entry: BenchEntry | None) -> list[shapes.SentShape]:
    said = [
        shapes.SentShape(log=unit, line=f"{one.seq} {ev.render(one.event)}")
        for unit, stored in lines.items()
        for one in stored
    ]
    return said + ([shapes.SentShape(log="bench", line=f"{entry.seq} {entry.text}")] if entry else [])


def _basket(one: Basket) -> shapes.BasketShape:
    return shapes.BasketShape(
        supplier=one.supplier.name,
        parts=[_buy(want.unit, want.offer.part, want.offer.condition, want.offer.price) for want in one.wants],
        postage=str(one.supplier.price),
        payable=str(one.payable),
        days=one.supplier.days,
        interval=one.interval,
        age=one.age,
        waiting=str(one.waiting),
        send=one.send,
        maybes=[_maybe(each) for each in one.maybes],
    )


def _buy(unit: str, part: str, condition: str, price: Money) -> shapes.BuyShape:
    return shapes.BuyShape(unit=unit, part=part, condition=condition, price=str(price))


def _maybe(one: Maybe) -> shapes.MaybeShape:
    return shapes.MaybeShape(
        **_buy(one.unit, one.offer.part, one.offer.condition, one.offer.price).model_dump(),
        chance=one.chance,
        with_it=one.with_it,
        without_it=one.without_it,
    )


def woken(one: Woken, do: str | None, log: str | None, waits: bool) -> shapes.WokenShape:
    return shapes.WokenShape(
        unit=one.unit,
        parts=list(one.parts),
        still=list(one.still),
        next=do,
        log=log,
        kind="waits" if waits else "awake",
    )
