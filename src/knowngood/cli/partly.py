"""An answer that rests on a part of all that could be, because exact tables do not fit: to a shape and to words."""

from __future__ import annotations

from math import ceil
from typing import TYPE_CHECKING

from pydantic import Field
from rich.console import Console
from rich.text import Text

from knowngood.cli.shape import Shape

if TYPE_CHECKING:
    from knowngood.belief.believe import Belief


class PartlyShape(Shape):
    """The part that an answer rests on: the likeliest cases of what was hidden."""

    table: int = Field(description="Entries of the exact table that did not fit, or as many as were counted")
    cases: int = Field(description="How many cases were worked out")
    missed: float = Field(
        description="Share of all that could be, given the log, that the other cases hold at most: no chance here lies "
        "further from the true one"
    )


def part(belief: Belief, *more: float) -> PartlyShape | None:
    """The part of all that a belief rests on, None where that is all. ``more`` is missed in what else was asked."""
    if belief.part is None:
        return None
    missed = max([float(belief.missed()), *more])
    return PartlyShape(table=belief.part.too_large.entries, cases=belief.cases, missed=missed)


def say_partly(out: Console, answer: PartlyShape | None) -> None:
    """Says so before anything else is said."""
    if answer is not None:
        out.print(
            Text(
                f"! Not exact: a table of {answer.table:,} entries would not fit. This rests on the likeliest "
                f"{answer.cases} cases; all others hold {share(answer.missed)} at most, so no chance here lies further "
                "than that from the true one. Worths follow from these chances. Whether lines can hardly all be true "
                "was not looked for."
            )
        )


def share(missed: float) -> str:
    """A bound in words, rounded up."""
    percent = 100.0 * missed
    digits = next((one for one in range(1, 8) if percent >= 10.0**-one), 8)
    return f"{ceil(percent * 10.0 ** (digits + 1)) / 10.0 ** (digits + 1):.{digits + 1}f} %"
