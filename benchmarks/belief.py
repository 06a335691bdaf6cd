"""How long a belief takes on the shipped maps.

A log of tests, an opening, a closing and a swap is believed; then the reasons of all suspects, the joint explanations,
the lines that can hardly all be true, and the whole table of what each outcome of each test and look would make of it,
in one batched pass. ``largest`` and ``all`` are table entries for one row of evidence, impossible ones counted. Best of
three runs. Run: ``python benchmarks/belief.py``.
"""

from __future__ import annotations

from collections.abc import Callable
from time import perf_counter
from typing import TypeVar

from drawn import logged

from knowngood.belief.believe import Belief, believe
from knowngood.belief.explanations import explain
from knowngood.belief.surprise import surprise
from knowngood.belief.what_if import ask, query_look, query_test
from knowngood.log.state import Replay
from knowngood.maps.device import Device
from knowngood.maps.load import load

T = TypeVar("T")

LOGS = {
    "ceiling-projector": [
        "past dropped",
        "saw top-cover dented",
        "tried standby-light works",
        "tried fans-turn fails",
        "opened cover-off",
        "saw exhaust-fan missing",
        "read rail-12v 11.9 V",
        "fitted exhaust-fan from used",
        "closed all",
        "tried fans-turn works",
        "tried lamp-lights fails",
        "tried picture fails",
    ],
    "some-battery-device": [
        "past wet",
        "tried starts fails",
        "tried charges fails",
        "opened board-out",
        "saw charger corroded",
        "read input-rail 5.1 V",
        "read system-node 0.02 V",
        "read io-rail-to-ground 0.4 ohm",
        "fitted charger from new",
        "closed all",
        "tried charges works",
    ],
    "some-mains-device": [
        "past surged",
        "tried standby-light fails",
        "opened cover-off",
        "found fuse.continuity bad",
        "fitted fuse from new",
        "closed all",
        "tried standby-light works",
        "tried starts fails",
    ],
}
HEAD = f"{'device':22}{'parts':>6}{'lines':>6}{'variables':>10}{'largest':>9}{'all':>9}{'believe ms':>12}"


def best(work: Callable[[], T]) -> tuple[float, T]:
    """The shortest of three times, in ms, and what came of it. The first run also fills what is kept per map."""
    times, result = [], work()
    for _ in range(3):
        start = perf_counter()
        result = work()
        times.append(1e3 * (perf_counter() - start))
    return min(times), result


def believed(device: Device, done: Replay) -> tuple[str, Belief]:
    """The left half of a line: the device, its network, and the time for suspects and known good."""

    def work() -> Belief:
        belief = believe(device, done)
        assert belief.suspects
        assert belief.known_good >= 0.0
        return belief

    spent, belief = best(work)
    plan = belief.network.plan
    sizes = f"{len(device.parts):6}{len(done.lines):6}{len(belief.network.states):10}{plan.largest:9}{plan.total:9}"
    return f"{device.id:22}{sizes}{spent:12.1f}", belief


def shipped(name: str) -> str:
    device = load(name)
    line, belief = believed(device, logged(device, LOGS[name]))
    reasons, _ = best(belief.suspects_with_reasons)
    joint, _ = best(lambda: explain(belief))
    surprised, _ = best(lambda: surprise(belief))
    out = belief.story.empty | belief.story.state.removed
    queries = [query_test(belief, test) for test in device.tests.values()]
    queries += [query_look(belief, part) for part in device.parts if part not in out]
    outcomes = sum(len(query.outcomes) for query in queries)
    table, _ = best(lambda: ask(belief, queries))
    return f"{line}{reasons:12.1f}{joint:12.1f}{surprised:12.1f}{table:12.1f}{len(queries):9}{outcomes:9}"


def main() -> None:
    print(
        f"{HEAD}{'reasons ms':>12}{'explain ms':>12}{'surprise ms':>12}{'what if ms':>12}{'queries':>9}{'outcomes':>9}"
    )
    for name in LOGS:
        print(shipped(name), flush=True)


if __name__ == "__main__":
    main()
