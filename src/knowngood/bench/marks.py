"""A mark that was seen on a hurt part: what it means, and what on the shelf stands in for it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from knowngood.bench import loose
from knowngood.bench.stock import Logs, stock
from knowngood.bench.store import Store
from knowngood.bench.work import replayed
from knowngood.handbook.decoding import FUSE, ONLY, Decoded, Meaning, Rule, decode, rules
from knowngood.handbook.preferred import from_stock
from knowngood.handbook.small_parts import SmallPart, but_value, unsaid, within
from knowngood.log import events as ev
from knowngood.log.state import Line, effective
from knowngood.maps.device import Device
from knowngood.maps.words import FINE

KINDS = {
    "resistor": ("resistor", ""),
    "small-ceramics": ("capacitor", "ceramic"),
    "electrolytics": ("capacitor", "electrolytic"),
    "fuse": (FUSE, ""),
}
"""Kinds of a map that tell what small part it is, and how that is made."""

JOINED = {"resistor": ("in series", "in parallel"), "capacitor": ("in parallel", "in series")}
"""How the values of two parts add, and how they share."""

SHARES = {
    ("resistor", "in series"): "the larger takes more of the power",
    ("resistor", "in parallel"): "the smaller takes more of the power",
    ("capacitor", "in series"): "they share the voltage by value and leakage, not evenly",
}
"""What to mind of two together (resistor-from-stock, capacitor-from-stock)."""


@dataclass(frozen=True)
class Offer:
    """Parts on the shelf that are alike."""

    id: str
    """A lot, as S3, or the donor's part, as "D1 low-caps"."""
    part: SmallPart
    left: int
    place: str
    unsure: str = ""
    """What is not sure about its value."""


@dataclass(frozen=True)
class Replacement:
    """One part from the shelf, or two together."""

    value: float
    error: float
    how: str
    offers: tuple[Offer, ...]

    @property
    def mind(self) -> str:
        """What to mind of two that are joined so."""
        return SHARES.get((self.offers[0].part.kind, self.how), "")

    @property
    def lacks(self) -> tuple[str, ...]:
        """What its own lines do not say, and has to be looked up or measured."""
        return tuple(dict.fromkeys(word for one in self.offers for word in unsaid(one.part)))


@dataclass(frozen=True)
class Proposal:
    """One meaning of a mark with what replaces it."""

    meaning: Meaning
    unsaid: tuple[str, ...]
    """What the mark does not say and the replacement has to meet."""
    replacement: Replacement | None
    near: tuple[tuple[Offer, str], ...]
    """What is on the shelf with such a value and does not fit, with the reason."""
    buy: str
    """What to buy where nothing fits: the nearest value that is made, with what else is known of the old one."""


@dataclass(frozen=True)
class Seen:
    """A mark in a unit's log."""

    seq: int
    part: str
    condition: str
    mark: str
    decoded: Decoded
    proposals: tuple[Proposal, ...]
    rules: tuple[Rule, ...]
    hazards: tuple[str, ...]
    """Cautions of what it sits in."""

    @property
    def hurt(self) -> bool:
        """Whether it needs a replacement; for what is fine the shelf is not searched."""
        return self.condition != FINE


def marks_of(store: Store, unit: str, seqs: Iterable[int] | None = None) -> list[Seen]:
    """Each mark seen on what sits in a unit now; with ``seqs`` those in these lines of its log."""
    device, log = replayed(store, unit)
    if seqs is None:
        lines = _present(log.lines)
    else:
        wanted = set(seqs)
        lines = [line for line in log.lines if line.seq in wanted]
    seen = [(line.seq, line.event) for line in lines if isinstance(line.event, ev.Saw) and line.event.mark]
    on_shelf = offers(store) if seen else []
    return [_seen(device, seq, event, on_shelf) for seq, event in seen]


def _present(lines: Sequence[Line]) -> list[Line]:
    """The looks at what sits in the unit now: of one part and mark the last."""
    found: dict[tuple[str, str | None], Line] = {}
    for line in lines:
        match line.event:
            case ev.Saw(part=part, mark=mark):
                found.pop((part, mark), None)
                found[part, mark] = line
            case ev.Fitted(part=part, origin=origin) if origin != ev.BACK:
                found = {key: one for key, one in found.items() if key[0] != part}
            case _:
                pass
    return list(found.values())


def _seen(device: Device, seq: int, event: ev.Saw, on_shelf: Sequence[Offer]) -> Seen:
    kind, make = KINDS.get(device.parts[event.part].kind, ("", ""))
    assert event.mark is not None
    decoded = decode(event.mark, kind, make)
    kinds = dict.fromkeys([one.part.kind for one in decoded.meanings] or ([kind] if kind else []))
    makes = {one.part.kind: one.part.make or make for one in decoded.meanings}
    return Seen(
        seq,
        event.part,
        event.condition,
        event.mark,
        decoded,
        tuple(_proposal(one, on_shelf) for one in decoded.meanings),
        tuple(rule for one in kinds for rule in rules(one, makes.get(one, make))),
        tuple(device.hazards[name].caution for name in device.parts[event.part].hazards),
    )


def _proposal(meaning: Meaning, on_shelf: Sequence[Offer]) -> Proposal:
    old = meaning.part
    against = {one: but_value(old, one.part) for one in on_shelf if one.part.kind == old.kind}
    far = within(old) * old.value
    return Proposal(
        meaning,
        unsaid(old),
        replacement(old, [one for one, wrong in against.items() if not wrong]),
        tuple(
            (one, "; ".join(wrong))
            for one, wrong in against.items()
            if wrong and abs(one.part.value - old.value) <= far
        ),
        replace(old, value=meaning.nearest or old.value).text(),
    )


def replacement(old: SmallPart, fitting: Sequence[Offer]) -> Replacement | None:
    """What comes nearest to a part among offers of which nothing but the value may speak against it.

    One part goes before two of lots together; what may be another value than it seems is never one of two.
    """
    if old.value == 0.0:
        jumpers = [one for one in fitting if one.part.value == 0.0]
        return Replacement(0.0, 0.0, "one part", (min(jumpers, key=_known),)) if jumpers else None
    lots = [one for one in fitting if not one.unsure]
    added, shared = JOINED.get(old.kind, ("", ""))
    found = [
        stocked
        for count, among in ((1, fitting), (2, lots if added else []))
        for stocked in from_stock(
            old.value,
            [one.part.value for one in among if one.part.value > 0.0],
            within(old),
            added=added,
            shared=shared,
            only_one=_only_one(among),
        )
        if stocked.fits and len(stocked.parts) == count
    ]
    if not found:
        return None
    taken: list[Offer] = []
    for value in found[0].parts:
        left = [one for one in fitting if one.part.value == value and one.left > taken.count(one)]
        taken.append(min(left, key=_known))
    return Replacement(found[0].value, found[0].error, found[0].how, tuple(taken))


def _only_one(among: Iterable[Offer]) -> set[float]:
    left: dict[float, int] = {}
    for one in among:
        left[one.part.value] = left.get(one.part.value, 0) + one.left
    return {value for value, count in left.items() if count == 1}


def _known(offer: Offer) -> tuple[bool, int, int, str]:
    """Of offers with one value: what is surest and of which most is known first, then where most are left."""
    return bool(offer.unsure), len(unsaid(offer.part)), -offer.left, offer.id


def offers(store: Store) -> list[Offer]:
    """The loose parts that are left, and harvested parts seen fine with a mark, by each of its readings."""
    found = [Offer(one.id, one.part, one.left, one.place) for one in loose.lots(store).values() if one.left > 0]
    logs = Logs(store)
    for one in stock(store):
        device, lines = logs[one.unit]
        looks = [
            line.event
            for line in _present([line for line in effective(lines)[0] if line.seq < one.seq])
            if isinstance(line.event, ev.Saw) and line.event.part == one.part
        ]
        marks = [look.mark for look in looks if look.mark]
        if not marks or any(look.condition != FINE for look in looks):
            continue
        for meaning in decode(marks[-1], *KINDS.get(device.parts[one.part].kind, ("", ""))).meanings:
            unsure = "" if meaning.sure == ONLY else f"if {marks[-1]} is to be read so; measure it"
            found.append(Offer(f"{one.unit} {one.part}", meaning.part, 1, f"out of {one.unit}", unsure))
    return found
