"""No test here is a matter of time: hypothesis would fail one whose first example builds the registry of units."""

from __future__ import annotations

import pytest
from hypothesis import settings

settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The longest tests that stand at the end come first, or one worker would be left with them alone."""
    items.sort(key=lambda item: item.path.name != "test_docs.py")
