"""Money that is only expected: a type of its own, so that no float is ever booked or paid.

``Money`` is whole minor units and is what is booked. An ``Expectation`` becomes one only by ``payable_at_most``, which
rounds down and says so in its name.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import floor, hypot, isfinite

from knowngood.errors import QuantityError
from knowngood.handbook.quantities import Money, minor_digits


@dataclass(frozen=True)
class Expectation:
    """A mean in whole units of a currency, with its standard error: how far the computing may be off, not the luck of
    one unit."""

    currency: str
    value: float
    error: float = 0.0

    def __add__(self, other: Expectation | Money) -> Expectation:
        """The sum; the errors of two expectations are taken to be independent."""
        value, error = self._told(other)
        return replace(self, value=self.value + value, error=hypot(self.error, error))

    def __sub__(self, other: Expectation | Money) -> Expectation:
        """The difference, like the sum."""
        value, error = self._told(other)
        return replace(self, value=self.value - value, error=hypot(self.error, error))

    def times(self, share: float) -> Expectation:
        """A share of it."""
        return replace(self, value=share * self.value, error=abs(share) * self.error)

    def payable_at_most(self) -> Money:
        """The largest amount that is not above it, never below nothing. Raises QuantityError if it is no number."""
        if not isfinite(self.value):
            raise QuantityError(f"An expectation of {self.currency} {self.value} is no amount that could be paid.")
        # What is a whole number of minor units but for rounding is that number.
        return Money(self.currency, max(0, floor(self.value * 10 ** minor_digits(self.currency) + 1e-6)))

    def _told(self, other: Expectation | Money) -> tuple[float, float]:
        if other.currency != self.currency:
            raise QuantityError(
                f"{self.currency} and {other.currency}: two currencies cannot be added. Convert one of them."
            )
        return (other.major, 0.0) if isinstance(other, Money) else (other.value, other.error)
