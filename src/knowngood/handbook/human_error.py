"""Chances that a hand leaves a connection wrong, for the touches of a log.

Bench mapping: the project's own judgement (common practice, no source), anchored on published nominal values:
E. Hollnagel, CREAM (1998), execution, "action missed" 0.03 and "action of wrong type" 0.003.
"""

UNSEATED_PER_TOUCH = 0.03
"""Chance that a connection made blind is not fully seated (base: CREAM, action missed, 0.03)."""

REVERSED_PER_TOUCH = 0.003
"""Chance that a connection that can be reversed is made the wrong way round (base: CREAM, wrong type, 0.003)."""

CHECKED_FACTOR = 0.1
"""What a check-off line per connection leaves of both (0.03 to 0.003, bench mapping)."""
