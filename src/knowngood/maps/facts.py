"""What is found out about how a device hangs together, before a map holds it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True)
class Fact:
    """What a log says of one step, part or plug; None and empty where it says nothing."""

    name: str
    sort: str
    """step, part or plug."""
    seq: int
    """The last line that says something of it."""
    kind: str | None = None
    behind: tuple[str, ...] | None = None
    step: str | None = None
    """The step with which it comes off, or apart."""
    joins: tuple[str, ...] | None = None
    latch: str | None = None
    reversible: bool = False
    order: tuple[str, ...] = ()
    """Steps that were open when it was first come upon, in the order of opening."""
    opened: float | None = None
    closed: float | None = None
    """Minutes to open and to close, as last logged."""
    out: Mapping[str, int] = field(default_factory=dict)
    """Fasteners that were out at one time, at most, by sort; of no sort under ""."""
    counted: int = 0
    """The last line that counted fasteners out."""
    met: bool = False
    """Whether a line says that it was come upon; else the lines only open, close and count."""
