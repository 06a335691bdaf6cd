"""From the facts of the bench to a shelf problem, in the words of the bench.

Ids: units as they are named; ways as ``planned`` lines name them; needs and items by the part (``U1/lamp-module``, a
married group ``U1/lamp+ballast``); demands ``working MAP``, ``as-is MAP``, ``loose MAP/PART``, ``kept MAP/PART``.

What a unit needs is estimated part by part: what is at fault as likely as not is a need of its own; of the rest each
costs its price and minutes times its chance. Figures that are expectations are rounded to the minor unit.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from math import comb

from knowngood.belief.believe import Belief, believe
from knowngood.bench.market import Market, Offers
from knowngood.bench.revisions import known_for
from knowngood.bench.shelf.facts import Facts, OnBench
from knowngood.bench.stock import StockPart
from knowngood.handbook.quantities import money_of
from knowngood.log import events as ev
from knowngood.log.state import TAKE_OUT_MINUTES, Line, replay
from knowngood.maps.device import Device, Part
from knowngood.money.shelf.problem import Alternative, Demand, Item, Need, Offer, Outlet, Problem, Supplier, Unit, Way
from knowngood.plan.access import way
from knowngood.plan.judge import try_minutes
from knowngood.plan.terms import PRICE_UNKNOWN_SHARE

LIKELY = 0.5
"""From here on a part at fault is a need of its own."""

LATER = 0.9
"""Share of what a unit brings now that it still brings if it is left for the next period (own judgement)."""


@dataclass(frozen=True)
class Built:
    """A problem, and what its ids mean."""

    problem: Problem
    units: Mapping[str, str]
    """Unit that each item is in, or came out of."""
    offers: Mapping[str, Offers]


def parts_of(key: str) -> tuple[str, ...]:
    """The parts that a key names: one, or those of a married group."""
    return tuple(key.partition("/")[2].partition("@")[0].split("+"))


def built(facts: Facts) -> Built:
    """The problem of a whole shelf."""
    offers = {_offer_id(one): one for one in facts.market.offers}
    wanted = _wanted(facts)
    demands = {
        **{f"{one.how} {one.map}": Demand(f"{one.how} {one.map}", one.most) for one in facts.market.demands if one.how},
        **{f"loose {key}": Demand(f"loose {key}", most) for key, (most, _) in _loose(facts.market).items()},
        **{f"kept {key}": Demand(f"kept {key}", len(steps), steps) for key, steps in wanted.items()},
    }
    make = _Units(facts, frozenset(demands))
    units = tuple(make.unit(one) for one in facts.units)
    loose = tuple(
        make.loose_item(came, device.parts[came.part], device, float(states[0]))
        for came, states in facts.loose.items()
        if (device := make.devices.get(came.map_name)) and came.part in device.parts
    )
    problem = Problem(
        units,
        loose,
        tuple(demands.values()),
        tuple(Supplier(name, one.price.minor) for name, one in facts.market.suppliers.items()),
        tuple(
            Offer(
                name,
                one.supplier,
                _serves(one.key, make.devices[one.map].parts[one.part], one.revision),
                one.price.minor,
                facts.market.suppliers[one.supplier].days,
            )
            for name, one in offers.items()
            if one.map in make.devices and one.part in make.devices[one.map].parts
        ),
        facts.minutes,
        facts.settings.rate_floor.minor,
    )
    return Built(problem, {item: item.partition("/")[0] for item in problem.item}, offers)


def _offer_id(one: Offers) -> str:
    return f"{one.supplier} {one.key} {one.condition}" + (f" {one.revision}" if one.revision else "")


def _serves(key: str, part: Part, revision: str | None) -> frozenset[str]:
    """Keys that a part of a revision can serve as: those of the places it fits, and of a place of which none is known.

    One of an unknown revision may fit anywhere.
    """
    places = dict(part.revisions)
    return frozenset({key, *(f"{key}@{was}" for was in places if revision is None or revision in part.takes(was))})


def _loose(market: Market) -> dict[str, tuple[int, int]]:
    """By key: how many buyers of the loose part take, and what each pays, minor units."""
    return {f"{one.map}/{one.part}": (one.most, one.price.minor) for one in market.demands if one.part and one.price}


def _wanted(facts: Facts) -> dict[str, tuple[int, ...]]:
    """By key: what the first, second, ... part kept for the units likely to come brings, minor units.

    Each of them wants it with the chance that it stops something in a unit of which nothing is known, on its own.
    """
    found: dict[str, tuple[int, ...]] = {}
    devices = {one.device.id: one.device for one in facts.units}
    for name, count in facts.market.expects.items():
        device = devices.get(name)
        if device is None or not count:
            continue
        for suspect in _as_bought(device).suspects:
            part = device.parts[suspect.part]
            saved = _price(device, part) - _minor(device, part.price.donor.major if part.price.donor else 0.0)
            chances = [_at_least(most, count, suspect.p_blocks) for most in range(1, count + 1)]
            steps = tuple(step for chance in chances if (step := round(chance * saved)) > 0)
            if steps:
                found[f"{name}/{part.id}"] = steps
    return found


def _as_bought(device: Device) -> Belief:
    bought = ev.Bought(map=device.id, price=money_of(device.worth.working.currency, 0.0))
    return believe(device, replay(device, [Line(1, "", bought)]))


def _at_least(most: int, count: int, chance: float) -> float:
    """Chance that at least ``most`` of ``count`` come to pass, each with ``chance`` (binomial)."""
    return sum(comb(count, k) * chance**k * (1.0 - chance) ** (count - k) for k in range(most, count + 1))


def _minor(device: Device, major: float) -> int:
    return money_of(device.worth.working.currency, major).minor


def _price(device: Device, part: Part) -> int:
    """What another one costs by the map, the cheaper of used and new, minor units."""
    prices = [one.minor for one in (part.price.used, part.price.new) if one]
    return min(prices, default=_minor(device, PRICE_UNKNOWN_SHARE * device.worth.working.major))


def _married(device: Device) -> dict[str, tuple[str, ...]]:
    """By part: those that have to stay with it, itself among them. Bonds that share a part hold all of theirs."""
    found: dict[str, tuple[str, ...]] = {}
    for bond in device.married:
        group = tuple(dict.fromkeys(one for part in bond.parts for one in (*found.get(part, ()), part)))
        found.update(dict.fromkeys(group, group))
    return found


class _Units:
    """Makes the units and items of a problem."""

    def __init__(self, facts: Facts, demands: frozenset[str]) -> None:
        self.facts, self.demands = facts, demands
        self.devices = {one.device.id: one.device for one in facts.units}
        self.offered = {
            key
            for one in facts.market.offers
            if one.map in self.devices and one.part in self.devices[one.map].parts
            for key in _serves(one.key, self.devices[one.map].parts[one.part], one.revision)
        }
        self.loose = _loose(facts.market)

    def unit(self, one: OnBench) -> Unit:
        hands, terms = round(one.terms.list_minutes), one.terms
        name, minor = one.device.id, lambda major: _minor(one.device, major)
        sold = {how: tuple({f"{how} {name}"} & self.demands) for how in ("working", "as-is")}
        gives = tuple(self.gives(one))
        kept = tuple(outlet.demand for item in gives for outlet in item.outlets if outlet.demand.startswith("kept "))
        rest = max(terms.as_is - terms.rate * terms.list_minutes, terms.parts)
        ways = [
            Way("parts", minor(terms.parts), gives=gives),
            Way("donor", minor(LATER * terms.parts), demands=kept),
            Way("wait", minor(LATER * rest)),
        ]
        if not one.donor:
            ways = [self.finish(one, sold["working"]), Way("as-is", minor(terms.as_is), hands, sold["as-is"]), *ways]
        return Unit(one.unit, tuple(ways))

    def finish(self, one: OnBench, demands: tuple[str, ...]) -> Way:
        """Finished and sold as working: it works but for what no map knows, and then goes as it is."""
        device, terms = one.device, one.terms
        sure = [suspect for suspect in one.belief.suspects if suspect.p_blocks >= LIKELY]
        rest = [suspect for suspect in one.belief.suspects if suspect.p_blocks < LIKELY]
        known = 1.0 - min(1.0, sum(one.belief.unknown.values()))
        value = known * terms.working + (1.0 - known) * terms.as_is
        spent = sum(suspect.p_blocks * _price(device, device.parts[suspect.part]) for suspect in rest)
        hands = terms.list_minutes + sum(try_minutes(device, function) for function in one.belief.wanted)
        hands += sum(suspect.p_blocks * self.minutes(one, device.parts[suspect.part]) for suspect in rest)
        needs: dict[str, Need] = {}
        for suspect in sure:
            need = self.need(one, device.parts[suspect.part])
            needs[need.id] = need
        return Way(
            "finish",
            _minor(device, value) - round(spent),
            round(hands),
            demands,
            tuple(needs.values()),
            (),
            self.facts.settings.period,
        )

    def minutes(self, one: OnBench, part: Part) -> float:
        """To get at a part and put another in."""
        return way(one.device, one.log.state, part.behind).minutes + (part.swap.minutes if part.swap else 0.0)

    def need(self, one: OnBench, part: Part) -> Need:
        device, incoming = one.device, one.log.state.incoming
        group = _married(device).get(part.id, (part.id,))
        key = f"{device.id}/{'+'.join(group)}"
        if len(group) == 1 and part.revisions and (was := known_for(one.log, part.id)):
            key += f"@{was}"
        minutes = round(sum(self.minutes(one, device.parts[name]) for name in group))
        if all(name in {**incoming.ordered, **incoming.arrived} for name in group):
            return Need("+".join(group), (Alternative("bought already", 0, minutes),))
        ways = [Alternative("take", 0, minutes, (key,))]
        if key not in self.offered:  # no supplier is named: at the map's price, somewhere
            price = sum(_price(device, device.parts[name]) for name in group)
            ways.append(Alternative("buy", price, minutes))
        modes = {suspect.part: suspect.modes for suspect in one.belief.suspects}[part.id]
        for remedy in part.remedies:
            cured = sum(dict(remedy.cures).get(mode, 0.0) * chance for mode, chance in modes.items())
            share = cured / max(1e-9, sum(modes.values()))
            if not remedy.part and share > 0.0 and remedy.name not in one.log.state.mended.get(part.id, ()):
                fails = (1.0 - share) * (_price(device, part) + self.facts.settings.rate_floor.minor * minutes / 60.0)
                cost = (remedy.materials.minor if remedy.materials else 0) + round(fails)
                hands = round(way(device, one.log.state, part.behind).minutes + remedy.minutes)
                ways.append(Alternative(remedy.name, cost, hands))
        return Need("+".join(group), tuple(ways))

    def gives(self, one: OnBench) -> Iterable[Item]:
        """What comes out of a unit: married groups whole, each part with the chance that it is good."""
        groups = _married(one.device)
        blocks = {suspect.part: suspect.p_bad for suspect in one.belief.suspects}
        done: Counter[tuple[str, ...]] = Counter()
        for part in one.device.parts.values():
            group = groups.get(part.id, (part.id,))
            gone = any(name in one.log.state.removed for name in group)
            if not part.is_connection and part.price.donor and not gone and not done[group]:
                done[group] += 1
                good = 1.0
                for name in group:
                    good *= 1.0 - blocks.get(name, 0.0)
                revision = one.log.state.revisions.get(part.id)
                yield self.item(f"{one.unit}/{'+'.join(group)}", group, revision, one.device, good)

    def loose_item(self, came: StockPart, part: Part, device: Device, good: float) -> Item:
        """What lies on the shelf. A unit may have given one part twice, so the line that it left by is in the id."""
        revision = self.facts.revisions.get(came)
        return replace(self.item(f"{came.unit}/{came.part}#{came.seq}", (part.id,), revision, device, good), minutes=0)

    def item(self, name: str, group: tuple[str, ...], revision: str | None, device: Device, good: float) -> Item:
        key, part = f"{device.id}/{'+'.join(group)}", device.parts[group[0]]
        forgone = sum(one.minor for each in group if (one := device.parts[each].price.donor))
        kept = 1.0 - self.facts.settings.fee_share
        outlets = []
        if f"loose {key}" in self.demands:
            outlets.append(Outlet(f"loose {key}", round(good * kept * self.loose[key][1]), 10))
        if f"kept {key}" in self.demands:
            outlets.append(Outlet(f"kept {key}"))
        return Item(
            name,
            _serves(key, part, revision) if len(group) == 1 else frozenset({key}),
            tuple(outlets),
            round(TAKE_OUT_MINUTES),
            round(kept * forgone),
            chance=good,
            if_bad=_price(device, part),
        )
