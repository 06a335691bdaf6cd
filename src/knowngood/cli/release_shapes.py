"""The JSON of the safety test after repair, of the release, and of the bench's instruments."""

from __future__ import annotations

from pydantic import Field

from knowngood.cli.shape import Shape
from knowngood.log.events.release import RuleSet
from knowngood.proof.release import How
from knowngood.proof.safety_test import Outcome, Status


class SafetyReadingShape(Shape):
    """One reading of the safety test."""

    seq: int = Field(description="Number of the line")
    text: str = Field(description="The reading as the line has it")
    instrument: str = Field(description="The instrument that gave it")
    calibrated: str = Field(description="Day of the calibration that held, ISO 8601; empty if none did")
    uncertainty: float = Field(description="Of the instrument, as a share of the reading")
    verdict: str = Field(description="`pass`, `FAIL`, or why there is none")
    worst: float | None = Field(
        description="The worst reading that passes, the uncertainty taken off, in ohm or A; null if no limit decides"
    )
    counts: bool = Field(description="Whether it counts: rules of this test, instrument in calibration")


class SafetyStepShape(Shape):
    """One step of the safety test."""

    step: str = Field(description="Its name in the log")
    do: str = Field(description="What is done")
    limit: str = Field(description="Its limit, in words; by both rule sets if none is chosen; empty if it has none")
    rules: str = Field(description="Rule set of the limit, with its edition")
    source: str = Field(description="Where the limit stands")
    caution: str = Field(description="The caution at the step")
    log: str = Field(description="The line that records it")
    status: Status = Field(description="`passed`, `failed`, `open` or `not asked for`")
    why: str = Field(description="Why so")
    readings: list[SafetyReadingShape] = Field(description="Its readings since the visual inspection, oldest first")


class SafetyTestAnswer(Shape):
    """`knowngood safety-test`"""

    unit: str = Field(description="The unit's name")
    log_seq: int = Field(description="The unit's last line, up to which this answer goes")
    protection: str = Field(description="Protection class as found, else as the map claims; `none` if nobody said")
    claimed: str = Field(description="Protection class by the map")
    rules: RuleSet | None = Field(description="The rule set, if one is chosen: `german` or `british`")
    needed: bool = Field(description="Whether the unit may not be sold as working without it")
    verdict: Outcome = Field(description="`pass`, `fail`, `incomplete` or `void`")
    why: str = Field(description="Why so")
    asked: list[str] = Field(description="What is not known of the unit, as lines that would say it")
    steps: list[SafetyStepShape] = Field(description="The sequence, in order, then what is not asked for by its class")


class StopShape(Shape):
    """Something that holds a unit here."""

    matter: str = Field(description="`data`, `safety-test`, or the word that `overrode` takes")
    says: str = Field(description="What it is")
    right: str = Field(description="What would be right")


class DataPlaceShape(Shape):
    """A part that may hold data of whoever had the unit."""

    part: str = Field(description="Its name; `unit` if the map does not say which part")
    what: str = Field(description="In words")
    done: bool = Field(description="Whether it holds none any more, or is out")
    how: str = Field(description="What was done about it; empty if nothing was")


class ReleaseAnswer(Shape):
    """`knowngood release`"""

    unit: str = Field(description="The unit's name")
    log_seq: int = Field(description="The unit's last line, up to which this answer goes")
    how: How = Field(description="How it is to go: `working` or `as-is`")
    released: bool = Field(description="Whether nothing holds it here")
    stops: list[StopShape] = Field(description="What holds it here, and nothing overrides")
    warnings: list[StopShape] = Field(description="What holds it here, and a line may override")
    overridden: list[str] = Field(description="What lines have overridden, each with its line")
    safety_test: Outcome = Field(description="Verdict of the safety test")
    notes: list[str] = Field(description="What to say or to mind besides")
    data: list[DataPlaceShape] = Field(description="Where data of a stranger may be")


class InstrumentShape(Shape):
    """An instrument as it was calibrated last."""

    name: str = Field(description="Its name")
    calibrated: str = Field(description="Day of its calibration, ISO 8601")
    due: str = Field(description="Day from which it counts as out of calibration, ISO 8601")
    uncertainty: float = Field(description="As a share of the reading")


class InstrumentsAnswer(Shape):
    """`knowngood bench instrument`"""

    instruments: list[InstrumentShape] = Field(description="The bench's instruments, by name")
