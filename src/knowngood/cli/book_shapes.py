"""The JSON of ``knowngood book``."""

from __future__ import annotations

from pydantic import Field

from knowngood.cli.shape import Shape


class TermShape(Shape):
    """What a formula takes or gives."""

    name: str = Field(description="Its name; as an option with -- before it")
    meaning: str = Field(description="What it is")
    valid: str = Field(description="Range and unit, or the choices")
    needed: bool = Field(description="Whether there is no answer without it")


class PageShape(Shape):
    """A formula of the book."""

    formula: str = Field(description="Its name")
    subject: str = Field(description="The subject it belongs to")
    summary: str = Field(description="What it says")
    takes: list[TermShape] = Field(description="What it is asked with, in order")
    gives: list[TermShape] = Field(description="What it answers")
    source: str = Field(description="Where it stands")


class ValueShape(Shape):
    """One figure or word of an answer."""

    name: str = Field(description="What it is called")
    meaning: str = Field(description="What it is")
    value: float | bool | str | list[float | str] = Field(description="In the plain unit")
    unit: str = Field(description="The unit; empty for a plain number or a word")
    text: str = Field(description="As a person writes it")
    assumed: bool = Field(description="An input that was not given: the formula's own default")


class ReckonedShape(Shape):
    """What a formula said."""

    formula: str = Field(description="Its name")
    summary: str = Field(description="What it says")
    law: str = Field(description="The formula itself")
    inputs: list[ValueShape] = Field(description="What it was asked with")
    results: list[list[ValueShape]] = Field(description="One row, or one for each way to read what was asked")
    words: str = Field(description="Method, and what the figure leaves out")
    source: str = Field(description="Where it stands")
    caution: str = Field(description="What to mind where somebody can be hurt; empty otherwise")


class SubjectShape(Shape):
    """A subject of the book."""

    subject: str = Field(description="Its name")
    asks: str = Field(description="The questions it answers")


class BookAnswer(Shape):
    """`knowngood book`"""

    topic: str = Field(description="What was asked for; empty for the whole book")
    subjects: list[SubjectShape] = Field(description="The subjects, when the whole book was asked for")
    pages: list[PageShape] = Field(description="Formulae found, when no values were given")
    answers: list[ReckonedShape] = Field(description="What the formulae said, when values were given")
    refused: list[str] = Field(description="Why formulae that had all they need did not answer")
    picture: str | None = Field(description="File of the picture, if one was asked for")
