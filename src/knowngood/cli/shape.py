"""The base of everything that a command answers with ``--json``."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict


class Shape(BaseModel):
    """Base of all answers."""

    model_config = ConfigDict(frozen=True)
