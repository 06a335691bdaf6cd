"""The whole shelf for people: the market, the plan, the orders."""

from __future__ import annotations

from rich.console import Console
from rich.text import Text

from knowngood.cli import shelf_shapes as shapes
from knowngood.cli.layout import grid
from knowngood.handbook.quantities import format_minutes, minor_digits, percent

WAYS = {
    "finish": "finish and sell",
    "as-is": "sell as it is",
    "parts": "part out",
    "donor": "keep whole",
    "wait": "wait",
}
"""The ways of a unit in words."""


def market(out: Console, answer: shapes.MarketAnswer) -> None:
    for line in answer.lines:
        out.print(Text(f"{line.seq:>4}  {line.line}"))
    if not answer.lines:
        out.print("No supplier, no offer, no demand yet. For example:")
        out.print('knowngood market "supplier northparts posts for EUR 6 in 3 days"', soft_wrap=True)
    for flag in answer.flags:
        out.print(Text(f"! {flag}"))


def glance(out: Console, answer: shapes.ShelfAnswer) -> None:
    if not answer.units:
        out.print("Nothing is here. Book a unit in: knowngood unit new")
        return
    if answer.accepted is None:
        out.print("No plan was accepted yet: knowngood shelf plan --accept\n")
    table = grid(("unit", "left"), ("planned", "left"), ("gets", "left"), ("waits for", "left"))
    for row in answer.units:
        gets = [f"{part} from {origin}" for part, origin in row.reserved.items()]
        gets += [f"{part}, here" for part in row.arrived]
        waits = [f"{one.part} from {one.supplier}{f', due {one.due}' if one.due else ''}" for one in row.ordered]
        planned = WAYS[row.planned] if row.planned else "-"
        table.add_row(f"{row.unit} {row.map}", planned, "\n".join(gets), "\n".join(waits))
    out.print(table)
    if answer.accepted is not None:
        _standing(out, answer.accepted)
    for one in answer.conflicts:
        out.print(Text(f"! {one}"))


def _standing(out: Console, accepted: shapes.AcceptedShape) -> None:
    out.print(Text(f"\nPlan accepted {accepted.time} (line {accepted.seq} of the bench's log)."))
    if not accepted.stale:
        out.print("Nothing was found since that it does not know of.")
        return
    out.print("! It is stale:")
    for one in accepted.changed:
        for line in one.lines:
            out.print(Text(f"  {one.log} {line}"))
    if accepted.new:
        out.print(Text(f"  new: {', '.join(accepted.new)}"))
    out.print("What that changes: knowngood shelf plan")


def plan(out: Console, answer: shapes.ShelfPlanAnswer) -> None:
    table = grid(("unit", "left"), ("what", "left"), ("with", "left"))
    for one in answer.units:
        table.add_row(one.unit, WAYS[one.way], "\n".join([*map(_settled, one.settled), *map(_given, one.gives)]))
    out.print(table)
    for order in answer.orders:
        _parcel(out, order, "\nBuy from ")
    _sums(out, answer)
    _why(out, answer)
    for unit, why in answer.troubles.items():
        out.print(Text(f"! {unit} is in no plan: {why}"))
    if answer.differences is not None:
        _differences(out, answer.differences)
    if answer.accepted:
        out.print(Text(f"\nAccepted: line {answer.accepted} of the bench's log. Orders: knowngood orders"))


def _parcel(out: Console, one: shapes.OrderShape | shapes.BasketShape, lead: str = "") -> None:
    """What comes from one supplier, and what for."""
    days = f"{one.days} day{'' if one.days == 1 else 's'}"
    out.print(Text(f"{lead}{one.supplier}: {one.payable} with {one.postage} postage, here in {days}"))
    for buy in one.parts:
        out.print(Text(f"  {buy.part} {buy.condition}, {buy.price}, for {buy.unit}"))


def _settled(one: shapes.SettledShape) -> str:
    what = " and ".join(one.parts)
    if one.origin is None:
        return f"{what}: {one.how}"
    if one.supplier:
        return f"{what} {one.origin} from {one.supplier}, {one.price}"
    sure = f" ({percent(one.chance)} likely to be fine)" if one.chance < 1.0 else ""
    return f"{what} from {one.origin}{sure}"


def _given(one: shapes.GivenShape) -> str:
    sort, _, what = one.to.partition(" ")
    if not what:
        return f"gives {one.part} to {one.to}"
    return f"{one.part} {'sold loose' if sort == 'loose' else 'kept for units to come'}"


def _money(answer: shapes.ShelfPlanAnswer, amount: float) -> str:
    return f"{answer.currency} {amount:.{minor_digits(answer.currency)}f}"


def _sums(out: Console, answer: shapes.ShelfPlanAnswer) -> None:
    took = f"{format_minutes(answer.minutes)} of {answer.hours} h in {answer.period} days"
    out.print(Text(f"\nExpected to bring {_money(answer, answer.brings)} in {took}."))
    out.print(Text(f"Beyond what an hour must bring at least, that is {_money(answer, answer.worth)}."))
    if answer.bound <= answer.worth:
        out.print("Proved: no other plan is worth more.")
    else:
        most = _money(answer, answer.bound - answer.worth)
        part = f" ({100.0 * answer.gap:.2g} %)" if answer.gap is not None else ""
        out.print(Text(f"Not proved the best ({answer.ended}): no plan is worth more than {most}{part} more."))
    if answer.rule_worth is not None:
        less = answer.worth - answer.rule_worth
        said = f"{_money(answer, less)} less" if less > 0.0 else "as much"
        out.print(Text(f"The sensible rule, best unit first, comes to {_money(answer, answer.rule_worth)}: {said}."))


def _why(out: Console, answer: shapes.ShelfPlanAnswer) -> None:
    if answer.scarce is None:
        return
    table = grid(("unit", "left"), ("what", "left"), ("next best", "left"), ("less", "right"))
    for one in answer.units:
        if one.next_best and one.next_best.way and one.next_best.most is not None:
            less = _between(answer, one.next_best.least, one.next_best.most)
            table.add_row(one.unit, WAYS[one.way], WAYS[one.next_best.way], less)
        elif one.next_best:
            table.add_row(one.unit, WAYS[one.way], "no other way", "")
    if table.row_count:
        out.print("\nWhy: what the whole shelf would be worth less if a unit went its next best way")
        out.print(table)
    scarce = [one for one in answer.scarce if one.most > 0.0]
    if scarce:
        out.print("\nWhat one more would bring")
    elif not answer.left_out:
        out.print("\nNothing is scarce: one more of anything brings nothing.")
    for one_more in scarce:
        out.print(Text(f"  {_thing(one_more)}: {_between(answer, one_more.least, one_more.most)}"))
    if answer.left_out:
        more = f" and {len(answer.left_out) - 8} more" if len(answer.left_out) > 8 else ""
        out.print(Text(f"! No time was left for: {', '.join(answer.left_out[:8])}{more}."))


def _between(answer: shapes.ShelfPlanAnswer, least: float, most: float) -> str:
    """An amount, or the two between which it lies."""
    low, high = _money(answer, least), _money(answer, most)
    return low if low == high else f"{low} to {high.partition(' ')[2]}"


def _thing(one: shapes.ScarceShape) -> str:
    """A scarce thing in words."""
    if one.kind == "hour":
        return "an hour of hands"
    if one.kind == "part":
        return f"a good {one.id.partition('/')[2]} for a {one.id.partition('/')[0]}"
    if one.kind == "offer":
        return f"one more of {one.id}"
    how, _, what = one.id.partition(" ")
    return {
        "working": f"a buyer of a working {what}",
        "as-is": f"a buyer of a {what} as it is",
        "loose": f"a buyer of a loose {what}",
    }.get(how, f"one more {what} to be kept for units to come")


def _differences(out: Console, found: list[shapes.DifferenceShape]) -> None:
    if not found:
        out.print("\nIt changes nothing of the plan that was accepted.")
        return
    out.print("\nWhat it changes of the plan that was accepted")
    for one in found:
        said = [] if one.was == one.way else [f"{WAYS[one.was] if one.was else 'not planned'} -> {WAYS[one.way]}"]
        for part, (was, now) in one.parts.items():
            said.append(f"{part} from {was or 'nowhere'} -> {now or 'nowhere'}")
        out.print(Text(f"  {one.unit}: {'; '.join(said)}"))


def orders(out: Console, answer: shapes.OrdersAnswer) -> None:
    for one in answer.sent:
        out.print(Text(f"{one.log} {one.line}"))
    if answer.sent:
        out.print()
    for basket in answer.baskets:
        _basket(out, basket, answer.currency)
    for unit, parts in answer.nowhere.items():
        out.print(Text(f"! {unit}: no supplier offers {', '.join(parts)} as wanted. Say who does: knowngood market"))
    if answer.coming:
        out.print("On order")
        for part in answer.coming:
            due = f", due {part.due}" if part.due else ""
            out.print(Text(f"  {part.part} {part.condition} for {part.unit} from {part.supplier}{due}"))
    if not (answer.baskets or answer.nowhere or answer.coming):
        out.print("Nothing is to be ordered and nothing is on order. What to buy: knowngood shelf plan --accept")


def _basket(out: Console, basket: shapes.BasketShape, currency: str) -> None:
    _parcel(out, basket)
    for maybe in basket.maybes:
        digits = minor_digits(currency)
        why = f"needed with {percent(maybe.chance)}; without it {currency} {maybe.without_it:.{digits}f} in the mean"
        spare = f"with it {currency} {maybe.with_it:.{digits}f} if not needed"
        out.print(Text(f"  and {maybe.part} {maybe.condition}, {maybe.price}, for {maybe.unit}: {why}, {spare}"))
    if basket.interval is None:
        out.print(Text(f"  Send it now: knowngood orders --send {basket.supplier}"))
    else:
        said = f"A day of waiting costs {basket.waiting}; orders {basket.interval:.1f} days apart cost least"
        out.print(Text(f"  {said}; the oldest want is {basket.age:.1f} days old."))
        if basket.send:
            out.print(Text(f"  Send it now: knowngood orders --send {basket.supplier}"))
        else:
            out.print(
                Text(f"  Wait {basket.interval - basket.age:.1f} days more for what else is wanted, then send it.")
            )
    out.print()


def arrived(out: Console, answer: shapes.ArrivedAnswer) -> None:
    for one in answer.units:
        still = f"; it still waits for {', '.join(one.still)}" if one.still else ""
        out.print(Text(f"{one.unit}: {', '.join(one.parts)} is here{still}."))
        if one.next:
            out.print(Text(f"  next: {one.next}"))
