"""The long work of the pages, without a server: what it tells on the way, and how it ends."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

import pytest

from knowngood.bench import candidates, work
from knowngood.bench.store import Store
from knowngood.errors import LineError
from knowngood.pages import bids, orders, shelf, working


def told(tell: working.Tell) -> None:
    tell("half", None)
    tell("", 42)


def answers(store: Store, tell: working.Tell) -> None:
    told(tell)


def refuses(store: Store, tell: working.Tell, why: str) -> None:
    tell("begun", None)
    raise LineError(why)


def never_ends(store: Store, tell: working.Tell) -> None:
    tell("so far", 7)
    time.sleep(600)


def ended(work: working.Work) -> working.Work:
    while not work.over:
        time.sleep(0.02)
    return work


def test_a_work_is_done_once_for_its_key_in_a_process_of_its_own(tmp_path: Path) -> None:
    works = working.Works()
    with Store(tmp_path / "home") as store:
        done = ended(works.at("a", (1,), store, answers))
        assert (done.answer, done.said, done.trouble, done.cut) == (42, "half", "", False)
        assert works.at("a", (1,), store, answers) is done
        refused = ended(works.at("a", (2,), store, refuses, "No such thing."))
        assert (refused.answer, refused.trouble) == (None, "No such thing.")
        works.forget("a")
        assert works.known("a") is None


def test_a_work_without_end_is_ended_and_what_it_said_stays(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    works = working.Works()
    with Store(tmp_path / "home") as store:
        under_way = works.at("b", (), store, never_ends)
        while under_way.answer is None:
            time.sleep(0.02)
        assert not under_way.over
        works.stop()
        assert (ended(under_way).answer, under_way.trouble) == (7, "")
        monkeypatch.setattr(working, "LIMIT", 0.01)
        cut = ended(works.at("b", (), store, never_ends))
        assert cut.cut
        assert cut.trouble == "It took too long."


def test_plan_orders_and_bid_tell_what_the_terminal_answers(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    said: list[tuple[str, Any]] = []
    monkeypatch.setattr(bids, "UNITS", 4)
    monkeypatch.setattr(bids, "PAIRS", 0)
    with Store(tmp_path / "home") as store:
        unit = work.new_unit(store, "some-battery-device", "EUR 12", ["dropped"])
        offer = candidates.offer(store, "some-battery-device", "EUR 3", "no power").candidate
        shelf.plan_there(store, lambda words, found: said.append((words, found)))
        assert said[0][0] == "1 of 1 units are thought through."
        found = said[-1][1]
        assert [one.unit for one in found.shape.units] == [unit]
        assert found.shape.units[0].next_best is not None
        assert [one.unit for one in found.plans] == [unit]
        orders.along_there(store, lambda words, found: said.append((words, found)))
        assert said[-1][1].baskets == []
        bids.bid_there(store, lambda words, found: said.append((words, found)), offer)
        assert said[-1][1].bids[0].offer.candidate == offer
        assert said[-1][0].startswith("4 of 4 units drawn")
