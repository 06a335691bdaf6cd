from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from knowngood.bench import work
from knowngood.bench.store import Store

MAP = "ceiling-projector"


@pytest.fixture(autouse=True)
def _no_bench_of_ones_own(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """No test may meet the home of whoever runs it."""
    monkeypatch.delenv("KNOWNGOOD_DATABASE_URL", raising=False)
    monkeypatch.setenv("KNOWNGOOD_HOME", str(tmp_path / "default-home"))


@pytest.fixture
def store(new_home: Path) -> Iterator[Store]:
    with Store(new_home) as opened:
        yield opened


@pytest.fixture
def unit(store: Store) -> str:
    return work.new_unit(store, MAP, "EUR 45", ["dropped"])


@pytest.fixture
def donor(store: Store) -> str:
    return work.new_unit(store, MAP, "EUR 20", donor=True)
