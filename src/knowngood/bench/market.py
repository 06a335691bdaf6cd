"""Whom the bench buys from and sells to: plain lines of its own log, and the shelf's own money.

``supplier northparts posts for EUR 6 in 3 days``. A later line on the same thing replaces the earlier; ``undid N``
takes a line back. What is paid and got here belongs to no unit, such as postage.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import ClassVar, Literal

from pydantic import Field

from knowngood.bench import corrections
from knowngood.bench.store import BenchEntry, Store, one_line
from knowngood.bench.work import bench_settings
from knowngood.errors import LineError
from knowngood.handbook.quantities import Money
from knowngood.log import events as ev
from knowngood.log.bookings import Booking
from knowngood.log.events.line import MONEY, NAME
from knowngood.log.state import Flag, Line, effective
from knowngood.maps.device import Device
from knowngood.maps.kinds import shipped_maps
from knowngood.maps.load import load
from knowngood.maps.shape import nearest, similar


class Supplier(ev.Event):
    """Somebody who sells parts: what an order costs to post, and how long it takes to be here."""

    form: ClassVar[str] = "supplier NAME posts for MONEY in NUMBER days"
    example: ClassVar[str] = "supplier northparts posts for EUR 6 in 3 days"
    pattern: ClassVar[str] = rf"(?P<name>{NAME}) posts for (?P<price>{MONEY}) in (?P<days>\d+) days?"
    verb: Literal["supplier"] = "supplier"
    name: str
    price: Money
    days: int = Field(ge=0, le=366)

    def words(self) -> str:
        return f"{self.name} posts for {self.price} in {self.days} day{'' if self.days == 1 else 's'}"


class Offers(ev.Event):
    """A supplier has a part, new or used, as many as anybody wants."""

    form: ClassVar[str] = "offers SUPPLIER MAP/PART new|used at MONEY [revision R]"
    example: ClassVar[str] = "offers northparts ceiling-projector/exhaust-fan new at EUR 8"
    pattern: ClassVar[str] = (
        rf"(?P<supplier>{NAME}) (?P<map>{NAME})/(?P<part>{NAME}) (?P<condition>new|used) at (?P<price>{MONEY})"
        r"(?: revision (?P<revision>[A-Za-z0-9.-]+))?"
    )
    verb: Literal["offers"] = "offers"
    supplier: str
    map: str
    part: str
    condition: Literal["new", "used"]
    price: Money
    revision: str | None = None

    @property
    def key(self) -> str:
        """The part by its map: ``MAP/PART``."""
        return f"{self.map}/{self.part}"

    def words(self) -> str:
        revision = f" revision {self.revision}" if self.revision else ""
        return f"{self.supplier} {self.key} {self.condition} at {self.price}{revision}"


class Demand(ev.Event):
    """Buyers take at most so many in the period: units of a map, working or as they are, or a part of it loose."""

    form: ClassVar[str] = (
        "demand MAP working|as-is at most NUMBER [at MONEY], or: demand MAP/PART at most NUMBER at MONEY"
    )
    example: ClassVar[str] = "demand ceiling-projector working at most 3 at EUR 190"
    pattern: ClassVar[str] = (
        rf"(?P<map>{NAME})(?:/(?P<part>{NAME})(?= at most \d+ at )| (?P<how>working|as-is)) at most (?P<most>\d+)"
        rf"(?: at (?P<price>{MONEY}))?"
    )
    verb: Literal["demand"] = "demand"
    map: str
    part: str | None = None
    how: Literal["working", "as-is"] | None = None
    most: int = Field(ge=0)
    price: Money | None = None
    """What each brings before fees; None is the map's figure."""

    def words(self) -> str:
        what = f"{self.map}/{self.part}" if self.part else f"{self.map} {self.how}"
        return f"{what} at most {self.most}" + (f" at {self.price}" if self.price else "")


class Expects(ev.Event):
    """So many units of a map are likely to come in the period."""

    form: ClassVar[str] = "expects NUMBER of MAP"
    example: ClassVar[str] = "expects 2 of ceiling-projector"
    pattern: ClassVar[str] = rf"(?P<count>\d+) of (?P<map>{NAME})"
    verb: Literal["expects"] = "expects"
    count: int = Field(ge=0)
    map: str

    def words(self) -> str:
        return f"{self.count} of {self.map}"


EVENTS: Mapping[str, type[ev.Event]] = {
    "supplier": Supplier,
    "offers": Offers,
    "demand": Demand,
    "expects": Expects,
    **{verb: ev.EVENTS[verb] for verb in ("paid", "got", "undid", "redid")},
}
"""What a line of the market may be, by its verb."""

Thing = tuple[str | None, ...]


@dataclass(frozen=True)
class Market:
    """What the lines that hold come to. Amounts in ``currency``."""

    currency: str
    suppliers: Mapping[str, Supplier]
    offers: tuple[Offers, ...]
    demands: tuple[Demand, ...]
    expects: Mapping[str, int]
    """Units likely to come in the period, by map."""
    bookings: tuple[Booking, ...]
    """The shelf's own money; ``amount`` is negative for what went out."""
    lines: tuple[Line, ...]
    """The lines that count, in the order of the log."""
    flags: tuple[Flag, ...]
    """Lines that hold and mean nothing now."""


def parse(text: str) -> ev.Event:
    """The event of a line about the market. Raises LineError that shows the form and an example."""
    line = one_line(text)
    verb, _, rest = line.partition(" ")
    return ev.parse(f"{verb.lower()} {rest}", EVENTS)


def change(store: Store, texts: Iterable[str]) -> list[BenchEntry]:
    """Stores lines about the market, all or none. Raises LineError; with several lines it says which one."""
    typed = [text for text in texts if text.strip()]
    with store.writing():
        return [_stored(store, text, number, len(typed)) for number, text in enumerate(typed, start=1)]


def _stored(store: Store, text: str, number: int, count: int) -> BenchEntry:
    try:
        return store.bench_append(_checked(store, text))
    except LineError as error:
        if count == 1:
            raise
        raise LineError(f"Line {number} of {count}: {error} Nothing was stored.", error.similar) from None


def _checked(store: Store, text: str) -> str:
    event, now = parse(text), market(store)
    lines = _lines(store.bench_lines())
    for name in ("price", "amount"):
        amount = getattr(event, name, None)
        if isinstance(amount, Money) and (amount.currency != now.currency or amount.minor < 0):
            why = "below zero" if amount.minor < 0 else f"not in {now.currency}, the bench's currency"
            raise LineError(f"'{text.strip()}': {amount} is {why}.")
    match event:
        case Offers():
            if event.supplier not in now.suppliers:
                near = similar(event.supplier, now.suppliers)
                raise LineError(
                    f"'{text.strip()}': no supplier '{event.supplier}'. {near} A new one: {Supplier.form}",
                    nearest(event.supplier, now.suppliers),
                )
            _part(store, text, event.map, event.part, event.revision)
        case Demand(part=str(part)):
            _part(store, text, event.map, part)
        case Demand() | Expects():
            device_of(store, event.map, text)
        case ev.Undid() | ev.Redid():
            corrections.target(text.strip(), event, lines, "the market")
            then = summed([*lines, Line(lines[-1].seq + 1, "", event)], now.currency)
            for flag in then.flags:
                if flag not in now.flags:
                    raise LineError(f"'{text.strip()}': line {flag.seq} would mean nothing. {flag.message}")
        case _:
            pass
    return ev.render(event)


def device_of(store: Store, name: str, text: str = "") -> Device:
    """The device of a map's name, as the last unit of it was bought by, else as it comes along. Raises LineError."""
    units = [one.id for one in store.units() if one.map_name == name]
    if units:
        return store.device(units[-1])
    if name in shipped_maps():
        return load(name)
    known = {*shipped_maps(), *(one.map_name for one in store.units())}
    where = f"'{text.strip()}': no" if text else "No"
    raise LineError(f"{where} map '{name}'. {similar(name, known)}", nearest(name, known))


def _part(store: Store, text: str, name: str, part: str, revision: str | None = None) -> None:
    device = device_of(store, name, text)
    if part not in device.parts:
        near = similar(part, device.parts)
        raise LineError(f"'{text.strip()}': {name} has no part '{part}'. {near}", nearest(part, device.parts))
    known = dict(device.parts[part].revisions)
    if revision and revision not in known:
        near = similar(revision, known) if known else f"The map names none of '{part}'."
        raise LineError(f"'{text.strip()}': no revision '{revision}'. {near}", nearest(revision, known))


def market(store: Store, up_to: int | None = None) -> Market:
    """The market now, or as it was after line ``up_to`` of the bench's log."""
    entries = [entry for entry in store.bench_lines() if up_to is None or entry.seq <= up_to]
    return summed(_lines(entries), bench_settings(store, up_to).currency)


def summed(lines: Iterable[Line], currency: str) -> Market:
    """What lines about the market come to."""
    counting: dict[Thing, Line] = {}
    flags = []
    for line in effective(lines)[0]:
        amount = getattr(line.event, "price", None) or getattr(line.event, "amount", None)
        if isinstance(amount, Money) and amount.currency != currency:
            flags.append(Flag(line.seq, f"{amount} is not in {currency}, the bench's currency now."))
        else:
            thing = _thing(line)
            counting.pop(thing, None)
            counting[thing] = line
    events = [line.event for line in counting.values()]
    suppliers = {event.name: event for event in events if isinstance(event, Supplier)}
    for line in list(counting.values()):
        if isinstance(line.event, Offers) and line.event.supplier not in suppliers:
            flags.append(Flag(line.seq, f"There is no supplier '{line.event.supplier}' now."))
            del counting[_thing(line)]
    return Market(
        currency,
        suppliers,
        tuple(line.event for line in counting.values() if isinstance(line.event, Offers)),
        tuple(event for event in events if isinstance(event, Demand)),
        {event.map: event.count for event in events if isinstance(event, Expects)},
        tuple(
            _booking(line.seq, line.event) for line in counting.values() if isinstance(line.event, (ev.Paid, ev.Got))
        ),
        tuple(sorted(counting.values(), key=lambda line: line.seq)),
        tuple(flags),
    )


def _booking(seq: int, event: ev.Paid | ev.Got) -> Booking:
    return Booking(seq, -event.amount if isinstance(event, ev.Paid) else event.amount, event.what)


def _thing(line: Line) -> Thing:
    """What a line is on: a later one on the same replaces it. Money that moved is never replaced."""
    match line.event:
        case Supplier(name=name):
            return "supplier", name
        case Offers() as one:
            return "offers", one.supplier, one.map, one.part, one.condition, one.revision
        case Demand() as one:
            return "demand", one.map, one.part, one.how
        case Expects(map=name):
            return "expects", name
        case _:
            return "line", str(line.seq)


def _lines(entries: Iterable[BenchEntry]) -> list[Line]:
    """The lines of the bench's log that are about the market."""
    return [Line(one.seq, one.time, parse(one.text)) for one in entries if one.text.partition(" ")[0] in EVENTS]
