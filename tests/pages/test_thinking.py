"""Advice thought out ahead: what is covered, in which order, and that it is what would be said once it is logged."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from knowngood.bench import work
from knowngood.bench.store import Store
from knowngood.pages import thinking, unit_answers

MAP = "some-mains-device"


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Store]:
    """A store with one unit."""
    with Store(tmp_path, clock=lambda: "2026-01-02T03:04:05Z") as store:
        work.new_unit(store, MAP, "EUR 45")
        yield store


def test_every_listed_outcome_comes_first_the_most_probable_before_the_others_then_the_second_move(
    bench: Store,
) -> None:
    thought = thinking.think(bench, "U1")
    assert thought.answer is not None
    steps = [unit_answers.step(bench.device("U1"), move) for move in thought.answer.moves]
    ways = unit_answers.next_lines(steps)
    first = {tap.lines: tap.chance or 0.0 for tap in steps[0].taps}
    assert len(first) >= 2
    assert set(ways[: len(first)]) == set(first)
    chances = [first[lines] for lines in ways[: len(first)]]
    assert chances == sorted(chances, reverse=True)
    assert {tap.lines for tap in steps[1].taps} <= set(ways)
    assert len(ways) <= thinking.AHEAD


def test_what_is_thought_ahead_is_what_is_said_once_it_is_logged(bench: Store) -> None:
    """Each sort of line that is thought out before it is logged; one after which something cures is not."""
    device = bench.device("U1")
    remedies = [(part.id, one) for part in device.parts.values() for one in part.remedies if not one.part]
    mended = next(f"mended {of} {one.name}" for of, one in remedies if not one.wait)
    part = next(iter(device.parts))
    for lines in ((f"deferred {part}",), (f"removed {part}",), (mended,), (f"saw {part} fine",)):
        key = thinking._key(bench, "U1", lines)
        assert key, f"{lines} is not thought out ahead"
        ahead = thinking.think(bench, "U1", lines)
        work.log_lines(bench, "U1", lines)
        assert thinking._key(bench, "U1", ()) == key
        assert thinking.think(bench, "U1") == ahead
        work.undo(bench, "U1")
    cures = [f"mended {of} {one.name}" for of, one in remedies if one.wait]
    assert all(thinking._key(bench, "U1", (line,)) == () for line in cures)


def test_what_the_other_process_thought_out_is_taken_from_it(bench: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    memory, line = thinking.Memory(), "tried standby-light fails"
    memory.ahead(bench, "U1", [[line]])
    memory._planning.shutdown(wait=True)
    [coming] = memory._coming.values()
    expected = coming.result(timeout=120)
    work.log_lines(bench, "U1", [line])
    monkeypatch.setattr(thinking, "think", lambda *_: pytest.fail("thought out here"))
    assert memory.now(bench, "U1") == expected
    memory.stop()


def test_a_machine_with_other_work_thinks_nothing_out_ahead(bench: Store) -> None:
    memory = thinking.Memory()
    memory.only_when_asked = True
    memory.ahead(bench, "U1", [["tried standby-light fails"]])
    memory._planning.shutdown(wait=True)
    assert not memory._coming
    assert memory._pool is None
