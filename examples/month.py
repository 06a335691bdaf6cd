"""A month of a shelf: 40 broken units of two invented families are bought, planned, mended, parted and sold.

``python examples/month.py`` takes a minute or two, with ``--units 8`` some seconds. What is wrong with a unit is drawn
and hidden; the person of this script (``hands.py``) does what a person with the command line would do, by the same
functions. Suppliers, prices and buyers are invented. At the end (``closing.py``) the ledger is held against the till, a
plain list of what went out and came in, and one decision is told that a sensible person would have got wrong.
"""

from __future__ import annotations

import argparse
import tempfile
from collections import Counter
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path

import numpy as np
from closing import Wrong, check, looks_wrong, report
from hands import Hands, Piece, euros

from knowngood.bench import instruments, market, work
from knowngood.bench.shelf import orders
from knowngood.bench.shelf.accepted import accept, differences, standing
from knowngood.bench.shelf.facts import facts
from knowngood.bench.shelf.planning import ShelfPlan, planned
from knowngood.bench.stock import stock
from knowngood.bench.store import Store
from knowngood.errors import TooLargeError
from knowngood.handbook.quantities import Money
from knowngood.maps.load import load
from knowngood.money.shelf.plan import SIXTIETHS
from knowngood.plan.hazards import Act
from knowngood.plan.lifting import allowed
from knowngood.plan.moves import Move
from knowngood.plan.policies import POLICIES
from knowngood.plan.rehearse import drawn_unit
from knowngood.plan.terms import RETURN_LOSS_SHARE, terms

FIRST, LAST, PLANS, BUYING = date(2027, 3, 1), 30, (6, 13, 20, 27), 5
HOURS, FEE, CARRIAGE, LISTING = 70, 12, 1400, 30
"""Hands-on hours of the month, the market place's share in per cent, cents to send a unit, minutes to list one."""

PASTS = ("dropped", "", "wet", "aged", "opened-before", "surged", "hot", "")
SOURCES = ("house-clearance", "returns-pallet", "flea-market")
PRICES = {"ceiling-projector": (24, 46), "pocket-navigator": (12, 30)}
"""Whole euros that a broken one costs, from and to."""

MARKET = """
supplier northparts posts for EUR 6.50 in 3 days
supplier harbour-spares posts for EUR 4.20 in 6 days
offers northparts ceiling-projector/exhaust-fan new at EUR 9.90
offers northparts ceiling-projector/lamp-module new at EUR 58
offers northparts ceiling-projector/remote-control new at EUR 11.50
offers northparts pocket-navigator/screen new at EUR 33
offers northparts pocket-navigator/cell-pack new at EUR 17.40
offers northparts pocket-navigator/touch-glass new at EUR 15.20
offers harbour-spares ceiling-projector/lamp-module used at EUR 26
offers harbour-spares ceiling-projector/main-board used at EUR 36
offers harbour-spares ceiling-projector/ballast used at EUR 24
offers harbour-spares pocket-navigator/charge-port new at EUR 1.80
offers harbour-spares pocket-navigator/loudspeaker new at EUR 2.60
demand ceiling-projector/projection-lens at most 2 at EUR 24
demand ceiling-projector/lamp-module at most 2 at EUR 19
demand pocket-navigator/screen at most 2 at EUR 17
""".strip().splitlines()

BUYERS = {
    ("ceiling-projector", "working"): (12, 205), ("ceiling-projector", "as-is"): (4, 102),
    ("pocket-navigator", "working"): (12, 158), ("pocket-navigator", "as-is"): (4, 66),
}  # fmt: skip
"""How many buyers take in the month for each 20 units bought, and the whole euros that they pay."""

INTAKE_MINUTES, STEPS = 10.0, 7
"""What is tried on a unit as it comes in; decisions at the bench before it goes back to the shelf."""

RULE = POLICIES["most probable part first"]


@dataclass(kw_only=True)
class Month(Hands):
    """The bench day by day."""

    count: int
    """Units that are bought."""
    draw: np.random.Generator
    day: int = 0
    begun: tuple[int, float] | None = None
    """Cents in the till and hands-on minutes before the first plan."""
    sold: Counter[tuple[str, str]] = field(default_factory=Counter)
    due: set[tuple[str, str]] = field(default_factory=set)
    """Suppliers and the days on which parcels of theirs come."""

    def clock(self) -> str:
        return f"{FIRST + timedelta(days=self.day - 1)}T09:00:00Z"

    def say(self, text: str) -> None:
        print(f"day {self.day:2}  {text}", flush=True)

    def buy(self, number: int) -> None:
        """One more unit, and ten minutes with it."""
        name = sorted(PRICES)[number % 2]
        device, past = load(name), PASTS[int(self.draw.integers(len(PASTS)))]
        pasts = (past,) if past else ()
        cents = 100 * int(self.draw.integers(*PRICES[name]))
        source = SOURCES[int(self.draw.integers(len(SOURCES)))]
        unit = work.new_unit(self.store, name, Money("EUR", cents), pasts, source=source)
        bench = terms(device, hour=12.0, fee_share=FEE / 100, carriage=CARRIAGE / 100, return_share=0.04)
        hidden = drawn_unit(number, device, pasts, int(self.draw.integers(2**31)))
        piece = self.pieces[unit] = Piece(unit, hidden, bench)
        self.till.append((f"{unit} bought", -cents))
        minutes = 0.0
        for move in piece.now().tries():
            fits = not move.opens and not move.closes and minutes + move.minutes <= INTAKE_MINUTES
            if fits and piece.now().first_allowed(iter([move])) is move:
                self.carry_out(piece, move)
                minutes += move.minutes

    def plan(self) -> ShelfPlan:
        """What buyers still take and hours are left goes to the bench's log; then the shelf is planned and accepted."""
        left = HOURS * self.count / 40 - self.minutes() / 60
        work.bench_set(self.store, "hours", str(max(0, round(left))))
        wanted = [
            f"demand {name} {how} at most {self.most(name, how)} at EUR {price}"
            for (name, how), (_, price) in BUYERS.items()
        ]
        market.change(self.store, [*wanted, *(MARKET if self.day == PLANS[0] else [])])
        before = standing(self.store)
        found = planned(facts(self.store), seconds=20.0)
        plans = [one.plan for one in found.units]
        if before and before.stale:
            changed = differences(self.store, plans)
            told = ", ".join(f"{one.unit} {one.way[0]} -> {one.way[1]}" for one in changed if one.way[0] != one.way[1])
            self.say(f"the plan was stale ({len(before.changed)} logs went on); what that changes: {told or 'no way'}")
        accept(self.store, plans, found.facts.after)
        ways = Counter(one.way for one in found.units)
        worth, rule = found.answer.worth / SIXTIETHS / 100, found.rule.worth / SIXTIETHS / 100 if found.rule else 0.0
        self.say(
            f"plan: {', '.join(f'{count} {name}' for name, count in ways.items())}; expected EUR {worth:.2f}, "
            f"{found.answer.ended}; best unit first: {rule:.2f}, {worth - rule:.2f} less"
        )
        return found

    def most(self, name: str, how: str) -> int:
        return max(0, round(BUYERS[name, how][0] * self.count / 40) - self.sold[name, how])

    def follow(self, found: ShelfPlan) -> None:
        """First those that give parts, then sales as they are, then what can be finished with what is here."""
        for one in found.units:
            if one.way == "parts":
                self.part_out(self.pieces[one.unit], one.gives)
        for source, demand in found.answer.plan.outlets.items():
            unit, _, part = source.partition("/")
            if "#" in part and demand.startswith("loose "):
                self.vend(self.pieces[unit], part.partition("#")[0])
        for one in found.units:
            if one.way == "as-is":
                self.sell(self.pieces[one.unit], "as-is")
        self.send()
        for one in found.units:
            piece = self.pieces[one.unit]
            piece.mends = tuple((need.parts[0], need.how) for need in one.settled if not need.origin)
            if one.way == "finish":
                self.finish(piece)
        self.send()

    def part_out(self, piece: Piece, gives: tuple[tuple[str, str], ...]) -> None:
        """Gives what the plan says to others and to buyers of loose parts; the rest goes for spares."""
        self.let_go(piece)
        self.log(piece, f"parted worth {piece.device.worth.parts}")
        worth = piece.device.worth.parts.minor
        for group, to in gives:
            for part in group.split("+"):
                if self.harvest(piece, part):
                    forgone = piece.device.parts[part].price.donor
                    worth -= forgone.minor if forgone else 0
                    if to.startswith("loose "):
                        self.vend(piece, part)
        cents = max(0, worth * (100 - FEE) // 100)
        self.wipe(piece, "unit", "destroy with pliers")
        self.log(piece, f"got {euros(cents)} for what was left for spares", "scrapped unit")
        self.till.append((f"{piece.id} spares", cents))
        gone = ", ".join(f"{part} to {to}" for part, to in gives) or "nothing for others"
        self.say(f"{piece.id} parted: {gone}")

    def vend(self, piece: Piece, part: str) -> None:
        """Sells a loose part, if it proves to be good."""
        wanted = (piece.device.id, part)
        price = next(one.price for one in market.market(self.store).demands if (one.map, one.part) == wanted)
        if part in piece.hidden.modes or price is None:
            self.wipe(piece, part, "destroy with pliers")
            self.log(piece, f"scrapped {part}")
            return
        self.wipe(piece, part, "purge with a reader verified reads empty")
        cents = price.minor * (100 - FEE) // 100
        self.log(piece, f"vended {part} for {euros(cents)}")
        self.till.append((f"{piece.id} {part}", cents))

    def sell(self, piece: Piece, how: str) -> None:
        if piece.hidden.replayed.state.open_steps:
            self.log(piece, "closed all")
        sent = Move("sell", "", "", LISTING, 0.0, Act(ends=True, ships=True))
        if allowed(piece.device, piece.now().state, [sent])[1]:
            self.say(f"{piece.id} must not be sent as it is")
            return
        self.let_go(piece)
        price = BUYERS[piece.device.id, how][1]
        cents = 100 * round(price * float(self.draw.uniform(0.92, 1.06)))
        self.wipe(piece, "unit", "clear verified its first start" if how == "working" else "purge with a reader")
        if how == "working":
            self.tested_safe(piece)
        self.log(piece, f"worked {LISTING} min", f"sold {how} for {euros(cents)}")
        self.till.append((f"{piece.id} sold", cents))
        self.pay(piece, cents * FEE // 100, "the market place")
        self.pay(piece, CARRIAGE, "carriage")
        self.sold[piece.device.id, how] += 1
        if how == "working" and not piece.hidden.works():
            self.pay(piece, round(cents * RETURN_LOSS_SHARE), "a buyer's money back")
        self.say(f"{piece.id} sold {how} for {euros(cents)}")

    def let_go(self, piece: Piece) -> None:
        """What was meant for a unit and is not needed goes back: bought parts for half of their price."""
        incoming = self.state(piece.id).incoming
        for part, order in {**incoming.ordered, **incoming.arrived}.items():
            cents = order.price.minor // 2
            self.log(piece, f"released {part}", f"got {euros(cents)} for the {part} that was sent back")
            self.till.append((f"{piece.id} {part} sent back", cents))
        for part in incoming.reserved:
            self.log(piece, f"released {part}")

    def finish(self, piece: Piece) -> None:
        """Puts in what is here, mends, tries; where that does not do, one part more by the usual rule of the bench."""
        incoming = self.state(piece.id).incoming
        for part, order in incoming.arrived.items():
            self.fit(piece, part, order.condition)
        for part, origin in incoming.reserved.items():
            giver = self.pieces.get(origin)
            if giver and (any((one.unit, one.part) == (origin, part) for one in stock(self.store))):
                self.fit(piece, part, origin)
        for part, how in piece.mends:
            if how == "buy":
                self.fit(piece, part, None)
            else:
                self.mend(piece, part, how.removesuffix(", else buy"))
        piece.mends = ()
        incoming = self.state(piece.id).incoming
        if incoming.ordered or incoming.reserved:
            return
        acted = True
        for _ in range(STEPS):
            if acted and self.proven(piece):
                if self.most(piece.device.id, "working"):
                    self.sell(piece, "working")
                return
            try:
                move = RULE(piece.device, piece.hidden.replayed, piece.terms)
            except TooLargeError:  # a log that long is more than can be thought through: somebody else's turn
                return
            if move.act.ends:
                self.give_up(piece)
                return
            if move.kind == "replace" and (offer := self.offer(piece, move.target)):
                self.log(piece, f"reserved {move.target} from {offer.condition}")
                return
            self.carry_out(piece, move)
            acted = move.kind in ("mend", "replace")

    def give_up(self, piece: Piece) -> None:
        """The person stops: it goes as it is while there are buyers, else for spares."""
        if self.most(piece.device.id, "as-is"):
            self.sell(piece, "as-is")
        else:
            self.part_out(piece, ())

    def offer(self, piece: Piece, part: str) -> market.Offers | None:
        offers = [one for one in market.market(self.store).offers if (one.map, one.part) == (piece.device.id, part)]
        return min(offers, key=lambda one: one.price.minor, default=None)

    def send(self) -> None:
        """Orders every basket."""
        for basket in orders.orders(self.store).baskets:
            lines, postage = orders.send(self.store, basket.supplier.name)
            for unit, sent in lines.items():
                self.till += [(f"{unit} ordered", -line.event.price.minor) for line in sent]
                self.due |= {(line.event.supplier, line.event.due) for line in sent}
            self.till.append(("postage", -basket.supplier.price.minor if postage else 0))
            self.say(f"ordered from {basket.supplier.name}: {len(basket.wants)} parts, {basket.payable}")

    def arrivals(self) -> None:
        today = self.clock()[:10]
        for supplier in sorted({supplier for supplier, due in self.due if due == today}):
            woken = orders.arrive(self.store, supplier)
            self.say(f"{supplier} delivered; awake: {', '.join(one.unit for one in woken)}")
            for one in woken:
                if not one.still:
                    self.finish(self.pieces[one.unit])
            self.send()


def run(home: Path, units: int = 40, seed: int = 6) -> tuple[Month, list[ShelfPlan], Wrong | None]:
    """The month in a store of its own, checked at its end."""
    month = Month(store=None, count=units, draw=np.random.default_rng(seed))  # type: ignore[arg-type]  # in a moment
    plans: list[ShelfPlan] = []
    wrong = None
    with Store(home, clock=month.clock) as month.store:
        instruments.add(month.store, "fluxa", "2026-10-15", "5 %")
        for month.day in range(1, LAST + 1):
            if month.day <= BUYING:
                new = range(len(month.pieces), units * month.day // BUYING)
                for number in new:
                    month.buy(number)
                month.say(f"{len(new)} units bought, and ten minutes with each")
            month.arrivals()
            if month.day in PLANS and month.here():
                month.begun = month.begun or (month.cash(), month.minutes())
                plans.append(month.plan())
                wrong = wrong if plans[1:] else looks_wrong(plans[0])
                month.follow(plans[-1])
        for unit in month.here():
            month.let_go(month.pieces[unit])
        check(month)
        report(month, plans, month.begun, wrong)
    return month, plans, wrong


def main() -> None:
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--units", type=int, default=40)
    words.add_argument("--seed", type=int, default=6)
    given = words.parse_args()
    with tempfile.TemporaryDirectory() as home:
        run(Path(home), given.units, given.seed)


if __name__ == "__main__":
    main()
