"""A small month of the example: everything that the shelf, the ledger and the logs promise, together."""

from __future__ import annotations

import importlib
from pathlib import Path
from types import ModuleType

import pytest

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.fixture
def month(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    monkeypatch.syspath_prepend(str(EXAMPLES))
    return importlib.import_module("month")


def test_a_small_month_closes_to_the_cent(
    month: ModuleType, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Its own checks hold: the ledger is the till, no part is in two places, no reservation is left open."""
    done, plans, wrong = month.run(tmp_path, units=8)
    said = capsys.readouterr().out
    assert len(done.pieces) == 8
    assert "To the cent." in said
    assert "sold working" in said
    assert "parted: " in said
    assert plans[0].answer.worth > plans[0].rule.worth
    assert wrong.alone > 0 < wrong.loses
    assert f"{wrong.unit} goes '{wrong.way}'" in said


def test_the_checks_of_the_month_can_fail(month: ModuleType, tmp_path: Path) -> None:
    """A cent too much in the till, a part that is waited for: each is found."""
    small = month.Month(store=None, count=1, draw=month.np.random.default_rng(6), day=1)
    with month.Store(tmp_path, clock=small.clock) as small.store:
        small.buy(0)
        month.check(small)
        [piece] = small.pieces.values()
        small.till.append((f"{piece.id} a cent", 1))
        with pytest.raises(AssertionError, match=f"{piece.id}: the ledger has"):
            month.check(small)
        small.till.pop()
        small.log(piece, "reserved exhaust-fan from new")
        with pytest.raises(AssertionError, match="still waits"):
            month.check(small)
        small.let_go(piece)
        month.check(small)
