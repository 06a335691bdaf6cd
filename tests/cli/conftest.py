from __future__ import annotations

from pathlib import Path

import pytest
from running import Run, on


@pytest.fixture
def run(new_home: Path) -> Run:
    """Runs a command on a store of its own."""
    return on(new_home)
