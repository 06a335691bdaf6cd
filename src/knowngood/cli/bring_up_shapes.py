"""The JSON of the staged bring-up."""

from __future__ import annotations

from pydantic import Field

from knowngood.cli.assembly_shapes import SheetLineShape
from knowngood.cli.shape import Shape


class TrialShape(Shape):
    """Something that is read or tried at a stage."""

    kind: str = Field(description="`cold` (a rail to ground), `draw`, `measure` or `try`")
    target: str = Field(description="The test, or what is drawn when")
    do: str = Field(description="What the hands do")
    expect: str = Field(description="The answer that is right")
    log: str = Field(description="The line that records it, `VALUE` where a number belongs")
    power: str = Field(description="What the unit runs on: `off`, `bench`, `battery`, `adaptor` or `mains`")
    minutes: float = Field(description="Hands-on time")
    cautions: list[str] = Field(description="To be read before")
    source: str = Field(description="What the expected value rests on, if not on a figure of the map")
    held: str = Field(description="Why a hard rule forbids it at this stage; empty if none does")
    first: str = Field(description="The line that lifts this rule; empty if none does, or none is needed")
    done: int | None = Field(description="Number of the line that recorded it as right; null if it is still to do")


class StageShape(Shape):
    """A stage of the way back, with what can be tried there for the first time."""

    open_steps: list[str] = Field(description="Access steps that are open at it")
    do: list[SheetLineShape] = Field(description="Lines of the reassembly sheet that lead here; none: as it is now")
    limits: list[str] = Field(description="How each supply is limited, and by what rule")
    warnings: list[str] = Field(description="What has to be minded of what is not in yet")
    lines: list[TrialShape] = Field(description="What is read and tried, in order")
    not_yet: list[str] = Field(description="Functions that cannot work yet, so that they fail says nothing")


class StopHereShape(Shape):
    """The first answer that was not right."""

    seq: int = Field(description="Number of its line")
    line: str = Field(description="The line")
    why: str = Field(description="What is not right about it")
    since: list[str] = Field(description="What was put together between the last right answer and this one")


class BringUpAnswer(Shape):
    """`knowngood bring-up`"""

    unit: str = Field(description="The unit's name")
    log_seq: int = Field(description="The unit's last line, up to which this answer goes")
    passed: int = Field(description="Right answers since something was last taken apart")
    stages: list[StageShape] = Field(description="The stages from now on; none once it stopped, or all is right")
    stop: StopHereShape | None = Field(description="Where it stopped; null if nothing was wrong")
