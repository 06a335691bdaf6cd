"""The JSON of a unit that leaves as a folder, and of one that comes back."""

from __future__ import annotations

from pydantic import Field

from knowngood.cli.shape import Shape


class ExportAnswer(Shape):
    """`knowngood export`"""

    unit: str = Field(description="The unit's name")
    folder: str = Field(description="The folder that was written")
    files: list[str] = Field(description="Its files")
    lines: int = Field(description="How many lines the log has")
    photos: int = Field(description="How many photos went along")
    missing: list[str] = Field(description="Photos that the log names and that are not stored here any more")
    films: list[str] = Field(description="Films that the log names: the bench keeps none, so they do not go along")


class ImportAnswer(Shape):
    """`knowngood import`"""

    unit: str = Field(description="The unit's name here")
    was: str = Field(description="The name that it had where it was written down")
    lines: int = Field(description="How many lines its log has")
    photos: int = Field(description="How many photos came along")
    remarks: list[str] = Field(description="What to mind: another name, what does not fit here, what was missing")
