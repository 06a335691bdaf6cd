from __future__ import annotations

from pathlib import Path

import pytest
from running import Run, on


@pytest.fixture
def run(tmp_path: Path) -> Run:
    """Runs a command on a store of its own."""
    return on(tmp_path / "home")
