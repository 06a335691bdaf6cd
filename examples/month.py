"""A month of a shelf: 40 broken units of two invented families are bought, planned, mended, parted and sold.

``python examples/month.py`` (a minute or two); ``--units 8`` is a small one. What is wrong with each unit is drawn and
hidden; the person of this script does at the bench what a person with the command line would do, and every line goes
through the same functions. Suppliers, prices and buyers are invented. At the end the ledger is held against the till,
a plain list of what went out and came in, and one decision is told that a sensible person would have got wrong.
"""

from __future__ import annotations

import argparse
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np

from knowngood.bench import market, work
from knowngood.bench.ledger import books_of
from knowngood.bench.shelf import orders
from knowngood.bench.shelf.accepted import accept, differences, standing
from knowngood.bench.shelf.facts import facts
from knowngood.bench.shelf.planning import ShelfPlan, planned
from knowngood.bench.stock import moves, moving_logs, stock
from knowngood.bench.store import Store
from knowngood.errors import TooLargeError
from knowngood.handbook.quantities import Money
from knowngood.log import events as ev
from knowngood.log.state import TAKE_OUT_MINUTES, State, replay
from knowngood.maps.device import Device, FunctionLevel
from knowngood.maps.load import load
from knowngood.money.ledger.yields import yields
from knowngood.money.shelf.explain import one_more
from knowngood.money.shelf.plan import SIXTIETHS, Plan
from knowngood.money.shelf.solve import solve
from knowngood.plan.access import way
from knowngood.plan.hazards import Act, hands_near
from knowngood.plan.lifting import allowed
from knowngood.plan.moves import Move, remedies_here, test_move
from knowngood.plan.opening import close_move
from knowngood.plan.policies import POLICIES, Situation
from knowngood.plan.rehearse import HiddenUnit, drawn_unit
from knowngood.plan.terms import RETURN_LOSS_SHARE, InStock, Terms, terms

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

PAPER = (ev.Planned, ev.Reserved, ev.Ordered, ev.Arrived, ev.Released)
"""Lines that change nothing on the unit itself."""

RULE = POLICIES["most probable part first"]


def euros(cents: int) -> str:
    return str(Money("EUR", cents))


@dataclass
class Piece:
    """A unit on the bench, and what is hidden in it."""

    id: str
    hidden: HiddenUnit
    map: str
    terms: Terms
    mends: tuple[tuple[str, str], ...] = ()
    """What the plan would have mended: parts and remedies; or bought in town, remedy ``buy``."""

    @property
    def device(self) -> Device:
        return self.hidden.device

    def now(self) -> Situation:
        return Situation(self.device, self.hidden.replayed, self.terms)


@dataclass
class Month:
    """The bench, the till and the day."""

    store: Store
    count: int
    draw: np.random.Generator
    day: int = 0
    till: list[tuple[str, int]] = field(default_factory=list)
    """What was paid (below zero) and got, in cents, written down apart from the logs."""
    pieces: dict[str, Piece] = field(default_factory=dict)
    sold: Counter[tuple[str, str]] = field(default_factory=Counter)
    due: set[tuple[str, str]] = field(default_factory=set)
    """Suppliers and the days on which parcels of theirs come."""
    moved: set[tuple[str, str]] = field(default_factory=set)
    """Parts that have left the unit they came in."""

    def clock(self) -> str:
        return f"{FIRST + timedelta(days=self.day - 1)}T09:00:00Z"

    def say(self, text: str) -> None:
        print(f"day {self.day:2}  {text}", flush=True)

    # ---- lines and money ----------------------------------------------------------------------------------------

    def log(self, piece: Piece, *texts: str) -> None:
        """Lines as typed: to the store, and to the hidden unit, which they may change."""
        for line in work.log_lines(self.store, piece.id, texts):
            if not isinstance(line.event, PAPER):
                piece.hidden.log(line.event)

    def pay(self, piece: Piece, cents: int, why: str) -> None:
        self.till.append((f"{piece.id} {why}", -cents))
        self.log(piece, f"paid {euros(cents)} for {why}")

    def state(self, unit: str) -> State:
        return replay(self.store.device(unit), self.store.lines(unit)).state

    # ---- hands --------------------------------------------------------------------------------------------------

    def carry_out(self, piece: Piece, move: Move) -> None:
        """Does a move, its access first; what comes of it is drawn from what is hidden."""
        before = len(piece.hidden.lines)
        piece.hidden.carry_out(move)
        work.log_lines(self.store, piece.id, [ev.render(line.event) for line in piece.hidden.lines[before:]])
        if move.kind == "replace" and move.remedy and move.remedy.materials:  # the line that fits it books the part
            self.log(piece, f"paid {move.remedy.materials} for what it takes to fit the {move.target}")
        if move.materials:
            self.till.append((f"{piece.id} {move.name}", -round(100 * move.materials)))

    def do(self, piece: Piece, make: Callable[[State], Move | None]) -> bool:
        """Does a move, and before it whatever a hard rule asks for. False if it cannot be done."""
        for _ in range(12):
            now = piece.now()
            move = make(now.state)
            step = now.first_allowed(iter([move])) if move else None
            if step is None:
                return False
            self.carry_out(piece, step)
            if step is move:
                return True
        return False

    def harvest(self, giver: Piece, part: str) -> bool:
        device = giver.device

        def taken_out(state: State) -> Move:
            there = way(device, state, device.parts[part].behind)
            near = hands_near(device, (part,), (), there.opens, ())
            act = Act(touches=frozenset({part}), near=near, takes_out=part)
            minutes = there.minutes + TAKE_OUT_MINUTES
            return Move("take-out", part, "", minutes, 0.0, act, opens=there.opens, log=f"harvested {part}")

        assert (giver.id, part) not in self.moved, f"{part} of {giver.id} was taken twice"
        if part in giver.hidden.replayed.state.removed or not self.do(giver, taken_out):
            return False
        self.moved.add((giver.id, part))
        return True

    def fit(self, piece: Piece, part: str, origin: str | None) -> bool:
        """Puts another part in, from a unit, ``new`` or ``used`` and paid already, or (None) bought in town."""
        bench = replace(piece.terms, stock={part: InStock(origin, 0.0)} if origin else {})

        def replaced(state: State) -> Move | None:
            made = remedies_here(piece.device, state, bench, piece.device.parts[part])
            return next((one for one in made if one.kind == "replace"), None)

        giver = self.pieces.get(origin or "")
        mode = giver.hidden.modes.get(part) if giver else None
        if not self.do(piece, replaced):
            return False
        if giver:  # what is put in is the very part that came out there
            states = piece.device.parts[part].states
            piece.hidden.values[piece.hidden.story.now[part]] = states.index(mode) if mode in states else 0
        return True

    # ---- the days -----------------------------------------------------------------------------------------------

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
        piece = self.pieces[unit] = Piece(unit, hidden, name, bench)
        self.till.append((f"{unit} bought", -cents))
        minutes = 0.0
        for move in piece.now().tries():
            fits = not move.opens and not move.closes and minutes + move.minutes <= INTAKE_MINUTES
            if fits and piece.now().first_allowed(iter([move])) is move:
                self.carry_out(piece, move)
                minutes += move.minutes

    def plan(self) -> ShelfPlan:
        """What buyers still take and hours are left goes to the bench's log; then the shelf is planned and accepted."""
        minutes = sum(self.state(unit).minutes for unit in self.pieces)
        work.bench_set(self.store, "hours", str(max(0, round(self.hours - minutes / 60))))
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
        gain = f", {self.gain(found):+.2f} over the best unit first" if found.rule else ""
        self.say(
            f"plan: {', '.join(f'{count} {name}' for name, count in ways.items())}; expected EUR "
            f"{found.answer.worth / SIXTIETHS / 100:.2f} ({found.answer.ended}){gain}"
        )
        return found

    @staticmethod
    def gain(found: ShelfPlan) -> float:
        return (found.answer.worth - found.rule.worth) / SIXTIETHS / 100 if found.rule else 0.0

    @property
    def hours(self) -> float:
        return HOURS * self.count / 40

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
        self.log(piece, f"got {euros(cents)} for what was left for spares", "scrapped unit")
        self.till.append((f"{piece.id} spares", cents))
        gone = ", ".join(f"{part} to {to}" for part, to in gives) or "nothing for others"
        self.say(f"{piece.id} parted: {gone}")

    def vend(self, piece: Piece, part: str) -> None:
        """Sells a loose part, if it proves to be good."""
        price = next(one.price for one in market.market(self.store).demands if (one.map, one.part) == (piece.map, part))
        if part in piece.hidden.modes or price is None:
            self.log(piece, f"scrapped {part}")
            return
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
        price = BUYERS[piece.map, how][1]
        cents = 100 * round(price * float(self.draw.uniform(0.92, 1.06)))
        self.log(piece, f"worked {LISTING} min", f"sold {how} for {euros(cents)}")
        self.till.append((f"{piece.id} sold", cents))
        self.pay(piece, cents * FEE // 100, "the market place")
        self.pay(piece, CARRIAGE, "carriage")
        self.sold[piece.map, how] += 1
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
                self.mend(piece, part, how)
        piece.mends = ()
        incoming = self.state(piece.id).incoming
        if incoming.ordered or incoming.reserved:
            return
        acted = True
        for _ in range(STEPS):
            if acted and self.proven(piece):
                if self.most(piece.map, "working"):
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
        if self.most(piece.map, "as-is"):
            self.sell(piece, "as-is")
        else:
            self.let_go(piece)
            self.part_out(piece, ())

    def proven(self, piece: Piece) -> bool:
        """Closes it and tries what is promised, the quickest first, up to the first that is not as it should be."""
        if piece.now().state.open_steps:
            self.do(piece, lambda state: close_move(piece.device, state))
        for one in piece.now().tries():
            known = len(piece.hidden.lines)
            made = self.do(piece, lambda state, one=one: test_move(piece.device, state, one.test))
            results = [line.event for line in piece.hidden.lines[known:] if isinstance(line.event, ev.Tried)]
            if not made or any(one.outcome != "works" for one in results):
                return False
        return piece.now().state.proven >= set(piece.device.wanted)

    def mend(self, piece: Piece, part: str, name: str) -> None:
        def mended(state: State) -> Move | None:
            made = remedies_here(piece.device, state, piece.terms, piece.device.parts[part])
            return next((one for one in made if one.remedy and one.remedy.name == name), None)

        self.do(piece, mended)

    def offer(self, piece: Piece, part: str) -> market.Offers | None:
        offers = [one for one in market.market(self.store).offers if (one.map, one.part) == (piece.map, part)]
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


# ---- the end of the month -------------------------------------------------------------------------------------------


def check(month: Month) -> None:
    """The ledger closes to the cent with the till, no part is in two places, and every reservation came to an end."""
    books = books_of(month.store).books
    for unit in month.pieces:
        mine = sum(cents for what, cents in month.till if what.split()[0] == unit)
        cash = books.units[unit].got - books.units[unit].paid
        assert cash.minor == mine, f"{unit}: the ledger has {cash}, the till {euros(mine)}"
    assert books.balance.minor == sum(cents for _, cents in month.till), "the ledger is not what is in the till"
    assert books.balance == books.settled - books.in_units - books.in_parts + books.own, "the parts are not the whole"
    moved = moves(moving_logs(month.store))
    assert not moved.unexplained, "a part was taken that nobody gave"
    taken = [*moved.taken.values(), *moved.shelf]
    assert len(taken) == len(set(taken)), "a part is in two places"
    for unit in month.pieces:
        incoming = month.state(unit).incoming
        assert not incoming.reserved and not incoming.ordered, f"{unit} still waits for something"


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
    problem, plan, sums = found.built.problem, found.answer.plan, found.sums
    for (taker, need), met in plan.met.items():
        if any(found.built.units.get(source) == unit for source in met.sources):
            then = forced.met.get((taker, need))
            instead = f"would {then.alternative} it: {', '.join(then.sources) or 'in town'}" if then else "would not be finished"
            yield f"its {need} goes to {taker}, which else {instead}"
    for demand in problem.way[unit, forced.ways[unit]].demands:
        most = problem.demand[demand].most
        if sums.taken.get(demand, 0) == most:
            yield f"buyers take only {most} of '{demand}', and all of those places bring more with other units"
    if problem.minutes is not None and problem.minutes - sums.minutes < 60:
        hour = (solve(one_more(problem, "hour", ""), start=plan, seconds=10.0).worth - found.answer.worth) / SIXTIETHS
        yield f"there are {problem.minutes // 60} hours, and one more would bring EUR {hour / 100:.2f} beyond its wage"
    turned = [f"{one} {plan.ways[one]} -> {way}" for one, way in forced.ways.items() if plan.ways[one] != way != unit]
    yield f"what changes with it: {', '.join(one for one in turned if not one.startswith(f'{unit} ')) or 'no other way'}"


def report(month: Month, first: ShelfPlan, wrong: Wrong | None) -> None:
    """The ledger by map, past and source, forecast beside truth, and the decision."""
    books = books_of(month.store).books
    paid = -sum(cents for _, cents in month.till if cents < 0)
    got = sum(cents for _, cents in month.till if cents > 0)
    print(f"\nTill: got {euros(got)}, paid {euros(paid)}; left {euros(got - paid)}.")
    print(f"Ledger: {books.balance} = settled {books.settled} - in units {books.in_units} - in parts {books.in_parts}"
          f" + the shelf's own {books.own}. To the cent.")  # fmt: skip
    for by in ("map", "past", "source"):
        print(f"\n{'by ' + by:<20}{'units':>6}{'profit':>14}{'hours':>8}{'an hour':>9}{'still here':>12}")
        for row in yields(books.units.values(), by, "EUR"):
            hour = f"{row.per_hour.mean:.2f}" if row.per_hour else ""
            print(f"{row.name:<20}{row.units:>6}{row.profit!s:>14}{row.minutes / 60:>8.1f}{hour:>9}{row.open_units:>12}")
    minutes = sum(one.minutes for one in books.units.values())
    before = sum(cents for what, cents in month.till if what.endswith(" bought"))
    after = sum(cents for what, cents in month.till) - before
    floor = round(1200 * (minutes / 60))
    print(f"\nForecast on day {PLANS[0]}: EUR {first.answer.worth / SIXTIETHS / 100:.2f} after hands at EUR 12 an hour, "
          f"purchases left out. It came to {euros(after - floor)}.")  # fmt: skip
    if wrong:
        print(f"\nThe decision that looks wrong: {wrong.unit} goes '{wrong.way}'. By itself '{wrong.looks_right}' looks "
              f"better by EUR {wrong.alone:.2f}; the shelf loses EUR {wrong.loses:.2f} by it, for")  # fmt: skip
        for one in wrong.why:
            print(f"  - {one}")


def run(home: Path, units: int = 40, seed: int = 6) -> tuple[Month, ShelfPlan, Wrong | None]:
    """The month in a store of its own, checked at its end."""
    month = Month(None, units, np.random.default_rng(seed))  # type: ignore[arg-type]  # its clock is the month's
    with Store(home, clock=month.clock) as month.store:
        first = wrong = None
        for month.day in range(1, LAST + 1):
            if month.day <= BUYING:
                new = range(len(month.pieces), units * month.day // BUYING)
                for number in new:
                    month.buy(number)
                month.say(f"{len(new)} units bought and tried for ten minutes each")
            month.arrivals()
            if month.day in PLANS and any(not month.state(unit).exit for unit in month.pieces):
                found = month.plan()
                if first is None:
                    first, wrong = found, looks_wrong(found)
                month.follow(found)
        for piece in month.pieces.values():
            if not month.state(piece.id).exit:
                month.let_go(piece)
        check(month)
        report(month, first, wrong)
    return month, first, wrong


def main() -> None:
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--units", type=int, default=40)
    words.add_argument("--seed", type=int, default=6)
    given = words.parse_args()
    with tempfile.TemporaryDirectory() as home:
        run(Path(home), given.units, given.seed)


if __name__ == "__main__":
    main()
