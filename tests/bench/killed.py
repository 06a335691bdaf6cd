"""Run by test_processes: starts children that append without end and kills each at a random moment.

After each kill every line a child acknowledged must be there, in pairs as written, and the log must replay. Children
are forked, so that a hundred of them cost no hundred imports.
"""

from __future__ import annotations

import os
import random
import signal
import sys
import time
from pathlib import Path

from knowngood.bench import work
from knowngood.bench.store import Store
from knowngood.log import events as ev
from knowngood.log.state import replay

ROUNDS_A_HOME = 5


def append_without_end(home: Path, acknowledge: int) -> None:
    with Store(home) as store:
        while True:
            first, second = store.append("U1", [ev.Opened(step="cover-off"), ev.Closed(step="all")])
            os.write(acknowledge, f"{first.seq} {second.seq}\n".encode())


def killed_while_appending(home: Path, dice: random.Random) -> list[int]:
    """The sequence numbers that a child acknowledged before it was killed."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading)
        try:
            append_without_end(home, writing)
        finally:
            os._exit(1)
    os.close(writing)
    with os.fdopen(reading, "rb") as pipe:
        first = pipe.readline()
        time.sleep(dice.uniform(0.0, 0.1))  # dozens of lines
        os.kill(child, signal.SIGKILL)
        rest = pipe.read()
    _, status = os.waitpid(child, 0)
    assert os.WIFSIGNALED(status), "the child ended by itself"
    lines = (first + rest).decode().splitlines(keepends=True)
    return [int(seq) for line in lines if line.endswith("\n") for seq in line.split()]


def killed_while_opening(home: Path, dice: random.Random) -> None:
    child = os.fork()
    if child == 0:
        Store(home)
        os._exit(0)
    time.sleep(dice.uniform(0.0, 0.06))
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)


def check(home: Path, acknowledged: set[int]) -> None:
    with Store(home) as store:
        lines = store.lines("U1")
        assert [line.seq for line in lines] == list(range(1, len(lines) + 1)), "a gap"
        assert acknowledged <= {line.seq for line in lines}, "an acknowledged line is gone"
        assert len(lines) % 2 == 1, "half of a pair"
        assert len(lines) - 1 - len(acknowledged) <= 2 * ROUNDS_A_HOME, "more lines than children were in the middle of"
        told = replay(store.device("U1"), lines)
        assert told.flags == ()
        assert told.seq == len(lines)


def main(directory: Path, rounds: int, seed: int) -> None:
    dice = random.Random(seed)
    total = 0
    acknowledged: set[int] = set()
    for number in range(rounds):
        home = directory / f"home-{number // ROUNDS_A_HOME}"
        if number % ROUNDS_A_HOME == 0:
            acknowledged = set()
            killed_while_opening(home, dice)
            with Store(home) as store:
                work.new_unit(store, "ceiling-projector", "EUR 45")
        new = killed_while_appending(home, dice)
        assert new
        assert not acknowledged & set(new), "a sequence number was given twice"
        acknowledged |= set(new)
        total += len(new)
        check(home, acknowledged)
    print(f"{rounds} kills, {total} lines acknowledged, none lost")


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]))
