"""What to do with each part, against every choice tried one by one on small units, and the rules that no choice breaks.

The sums of the oracle are done again from worlds: no network, no menus, no search.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import cache
from itertools import product
from typing import Any

import numpy as np
import pytest
import small
from small import log

from knowngood.belief import sensing
from knowngood.belief.believe import believe
from knowngood.belief.evaluate import World, behave
from knowngood.belief.menu import Considered
from knowngood.belief.priors import bought, fitted, swapped, touched
from knowngood.handbook.quantities import parse_money
from knowngood.log.events import parse
from knowngood.log.state import Replay, considered
from knowngood.maps.device import (
    ByContent,
    Device,
    Function,
    Married,
    Mode,
    Part,
    Prices,
    Remedy,
    Step,
    by_content,
)
from knowngood.maps.words import Level
from knowngood.money.choices import Choices, Course, Donor, ForSale, Supply, choices
from knowngood.money.choices.courses import KEEP, courses
from knowngood.money.choices.options import Decision, Offers
from knowngood.plan.terms import InStock, Terms
from knowngood.plan.value import BIT_MINUTES, CHECK_MINUTES, bits_of

RESEAT = 2.0
"""Minutes of the remedy of a plug."""

BENCH = Terms(currency="EUR", rate=0.5, working=200.0, as_is=40.0, parts=25.0, come_back=60.0, price=200.0)


def remedy(name: str, cures: float, minutes: float, *, part: bool = False, **spoils: float) -> Remedy:
    cured = (("dead", cures), ("weak", cures if part else cures / 2))
    return Remedy(name, name, cured, minutes, None, part, 0.0, tuple(spoils.items()), (), ())


SWAP = remedy("replace", 1.0, 6.0, part=True)


def part(name: str, *remedies: Remedy, base: float = 0.1, used: str = "", new: str = "", **more: Any) -> Part:
    """A part that is fine, dead, or weak (dead for what needs it, too)."""
    modes = (Mode("dead", "dead", 0.7, Level.NONE), Mode("weak", "weak", 0.3, Level.WEAK))
    price = Prices(parse_money(new) if new else None, parse_money(used) if used else None)
    return Part(name, name, "drawn", base, more.pop("modes", modes), (), (), remedies, price, **more)


def wanted(name: str, *needs: str, without: str = "", **more: Any) -> Function:
    price = parse_money(without) if without else None
    return Function(name, name, "behaviour", needs, wanted=True, without=price, **more)


def device(
    parts: Iterable[Part], functions: Iterable[Function], steps: Iterable[Step] = (), married: Iterable[Married] = ()
) -> Device:
    """A small device with the try of each of its functions."""
    works = tuple(functions)
    return small.device(parts, works, [small.tried(one.id) for one in works], steps, married)


def chosen(on: Device, told: Replay, at: Terms = BENCH, supply: Supply | None = None, most: int = 3) -> Choices:
    return choices(on, told, believe(on, told), at, supply, most=most)


PLUG = part("plug", remedy("reseat", 0.9, 2.0, dead=0.02), base=0.15, modes=(
    Mode("dead", "dead", 0.5, Level.NONE),
    Mode("unseated", "unseated", 0.5, Level.NONE, seating=True),
), joins=("core", "left"))  # fmt: skip

LIDDED = device(
    [
        part("board", remedy("resolder", 0.6, 5.0, dead=0.05), SWAP, base=0.3, used="EUR 30", behind="shield"),
        part("fan", remedy("oil", 0.5, 2.0), SWAP, base=0.4, new="EUR 9", behind="lid"),
        part("port", SWAP, base=0.2, new="EUR 25"),
    ],
    [wanted("starts", "board"), wanted("cools", "starts", "fan"), wanted("input", "starts", "port", without="EUR 10")],
    [Step("lid", "lid", (), 3.0, 4.0), Step("shield", "shield", ("lid",), 1.0, 2.0)],
)

SPARE = device(
    [
        part("left", remedy("clean", 0.8, 4.0), SWAP, base=0.3, used="EUR 12"),
        part("right", remedy("clean", 0.8, 4.0), base=0.4),
        part("core", SWAP, base=0.25, used="EUR 40", behind="lid"),
        PLUG,
    ],
    [wanted("runs", "core", any_of=(("left", "right"),)), wanted("turns", "runs", "plug")],
    [Step("lid", "lid", (), 3.0, 4.0, unplugs=("plug",))],
)


# ---- the oracle: every world, every choice ------------------------------------------------------------------------


class Oracle:
    """A unit's worlds: the state of each part as it is, one axis each, and which functions have an unknown fault."""

    def __init__(self, on: Device, told: Replay, at: Terms) -> None:
        self.on, self.at, self.parts = on, at, list(on.parts)
        shape = [len(one.states) for one in on.parts.values()]
        hidden = list(product((False, True), repeat=len(on.functions)))
        self.weights = np.zeros((*shape, len(hidden)))
        self.level: dict[tuple[int, ...], dict[str, Level]] = {}
        for where in product(*map(range, shape)):
            prior = np.prod([bought(one, ())[at_] for one, at_ in zip(on.parts.values(), where, strict=True)])
            for number, faults in enumerate(hidden):
                chance = on.unknown_per_function
                weight = float(prior * np.prod([chance if one else 1.0 - chance for one in faults]))
                unknown = frozenset(name for name, one in zip(on.functions, faults, strict=True) if one)
                self.level[*where, number] = level = levels(on, dict(zip(on.parts, where, strict=True)), unknown)
                for line in told.lines[1:]:
                    test, outcome = on.tests[line.event.test], line.event.outcome  # type: ignore[union-attr]
                    row = sensing.outcome_table(on, test)[int(level[test.id])]
                    weight *= row[test.outcomes.index(outcome)]
                self.weights[*where, number] = weight
        self.weights /= self.weights.sum()

    def all_good(self, promised: list[str]) -> np.ndarray[Any, Any]:
        good = np.zeros(self.weights.shape)
        for where, level in self.level.items():
            good[where] = all(level[name] == Level.GOOD for name in promised)
        return good

    def worth(self, decisions: list[Decision], picked: tuple[Course, ...], declared: tuple[str, ...]) -> float:
        """Worth of a choice: what each part is after its course, in which worlds all works, what it took."""
        on, at = self.on, self.at
        promised = [name for name in on.wanted if name not in declared]
        minutes, money, spared, then = CHECK_MINUTES, 0.0, dict[str, float](), self.weights
        things = {one.id: one for course in picked for step in course.steps for one in step.once}
        for decision, course in zip(decisions, picked, strict=True):
            (name,) = decision.parts
            axis, bad = self.parts.index(name), stops(on, name, promised)
            others = tuple(one for one in range(then.ndim) if one != axis)
            now, needed, done = self.weights.sum(axis=others), {}, []
            if course.steps and not course.anyway:
                minutes += BIT_MINUTES * float(bits_of(now[bad].sum()))
            for number, step in enumerate(course.steps):
                do = np.ones(len(now), bool) if course.anyway and number == 0 else bad
                chance = float(now[do].sum())
                done.append((step, chance))
                minutes += chance * (step.minutes + CHECK_MINUTES)
                money += chance * step.money
                needed |= {one.id: max(chance, needed.get(one.id, 0.0)) for one in step.once}
                moved = np.where(do[:, None], step.acts[name], np.eye(len(now)))
                now, then = now @ moved, np.moveaxis(np.tensordot(then, moved, (axis, 0)), -1, axis)
            disturbed = {name for step in course.steps for name in step.disturbs}
            for name in disturbed:
                way = max(step.access for step in course.steps) + RESEAT + CHECK_MINUTES
                minutes += max(chance for step, chance in done if name in step.disturbs) * open_after(on, name) * way
            spared |= {thing: spared.get(thing, 1.0) * (1.0 - chance) for thing, chance in needed.items()}
        for thing, chance in spared.items():
            again = sum(open_after(on, name) for name in things[thing].disturbs)
            again *= things[thing].minutes + RESEAT + CHECK_MINUTES
            minutes += (1.0 - chance) * (things[thing].minutes + again)
            money += (1.0 - chance) * things[thing].money
        works = float((then * self.all_good(promised)).sum())
        less = sum(on.functions[name].without.major for name in declared)  # type: ignore[union-attr]
        success = at.working - less - at.rate * (at.list_minutes + 2.0 * len(promised))
        failure = max(at.as_is - at.rate * at.list_minutes, at.parts)
        return works * success + (1.0 - works) * failure - minutes * at.rate - money


def open_after(on: Device, name: str) -> float:
    """Chance that a plug that was made again is not fine."""
    drawn = touched(on.parts[name])
    assert drawn is not None
    return float(drawn[0, 1:].sum())


def levels(on: Device, where: dict[str, int], unknown: frozenset[str]) -> dict[str, Level]:
    modes = {name: on.parts[name].states[state] for name, state in where.items() if state}
    return behave(on, World(modes, unknown=unknown)).level


def stops(on: Device, name: str, promised: list[str]) -> np.ndarray[Any, Any]:
    return _stops(by_content(on), name, tuple(promised))


@cache
def _stops(of: ByContent, name: str, promised: tuple[str, ...]) -> np.ndarray[Any, Any]:
    """Which states of a part can stop what is promised, whatever the other parts are in."""
    on = of.device
    others = [dict.fromkeys(on.parts, 0)] + [{**dict.fromkeys(on.parts, 0), one: 1} for one in on.parts if one != name]
    found = []
    for state in range(len(on.parts[name].states)):
        worse = [
            any(
                levels(on, {**rest, name: state}, frozenset())[one] < levels(on, {**rest, name: 0}, frozenset())[one]
                for one in promised
            )
            for rest in others
        ]
        found.append(any(worse))
    return np.array(found)


@pytest.mark.parametrize(
    ("on", "working", "lines"),
    [
        (LIDDED, 200.0, ("tried cools fails",)),
        (LIDDED, 130.0, ("tried starts works", "tried cools fails", "tried input fails")),
        (SPARE, 120.0, ("tried turns fails",)),
        (SPARE, 200.0, ()),
    ],
)
def test_the_best_choice_is_the_best_of_all_choices(on: Device, working: float, lines: tuple[str, ...]) -> None:
    """Every choice where there are few, else a drawn sample, and all that are one change away."""
    at = replace(BENCH, working=working, price=working)
    told = log(on, *lines)
    belief = believe(on, told)
    decisions = Offers(on, told.state, at, belief, Supply()).decisions([one.part for one in belief.suspects])
    found = choices(on, told, belief, at)
    every = [list(courses(decision)) for decision in decisions]
    declarable = [(), *((name,) for name in on.wanted if on.functions[name].without)]
    oracle = Oracle(on, told, at)
    assert set(found.matter) == set(on.parts)
    assert found.best.what == "work"
    taken = dict(found.best.courses)
    best = tuple(taken.get(decision.parts, KEEP) for decision in decisions)
    assert found.best.worth == pytest.approx(oracle.worth(decisions, best, found.best.declared), abs=1e-9)
    others = [*product(declarable, product(*every))]
    if len(others) > 400:
        draw = np.random.default_rng(1)
        others = [others[one] for one in draw.choice(len(others), 60)]
        changed = [(*best[:at_], one, *best[at_ + 1 :]) for at_, each in enumerate(every) for one in each]
        others += [(found.best.declared, one) for one in changed]
    for declared, picked in others:
        assert oracle.worth(decisions, picked, declared) <= found.best.worth + 1e-9


# ---- what a menu says, against the log with the acts in it --------------------------------------------------------


def test_a_set_of_acts_leaves_what_the_log_with_these_acts_leaves() -> None:
    told = log(SPARE, "tried turns fails")
    core, left = SPARE.parts["core"], SPARE.parts["left"]
    clean = np.array([[1.0, 0.0, 0.0], [0.8, 0.2, 0.0], [0.4, 0.0, 0.6]])
    menus = {
        "core": np.stack([np.eye(3), swapped(core, fitted(core, "used"))]),
        "left": np.stack([np.eye(3), clean]),
    }
    sets = np.array([[0, 0], [1, 0], [1, 1]])
    found = Considered(SPARE, told, menus).works(SPARE.wanted, sets)
    lines = ([], ["mended left clean"])
    for acts, more in zip(found[[0]], lines, strict=False):
        assert acts == pytest.approx(believe(SPARE, considered(SPARE, told, map(parse, more))).known_good, abs=1e-12)
    mended = believe(SPARE, considered(SPARE, told, [parse("mended left clean")]))
    assert Considered(SPARE, told, menus).works(SPARE.wanted, np.array([[0, 1]])) == pytest.approx(mended.known_good)
    assert left.remedies[0].name == "clean"
    assert (np.diff(found) > 0.0).all()


# ---- where parts come from, and what the rules hold back ----------------------------------------------------------

PAIR = device(
    [
        part("lens", remedy("clean", 0.3, 4.0), SWAP, base=0.5, used="EUR 5", behind="lid"),
        part("store", SWAP, base=0.05, used="EUR 5", behind="lid"),
        part("lamp", SWAP, base=0.3, new="EUR 20"),
    ],
    [wanted("picture", "lens", "store"), wanted("light", "lamp")],
    [Step("lid", "lid", (), 3.0, 4.0)],
    [Married(("lens", "store"), "keys", ("picture",))],
)


def donor(**gone: str) -> Donor:
    told = log(PAIR, *(f"harvested {name}" for name in gone))
    states = {one.id: (0.95, 0.05, 0.0) for one in PAIR.parts.values() if one.id not in gone}
    return Donor("D1", PAIR, told.state, states)


def test_a_married_part_is_mended_where_it_is_or_moves_with_its_whole_group() -> None:
    told = log(PAIR, "tried picture fails")
    for given, offered in ((donor(), True), (donor(store="gone"), False)):
        found = chosen(PAIR, told, supply=Supply(donors=(given,)))
        lens = next(one for one in found.parts if one.parts == ("lens",))
        assert {one.option.kind for one in lens.options if one.option} == {"mend"}
        groups = [one for one in found.parts if len(one.parts) > 1]
        assert bool(groups) == offered
        if offered:
            (whole,) = (one.option for one in groups[0].options if one.option)
            assert whole.origin == "D1"
            assert whole.replaces == {"lens", "store"}
            assert whole.log == ("fitted lens from D1", "fitted store from D1")
            assert "all of them, or none" in whole.note


def test_taking_from_a_donor_opens_it_once_and_what_it_gives_may_be_bad() -> None:
    found = chosen(PAIR, log(PAIR, "tried picture fails"), supply=Supply(donors=(donor(),)))
    (group,) = (one for one in found.parts if len(one.parts) > 1)
    take = next(one for one in group.options if one.option)
    assert {one.id for one in take.option.once} == {"way lid", "D1 lid"}  # type: ignore[union-attr]
    assert take.option.access == 7.0 + 3.0  # type: ignore[union-attr]
    assert take.works == pytest.approx((0.95, 0.95))


def test_postage_is_paid_once_for_all_that_one_supplier_sends() -> None:
    sold = {name: (ForSale("new", 9.0, "north", postage=6.0, days=3.0),) for name in ("fan", "port")}
    told = log(LIDDED, "tried starts works", "tried cools fails", "tried input fails")
    found = chosen(LIDDED, told, supply=Supply(for_sale=sold))
    bought_ = {parts[0] for parts, course in found.best.courses for step in course.steps if step.kind == "buy"}
    assert bought_ >= {"fan", "port"}
    (post,) = (one for one in found.best.once if one[0].id == "post north")
    assert post[0].money == 6.0
    one = next(each for each in found.parts if each.parts == ("port",)).options[0].option
    assert one is not None
    assert (one.postage, one.days, one.money) == (6.0, 3.0, 9.0)


def test_what_is_loose_on_the_shelf_is_taken_with_what_its_log_says() -> None:
    loose = {"lamp": (InStock("D2", 4.0, (0.7, 0.3, 0.0)),)}
    found = chosen(PAIR, log(PAIR, "tried light fails"), supply=Supply(loose))
    lamp = next(one for one in found.parts if one.parts == ("lamp",))
    take = next(one for one in lamp.options if one.option and one.option.kind == "take")
    assert take.works == (0.7,)


def test_a_hurt_cell_is_replaced_whatever_it_costs_or_the_unit_does_not_leave() -> None:
    battery = part("cell", SWAP, base=0.05, new="EUR 70", hazards=("cell",))
    on = device([battery, part("board", SWAP, base=0.3, used="EUR 9")], [wanted("runs", "cell", "board")])
    told = log(on, "tried runs fails", "saw cell swollen")
    found = chosen(on, told)
    for whole in found.wholes:
        if whole.what == "work":
            assert any("cell" in course.replaces for _, course in whole.courses)
    board = next(one for one in found.parts if one.parts == ("board",))
    assert board.options[0].option is not None
    assert board.options[0].option.after == {"cell"}
    cell = next(one for one in found.parts if one.parts == ("cell",))
    kept = next(one for one in cell.options if one.option is None)
    assert kept.worth is None
    assert "It goes out first." in kept.why_not or "has to be replaced first" in kept.why_not


def test_a_charge_is_let_off_once_before_anything_near_it_is_touched() -> None:
    store = part("store", SWAP, base=0.3, used="EUR 9", hazards=("stored-charge",), behind="lid")
    on = device([store], [wanted("runs", "store")], [Step("lid", "lid", (), 3.0, 4.0)])
    found = chosen(on, log(on, "tried runs fails"))
    option = found.parts[0].options[0].option
    assert option is not None
    assert {one.id for one in option.once} == {"way lid", "discharge store"}
    assert any("capacitor" in one for one in found.best.cautions)


def test_a_wet_unit_is_dried_first_and_a_unit_worth_nothing_working_is_let_go() -> None:
    on = device([part("board", SWAP, base=0.3, used="EUR 9")], [wanted("runs", "board")])
    found = chosen(on, log(on, "tried runs fails", "saw board wet"))
    assert found.best.what == "work"
    assert [one.id for one, _ in found.best.once] == ["dry unit"]
    poor = chosen(on, log(on, "tried runs fails"), replace(BENCH, working=40.0, price=40.0))
    assert poor.best.what in ("sell-as-is", "part-out")
    assert poor.margin >= 0.0


def test_what_may_be_declared_is_done_without_where_that_is_cheaper() -> None:
    told = log(LIDDED, "tried starts works", "tried cools works", "tried input fails")
    found = chosen(LIDDED, told)
    assert found.best.declared == ("input",)
    port = next(one for one in found.parts if one.parts == ("port",))
    assert port.without == ("input",)
    board = next((one for one in found.parts if one.parts == ("board",)), None)
    assert board is None or board.without == ()
