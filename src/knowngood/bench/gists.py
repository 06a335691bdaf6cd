"""What each unit's log by itself says to others: read off it once, and kept in the store until the log goes on.

A bench has thousands of units that left it long ago. What moved between them, what good ones read and what they brought
is asked at every step, and would take a replay of every log. The logs stay the truth: a gist is made anew when its log
has got a line, and all are when the code that reads them, or the library of kinds, is another than the one that made
them. A unit whose log this version cannot read has an empty gist; whoever asks for what its lines are about is refused
as if there were no gists.
"""

from __future__ import annotations

import json
from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from hashlib import blake2b
from pathlib import Path
from typing import Any

from django.db import connections
from django.db.models import Max, Q, Sum

import knowngood
from knowngood.bench.django_setup import configure, said_plainly
from knowngood.bench.good_readings import read_when_good
from knowngood.bench.passages import Left, Passage, StockPart, Took, passages
from knowngood.bench.store import Store, donors_last, in_order
from knowngood.errors import LineError
from knowngood.handbook.quantities import Money
from knowngood.log import events as ev
from knowngood.log.incoming import Incoming, Order
from knowngood.log.state import Line, Replay, effective, replay
from knowngood.maps.device import Device
from knowngood.money.ledger.books import OwnAccount, own_account
from knowngood.money.ledger.slots import Slot, slots

configure()  # Django's model classes cannot be imported before it is set up.

from knowngood.bench.models import Gist, GistsUpTo, Unit, UnitLine  # noqa: E402
from knowngood.bench.models import Passage as PassageRow  # noqa: E402

AT_ONCE = 200
"""Units in one transaction, so that others can write in between; also the names in one query."""

READERS = ("bench", "handbook", "log", "maps", "money/ledger")
"""The rooms whose code and tables decide what is read off a log."""


@cache
def made_by() -> str:
    """A mark of the code that reads logs: what other code has made is not used."""
    house = Path(knowngood.__file__).parent
    files = [file for room in READERS for file in sorted((house / room).rglob("*")) if file.suffix in SUFFIXES]
    found = blake2b(digest_size=16)
    for file in files:
        found.update(file.relative_to(house).as_posix().encode() + b"\0" + file.read_bytes())
    return found.hexdigest()


SUFFIXES = (".py", ".yaml", ".csv")


# ---- what is asked ----------------------------------------------------------------------------------------------


def here(store: Store) -> list[str]:
    """The units and donors that have not left, in the order of their numbers."""
    return _units(store, Q(exit=""))


def may_hold_parts(store: Store) -> list[str]:
    """The same with those that were parted out."""
    return _units(store, Q(exit__in=("", "parts")))


def given_up(store: Store) -> list[str]:
    """Donors that are here, and units that were parted out."""
    return _units(store, Q(exit="", unit__id__startswith="D") | Q(exit="parts"))


def _units(store: Store, wanted: Q) -> list[str]:
    found = _bought(store).filter(wanted).values_list("unit_id", flat=True)
    with said_plainly(store.place):
        return sorted(found, key=in_order)


def on_shelf(store: Store) -> set[str]:
    """The units of which a part lies on the shelf."""
    return {source for source, _ in _left(_passages(store))}


def lying(store: Store) -> list[Passage]:
    """Every line that moved a part of a name and unit of which one lies on the shelf."""
    rows = _passages(store)
    left = _left(rows)
    with said_plainly(store.place):
        some = _portions({unit for unit, _ in left})
        return [one for portion in some for _, one in _read(rows.filter(source__in=portion), left)]


def _left(rows: Any) -> set[tuple[str, str]]:
    """Of which unit a part of which name lies on the shelf."""
    there = rows.values("source", "part").annotate(there=Sum("onto")).filter(there__gt=0)
    return set(there.values_list("source", "part"))


def passages_about(store: Store, units: Iterable[str]) -> list[tuple[str, Passage]]:
    """Every line that moved a part out of one of these units, or of those that their own parts came from, and so on;
    each with the unit whose log it is in."""
    done: set[str] = set()
    found: list[tuple[str, Passage]] = []
    todo = set(units)
    with said_plainly(store.place):
        rows = _passages(store)
        while todo:
            done |= todo
            for some in _portions(todo):
                found += _read(rows.filter(source__in=some))
            came_from = (rows.filter(unit_id__in=some).values_list("source", flat=True) for some in _portions(todo))
            todo = {source for sources in came_from for source in sources} - done
    return found


def passages_in(store: Store, units: Iterable[str]) -> list[tuple[str, Passage]]:
    """Every line in the logs of some units that moved a part, with the unit whose log it is in."""
    rows = _passages(store)
    with said_plainly(store.place):
        return [one for some in _portions(units) for one in _read(rows.filter(unit_id__in=some))]


def gone_on(store: Store, newest: int) -> tuple[set[str], int]:
    """The units whose logs went on after the line with a key, and the key of the last line now; no candidates."""
    rows = _bought(store).filter(last__gt=newest)
    with said_plainly(store.place):
        found = dict(rows.values_list("unit_id", "last"))
    return set(found), max((newest, *found.values()))


def slots_of(store: Store, units: Iterable[str]) -> dict[tuple[str, int], Slot]:
    """What money lay on each part that left some units, by unit and line."""
    rows = _passages(store).filter(onto=1).values_list("unit_id", "seq", "slot")
    with said_plainly(store.place):
        told = (one for some in _portions(units) for one in rows.filter(unit_id__in=some))
        return {(unit, seq): Slot.read(json.loads(slot)) for unit, seq, slot in told}


def readings(
    store: Store, map_name: str, units: Iterable[str] | None = None
) -> list[tuple[str, str, dict[str, float]]]:
    """Of each unit of a map that proved good, or of some units: its name, the mark of its map's text, and what it read
    by test."""
    rows = _said(store, "readings", ("read",)).filter(unit__map__name=map_name)
    some = [rows] if units is None else (rows.filter(unit_id__in=portion) for portion in _portions(units))
    with said_plainly(store.place):
        said = (row for portion in some for row in portion.values_list("unit_id", "unit__map_id", "readings"))
        return [(unit, mark, json.loads(text)) for unit, mark, text in said]


@dataclass(frozen=True)
class Here:
    """A unit that is here: what is planned with it, and what is to come into it."""

    unit: str
    map: str
    planned: str | None
    incoming: Incoming


def all_here(store: Store) -> list[Here]:
    """Every unit and donor that has not left, in the order of their numbers, donors last."""
    _refuse_unread(store, ())
    rows = _bought(store).filter(exit="")
    with said_plainly(store.place):
        told = rows.values_list("unit_id", "unit__map__name", "planned", "incoming")
        found = [Here(unit, name, planned or None, _incoming(text)) for unit, name, planned, text in told]
    return sorted(found, key=lambda one: donors_last(one.unit))


def reservations(store: Store) -> list[tuple[str, Mapping[str, str]]]:
    """The units that are here and have parts reserved, with where each is to come from."""
    rows = _said(store, "incoming", ("reserved",)).filter(exit="")
    with said_plainly(store.place):
        told = ((unit, json.loads(text)[0]) for unit, text in rows.values_list("unit_id", "incoming"))
        found = [(unit, reserved) for unit, reserved in told if reserved]
    return sorted(found, key=lambda one: in_order(one[0]))


@dataclass(frozen=True)
class Sale:
    """A unit that was sold as working: on which day, and whether it came back."""

    day: str
    returned: bool


def sales(store: Store, map_name: str) -> list[Sale]:
    """Every sale as working of units of a map."""
    rows = _said(store, "sales", ("sold",)).filter(unit__map__name=map_name)
    with said_plainly(store.place):
        return [Sale(*one) for text in rows.values_list("sales", flat=True) for one in json.loads(text)]


def used(store: Store, but_not: Iterable[str] = ()) -> dict[str, int]:
    """How many of each lot of loose parts went into units."""
    found: dict[str, int] = {}
    with said_plainly(store.place):
        for text in _said(store, "used", ("used",)).exclude(unit_id__in=but_not).values_list("used", flat=True):
            for lot, count in json.loads(text).items():
                found[lot] = found.get(lot, 0) + count
    return found


def accounts(store: Store, units: Iterable[str]) -> dict[str, OwnAccount | None]:
    """What the own lines of some units come to; None where they have more than one currency."""
    rows = _gists(store).values_list("unit_id", "account")
    _refuse_unread(store, ())
    with said_plainly(store.place):
        told = (one for some in _portions(units) for one in rows.filter(unit_id__in=some))
        return {unit: OwnAccount.read(json.loads(text)) if text else None for unit, text in told}


def _gists(store: Store) -> Any:
    up_to_date(store)
    return Gist.objects.using(store.place.alias)


def _bought(store: Store) -> Any:
    """Those of units and donors, and of no candidate."""
    return _gists(store).exclude(unit__id__startswith="C")


def _said(store: Store, column: str, verbs: tuple[str, ...]) -> Any:
    """The gists that say something of one sort, which lines with these verbs say."""
    rows = _gists(store)
    _refuse_unread(store, verbs)
    return rows.exclude(**{column: ""})


def _passages(store: Store) -> Any:
    up_to_date(store)
    _refuse_unread(store, ("harvested", "fitted"))
    return PassageRow.objects.using(store.place.alias)


def _refuse_unread(store: Store, verbs: tuple[str, ...]) -> None:
    """Raises what reading a unit raises, if one that cannot be read has lines of this sort, or with none of any."""
    with said_plainly(store.place):
        unread = set(Gist.objects.using(store.place.alias).filter(unread=True).values_list("unit_id", flat=True))
    if unread:
        for unit in unread.intersection(store.units_with(*verbs)) if verbs else unread:
            replay(store.device(unit), store.lines(unit))


def _portions(names: Iterable[str]) -> Iterator[list[str]]:
    listed = sorted(names)
    return (listed[first : first + AT_ONCE] for first in range(0, len(listed), AT_ONCE))


def _read(rows: Any, among: Container[tuple[str, str]] | None = None) -> Iterator[tuple[str, Passage]]:
    """The passages in rows, those alone that are ``among`` a unit's parts of a name; each with its log's unit."""
    columns = ("unit_id", "seq", "time", "source", "part", "onto", "text", "what", "unit__map__name")
    for unit, seq, time, source, part, onto, text, what, map_name in rows.values_list(*columns):
        if among is not None and (source, part) not in among:
            continue
        if onto > 0:
            yield unit, Left(StockPart(part, what, unit, seq, map_name, time))
        else:
            yield unit, Took(source, unit, seq, time, part, text)


# ---- kept up to date ----------------------------------------------------------------------------------------------


def up_to_date(store: Store) -> None:
    """Reads off every log that has gone on since its gist was made. One short query where none has."""
    alias = store.place.alias
    with said_plainly(store.place):
        newest, upto = _stand(alias)
        if upto == newest:
            return
        behind = _gone_on(alias, upto or 0)
    for portion in _portions(behind):
        with store.writing():
            lasts = dict(_last_keys(alias).filter(unit_id__in=portion))
            kept = _kept(alias).filter(unit_id__in=portion)
            done = {unit for unit, last in kept if lasts[unit] == last}  # by another process, meanwhile
            some = [unit for unit in portion if unit not in done]
            PassageRow.objects.using(alias).filter(unit_id__in=some).delete()
            Gist.objects.using(alias).filter(unit_id__in=some).delete()
            devices, logs = store.devices(some), store.logs(some)
            made = [_gist(unit, devices[unit], logs[unit], lasts[unit]) for unit in some]
            Gist.objects.using(alias).bulk_create([gist for gist, _ in made])
            PassageRow.objects.using(alias).bulk_create([row for _, rows in made for row in rows])
    with store.writing():
        GistsUpTo.objects.using(alias).update_or_create(pk=1, defaults={"newest": newest, "made_by": made_by()})


@dataclass(frozen=True)
class Progress:
    """How many logs of how many are read off by this code."""

    done: int
    of: int


def to_read(store: Store) -> Progress | None:
    """How far reading off the logs of a large store has come; None if it is done, or nearly."""
    alias = store.place.alias
    with said_plainly(store.place):
        if _stand(alias)[1] is not None:
            return None
        found = Progress(_kept(alias).count(), Unit.objects.using(alias).count())
    return found if found.of - found.done > AT_ONCE else None


def _stand(alias: str) -> tuple[int, int | None]:
    """The key of the last line of the store, and of the one up to which the gists of this code go (None: there are
    none). In plain SQL, since it is asked at every question."""
    lines, marks = UnitLine._meta.db_table, GistsUpTo._meta.db_table
    with connections[alias].cursor() as cursor:
        cursor.execute(
            f"SELECT MAX(id), (SELECT newest FROM {marks} WHERE made_by = %s) FROM {lines}",
            [made_by()],
        )
        newest, upto = cursor.fetchone()
    return newest or 0, upto


def _last_keys(alias: str) -> Any:
    """By unit the key of its last line."""
    lines = UnitLine.objects.using(alias).order_by()
    return lines.values("unit_id").annotate(last=Max("pk")).values_list("unit_id", "last")


def _kept(alias: str) -> Any:
    """By unit the key of the last line that its gist was read off."""
    return Gist.objects.using(alias).filter(made_by=made_by()).values_list("unit_id", "last")


def _gone_on(alias: str, newest: int) -> set[str]:
    """The units with lines after the one with key ``newest``; those of which a gist says all of its log are left out
    where there is no such key, so that reading off a large store goes on where it was ended."""
    behind = dict(_last_keys(alias).filter(pk__gt=newest))
    kept = {} if newest else dict(_kept(alias))
    return {unit for unit, last in behind.items() if kept.get(unit) != last}


def _gist(unit: str, device: Device | None, lines: list[Line] | LineError, last: int) -> tuple[Gist, list[PassageRow]]:
    """What a unit's log says now, not yet stored."""
    if device is None or isinstance(lines, LineError):
        return Gist(unit_id=unit, last=last, made_by=made_by(), unread=True), []
    told = replay(device, lines)
    lots: dict[str, int] = {}
    for line in effective(lines)[0]:
        if isinstance(line.event, ev.Used):
            lots[line.event.lot] = lots.get(line.event.lot, 0) + line.event.count
    own = own_account(told)
    gist = Gist(
        unit_id=unit,
        last=last,
        made_by=made_by(),
        exit=told.state.exit or "",
        unread=False,
        readings=_text(read_when_good(device, told)),
        planned=told.state.planned or "",
        incoming=_written(told.state.incoming),
        sales=_text(_sales(told)),
        used=_text(lots),
        account=_text(own.written() if own else {}),
    )
    lay = slots(told)
    return gist, [_row(unit, one, lay) for one in passages(unit, device, told)]


def _row(unit: str, one: Passage, lay: Mapping[int, Slot]) -> PassageRow:
    if isinstance(one, Left):
        came = one.came
        slot = _text(lay[came.seq].written())
        return PassageRow(
            unit_id=unit, seq=came.seq, time=came.time, source=unit, part=came.part, onto=1, what=came.what, slot=slot
        )
    source, part, text = one.source, one.part, one.text
    return PassageRow(unit_id=unit, seq=one.seq, time=one.time, source=source, part=part, onto=-1, text=text)


def _sales(told: Replay) -> list[list[object]]:
    found: list[list[object]] = []
    working = False
    for line in told.lines:
        match line.event:
            case ev.Sold(how=how):
                working = how == "working"
                found += [[line.time[:10], False]] if working else []
            case ev.Returned() if working:
                found[-1][1] = True
            case _:
                pass
    return found


def _written(incoming: Incoming) -> str:
    ordered, arrived = (
        {
            part: [one.condition, one.supplier, one.price.currency, one.price.minor, one.due]
            for part, one in told.items()
        }
        for told in (incoming.ordered, incoming.arrived)
    )
    return _text([incoming.reserved, ordered, arrived] if incoming != Incoming() else [])


def _incoming(text: str) -> Incoming:
    reserved, ordered, arrived = json.loads(text) if text else ({}, {}, {})
    orders = (
        {
            part: Order(how, whom, Money(currency, minor), due)
            for part, (how, whom, currency, minor, due) in told.items()
        }
        for told in (ordered, arrived)
    )
    return Incoming(reserved, *orders)


def _text(said: Mapping[str, object] | Sequence[object]) -> str:
    """JSON, or nothing where nothing is said. Numbers come back as they are, in the shortest form that gives them."""
    return json.dumps(said, separators=(",", ":")) if said else ""
