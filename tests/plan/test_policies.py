"""The usual rules: each takes the move that its name says, all obey the hard rules and the budget, and are compared."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from small import bench, device, found, log, part, rail, remedy, step, tried, volts, wanted

from knowngood.errors import ClusterError
from knowngood.log.state import Replay
from knowngood.maps.device import Device
from knowngood.plan import spread
from knowngood.plan.choose import advise
from knowngood.plan.compare import Drawn, Remembering, Tally, rehearse
from knowngood.plan.foreknown import worth_if_known
from knowngood.plan.hazards import breaches
from knowngood.plan.moves import Move
from knowngood.plan.policies import POLICIES
from knowngood.plan.rehearse import Policy, Rehearsed, rehearse_unit
from knowngood.plan.spread import Spread, cluster, here, processes
from knowngood.plan.terms import Terms

SWAP = remedy("replace", part=True, minutes=6.0)
FOUR = device(
    [
        part("supply", SWAP, base=0.20, used="EUR 40"),
        part("lamp", SWAP, base=0.17, used="EUR 30"),
        part("board", SWAP, base=0.18, used="EUR 4", behind="lid"),
        part("fuse", SWAP, base=0.05, used="EUR 1", behind="lid"),
    ],
    [rail("rail", "supply"), wanted("starts", "rail", "lamp", "board", "fuse")],
    [tried("starts", closed=True), volts("rail", behind="lid"), found("flick", "board", behind="lid")],
    [step("lid", 1.0, 1.0)],
)
"""The supply is likeliest, the fuse is cheapest, and the board has most chance for its cost."""

LOOKED = (
    "tried starts fails",
    "saw supply fine",
    "saw lamp fine",
    "opened lid",
    "saw board fine",
    "found flick ok",
    "saw fuse fine",
)
RULES = [name for name in POLICIES if name != "planner"]


def first_kinds(name: str, *lines: str) -> Move:
    return POLICIES[name](FOUR, log(FOUR, *lines), bench())


@pytest.mark.parametrize(
    ("name", "target"),
    [
        ("most probable part first", "supply"),
        ("cheapest first", "fuse"),
        ("probability over cost", "board"),
    ],
)
def test_each_order_takes_its_own_part_first_and_looks_before_it_mends(name: str, target: str) -> None:
    assert first_kinds(name).name == "try starts"
    assert first_kinds(name, "tried starts fails").target == target
    assert first_kinds(name, "tried starts fails").kind in ("look", "test")


def test_after_a_look_at_all_the_likeliest_part_is_mended() -> None:
    parts = advise(FOUR, log(FOUR, *LOOKED), bench()).belief.suspects
    likeliest = max(parts, key=lambda one: one.p_blocks).part
    move = first_kinds("most probable part first", *LOOKED)
    assert (move.kind, move.target) == ("replace", likeliest)


def test_the_checklist_goes_from_outside_in() -> None:
    lines: list[str] = []
    for line in ("saw supply fine", "saw lamp fine", "tried starts fails", "saw board fine", "saw fuse fine"):
        move = first_kinds("fixed checklist", *lines)
        assert line.startswith(move.log), (line, move.log)
        lines += [f"opened {one}" for one in move.opens] + [line]


def test_information_per_minute_asks_what_tells_most() -> None:
    move = first_kinds("information per minute", "tried starts fails", "opened lid")
    assert move.name == "measure rail"


@pytest.mark.parametrize("name", RULES)
def test_what_has_been_shown_to_work_is_sold(name: str) -> None:
    assert first_kinds(name, "tried starts works").kind == "sell"


@pytest.mark.parametrize("name", RULES)
def test_a_rule_stops_when_its_budget_is_spent(name: str) -> None:
    worked = ("tried starts fails", "worked 170 min")
    assert first_kinds(name, *worked).act.ends
    assert not first_kinds(name, "tried starts fails").act.ends


HURT = replace(
    FOUR,
    parts={**FOUR.parts, "supply": replace(FOUR.parts["supply"], hazards=("mains", "stored-charge"))},
)


@pytest.mark.parametrize("name", RULES)
@pytest.mark.parametrize("past", [("wet",), ()])
def test_no_rule_breaks_a_hard_rule(name: str, past: tuple[str, ...]) -> None:
    made: list[str] = []

    def watched(on: Device, told: Replay, at: Terms) -> Move:
        move = POLICIES[name](on, told, at)
        state = told.state
        after = replace(state, open_steps=(state.open_steps | set(move.opens)) - set(move.closes))
        assert breaches(on, after, move.act) == [], (move.name, told.lines)
        made.append(move.kind)
        return move

    rehearse_unit(0, HURT, bench(), past, 3, watched)
    assert ("dry" in made) == bool(past)


# ---- compared -----------------------------------------------------------------------------------------------------


def compared(units: int = 2, by: Spread = here) -> list[Drawn]:
    names = ("cheapest first", "most probable part first")
    return list(rehearse(FOUR, bench(), units=units, seed=3, past=("dropped",), policies=names, spread=by))


def test_the_same_on_one_core_and_on_two_and_with_fewer_units() -> None:
    once = compared(3)
    assert compared(by=processes(2)) == once[:2]
    assert [one.unit for one in once] == list(range(3))
    assert len({one.jobs["cheapest first"].lines for one in once}) > 1


def test_a_remembered_policy_is_asked_once_about_a_log() -> None:
    asked: list[Replay] = []

    def policy(on: Device, told: Replay, at: Terms) -> Move:
        asked.append(told)
        return POLICIES["cheapest first"](on, told, at)

    remembering: Policy = Remembering(policy)
    moves = [remembering(FOUR, log(FOUR, *lines), bench()) for lines in ((), ("opened lid",), ())]
    assert len(asked) == 2
    assert moves[0] is moves[2]


def job(net: float, way_out: str = "parts", works: bool = False) -> Rehearsed:
    return Rehearsed(way_out, works, moves=3, minutes=10.0, materials=2.0, net=net, lines=())


def test_the_comparison_is_made_unit_by_unit() -> None:
    own, theirs = [10.0, 80.0, 20.0, 30.0], [9.0, 77.0, 19.0, 27.0]
    tally = Tally()
    for unit, (one, other) in enumerate(zip(own, theirs, strict=True)):
        way = job(one, "working", works=unit < 3)
        tally.add(Drawn(unit, (), 2, if_known=100.0 + unit, jobs={"planner": way, "cheapest first": job(other)}))
    total = tally.comparison(bench())
    first, behind = total.policies[0], total.policies[1].behind
    assert first.behind is None
    assert behind is not None
    # Student's t with 3 degrees of freedom, 97.5 %: 3.182; the units differ widely and the differences hardly do.
    assert behind.mean == -2.0
    assert behind.high - behind.mean == pytest.approx(3.182 * np.sqrt(4 / 3) / 2, rel=1e-3)
    assert first.net.mean == 35.0
    assert first.net.high - first.net.mean == pytest.approx(3.182 * np.std(own, ddof=1) / 2, rel=1e-3)
    assert (first.brought_back.mean, first.would_return.mean, first.parted.mean) == (0.75, 0.25, 0.0)
    assert (total.units, total.stopping_faults, total.if_known.mean, total.parted_at_once) == (4, 2.0, 101.5, 25.0)


@pytest.mark.parametrize(
    ("modes", "unknown", "worth"),
    [
        ({}, (), 200.0 - 0.5 * 32.0),
        ({"supply": "dead"}, (), 200.0 - 0.5 * 32.0 - (40.0 + 3.0)),
        (
            {"supply": "dead", "fuse": "dead", "board": "dead"},
            (),
            200.0 - 16.0 - 43.0 - (4.0 + 3.0) - (1.0 + 3.0) - 1.0,
        ),
        ({}, ("starts",), 25.0),
    ],
)
def test_worth_if_what_is_wrong_were_known(modes: dict[str, str], unknown: tuple[str, ...], worth: float) -> None:
    """By hand: 200 less half an hour of selling, a try of 2 min, parts, 6 min each at 0.50, the lid once (2 min)."""
    assert worth_if_known(FOUR, modes, frozenset(unknown), (), bench()) == pytest.approx(worth)


# ---- a cluster ----------------------------------------------------------------------------------------------------


class Future:
    def __init__(self, value: Any) -> None:
        self.value = value

    def result(self) -> Any:
        return self.value


class Client:
    """A stand-in with the part of Dask's interface that is used; ``distributed`` need not be there."""

    versions: dict[str, str] = {}  # noqa: RUF012

    def __init__(self, address: str) -> None:
        self.closed, self.cancelled = False, -1

    def run(self, work: Any) -> dict[str, str]:
        return self.versions

    def map(self, work: Any, given: Sequence[Any], pure: bool) -> list[Future]:
        assert not pure
        return [Future(work(one)) for one in given]

    def cancel(self, waiting: Sequence[Future]) -> None:
        self.cancelled = len(waiting)

    def close(self) -> None:
        self.closed = True


@pytest.fixture
def client(monkeypatch: pytest.MonkeyPatch) -> Iterator[Client]:
    client = Client("")
    client.versions = {"tcp://one": spread.__version__}
    monkeypatch.setattr(spread, "_client", lambda address: client)
    yield client
    assert client.closed


def test_a_cluster_gives_the_same(client: Client) -> None:
    assert compared(by=cluster("tcp://here")) == compared()
    assert client.cancelled == 0


def test_work_that_is_broken_off_is_taken_back(client: Client) -> None:
    answers = cluster("tcp://here")(abs, [-1, -2, -3])
    assert next(answers) == 1
    answers.close()  # type: ignore[attr-defined]
    assert client.cancelled == 2


@pytest.mark.parametrize(
    ("versions", "message"),
    [
        ({}, "has no workers. Start one: dask worker tcp://here"),
        ({"tcp://one": "0.0.1"}, "tcp://one has knowngood 0.0.1"),
    ],
)
def test_a_cluster_that_would_not_give_the_same_is_refused(
    client: Client, versions: dict[str, str], message: str
) -> None:
    client.versions = versions
    with pytest.raises(ClusterError, match=message):
        compared(by=cluster("tcp://here"))


@pytest.mark.parametrize("address", ["tcp://127.0.0.1:1", "nonsense://x"])
def test_a_cluster_that_is_not_there(address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("distributed")
    monkeypatch.setattr(spread, "PATIENCE", 0.3)
    with pytest.raises(ClusterError, match=f"No Dask scheduler answers at '{address}'"):
        compared(by=cluster(address))


def test_a_real_cluster_gives_the_same() -> None:
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(
        n_workers=1, threads_per_worker=1, processes=False, dashboard_address=None
    ) as workers:
        assert compared(by=cluster(workers.scheduler_address)) == compared()
