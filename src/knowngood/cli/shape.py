"""The base of everything that a command answers with ``--json``, and what several answers share."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict, Field


class Shape(BaseModel):
    """Base of all answers."""

    model_config = ConfigDict(frozen=True)


class IntervalShape(Shape):
    """An estimate with its 95 % interval."""

    mean: float = Field(description="The estimate")
    low: float | None = Field(description="Lower end; null where a single unit gives none")
    high: float | None = Field(description="Upper end")
