"""From a unit as its log leaves it to the unit of a shelf problem: what each way that it can go is worth, takes, gives.

Ids are the bench's words: ways as ``planned`` lines name them (finish, as-is, parts, donor, wait); demands
``working MAP``, ``as-is MAP``, ``loose KEY``, ``kept KEY``; a need by its part, or the parts of a married group
(``a+b``); an item ``UNIT/PART``. A key is ``MAP/PART``, with ``@REVISION`` where one was read off the slot.

*Finish*: what is bad as likely as not (``LIKELY``), or has to be replaced by a hard rule, is a need of its own. About
every other suspect the course is taken that is best by itself (``money.choices``), and what that takes in the mean is
in the way. The chance that the unit works in the end, with all needs met in full, is exact, from the joint of all
faults. What an alternative leaves bad is counted in its cost, as that chance times what a working unit brings more: the
losses of several needs are added up, which is a little too much. What several needs open together is paid once, in the
way. Functions declared for two needs at once are counted twice.

*Parts* brings the lot; what is taken out of it first brings it down by what that part would have added (the item's
cost). *Donor* and *wait* bring later what they would bring now, less ``LATER``; a donor kept also fills, for each part,
one place of those wanted by units likely to come, as far as the part is good.

Amounts are expectations in whole units until the end, and are then rounded to the nearest minor unit; minutes to the
nearest whole one. So each figure of a problem is off by at most half a minor unit and half a minute.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from math import comb

import numpy as np

from knowngood.belief.believe import Belief
from knowngood.belief.menu import Considered
from knowngood.belief.priors import replaced
from knowngood.belief.sensing import BY_THE_MAP, Measuring
from knowngood.belief.story import Donors
from knowngood.handbook.quantities import money_of
from knowngood.log.state import Replay
from knowngood.log.takes import TAKE_OUT_MINUTES
from knowngood.maps.device import Device, Part
from knowngood.money.choices.courses import Course
from knowngood.money.choices.options import MEND, Offers, Option, Supply
from knowngood.money.choices.rules import to_decide
from knowngood.money.choices.visit import Visit
from knowngood.money.shelf.problem import Alternative, Item, Need, Outlet, Unit, Way
from knowngood.plan.judge import try_minutes
from knowngood.plan.moves import bought_by_the_map, guessed_price
from knowngood.plan.terms import Terms
from knowngood.plan.value import CHECK_MINUTES

LIKELY = 0.5
"""From here on a part that is bad is a need of its own."""

LATER = 0.9
"""Share of what a unit brings now that it still brings if it is left for the next period (own judgement)."""

SELL_MINUTES = 10
"""Hands-on time to list and pack a loose part (common practice, no source)."""


@dataclass(frozen=True)
class AtHand:
    """A unit that is here."""

    unit: str
    device: Device
    replay: Replay
    belief: Belief
    terms: Terms
    donor: bool = False
    """Bought for its parts: it is not sold whole."""
    donors: Donors | None = None
    """As in ``belief``."""
    measuring: Measuring = BY_THE_MAP


@dataclass(frozen=True)
class Outside:
    """What the shelf meets, in whole units of one currency, by key without revision where nothing else is said."""

    offered: Mapping[str, float] = field(default_factory=dict)
    """What a supplier sells, at the least price: it is left to the plan to buy it."""
    loose: Mapping[str, float] = field(default_factory=dict)
    """What buyers pay for a loose part, after fees."""
    kept: Mapping[str, Sequence[int]] = field(default_factory=dict)
    """What the first, second, ... part kept for units likely to come brings, minor units (``wanted``)."""
    demands: frozenset[str] = frozenset()
    """Ids of all demands of the problem."""
    days: int | None = None
    """Days by which what is bought has to be here."""
    fee_share: float = 0.0


def key_of(device: Device, parts: Sequence[str], revision: str | None = None) -> str:
    """What a slot, or the slots of a married group, ask for."""
    return f"{device.id}/{'+'.join(parts)}" + (f"@{revision}" if revision else "")


def serves(device: Device, parts: Sequence[str], revision: str | None) -> frozenset[str]:
    """The keys that a part of a revision can serve as. One that nobody read may fit anywhere, as may any part where
    nobody read what sat there."""
    part = device.parts[parts[0]]
    slots = [slot for slot, _ in part.revisions] if len(parts) == 1 else []
    fits = (slot for slot in slots if revision is None or revision in part.takes(slot))
    return frozenset({key_of(device, parts), *(key_of(device, parts, slot) for slot in fits)})


def wanted(belief: Belief, count: int, offered: Mapping[str, float]) -> dict[str, tuple[int, ...]]:
    """By key: what the first, second, ... part kept for ``count`` units likely to come is worth, minor units.

    ``belief`` is of such a unit as it will come. Each wants the part with its chance to stop something, independently:
    the k-th part kept is used if at least k of them do (binomial), and saves its price less what it brings now.
    """
    device, found = belief.device, {}
    for suspect in belief.suspects:
        part = device.parts[suspect.part]
        saved = price(device, part, offered) - part.price.forgone
        steps = [
            money_of(device.worth.working.currency, saved * _at_least(number, count, suspect.p_blocks)).minor
            for number in range(1, count + 1)
        ]
        if steps := [step for step in steps if step > 0]:
            found[key_of(device, (part.id,))] = tuple(steps)
    return found


def _at_least(most: int, count: int, chance: float) -> float:
    return sum(comb(count, k) * chance**k * (1.0 - chance) ** (count - k) for k in range(most, count + 1))


def price(device: Device, part: Part, offered: Mapping[str, float]) -> float:
    """What another part costs: as a supplier has it, else the cheapest of the map, else guessed."""
    by_the_map = [one.price for one in bought_by_the_map(part)] or [guessed_price(device, part)]
    return offered.get(key_of(device, (part.id,)), min(by_the_map))


def unit_of(one: AtHand, outside: Outside) -> Unit:
    """A unit with every way it can go."""
    return _Building(one, outside).unit()


def item_of(
    device: Device,
    parts: Sequence[str],
    good: float,
    outside: Outside,
    *,
    unit: str,
    revision: str | None = None,
    minutes: int = 0,
) -> Item:
    """A part, or a married group, that is on the shelf or would come out of ``unit``; it is good with a chance."""
    of, currency = [device.parts[name] for name in parts], device.worth.working.currency
    key = key_of(device, parts)
    outlets = []
    if f"loose {key}" in outside.demands:
        outlets.append(Outlet(f"loose {key}", money_of(currency, good * outside.loose[key]).minor, SELL_MINUTES))
    if f"kept {key}" in outside.demands:
        lost = (1.0 - good) * (outside.kept[key][0] if outside.kept.get(key) else 0)
        outlets.append(Outlet(f"kept {key}", -round(lost)))
    forgone = (1.0 - outside.fee_share) * sum(part.price.forgone for part in of)
    another = sum(price(device, part, outside.offered) for part in of)
    return Item(
        id=f"{unit}/{'+'.join(parts)}",
        serves=serves(device, parts, revision),
        outlets=tuple(outlets),
        minutes=minutes,
        cost=money_of(currency, forgone).minor,
        chance=good,
        if_bad=money_of(currency, another).minor,
    )


class _Building:
    """Everything that the ways of one unit share."""

    def __init__(self, one: AtHand, outside: Outside) -> None:
        self.one, self.outside = one, outside
        self.device, self.state, self.belief, self.terms = one.device, one.replay.state, one.belief, one.terms
        self.groups = {part: group.parts for group in one.device.moving_together for part in group.parts}

    def minor(self, major: float) -> int:
        return money_of(self.terms.currency, major).minor

    def unit(self) -> Unit:
        terms, name = self.terms, self.device.id
        sold = {how: tuple({f"{how} {name}"} & self.outside.demands) for how in ("working", "as-is")}
        items = tuple(self.items())
        money, minutes = self.left()
        places = [(item, one) for item in items for one in item.outlets if one.demand.startswith("kept ")]
        ways = [
            Way("parts", self.minor(terms.parts), gives=items),
            Way(
                "donor",
                self.minor(LATER * terms.parts) + sum(place.value for _, place in places),
                demands=tuple(place.demand for _, place in places),
            ),
            Way("wait", self.minor(LATER * (money - minutes * terms.rate))),
        ]
        if not self.one.donor:
            as_is = Way("as-is", self.minor(terms.as_is), round(terms.list_minutes), sold["as-is"])
            finish = self.finish(sold["working"])
            ways = [*([finish] if finish else []), as_is, *ways]
        return Unit(self.one.unit, tuple(ways))

    def left(self) -> tuple[float, float]:
        """Money and minutes of the best way out of a unit that does not work."""
        as_is = self.terms.as_is - self.terms.list_minutes * self.terms.rate
        return (self.terms.as_is, self.terms.list_minutes) if as_is >= self.terms.parts else (self.terms.parts, 0.0)

    # ---- what it gives ----------------------------------------------------------------------------------------------

    def items(self) -> Iterator[Item]:
        """What would come out of it: married groups whole, each part with the chance that it is fine."""
        done: set[str] = set()
        for part in self.device.parts.values():
            parts = self.groups.get(part.id, (part.id,))
            if part.is_connection or part.id in done or self.state.removed & set(parts):
                continue
            done.update(parts)
            item = item_of(
                self.device,
                parts,
                float(np.prod([self.fine(name) for name in parts])),
                self.outside,
                unit=self.one.unit,
                revision=self.state.revisions.get(part.id),
                minutes=round(len(parts) * TAKE_OUT_MINUTES),
            )
            if item.chance > 0.0 and (item.cost or item.outlets):
                yield item

    def fine(self, name: str) -> float:
        return float(self.belief.slot(self.belief.posterior, self.device.parts[name])[0, 0])

    # ---- what finishing it takes ------------------------------------------------------------------------------------

    def finish(self, demands: tuple[str, ...]) -> Way | None:
        """Finished and sold as working; None where a hard rule stands in the way whatever is done."""
        one, terms = self.one, self.terms
        offers = Offers(self.device, self.state, terms, self.belief, Supply())
        visit = Visit(
            self.device,
            one.replay,
            self.belief,
            terms,
            offers.decisions(to_decide(self.belief, self.state, terms)),
            donors=one.donors,
            measuring=one.measuring,
        )
        if visit.asked.barred:
            return None
        must = frozenset().union(*(each.parts for each in visit.asked.musts if each.replaced))
        needs = [n for n, each in enumerate(visit.decisions) if visit.bad_now(n) >= LIKELY or must & set(each.parts)]
        picked = []
        for number, each in enumerate(visit.courses):
            surely = [at for at, course in enumerate(each) if course.anyway] if number in needs else []
            picked.append(max(surely or range(len(each)), key=lambda at, n=number: visit.worth_by_itself(n, at)))
        works = self.works(visit, needs, picked)
        ((minutes, money),), _ = visit.takes([tuple(picked)])
        for number in needs:  # what the needs take by themselves is their alternatives'
            own, _ = visit.own_takes(number, picked[number], tuple(picked))
            minutes, money = minutes - own[0], money - own[1]
        rest, hands = self.left()
        proving = sum(try_minutes(self.device, name) for name in self.belief.wanted)
        gain = works * (terms.working - rest - (terms.list_minutes + proving - hands) * terms.rate)
        return Way(
            "finish",
            self.minor(works * terms.working + (1.0 - works) * rest - money),
            round(minutes + works * (terms.list_minutes + proving) + (1.0 - works) * hands),
            demands,
            self.needs(visit, needs, gain),
            within=self.outside.days,
        )

    def works(self, visit: Visit, needs: Sequence[int], picked: Sequence[int]) -> float:
        """Chance that it works in the end, every need met in full."""
        met = {part for number in needs for part in visit.decisions[number].parts}
        acts = {part: visit.left(part) for decision in visit.decisions for part in decision.parts}
        acts |= {part: visit.left(part) for part in self.belief.story.empty}
        for number, decision in sorted(enumerate(visit.decisions), key=lambda each: len(each[1].parts)):
            course: Course = visit.courses[number][picked[number]]
            for part in decision.parts:
                acts[part] = acts[part] @ course.then(part, visit.stops(part))
        for part in met:
            acts[part] = np.zeros_like(acts[part])
            acts[part][:, 0] = 1.0
        menus = {part: act[None] for part, act in acts.items()}
        considered = Considered(
            self.device, self.one.replay, menus, donors=self.one.donors, measuring=self.one.measuring
        )
        return float(considered.works(visit.promised, np.zeros((1, len(menus)), dtype=np.intp))[0])

    def needs(self, visit: Visit, numbers: Sequence[int], gain: float) -> tuple[Need, ...]:
        """What is probably bad. Of a married group with two bad parts no mend of one is enough."""
        found: dict[str, Need] = {}
        for number in numbers:
            need = self.need(visit, number, gain)
            if need.id in found:
                both = tuple(one for one in need.alternatives if one.id in ("take", "leave", "bought already"))
                need = Need(need.id, both)
            found[need.id] = need
        return tuple(found.values())

    def need(self, visit: Visit, number: int, gain: float) -> Need:
        """What one part may be met by. ``gain`` is what is lost with the chance that it stays bad."""
        decision = visit.decisions[number]
        part = self.device.parts[decision.parts[0]]
        group = self.groups.get(part.id, decision.parts)
        incoming = self.state.incoming
        here = all(name in {**incoming.ordered, **incoming.arrived} for name in group)
        replaced_only = any(each.replaced and part.id in each.parts for each in visit.asked.musts)
        mends = [option for option in decision.options if option.kind == MEND and not replaced_only]
        found = [self.mended(visit, part, option, gain) for option in mends]
        if part.swap is not None:
            minutes = sum(each.minutes for name in group if (each := self.device.parts[name].swap)) + CHECK_MINUTES
            lost = gain * sum(self.left_by_a_good_one(visit, self.device.parts[name]) for name in group)
            hands, cost = round(minutes), self.minor(lost)
            key = key_of(self.device, group, self.state.revisions.get(part.id) if len(group) == 1 else None)
            if here:
                return Need("+".join(group), (Alternative("bought already", cost, hands),))
            found.append(Alternative("take", cost, hands, (key,)))
            if len(group) == 1 and key_of(self.device, group) not in self.outside.offered:
                paid = self.minor(lost + price(self.device, part, self.outside.offered))
                found.append(Alternative("buy", paid, hands))
                found += [self.else_bought(visit, part, option, lost, minutes, gain) for option in mends]
        if not replaced_only or not found:
            # It stays bad, and the unit goes as one that does not work.
            found += [*self.without(decision.parts), Alternative("leave", self.minor(gain))]
        return Need("+".join(group), tuple(found))

    def mended(self, visit: Visit, part: Part, option: Option, gain: float) -> Alternative:
        left = visit.bad(part.id, visit.left(part.id) @ option.acts[part.id])
        return Alternative(_name(option), self.minor(option.money + gain * left), round(option.minutes + CHECK_MINUTES))

    def else_bought(
        self, visit: Visit, part: Part, option: Option, lost: float, minutes: float, gain: float
    ) -> Alternative:
        """Mended, and bought where that fails."""
        left = visit.bad(part.id, visit.left(part.id) @ option.acts[part.id])
        cost = option.money + left * (price(self.device, part, self.outside.offered) + lost)
        return Alternative(
            f"{_name(option)}, else buy", self.minor(cost), round(option.minutes + CHECK_MINUTES + left * minutes)
        )

    @staticmethod
    def left_by_a_good_one(visit: Visit, part: Part) -> float:
        """Chance that a slot is bad with a part in it that is fine: a worn seat may stay."""
        if part.swap is None:
            return 0.0
        fine = np.eye(len(part.states))[0]
        return visit.bad(part.id, visit.left(part.id) @ replaced(part, part.swap, fine))

    def without(self, parts: Sequence[str]) -> list[Alternative]:
        """Declaring all that the parts may stop, where that may be declared."""
        sets = (each for name in parts for each in self.belief.stopped_by(self.device.parts[name]))
        stopped = frozenset().union(*sets)
        prices = [self.device.functions[name].without for name in stopped]
        if not prices or not all(prices):
            return []
        return [Alternative("without", self.minor(self.terms.kept * sum(one.major for one in prices if one)))]


def _name(option: Option) -> str:
    """The remedy of a mend, as its line names it."""
    return option.log[0].split()[2]
