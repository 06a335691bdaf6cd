"""What can be done with each part of a unit: keep it, mend it where it is, or put another in its place, and what each
takes.

What several parts need together is apart (``Once``): a step opened and closed, a charge let off, a donor opened, an
order's postage. It is paid once, however many of them are done in one go.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from knowngood.belief.believe import Belief
from knowngood.belief.priors import NEW, USED, fitted, replaced, touched
from knowngood.log import events as ev
from knowngood.log.state import State, after
from knowngood.log.takes import TAKE_OUT_MINUTES
from knowngood.maps.device import Device, Married, Part
from knowngood.plan.access import warnings, way
from knowngood.plan.constraints import out_of_reach, stand_ins
from knowngood.plan.hazards import Act, hands_near
from knowngood.plan.lifting import allowed, first_lift
from knowngood.plan.moves import (
    Move,
    after_remedy,
    bought_by_the_map,
    guessed_price,
    lower,
    remedies_here,
    replacements,
)
from knowngood.plan.terms import InStock, Terms

Array = NDArray[np.float64]

MEND, TAKE, BUY = "mend", "take", "buy"
BOUGHT = (USED, NEW)


@dataclass(frozen=True)
class Donor:
    """A unit of the same map that still holds parts and may give them up: as it is, and the chances of its parts'
    states, fine first."""

    unit: str
    device: Device
    state: State
    states: Mapping[str, tuple[float, ...]]


@dataclass(frozen=True)
class ForSale:
    """A part that a supplier sells, new or used, in whole units of the terms' currency."""

    condition: str
    price: float
    supplier: str
    postage: float = 0.0
    """Once for all that is ordered there."""
    days: float = 0.0


@dataclass(frozen=True)
class Supply:
    """Where other parts could come from. A part that nobody has for sale is taken at the map's prices."""

    loose: Mapping[str, Sequence[InStock]] = field(default_factory=dict)
    """On the shelf, by part."""
    donors: Sequence[Donor] = ()
    for_sale: Mapping[str, Sequence[ForSale]] = field(default_factory=dict)
    """By part."""


@dataclass(frozen=True)
class Once:
    """What is paid once however many parts need it, with the connections that it takes apart and makes again."""

    id: str
    do: str
    minutes: float = 0.0
    money: float = 0.0
    disturbs: frozenset[str] = frozenset()
    wait: float = 0.0
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True)
class Option:
    """One thing to do with a part, or a whole married group to put in its place."""

    kind: str
    """mend, take (from a unit or the shelf) or buy."""
    do: str
    acts: Mapping[str, Array]
    """What it makes of the states of each part that it changes, shape (states before, states after)."""
    minutes: float
    """Hands-on, without what is paid once."""
    money: float
    once: tuple[Once, ...] = ()
    disturbs: frozenset[str] = frozenset()
    """Connections that the act itself makes again."""
    origin: str = ""
    """Where another part comes from: a unit, new or used."""
    wait: float = 0.0
    days: float = 0.0
    """Until what is ordered is here."""
    log: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    note: str = ""
    after: frozenset[str] = frozenset()
    """Parts that a hard rule wants replaced before."""
    replaces: frozenset[str] = frozenset()

    @property
    def all_disturbed(self) -> frozenset[str]:
        return self.disturbs.union(*(one.disturbs for one in self.once))

    @property
    def access(self) -> float:
        """Minutes of what is paid once."""
        return sum(one.minutes for one in self.once)

    @property
    def postage(self) -> float:
        """Money that is paid once."""
        return sum(one.money for one in self.once)


@dataclass(frozen=True)
class Decision:
    """What can be done with a part beside keeping it, or with a married group of which a part is a suspect."""

    parts: tuple[str, ...]
    options: tuple[Option, ...]
    held: tuple[tuple[Option, str], ...] = ()
    """What a hard rule forbids and nothing lifts, with the rule."""


class Offers:
    """The options of a unit's parts. Rules are those of ``plan.hazards``: what none of them allows is held, what one
    allows after something else (a charge let off, a hurt cell out) carries that along."""

    def __init__(self, device: Device, state: State, terms: Terms, belief: Belief, supply: Supply) -> None:
        self.device, self.state, self.terms, self.belief, self.supply = device, state, terms, belief, supply
        self._others = stand_ins(device, state, terms)
        self._married = {part: group for group in device.moving_together for part in group.parts}

    def decisions(self, parts: Iterable[str]) -> list[Decision]:
        """A decision for each of these parts, and one for each married group that one of them is in."""
        alone = [self._of_part(self.device.parts[part]) for part in parts]
        groups = dict.fromkeys(group for one in alone if (group := self._married.get(one.parts[0])))
        return alone + [decision for group in groups if (decision := self._of_group(group)).options]

    def _of_part(self, part: Part) -> Decision:
        """What can be done with one part; a married one, or what carries one, is mended where it is, and never replaced
        alone."""
        moves = [
            move
            for move in remedies_here(self.device, self.state, self.terms, part)
            if move.kind == "mend" and out_of_reach(self.state, self.terms, move) is None
        ]
        offered = []
        if not self.device.left_behind[part.id]:
            sources = [*self.supply.loose.get(part.id, ()), *self._bought(part)]
            moves += replacements(self.device, self.state, self.terms, part, sources)
            offered = [one for donor in self.supply.donors if (one := self._from_donor(part, donor))]
        return _sorted_out((part.id,), [*(self._option(part, move) for move in moves), *offered])

    def _of_group(self, group: Married) -> Decision:
        """A whole married group from one unit that has all of it."""
        parts = [self.device.parts[part] for part in group.parts]
        units = {donor.unit for donor in self.supply.donors}
        units |= {one.origin for part in parts for one in self.supply.loose.get(part.id, ())}
        offered = []
        for unit in sorted(units):
            pieces = [one for part in parts if (one := self._from_unit(part, unit))]
            if len(pieces) == len(parts):
                offered.append(_as_one(group, unit, " and ".join(lower(part.what) for part in parts), pieces))
        return _sorted_out(group.parts, offered)

    def _from_unit(self, part: Part, unit: str) -> tuple[Option, str] | None:
        loose = [one for one in self.supply.loose.get(part.id, ()) if one.origin == unit]
        if loose:
            moves = replacements(self.device, self.state, self.terms, part, loose)
            return self._option(part, moves[0]) if moves else None
        donor = next((one for one in self.supply.donors if one.unit == unit), None)
        return self._from_donor(part, donor) if donor else None

    # ---- the options of one part ------------------------------------------------------------------------------------

    def _bought(self, part: Part) -> list[InStock]:
        """The cheapest of each condition, postage counted; where nobody sells it, at the map's price."""
        offers = self.supply.for_sale.get(part.id, ())
        if offers:
            return [InStock(one.condition, one.price) for one in self._cheapest(part.id)]
        return bought_by_the_map(part) or [InStock(USED, guessed_price(self.device, part))]

    def _cheapest(self, part: str) -> list[ForSale]:
        best: dict[str, ForSale] = {}
        for one in sorted(self.supply.for_sale.get(part, ()), key=lambda one: (one.price + one.postage, one.supplier)):
            best.setdefault(one.condition, one)
        return list(best.values())

    def _option(self, part: Part, move: Move) -> tuple[Option, str]:
        """A move as an option, and the rule that forbids it, if one does."""
        lifts, first, why = self._cleared(self.device, self.state, move)
        opens = dict.fromkeys((*move.opens, *(step for lift in lifts for step in lift.opens)))
        once = [self._step(step) for step in opens] + [_lift(self.device, one) for one in lifts]
        source, kind, note, days = move.source, MEND, "", 0.0
        if source is not None:
            kind = BUY if source.origin in BOUGHT else TAKE
            sold = next((one for one in self._cheapest(part.id) if one.condition == source.origin), None)
            if kind == BUY and sold:
                days = sold.days
                note = f"From {sold.supplier}."
                if sold.postage:
                    once.append(Once(f"post {sold.supplier}", f"Postage of {sold.supplier}", money=sold.postage))
            elif kind == BUY and not bought_by_the_map(part):
                note = "The map gives no price for it: guessed."
        acts = after_remedy(part, move) if source is None else self._put_in(part, source)
        opened = sum(self.device.steps[step].open_minutes for step in move.opens)
        return Option(
            kind=kind,
            do=move.do,
            acts={part.id: acts},
            minutes=move.minutes - opened,
            money=move.materials,
            once=tuple(once),
            disturbs=frozenset(one for one in move.disturbs if self._by_the_act(part, one, move)),
            origin=source.origin if source else "",
            wait=move.remedy.wait if move.remedy else 0.0,
            days=days,
            log=(move.log,),
            cautions=move.cautions,
            note=note,
            after=first,
            replaces=frozenset({part.id}) if source else frozenset(),
        ), why

    def _by_the_act(self, part: Part, disturbed: str, move: Move) -> bool:
        """Whether a connection is made again by fitting a part (the way to it counts with its steps)."""
        return move.source is not None and disturbed != part.id and disturbed in self.device.plugs_of[part.id]

    @staticmethod
    def _put_in(part: Part, source: InStock) -> Array:
        """What another part makes of the slot: what is bought may be bad as well, by its kind's base odds."""
        fresh = np.array(source.states) if source.states is not None else fitted(part, source.origin)
        assert part.swap is not None
        return replaced(part, part.swap, fresh)

    def _from_donor(self, part: Part, donor: Donor) -> tuple[Option, str] | None:
        """The part out of a unit that still holds it, or None: it is gone there, or cannot be replaced here."""
        theirs = donor.device.parts.get(part.id)
        if theirs is None or part.id in donor.state.removed | donor.state.harvested:
            return None
        states = donor.states.get(part.id)
        moves = replacements(
            self.device, self.state, self.terms, part, [InStock(donor.unit, part.price.forgone, states)]
        )
        if states is None or not moves:
            return None
        option, why = self._option(part, moves[0])
        there = way(donor.device, donor.state, theirs.behind)
        near = hands_near(donor.device, (part.id,), (), there.opens, ())
        act = Act(touches=frozenset({part.id}), near=near, takes_out=part.id)
        warned = warnings(donor.device, donor.state, act, (), there)
        taking = Move("take-out", part.id, "", TAKE_OUT_MINUTES, 0.0, act, opens=there.opens, cautions=warned)
        lifts, first, held = self._cleared(donor.device, donor.state, taking)
        steps = [
            donor.device.steps[one] for one in dict.fromkeys((*there.opens, *(s for one in lifts for s in one.opens)))
        ]
        opened = [Once(step.id, step.do, step.open_minutes, wait=step.wait) for step in steps]
        lifted = [_lift(donor.device, one) for one in lifts]
        theirs_first = [
            replace(one, id=f"{donor.unit} {one.id}", do=f"{donor.unit}: {one.do}") for one in (*opened, *lifted)
        ]
        if first:
            held = held or f"In {donor.unit} {', '.join(sorted(first))} has to come out first."
        return replace(
            option,
            minutes=option.minutes + TAKE_OUT_MINUTES,
            once=(*option.once, *theirs_first),
            cautions=_each_once(option.cautions, taking.cautions),
            note=f"{donor.unit} still holds it.",
        ), why or held

    # ---- rules ------------------------------------------------------------------------------------------------------

    def _cleared(self, device: Device, state: State, move: Move) -> tuple[list[Move], frozenset[str], str]:
        """What has to be done before a move so that no hard rule forbids it: moves, and parts to be replaced; with why
        it cannot be done, if nothing helps."""
        others = self._others if device is self.device else None
        lifts: list[Move] = []
        first: set[str] = set()
        now = state
        for _ in range(len(device.hard_rules) + 1):
            held = allowed(device, now, [move], others)[1]
            if not held:
                return lifts, frozenset(first), ""
            lift = first_lift(device, now, self.terms, move, held[0][1])
            if lift is None:
                break
            if lift.kind in ("take-out", "replace"):
                first.add(lift.target)
                now = after(device, now, ev.Fitted(part=lift.target, origin=NEW), 0)
            elif lift.kind == "discharge":
                lifts.append(lift)
                now = after(device, now, ev.Discharged(part=lift.target, reading="0 V"), 0)
            elif lift.kind in ("dry", "wait"):
                lifts.append(lift)
                now = after(device, replace(now, drying=None), ev.Dried(), 0)
            else:
                break
        return [], frozenset(), str(held[0][1])

    def _step(self, step: str) -> Once:
        one = self.device.steps[step]
        warned = tuple(self.device.hazards[name].caution for name in one.hazards if name in self.device.hazards)
        both = one.open_minutes + one.close_minutes
        return Once(f"way {step}", one.do, both, disturbs=frozenset(one.unplugs), wait=one.wait, cautions=warned)


def _lift(device: Device, lift: Move) -> Once:
    """A move that lifts a rule, without the way to it."""
    opened = sum(device.steps[step].open_minutes for step in lift.opens)
    return Once(lift.name, lift.do, lift.minutes - opened, wait=lift.wait, cautions=lift.cautions)


def _each_once(*lists: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(one for some in lists for one in some))


def spoiling(belief: Belief, option: Option) -> float:
    """Chance that an option makes the unit worse by itself: that a remedy harms a part that stops nothing now, that
    what is put in stops something where the old one did not, or that a connection it disturbs is left open."""
    safe = 1.0
    for name, acts in option.acts.items():
        part = belief.device.parts[name]
        stops = belief.stopping(part)
        now = belief.slot(belief.posterior, part)[0]
        safe *= 1.0 - float(now[~stops] @ acts[np.ix_(~stops, stops)].sum(axis=1))
    for name in option.all_disturbed:
        drawn = touched(belief.device.parts[name])
        if drawn is not None:
            safe *= 1.0 - float(drawn[0, belief.stopping(belief.device.parts[name])].sum())
    return 1.0 - safe


def _as_one(group: Married, unit: str, what: str, pieces: Sequence[tuple[Option, str]]) -> tuple[Option, str]:
    """A married group as one option, with the first reason against any of its parts."""
    options = [one for one, _ in pieces]
    notes = dict.fromkeys([f"They are married ({group.bond}): all of them, or none."] + [one.note for one in options])
    whole = Option(
        kind=TAKE,
        do=f"Take the {what} from {unit}, all together",
        acts={part: act for one in options for part, act in one.acts.items()},
        minutes=sum(one.minutes for one in options),
        money=sum(one.money for one in options),
        once=tuple({each.id: each for one in options for each in one.once}.values()),
        disturbs=frozenset().union(*(one.disturbs for one in options)),
        origin=unit,
        wait=max(one.wait for one in options),
        log=tuple(line for one in options for line in one.log),
        cautions=_each_once(*(one.cautions for one in options)),
        note=" ".join(filter(None, notes)),
        after=frozenset().union(*(one.after for one in options)),
        replaces=frozenset(group.parts),
    )
    return whole, next((why for _, why in pieces if why), "")


def _sorted_out(parts: Sequence[str], offered: Sequence[tuple[Option, str]]) -> Decision:
    free = tuple(option for option, why in offered if not why)
    return Decision(tuple(parts), free, tuple((option, why) for option, why in offered if why))
