"""Units that are not bought yet: offers kept with what their listings say, priced, refused or bought."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal

from knowngood.bench.questions import terms_for
from knowngood.bench.store import Store, one_line
from knowngood.bench.work import FIRST, bench_settings, in_currency, known_source, log_lines, replayed
from knowngood.errors import LineError
from knowngood.handbook.quantities import Money, parse_money
from knowngood.log import events as ev
from knowngood.log.lines import understand
from knowngood.log.state import State, effective
from knowngood.maps.load import load
from knowngood.money.bid.drawing import Case
from knowngood.money.bid.listing import Heard, heard, lines_of
from knowngood.money.bid.most import Wish, shade_for
from knowngood.money.bid.seller import questions

LISTING = "listing: "
"""Start of the note that keeps a listing's own words."""


@dataclass(frozen=True)
class Candidate:
    """An offer as the store has it."""

    id: str
    map_name: str
    asking: Money
    said: str
    """The listing's own words."""
    standing: Literal["open", "refused", "bought"]
    unit: str
    """The unit that it became; empty until it is bought."""
    time: str
    """When it was offered."""
    note: str
    """Why it was refused, if that was said."""


@dataclass(frozen=True)
class Offer:
    """A listing that was taken down: the candidate, what was heard in its words, and where it was met before."""

    candidate: str
    heard: tuple[Heard, ...]
    before: tuple[Candidate, ...]


@dataclass(frozen=True)
class Bid:
    """All that a bid rests on."""

    candidate: Candidate
    case: Case
    wish: Wish
    said: int
    """Of all that a seller could say or show, how much is known."""


def offer(
    store: Store,
    map_name_or_path: str,
    asking: str,
    said: str = "",
    past: Iterable[str] = (),
    lines: Iterable[str] = (),
) -> Offer:
    """Takes a listing down as a candidate: its words and what they stand for, and ``lines`` of what its photos show.

    Raises NotFoundError or MapError for the map, QuantityError for the price, LineError for a past or a line; nothing
    is stored then.
    """
    device = load(map_name_or_path)
    offered = ev.Offered(map=device.id, price=parse_money(asking), past=tuple(dict.fromkeys(past)))
    event = understand(device, State(), ev.render(offered))
    assert isinstance(event, ev.Offered)
    in_currency(event, bench_settings(store).currency, "the bench's currency")
    words = one_line(said)
    before = tuple(one for one in candidates(store) if words and _same(one, device.id, words))
    found = heard(device, said)
    typed = [*([f"noted {LISTING}{words}"] if words else []), *lines_of(found), *lines]
    told = [f"past {one}" for one in event.past]
    with store.writing():
        name = store.new_unit(device, event)
        if typed := [one for one in typed if one not in told]:
            log_lines(store, name, typed)
    return Offer(name, found, before)


def _same(one: Candidate, map_name: str, words: str) -> bool:
    """Whether a listing is one that was met before: the same map and the same words, whatever it asks now."""
    return one.map_name == map_name and one.said.lower() == words.lower()


def candidates(store: Store) -> list[Candidate]:
    """Every offer, oldest first."""
    return [candidate(store, one.id) for one in store.candidates()]


def candidate(store: Store, name: str) -> Candidate:
    """One offer. Raises NotFoundError for no such unit, LineError for one that is no candidate."""
    lines, _ = effective(store.lines(name))
    first = lines[0].event
    if not isinstance(first, ev.Offered):
        raise LineError(
            f"{store.unit_id(name)} is bought already, so there is nothing to bid. Its money: knowngood money"
        )
    said, unit, note = "", "", ""
    standing: Literal["open", "refused", "bought"] = "open"
    for line in lines:
        match line.event:
            case ev.Noted(text=text) if text.startswith(LISTING):
                said = text.removeprefix(LISTING)
            case ev.Refused():
                standing, note = "refused", line.event.note
            case ev.Accepted(unit=became):
                standing, unit = "bought", became
            case _:
                pass
    return Candidate(store.unit_id(name), first.map, first.price, said, standing, unit, lines[0].time, note)


def refuse(store: Store, name: str, why: str = "") -> Candidate:
    """Lets an offer go; it is known again when the same listing comes back. Raises LineError if it is not open."""
    found = _open(store, name)
    store.append(found.id, [ev.Refused(note=why)])
    return candidate(store, found.id)


def accept(store: Store, name: str, paid: str, *, donor: bool = False, source: str | None = None) -> str:
    """Books in the unit that was offered; its log starts with what its seller said. Returns its id.

    Raises LineError if the offer is not open or for the source, QuantityError for the price.
    """
    found = _open(store, name)
    device, told = replayed(store, name)
    first = told.lines[0].event
    assert isinstance(first, ev.Offered)
    bought = ev.Bought(map=first.map, price=parse_money(paid), past=first.past, source=known_source(source))
    in_currency(bought, bench_settings(store).currency, "the bench's currency")
    lines = [line.event for line in told.lines if not isinstance(line.event, (*FIRST, ev.Refused))]
    with store.writing():
        unit = store.new_unit(device, bought, donor)
        store.append(unit, [*lines, ev.Received()])
        store.append(found.id, [ev.Accepted(unit=unit)])
    return unit


def _open(store: Store, name: str) -> Candidate:
    found = candidate(store, name)
    if found.standing == "bought":
        raise LineError(f"{found.id} was bought already: it is {found.unit}.")
    return found


def bid_on(
    store: Store,
    name: str,
    *,
    margin: str | None = None,
    loss: float | None = None,
    shade: float | None = None,
    inward: str | None = None,
    seed: int = 0,
) -> Bid:
    """What a bid on an open candidate rests on; what is not given is the bench's setting, the shade by what is known.

    Raises LineError for an offer that is not open, QuantityError for an amount.
    """
    found = _open(store, name)
    device, told = replayed(store, name)
    settings = bench_settings(store)
    bench = terms_for(store, device, log=told, at_target=True)
    events = tuple(line.event for line in told.lines if not isinstance(line.event, ev.Refused))
    case = Case(device, events, bench, seed)
    asked = questions(device, told)
    answers = sum(isinstance(line.event, (ev.Saw, ev.Tried, ev.Found, ev.Read)) for line in told.lines)
    said = answers + len(told.state.past)
    wish = Wish(
        margin=_amount(margin, settings.bid_margin),
        loss=settings.bid_loss if loss is None else loss,
        shade=shade_for(said, len(asked)) if shade is None else shade,
        inward=_amount(inward, settings.inward),
    )
    return Bid(found, replace(case, questions=asked), wish, said)


def _amount(typed: str | None, setting: Money) -> Money:
    if typed is None:
        return setting
    given = parse_money(typed)
    if given.currency != setting.currency:
        raise LineError(f"{given} is not in {setting.currency}, the bench's currency. Convert it.")
    if given.minor < 0:
        raise LineError(f"{given} is negative. Leave the sign out.")
    return given
