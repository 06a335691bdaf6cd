"""Everything that can be asked about a unit, each by one function: the log, the map and the bench in, an answer out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from knowngood.belief.believe import Belief, believe
from knowngood.belief.cases import Effort
from knowngood.belief.sensing import Measuring
from knowngood.belief.verdict import Verdict, verdicts
from knowngood.belief.what_if import ask, everything
from knowngood.bench import gists
from knowngood.bench.coming import coming
from knowngood.bench.donors import belief as belief_now
from knowngood.bench.donors import donor_priors, on_shelf
from knowngood.bench.references import measuring
from knowngood.bench.store import Store, utc_now
from knowngood.bench.supply import fitting, supply
from knowngood.bench.work import bench_settings, replayed
from knowngood.errors import KnowngoodError, LineError, NotFoundError
from knowngood.log import events as ev
from knowngood.log.lines import understand
from knowngood.log.state import Flag, Replay, as_of, considered
from knowngood.log.takes import LOOK_MINUTES
from knowngood.maps.device import AnyMode, Device, Part, PartModes, RailToGround, RailVoltage, Test
from knowngood.maps.shape import nearest, similar
from knowngood.maps.words import PASTS
from knowngood.money.choices import Choices, choices
from knowngood.plan.access import warnings, way
from knowngood.plan.before_power import BeforePower, before_power
from knowngood.plan.bring_up import BringUp, bring_up
from knowngood.plan.choose import Advice, Ranked, advise, ranked_under
from knowngood.plan.hazards import Act, Breach, hands_near
from knowngood.plan.lifting import allowed
from knowngood.plan.moves import Move, look_move, remedies_here, test_move, tests_here
from knowngood.plan.policies import POLICIES
from knowngood.plan.ranked import Prospect, prospects
from knowngood.plan.reassembly import Sheet, reassembly
from knowngood.plan.several import Turn, in_order, turn_of
from knowngood.plan.terms import InStock, Terms, terms
from knowngood.plan.value import bits_told
from knowngood.plan.way_in import WayIn, way_to
from knowngood.plan.why.change import Change, change
from knowngood.plan.why.stop import Standing, said_before, standing
from knowngood.plan.why.thresholds import Threshold, thresholds
from knowngood.plan.why.tree import Branch, tree


def belief_of(store: Store, unit: str) -> tuple[Belief, tuple[Flag, ...]]:
    """What is probably wrong, and the lines of the log that no longer fit."""
    _, log = replayed(store, unit)
    return belief_now(store, unit, effort=Effort.BOUNDS), log.flags


@dataclass(frozen=True)
class Told:
    """What a test or look would tell: the bits it brings about which parts stop something, and its outcomes."""

    id: str
    """The test, or the part to look at."""
    minutes: float
    bits: float
    outcomes: tuple[Prospect, ...]
    """The likeliest first."""


def told_by(store: Store, unit: str, after: Sequence[str] = ()) -> tuple[Belief, list[Told]]:
    """What each outcome of each test and look would make of the belief, those that tell most first.

    ``after`` are lines that are only considered, as typed: an unplugging, a swap. Raises LineError, and what
    ``believe`` raises.
    """
    device, told = replayed(store, unit)
    for text in after:
        told = considered(device, told, [understand(device, told.state, text)])
    donors, judged_by = donor_priors(store, unit), measuring(store, unit)
    now = believe(device, told, donors=donors, measuring=judged_by, effort=Effort.BOUNDS)
    p_blocks = np.array([one.p_blocks for one in now.suspects])
    found = []
    for answer in ask(now, everything(now)):
        test = device.tests.get(answer.query.id)
        outcomes = sorted(prospects(now, answer), key=lambda one: -one.probability)
        minutes = test.minutes if test is not None else LOOK_MINUTES
        found.append(Told(answer.query.id, minutes, bits_told(answer, p_blocks), tuple(outcomes)))
    return now, sorted(found, key=lambda one: (-one.bits, one.id))


def readings_of(
    store: Store, unit: str, seqs: Iterable[int] | None = None, *, by: Measuring | None = None
) -> tuple[Verdict, ...]:
    """What the last reading of each test says by itself; with ``seqs`` what the readings in these lines say.

    ``by`` is what they are judged by, where a belief has it already.
    """
    device, log = replayed(store, unit)
    lines = log.lines if seqs is None else [line for line in log.lines if line.seq in set(seqs)]
    if not any(isinstance(line.event, ev.Read) for line in lines):
        return ()
    return verdicts(device, lines, measuring=by or measuring(store, unit), repeats=seqs is not None)


def advice_for(store: Store, unit: str, after: Sequence[str] = ()) -> tuple[Advice, Standing, str]:
    """What to do next, whether it pays, and the currency; ``after`` are lines that are only considered, as typed.

    Raises LineError for a line that is not understood and for a unit that has left the bench.
    """
    device, log = _on_the_bench(store, unit)
    for text in after:
        log = considered(device, log, [understand(device, log.state, text)])
    bench = _terms_of(store, device, store.unit_id(unit), log)
    donors, judged_by = donor_priors(store, unit), measuring(store, unit)
    found = advise(device, log, bench, donors=donors, measuring=judged_by, effort=Effort.BOUNDS)
    said = said_before(found, bench, donors=donors, measuring=judged_by)
    return found, replace(standing(found, bench), said=said), bench.currency


def turns(store: Store) -> tuple[list[Turn], dict[str, str]]:
    """The next move of every unit on the bench, best gain for an hour of hands first, and why others have none.

    Donors and units that have left are not among them.
    """
    found, troubles = [], {}
    for unit in (one for one in gists.here(store) if not one.startswith("D")):
        try:
            device, log = _on_the_bench(store, unit)
            bench = _terms_of(store, device, unit, log)
            given = advise(device, log, bench, donors=donor_priors(store, unit), measuring=measuring(store, unit))
        except KnowngoodError as error:
            troubles[unit] = str(error)
        else:
            found.append(turn_of(unit, given, bench))
    return in_order(found), troubles


@dataclass(frozen=True)
class Why:
    """The reasons of an advice."""

    advice: Advice
    branches: tuple[Branch, ...]
    thresholds: tuple[Threshold, ...]
    change: Change | None
    settings: tuple[str, ...]
    """Lines of the bench's log since the unit's last line."""
    before_settings: Ranked | None
    """What came first before these settings, if it was something else."""


def why_of(store: Store, unit: str) -> tuple[Why, str]:
    """Why the advice is what it is, and the currency. Raises LineError for a unit that has left the bench."""
    device, log = _on_the_bench(store, unit)
    name, lines = store.unit_id(unit), store.lines(unit)
    bench = _terms_of(store, device, name, log)
    donors, judged_by = donor_priors(store, unit), measuring(store, unit)
    found = advise(device, log, bench, donors=donors, measuring=judged_by, effort=Effort.BOUNDS)
    later = (line.text for line in store.bench_lines() if line.seq > lines[-1].bench_seq)
    since = tuple(text for text in later if text.startswith("set "))
    then = _terms_of(store, device, name, log, lines[-1].bench_seq)
    before = ranked_under(found.asked, then)[0] if since else found.best
    return Why(
        found,
        tree(found, bench, donors=donors, measuring=judged_by),
        thresholds(found, bench),
        change(found, lines, bench, donors=donors, measuring=judged_by),
        since,
        before if before.move.log != found.best.move.log else None,
    ), bench.currency


def _on_the_bench(store: Store, unit: str) -> tuple[Device, Replay]:
    device, log = replayed(store, unit)
    if log.lines and isinstance(log.lines[0].event, ev.Offered):
        name = store.unit_id(unit)
        raise LineError(f"{name} is only offered, so there is no move yet. What to pay for it: knowngood bid {name}")
    if log.state.exit:
        left = {
            "working": "was sold as working",
            "as-is": "was sold as it is",
            "parts": "was parted out",
            "scrapped": "was scrapped",
        }
        name = store.unit_id(unit)
        raise LineError(f"{name} {left[log.state.exit]}: no move is left. If that is wrong: knowngood undo {name}")
    return device, as_of(log, utc_now())


def choices_of(store: Store, unit: str, most: int = 3) -> tuple[Choices, str, int]:
    """What to do with each part of a unit and what is best for the whole, the currency, and the line up to which that
    goes. Raises LineError for a unit that has left the bench."""
    device, log = _on_the_bench(store, unit)
    name, donors, judged_by = store.unit_id(unit), donor_priors(store, unit), measuring(store, unit)
    bench = _terms_of(store, device, name, log)
    now = believe(device, log, donors=donors, measuring=judged_by, effort=Effort.BOUNDS)
    found = choices(
        device,
        log,
        now,
        bench,
        supply(store, device, name),
        donors=donors,
        measuring=judged_by,
        effort=Effort.BOUNDS,
        most=most,
    )
    return found, bench.currency, log.seq


def way_of(store: Store, unit: str, targets: Sequence[str]) -> tuple[WayIn, str]:
    """The cheapest way to steps, parts or tests, and the currency. Raises LineError for an unknown name or a unit that
    has left the bench."""
    device, log = _on_the_bench(store, unit)
    bench = _terms_of(store, device, store.unit_id(unit), log)
    found = way_to(device, log, bench, targets, donors=donor_priors(store, unit), measuring=measuring(store, unit))
    return found, bench.currency


@dataclass(frozen=True)
class AtPart:
    """What can be seen, tested and done at one part now."""

    look: Move
    tests: tuple[Move, ...]
    """Its own, and those of the rails that it hangs on or makes."""
    remedies: tuple[Move, ...]
    apart: Move
    """Taking it out, or apart where it is a connection."""
    held: Mapping[str, Breach]
    """By the line of a move: the hard rule that forbids it for now."""


def at_part(store: Store, unit: str, part: str) -> AtPart:
    """What can be seen, tested and done at a part of a unit. Raises LineError as ``way_of`` does."""
    device, log = _on_the_bench(store, unit)
    if part not in device.parts:
        raise NotFoundError(f"There is no part '{part}' on this map. {similar(part, device.parts)}")
    bench = _terms_of(store, device, store.unit_id(unit), log)
    here, state = device.parts[part], log.state
    look = look_move(device, state, here)
    tests = [test_move(device, state, test) for test in tests_here(device, state) if _is_at(device, test, here)]
    remedies = remedies_here(device, state, bench, here)
    there = way(device, state, here.behind)
    act = Act(touches=frozenset({part}), near=hands_near(device, (part,), (), there.opens, ()), takes_out=part)
    apart = replace(
        look,
        kind="take-out",
        act=act,
        log=f"{'unplugged' if here.is_connection else 'removed'} {part}",
        cautions=warnings(device, state, act, here.hazards, there),
    )
    held = allowed(device, state, [look, *tests, *remedies, apart])[1]
    return AtPart(look, tuple(tests), tuple(remedies), apart, {move.log: breach for move, breach in held})


def _is_at(device: Device, test: Test, part: Part) -> bool:
    match test.senses:
        case PartModes(part=name):
            return name == part.id
        case AnyMode(modes=modes):
            return part.id in dict(modes)
        case RailVoltage(function=rail) | RailToGround(function=rail):
            return rail in part.on or part.id in device.functions[rail].needs
        case _:
            return False


def reassembly_of(store: Store, unit: str) -> Sheet:
    """The way back. Raises LineError for a unit that has left the bench."""
    device, log = _on_the_bench(store, unit)
    bench = _terms_of(store, device, store.unit_id(unit), log)
    return reassembly(device, log, bench)


def before_power_of(store: Store, unit: str) -> tuple[BeforePower, str]:
    """What is worth checking before power, and the currency. Raises LineError for a unit that has left the bench."""
    device, log = _on_the_bench(store, unit)
    bench = _terms_of(store, device, store.unit_id(unit), log)
    return before_power(device, log, bench, belief_now(store, unit)), bench.currency


def bring_up_of(store: Store, unit: str) -> BringUp:
    """What can be tried at which stage of the way back. Raises LineError for a unit that has left the bench."""
    device, log = _on_the_bench(store, unit)
    return bring_up(device, log, _terms_of(store, device, store.unit_id(unit), log))


def _terms_of(store: Store, device: Device, unit: str, log: Replay, bench_seq: int | None = None) -> Terms:
    """The terms of a unit on the bench, whose seller can be asked."""
    found = terms_for(store, device, but_not=unit, log=log, bench_seq=bench_seq)
    return replace(found, seller=True, stock={**found.stock, **coming(store, device, log.state.incoming)})


def terms_for(
    store: Store,
    device: Device,
    *,
    but_not: str = "",
    log: Replay | None = None,
    bench_seq: int | None = None,
    with_shelf: bool = True,
    at_target: bool = False,
) -> Terms:
    """The bench's rates and shelf for a device; with a unit's ``log``, its prices of the ways out over the map's.

    An hour costs the floor rate, for what is open, or with ``at_target`` what it ought to bring, for bids.

    Parts on the shelf are left out if they came out of unit ``but_not``, if they are reserved for another, or if they
    are known to be of a revision that does not fit in this unit, and without ``with_shelf`` all of them. With
    ``bench_seq`` the rates and tools are those that held after that line of the bench's log.
    """
    settings = bench_settings(store, bench_seq)
    fits = fitting(store, device, but_not, log) if with_shelf else {}
    states = on_shelf(store, fits)
    shelf: dict[str, InStock] = {}
    for one in sorted(fits, key=lambda one: (fits[one], -float(states[one][0]) if one in states else 0.0)):
        chances = tuple(float(chance) for chance in states[one]) if one in states else None
        shelf.setdefault(one.part, InStock(one.unit, device.parts[one.part].price.forgone, chances, fits[one]))
    return terms(
        device,
        hour=(settings.rate_target if at_target else settings.rate_floor).major,
        fee_share=settings.fee_share,
        carriage=settings.carriage.major,
        return_share=settings.return_share,
        stock=shelf,
        lacks=settings.lacks,
        prices=log.state.prices if log else None,
    )


def known_pasts(words: Iterable[str]) -> tuple[str, ...]:
    """Pasts as typed. Raises LineError that names the nearest."""
    given = tuple(dict.fromkeys(words))
    for word in given:
        if word not in PASTS:
            raise LineError(f"No past '{word}'. {similar(word, PASTS)}", nearest(word, PASTS))
    return given


def known_policies(names: Iterable[str]) -> tuple[str, ...]:
    """Policies as typed, all of them if none is named. Raises LineError that names the nearest."""
    given = tuple(dict.fromkeys(names)) or tuple(POLICIES)
    for name in given:
        if name not in POLICIES:
            raise LineError(f"No policy '{name}'. {similar(name, POLICIES)}", nearest(name, POLICIES))
    return given
