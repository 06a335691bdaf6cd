"""What to do with each part of a unit: start reading at ``answer.py``."""

from knowngood.money.choices.answer import Choices, Judged, PartChoices, choices
from knowngood.money.choices.courses import Course
from knowngood.money.choices.options import Decision, Donor, ForSale, Once, Option, Supply
from knowngood.money.choices.visit import Whole

__all__ = [
    "Choices",
    "Course",
    "Decision",
    "Donor",
    "ForSale",
    "Judged",
    "Once",
    "Option",
    "PartChoices",
    "Supply",
    "Whole",
    "choices",
]
