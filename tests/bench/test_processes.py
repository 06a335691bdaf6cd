"""Several processes, and processes that die: no line is lost, none is doubled."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from knowngood.bench import work
from knowngood.bench.stock import stock
from knowngood.bench.store import Store

APPEND = """
import sys
from pathlib import Path
from knowngood.bench.store import Store
from knowngood.log import events as ev
with Store(Path(sys.argv[1])) as store:
    for number in range(100):
        store.append("U1", [ev.Noted(text=f"{sys.argv[2]} {number}")])
"""

BUY = """
import sys
from pathlib import Path
from knowngood.bench import work
from knowngood.bench.store import Store
with Store(Path(sys.argv[1])) as store:
    print(*(work.new_unit(store, "ceiling-projector", "EUR 5") for _ in range(20)))
"""

FIT = """
import sys
from pathlib import Path
from knowngood.bench import work
from knowngood.bench.store import Store
from knowngood.errors import LineError
with Store(Path(sys.argv[1])) as store:
    try:
        work.log_lines(store, sys.argv[2], ["fitted lamp-door from D1"])
    except LineError as error:
        print(error)
    else:
        print("fitted")
"""


def started(script: str | Path, *arguments: object) -> subprocess.Popen[str]:
    code = [str(script)] if isinstance(script, Path) else ["-c", script]
    command = [sys.executable, "-W", "error", *code, *(str(one) for one in arguments)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def said(*processes: subprocess.Popen[str]) -> list[str]:
    results = [(*process.communicate(timeout=240), process.returncode) for process in processes]
    assert [(err, code) for _, err, code in results] == [("", 0)] * len(results)
    return [out.strip() for out, _, _ in results]


def test_two_processes_append_to_one_unit_and_no_line_is_lost(tmp_path: Path) -> None:
    with Store(tmp_path) as store:
        work.new_unit(store, "ceiling-projector", "EUR 45")
        said(started(APPEND, tmp_path, "left"), started(APPEND, tmp_path, "right"))
        lines = store.lines("U1")
    assert [line.seq for line in lines] == list(range(1, 202))
    for who in ("left", "right"):
        written = [str(line).split(" noted ")[1] for line in lines if f"noted {who}" in str(line)]
        assert written == [f"{who} {number}" for number in range(100)]


def test_two_processes_open_a_new_home_and_buy_at_once(tmp_path: Path) -> None:
    """The tables are made once, and no id is given twice."""
    ids = " ".join(said(*(started(BUY, tmp_path / "fresh") for _ in range(2)))).split()
    assert sorted(ids, key=lambda unit: int(unit[1:])) == [f"U{number}" for number in range(1, 41)]


def test_two_processes_cannot_both_have_the_part(tmp_path: Path) -> None:
    with Store(tmp_path) as store:
        for donor in (False, False, True):
            work.new_unit(store, "ceiling-projector", "EUR 5", donor=donor)
        work.log_lines(store, "D1", ["harvested lamp-door"])
        answers = said(started(FIT, tmp_path, "U1"), started(FIT, tmp_path, "U2"))
        assert stock(store) == []
    assert answers.count("fitted") == 1
    assert any("'lamp-door' of D1 is in U" in answer for answer in answers)


@pytest.mark.skipif(not hasattr(os, "fork"), reason="kills forked children, which this system does not have")
def test_a_hundred_kills_lose_no_acknowledged_line(tmp_path: Path) -> None:
    script = Path(__file__).parent / "killed.py"
    answers = said(*(started(script, tmp_path / str(seed), 50, seed) for seed in (1, 2)))
    assert all(answer.endswith("none lost") for answer in answers), answers
