"""What is remembered of a log is what the log says now, whoever wrote it and from which connection."""

from __future__ import annotations

import random
from concurrent.futures import ThreadPoolExecutor

import pytest

from knowngood.bench import work
from knowngood.bench.store import Store
from knowngood.errors import KnowngoodError
from knowngood.log import events as ev
from knowngood.log import state
from knowngood.log.remembered import Replays, replay
from knowngood.log.state import Line

MAP = "ceiling-projector"
SAID = (
    *("saw exhaust-fan missing", "opened cover-off", "closed all", "harvested lamp-door", "removed exhaust-fan"),
    *("fitted exhaust-fan from new for EUR 8", "mended exhaust-fan clean in 5 min", "read rail-12v 0.03 V"),
    *("waited 3 h", "ordered lamp-door new from north for EUR 9", "sold working for EUR 90", "returned -- no light"),
)


def from_scratch(store: Store, unit: str) -> state.Replay:
    device = store.device(unit)
    lines = [
        Line(one.seq, one.time, ev.parse(ev.render(one.event)), one.bench_seq, one.map_hash, one.version)
        for one in store.lines(unit)
    ]
    return state.replay(device, lines)


@pytest.mark.parametrize("seed", range(3))
def test_a_replay_that_is_remembered_is_the_one_made_from_scratch(store: Store, seed: int) -> None:
    drawn = random.Random(seed)
    units = [work.new_unit(store, MAP, "EUR 45"), work.new_unit(store, MAP, "EUR 20")]

    def logged(unit: str, count: int) -> None:
        held = [line.seq for line in store.lines(unit)]
        events = [
            drawn.choice(
                (
                    *(ev.parse(drawn.choice(SAID)) for _ in range(4)),
                    ev.Undid(line=drawn.choice(held) + drawn.randrange(2)),  # the purchase and what is not there, too
                    ev.Redid(line=drawn.choice(held)),
                )
            )
            for _ in range(count)
        ]
        store.append(unit, events)  # whatever it is: what does not fit is flagged
        store.close()

    with ThreadPoolExecutor(1) as other:  # a thread has a connection of its own
        for _ in range(25):
            unit, count = drawn.choice(units), drawn.choice((1, 1, 2, 9))
            if drawn.random() < 0.5:
                other.submit(logged, unit, count).result()
            else:
                logged(unit, count)
            for one in units:
                assert replay(store.device(one), store.lines(one)) == from_scratch(store, one)
                with_more = [*store.lines(one), Line(9999, "", ev.parse("opened cover-off"))]
                assert replay(store.device(one), with_more) == state.replay(store.device(one), with_more)


def test_lines_that_were_rolled_back_are_not_remembered(store: Store, unit: str) -> None:
    before = work.replayed(store, unit)[1]

    def rolled_back() -> None:
        with store.writing():
            store.append(unit, [ev.parse("harvested lamp-door")])
            assert work.replayed(store, unit)[1].state.harvested
            raise KnowngoodError("no")

    with pytest.raises(KnowngoodError, match="no"):
        rolled_back()
    assert work.replayed(store, unit)[1] == before
    store.append(unit, [ev.parse("harvested exhaust-fan")])
    assert work.replayed(store, unit)[1].state.harvested == {"exhaust-fan"}


def test_another_map_has_another_replay(store: Store, unit: str) -> None:
    lines = [*store.lines(unit), Line(2, "", ev.parse("opened cover-off"))]
    device, other = store.device(unit), store.device(work.new_unit(store, "pocket-navigator", "EUR 20"))
    assert replay(device, lines).flags == ()
    assert replay(other, lines).flags == state.replay(other, lines).flags != ()


def test_no_log_is_gone_through_twice_and_the_oldest_are_forgotten(
    store: Store, unit: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    device, begun = store.device(unit), store.lines(unit)
    lines = [*begun, *(Line(seq, "", ev.Noted(text=f"{seq}")) for seq in range(2, 9))]
    gone: list[int] = []
    after = state.after
    monkeypatch.setattr(state, "after", lambda *given: gone.append(given[3]) or after(*given))
    monkeypatch.setattr("knowngood.log.remembered.MOST_LINES", 17)
    kept = Replays()
    for many, fresh in ((4, [1, 2, 3, 4]), (4, []), (6, [5, 6]), (8, [7, 8]), (4, [1, 2, 3, 4])):
        gone.clear()
        kept.of(device, lines[:many])
        assert gone == fresh
