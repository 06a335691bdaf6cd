"""What ``map grow`` answers with ``--json``."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from knowngood.cli.shape import Shape


class ProposedKind(Shape):
    """The kind of a part or plug that the map lacks."""

    name: str = Field(description="Name of the part or plug")
    kind: str = Field(description="Its part kind")
    taken: bool = Field(description="Whether it is in the grown map; false until a person agrees (`--yes`)")
    by: Literal["log", "person", "name"] = Field(
        description="Who says so: a line of the log, the person who calls, or only the words of its name"
    )


class LeftOut(Shape):
    """A part or plug that was met and is not in the grown map."""

    name: str = Field(description="Name of the part or plug")
    why: str = Field(description="Why it is not in the map, and what would bring it in")


class ConflictShape(Shape):
    """Something that the log says otherwise than the map, which stays as it is."""

    what: str = Field(description="What it is about, as `fasteners of 'cover-off'`")
    place: str = Field(description="Where the map says it, as `file:line:column`")
    map_says: str = Field(description="What the map says")
    seq: int = Field(description="Number of the line of the log")
    line: str = Field(description="The line of the log")
    log_says: str = Field(description="What the line says")


class GrownAnswer(Shape):
    """`knowngood map grow`"""

    unit: str = Field(description="The unit whose teardown it is")
    map: str = Field(description="Name of the grown map")
    grown_from: str = Field(description="The map that grows: a file, or the map by which the unit was bought")
    log_seq: int = Field(description="Number of the last line of the log")
    met: int = Field(description="How many steps, parts and plugs the log says something of")
    proposals: list[ProposedKind] = Field(description="Kinds of what the map lacks, taken or only proposed")
    left_out: list[LeftOut] = Field(description="What was met and is not in the map")
    conflicts: list[ConflictShape] = Field(description="What the log says otherwise than the map")
    assumed: list[str] = Field(description="What nobody said, and what stands there for it")
    difference: str = Field(description="What changes in the map, as a unified diff; empty if nothing does")
    written: str | None = Field(description="File that was written, if one was asked for")
