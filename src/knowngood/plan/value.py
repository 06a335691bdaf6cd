"""What going on is worth, by two estimates that the choice of the next move needs.

*One by one* is a plan that could be followed as it stands: remedies in the classic order of probability over cost, a
check after each, and the right to stop. Source of the order: J. Kalagnanam, M. Henrion, A comparison of decision
analysis and expert rules for sequential diagnosis, UAI 1988 (arXiv 1304.2362); with repairs D. Heckerman, J. Breese,
K. Rommelse, Decision-theoretic troubleshooting, CACM 38(3) 1995. It is optimal for one fault with independent costs,
perfect remedies and a free check. Several faults are met by an approximation: how far the chance to be solved has come
after each remedy follows the product of independent parts, made to start at the exact chance that nothing is wrong and
to end at the chance that nothing is in the way which no remedy reaches: an unknown, or a part without one.

*Found out* is what the job is worth if what is wrong were known, less a price for each bit that is still open. It sees
what information is worth where the first plan, with many suspects, is so dear that it always stops; but it promises
more than can be had, so only differences of it count.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from knowngood.belief.what_if import Answer

Array = NDArray[np.float64]

LONGEST = 24
"""Remedies looked ahead; parts after that are met as if nothing could be done about them."""

CHECK_MINUTES = 2.0
"""Hands-on time to see whether a remedy helped (common practice, no source)."""

BIT_MINUTES = 5.0
"""Hands-on time that finding out one bit takes: own judgement, not tuned.

Rehearsals of 16 projectors with 5 and with less came out alike within their error, so they chose nothing.
"""


MOST_BIT_MINUTES = 20.0
"""The most that a bit may take where nothing is found out for less and the job can bear it: own judgement."""


@dataclass(frozen=True)
class Access:
    """The ways that are closed now. A step is paid once for all that is done behind it."""

    behind: Array
    """1 where a part lies behind a step, shape (parts, steps)."""
    cost: Array
    """Cost of opening and closing each step, shape (steps,) or (rows, steps): nothing where a row has it open."""


@dataclass(frozen=True)
class Series:
    """All that would be done to each part that stops the unit, one remedy after the other until one helps.

    Each of shape (parts,) or (rows, parts); nothing where nothing is worth doing.
    """

    cost: Array
    """What that costs in the mean, access and checks not counted."""
    tries: Array
    """Remedies that it takes in the mean, each with a check."""
    cures: Array
    """Chance that one of them helps."""


@dataclass(frozen=True)
class Outlook:
    """What the values need beside the belief: for each part the best remedy's cost and chance, and the ways out."""

    cost: Array
    """Cost of each part's remedy, shape (parts,) or (rows, parts), access not counted; infinite where there is none."""
    cures: Array
    """Chance that it cures, same shape."""
    no_unknown: float | Array
    """Chance that nothing the map does not know is in the way; one figure, or one for each row."""
    check: float
    """Cost of checking whether it works, once it is closed."""
    success: float | Array
    """Worth of a unit that works, less what proving all of it and selling it take; one figure, or one for each row."""
    stop: float
    """Worth of the best way out as it is."""
    bit: float
    """Price of finding out one bit."""
    access: Access | None = None
    then_cost: Array | None = None
    """Cost of what is done to each part where its remedy has not helped, like ``cost``; None where nothing is."""
    then_cures: Array | None = None
    """Chance that this takes away what the remedy has left, same shape."""
    shown: float | Array = 0.0
    """Worth of what has been shown already: lost with the next act on the unit; one figure, or one for each row."""
    closing: float | Array = 0.0
    """Cost of closing what is open, paid once: a way opened anew pays for itself; one figure, or one for each row."""
    checkable: bool = True
    """Whether the unit could be shown to work as it is: not where a trial has failed that would fail again."""
    shut: Access | None = None
    """The ways as they are once all is closed, if something is open."""
    in_series: Series | None = None
    """All remedies of each part; if not given, the two above."""

    def by_row(self, rows: int) -> Outlook:
        """The same with a row of costs and chances for each of ``rows`` beliefs."""
        shape = (rows, self.cost.shape[-1])
        cost, cures = np.broadcast_to(self.cost, shape), np.broadcast_to(self.cures, shape)
        then_cost, then_cures = (np.broadcast_to(one, shape) for one in self.afterwards())
        return replace(self, cost=cost, cures=cures, then_cost=then_cost, then_cures=then_cures)

    def afterwards(self) -> tuple[Array, Array]:
        """Cost and chance of what is done to each part where its remedy has not helped; infinite and 0 for nothing."""
        if self.then_cost is None or self.then_cures is None:
            return np.full_like(self.cost, np.inf), np.zeros_like(self.cures)
        return self.then_cost, self.then_cures

    def series(self) -> Series:
        """All remedies of each part."""
        if self.in_series is not None:
            return self.in_series
        then_cost, then_cures = self.afterwards()
        doable, more = np.isfinite(self.cost) & (self.cures > 0), np.isfinite(then_cost) & (then_cures > 0)
        cures = np.where(doable, self.cures, 0.0)
        left = np.where(doable & more, 1.0 - cures, 0.0)
        cost = np.where(doable, self.cost, 0.0) + left * np.where(more, then_cost, 0.0)
        return Series(cost, np.where(doable, 1.0, 0.0) + left, cures + left * then_cures)


def bits_of(chance: Array) -> Array:
    """Bits in whether something with this chance is so."""
    inside = np.clip(chance, 1e-15, 1.0 - 1e-15)
    return np.asarray(-(inside * np.log2(inside) + (1 - inside) * np.log2(1 - inside)))


@dataclass(frozen=True)
class Estimate:
    """What a job is worth by one of the two, how far single units lie from that, and the chance that it ends in a unit
    that works, all of shape (rows,)."""

    worth: Array
    variance: Array
    finishes: Array


def _stopped(stop: float, rows: int) -> Estimate:
    """Stopping as it is, which brings the same each time."""
    return Estimate(np.full(rows, stop), np.zeros(rows), np.zeros(rows))


def _or_stop(stop: float, going_on: Estimate) -> Estimate:
    """The better of going on and stopping."""
    on = going_on.worth > stop
    variance, finishes = (np.where(on, one, 0.0) for one in (going_on.variance, going_on.finishes))
    return Estimate(np.where(on, going_on.worth, stop), variance, finishes)


def _better(one: Estimate, other: Estimate) -> Estimate:
    """The better of two in each row."""
    at = one.worth >= other.worth
    pairs = ((one.worth, other.worth), (one.variance, other.variance), (one.finishes, other.finishes))
    return Estimate(*(np.where(at, *pair) for pair in pairs))


def _either(chance: Array, then: float | Array, otherwise: Estimate) -> Estimate:
    """A unit that works and what that brings, with a chance, or else what an estimate says."""
    worth = chance * then + (1.0 - chance) * otherwise.worth
    apart = chance * (1.0 - chance) * (then - otherwise.worth) ** 2
    finishes = chance + (1.0 - chance) * otherwise.finishes
    return Estimate(worth, apart + (1.0 - chance) * otherwise.variance, finishes)


def bits_told(answer: Answer, p_blocks: Array) -> float:
    """Bits that a look or test brings in the mean about which parts stop something; p_blocks now, any shape."""
    left = bits_of(np.nan_to_num(answer.p_blocks)).sum(axis=1)
    return float(bits_of(p_blocks).sum() - answer.probability @ left)


def found_out(outlook: Outlook, p_blocks: Array, known_good: Array, before: Array | None = None) -> Estimate:
    """What it is worth if what is wrong were found out, at the price of its bits: p_blocks (rows, parts), known_good
    (rows,). Where a remedy has just been applied, both are from ``before`` it and p_blocks from after it."""
    return _or_stop(outlook.stop, seen_through(outlook, p_blocks, known_good, before))


def seen_through(outlook: Outlook, p_blocks: Array, known_good: Array, before: Array | None = None) -> Estimate:
    """The same without the right to stop before all that is in the way is mended."""
    series = outlook.series()
    chance = np.clip(p_blocks, 0.0, 1.0)
    bits = bits_of(chance).sum(axis=1)
    each = series.cost + series.tries * outlook.check
    costs = outlook.closing + (chance * each).sum(axis=1)
    variance = (chance * (1.0 - chance) * each**2).sum(axis=1)
    if outlook.access is not None:
        nothing_there = np.log1p(-np.minimum(np.where(series.tries > 0.0, chance, 0.0), 1.0 - 1e-12))
        left_closed = np.exp(nothing_there @ outlook.access.behind)
        costs = costs + (1.0 - left_closed) @ outlook.access.cost
        variance = variance + (left_closed * (1.0 - left_closed)) @ outlook.access.cost**2
    within = np.prod(1.0 - chance * (1.0 - series.cures), axis=1) * outlook.no_unknown
    works = np.prod(1.0 - (chance if before is None else np.clip(before, 0.0, 1.0)), axis=1) * outlook.no_unknown
    within_reach = _from_exact(known_good, works, within)
    success = outlook.success + outlook.shown * known_good / np.maximum(within_reach, 1e-300)
    brings = _either(within_reach, success, _stopped(outlook.stop, 1))
    return Estimate(brings.worth - costs - outlook.bit * bits, brings.variance + variance, brings.finishes)


def _from_exact(known_good: Array, works: Array, later: Array) -> Array:
    """A chance by independent parts, made to start at the exact chance that nothing is wrong; all of shape (rows,).

    Parts that were cleared one by one say by themselves that it works, where a function is known to fail all the same.
    """
    rises = np.clip((later - works) / np.maximum(1.0 - works, 1e-300), 0.0, 1.0)
    return np.asarray(known_good + (1.0 - known_good) * rises)


def one_by_one(outlook: Outlook, p_blocks: Array, known_good: Array, first: NDArray[np.intp] | None = None) -> Estimate:
    """What it is worth by the plan in order of probability over cost: p_blocks (rows, parts), known_good (rows,).

    With ``first`` (rows,), that part's remedy is applied first, come what may; else the unit is checked first, or,
    where something is open, what is worth mending is mended first if that is better. Stopping is allowed after every
    step, so without ``first`` no row is worth less than ``stop``.
    """
    outlook = outlook.by_row(len(p_blocks))
    if first is not None or not outlook.checkable:
        return _mended_first(outlook, p_blocks, known_good, first)
    checked = checked_first(outlook, p_blocks, known_good)
    if not np.any(outlook.closing):
        return checked
    return _better(checked, _mended_first(outlook, p_blocks, known_good))


def checked_first(outlook: Outlook, p_blocks: Array, known_good: Array) -> Estimate:
    """The same if all that is open is closed and the unit checked first: what is mended then has its way to pay."""
    outlook = outlook.by_row(len(p_blocks))
    rest = _in_order(replace(outlook, access=outlook.shut or outlook.access), p_blocks, known_good)
    checked = _either(known_good, outlook.success + outlook.shown, rest)
    return _or_stop(outlook.stop, replace(checked, worth=checked.worth - outlook.check - outlook.closing))


def _mended_first(
    outlook: Outlook, p_blocks: Array, known_good: Array, first: NDArray[np.intp] | None = None
) -> Estimate:
    """If a remedy comes first: that of the part named for each row, come what may, or the first in order."""
    rest = _in_order(outlook, p_blocks, known_good, first, checked=False)
    mended = replace(rest, worth=rest.worth - outlook.closing)
    return mended if first is not None else _or_stop(outlook.stop, mended)


def _in_order(
    outlook: Outlook,
    p_blocks: Array,
    known_good: Array,
    first: NDArray[np.intp] | None = None,
    *,
    checked: bool = True,
) -> Estimate:
    """What the remedies in order are worth, a check after each: of a unit that was checked and does not work, or of
    one that nobody checked. An outlook by row."""
    rows, parts = p_blocks.shape
    doable = np.isfinite(outlook.cost)
    if not doable.any():
        return _stopped(outlook.stop, rows)
    columns = _columns(outlook, doable, p_blocks)
    alone = columns.cost if outlook.access is None else columns.cost + _alone(outlook.access)[..., columns.part]
    ratio = np.where(columns.there, columns.cured / alone, -1.0)
    if first is not None:
        ratio[np.arange(rows), first] = np.inf
    ratio[:, parts:] = np.minimum(ratio[:, parts:], ratio[:, columns.part[parts:]])  # after the part's first remedy
    order = np.argsort(-ratio, axis=1, kind="stable")[:, : min(LONGEST, ratio.shape[1])]
    within = np.zeros(ratio.shape, dtype=bool)
    np.put_along_axis(within, order, True, axis=1)
    out_of_reach = np.where(within[:, :parts] & doable, 0.0, np.clip(p_blocks, 0.0, 1.0))
    most = outlook.no_unknown * np.prod(1.0 - out_of_reach, axis=1)
    cost = np.take_along_axis(columns.cost, order, axis=1)
    if outlook.access is not None:
        cost = cost + _first_access(outlook.access, columns.part[order])
    before, after = (np.take_along_axis(one, order, axis=1) for one in (columns.before, columns.after))
    solved = _solved(before, after, known_good, most)
    rest = _stopped(outlook.stop, rows)
    for step in range(order.shape[1] - 1, -1, -1):
        before, after = solved[:, step], solved[:, step + 1]
        helped = np.where(before < 1.0, (after - before) / np.maximum(1.0 - before, 1e-300), 1.0)
        if step == 0 and not checked:
            helped = after
        tried = _either(helped, outlook.success, rest)
        paid = replace(tried, worth=tried.worth - cost[:, step] - outlook.check)
        forced = first is not None and step == 0
        rest = paid if forced else _or_stop(outlook.stop, paid)
    return rest


@dataclass(frozen=True)
class _Columns:
    """What can be done: each part's remedy, and after all of these what is done to a part where that did not help."""

    part: NDArray[np.intp]
    """The part of each column, shape (columns,)."""
    there: NDArray[np.bool_]
    """Whether there is such a remedy, shape (rows, columns), as the rest is."""
    cost: Array
    cured: Array
    """Chance that it takes away what stops the unit."""
    before: Array
    """Log of the chance that the part stops nothing while the column is not done, as far as no other column says so."""
    after: Array
    """The same once it is done, to be added for each column that is."""


def _columns(outlook: Outlook, doable: NDArray[np.bool_], p_blocks: Array) -> _Columns:
    then_cost, then_cures = outlook.afterwards()
    again = np.flatnonzero((doable & np.isfinite(then_cost)).any(axis=0))
    chance = np.where(doable, np.clip(p_blocks, 0.0, 1.0 - 1e-12), 0.0)
    left = chance * (1.0 - outlook.cures)
    there = np.concatenate([doable, (doable & np.isfinite(then_cost))[:, again]], axis=1)
    cures = np.where(there[:, doable.shape[1] :], then_cures[:, again], 0.0)
    still = np.log1p(-left)
    return _Columns(
        np.concatenate([np.arange(doable.shape[1]), again]),
        there,
        np.where(there, np.concatenate([outlook.cost, then_cost[:, again]], axis=1), 1.0),
        np.concatenate([chance * outlook.cures, left[:, again] * cures], axis=1),
        np.concatenate([np.log1p(-chance), np.zeros(cures.shape)], axis=1),
        np.concatenate([still, np.log1p(-left[:, again] * (1.0 - cures)) - still[:, again]], axis=1),
    )


def _alone(access: Access) -> Array:
    """What the way to each part costs by itself, shape (parts,) or (rows, parts)."""
    return np.asarray(access.cost @ access.behind.T)


def _first_access(access: Access, parts: NDArray[np.intp]) -> Array:
    """What each remedy pays for the steps that none before it has opened, shape (rows, remedies); parts in order."""
    opened = np.maximum.accumulate(access.behind[parts], axis=1)
    first = np.diff(opened, axis=1, prepend=0.0)
    return np.asarray((first * np.expand_dims(access.cost, -2)).sum(axis=2))


def _solved(before: Array, after: Array, known_good: Array, most: Array) -> Array:
    """Chance that the unit works after 0, 1, 2 ... remedies, shape (rows, steps + 1), rising.

    ``before`` and ``after`` as in ``_Columns``, in order; ``most`` (rows,) is the chance that nothing is in the way
    which none of them reaches.
    """
    nothing = np.zeros((len(before), 1))
    tail = np.concatenate([np.cumsum(before[:, ::-1], axis=1)[:, ::-1], nothing], axis=1)
    head = np.concatenate([nothing, np.cumsum(after, axis=1)], axis=1)
    independent = np.exp(head + tail)
    start, end = independent[:, :1], independent[:, -1:]
    share = np.where(end > start, (independent - start) / np.maximum(end - start, 1e-300), 0.0)
    last = np.maximum(known_good[:, None], most[:, None] * end)
    result: Array = known_good[:, None] + (last - known_good[:, None]) * share
    return result
