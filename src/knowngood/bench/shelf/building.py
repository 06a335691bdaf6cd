"""From the facts of the bench to a shelf problem, in the words of the bench.

What each unit could become is for ``money.shelf.build``; here are the market, the parts on the shelf, and what the ids
of the problem mean: units, ways, demands and items as that module names them (a loose part ``U1/lamp-module#7``, by the
line that it left by), offers ``SUPPLIER MAP/PART new [REVISION]``.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from knowngood.belief.believe import Belief, believe
from knowngood.bench.market import Offers
from knowngood.bench.passages import StockPart
from knowngood.bench.shelf.facts import Facts
from knowngood.handbook.quantities import money_of
from knowngood.log import events as ev
from knowngood.log.state import Line, replay
from knowngood.maps.device import Device
from knowngood.money.shelf.build import AtHand, Outside, item_of, serves, unit_of, wanted
from knowngood.money.shelf.problem import Demand, Item, Offer, Problem, Supplier, Unit


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
    devices = {one.device.id: one.device for one in facts.units}
    offers = {
        _offer_id(one): one for one in facts.market.offers if one.map in devices and one.part in devices[one.map].parts
    }
    outside, demands = _outside(facts, devices, offers.values())
    units = tuple(_units(facts, outside))
    loose = tuple(
        _loose_item(came, device, float(states[0]), facts.revisions.get(came), outside)
        for came, states in facts.loose.items()
        if (device := devices.get(came.map_name)) and came.part in device.parts
    )
    problem = Problem(
        units,
        loose,
        demands,
        tuple(Supplier(name, one.price.minor) for name, one in facts.market.suppliers.items()),
        tuple(_offer(name, one, facts, devices[one.map]) for name, one in offers.items()),
        facts.minutes,
        facts.settings.rate_floor.minor,
    )
    return Built(problem, {item: item.partition("/")[0] for item in problem.item}, offers)


def _units(facts: Facts, outside: Outside) -> Iterable[Unit]:
    """Every unit with its ways. Units that have their belief in common, and all else too, are thought through once."""
    made: dict[tuple[int, bool, str, str], Unit] = {}
    for one in facts.units:
        same = replace(one.log.state, bookings=(), minutes_logged=0.0, minutes_assumed=0.0, waited=0.0, planned=None)
        key = (id(one.belief), one.donor, repr(one.terms), repr(same))
        if key not in made:
            made[key] = unit_of(
                AtHand(
                    *(one.unit, one.device, one.log, one.belief, one.terms, one.donor, one.donors),
                    one.belief.measuring,
                ),
                outside,
            )
        yield _named(made[key], one.unit)


def _named(unit: Unit, name: str) -> Unit:
    """The same unit by another name."""
    ways = (
        replace(way, gives=tuple(replace(item, id=f"{name}/{item.id.partition('/')[2]}") for item in way.gives))
        for way in unit.ways
    )
    return Unit(name, tuple(ways))


def _outside(
    facts: Facts, devices: Mapping[str, Device], offers: Iterable[Offers]
) -> tuple[Outside, tuple[Demand, ...]]:
    """What the shelf meets, and who takes how many of what."""
    kept_share = 1.0 - facts.settings.fee_share
    offered: dict[str, float] = {}
    for one in offers:  # what has to be bought beside the plan, as it proves bad, is an order of its own
        alone = (one.price + facts.market.suppliers[one.supplier].price).major
        offered[one.key] = min(alone, offered.get(one.key, alone))
    loose = {f"{one.map}/{one.part}": one for one in facts.market.demands if one.part}
    kept: dict[str, tuple[int, ...]] = {}
    for name, count in facts.market.expects.items():
        if count and name in devices:
            kept |= wanted(_as_bought(devices[name]), count, offered)
    demands = (
        *(Demand(f"{one.how} {one.map}", one.most) for one in facts.market.demands if one.how),
        *(Demand(f"loose {key}", one.most) for key, one in loose.items()),
        *(Demand(f"kept {key}", len(steps), steps) for key, steps in kept.items()),
    )
    return Outside(
        offered,
        {key: kept_share * one.price.major for key, one in loose.items() if one.price},
        kept,
        frozenset(one.id for one in demands),
        facts.settings.period,
        facts.settings.fee_share,
    ), demands


def _as_bought(device: Device) -> Belief:
    """The belief of a unit of which nothing is known but that it was bought broken."""
    bought = ev.Bought(map=device.id, price=money_of(device.worth.working.currency, 0.0))
    return believe(device, replay(device, [Line(1, "", bought)]))


def _offer_id(one: Offers) -> str:
    return f"{one.supplier} {one.key} {one.condition}" + (f" {one.revision}" if one.revision else "")


def _offer(name: str, one: Offers, facts: Facts, device: Device) -> Offer:
    fits = serves(device, (one.part,), one.revision)
    return Offer(name, one.supplier, fits, one.price.minor, facts.market.suppliers[one.supplier].days)


def _loose_item(came: StockPart, device: Device, good: float, revision: str | None, outside: Outside) -> Item:
    """What lies on the shelf. A unit may have given one part twice, so the line that it left by is in the id."""
    item = item_of(device, (came.part,), good, outside, unit=came.unit, revision=revision)
    return replace(item, id=f"{item.id}#{came.seq}")
