"""No test here is a matter of time: hypothesis would fail one whose first example builds the registry of units."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
