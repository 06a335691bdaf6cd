"""The one store of this process."""

from __future__ import annotations

from functools import cache

from django.conf import settings

from knowngood.bench.store import Store


@cache
def store() -> Store:
    """The store of the home that the server was started for. Its connections are Django's, one to a thread."""
    return Store(settings.KNOWNGOOD_HOME_GIVEN)
