"""No test here is a matter of time: hypothesis would fail one whose first example builds the registry of units."""

from __future__ import annotations

from pathlib import Path
from shutil import copyfile

import pytest
from hypothesis import settings

settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The longest tests that stand at the end come first, or one worker would be left with them alone."""
    items.sort(key=lambda item: item.path.name != "test_docs.py")


@pytest.fixture(scope="session")
def empty_store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The file of a store with its tables and nothing in them, to be copied: making them outlasts most tests."""
    from knowngood.bench.django_setup import DATABASE_URL, FILE
    from knowngood.bench.store import Store

    home = tmp_path_factory.mktemp("empty")
    with pytest.MonkeyPatch.context() as patch:
        patch.delenv(DATABASE_URL, raising=False)
        Store(home).close()
    return home / FILE


@pytest.fixture
def new_home(tmp_path: Path, empty_store: Path) -> Path:
    """A home of the test's own, whose store has its tables and nothing in them."""
    home = tmp_path / "home"
    home.mkdir()
    copyfile(empty_store, home / empty_store.name)
    return home
