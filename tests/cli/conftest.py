from __future__ import annotations

from pathlib import Path
from shutil import copyfile

import pytest
from running import Run, on


@pytest.fixture
def run(tmp_path: Path, empty_store: Path) -> Run:
    """Runs a command on a store of its own."""
    home = tmp_path / "home"
    home.mkdir()
    copyfile(empty_store, home / empty_store.name)
    return on(home)
