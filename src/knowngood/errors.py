"""Every error a person can meet, in one place; entrypoints turn them into a sentence and an exit code."""

from __future__ import annotations


class KnowngoodError(Exception):
    """Base of all errors that are about the input, not about this program. The message is a full sentence."""


class MapError(KnowngoodError):
    """A device map or kind is wrong. ``findings`` holds one ``file:line:column: what; what would be right`` each."""

    def __init__(self, findings: list[str]) -> None:
        super().__init__("\n".join(findings))
        self.findings = findings


class ProblemError(KnowngoodError):
    """A planning problem is wrong. ``findings`` holds one ``file: where: what; what would be right`` each."""

    def __init__(self, findings: list[str]) -> None:
        super().__init__("\n".join(findings))
        self.findings = findings


class LineError(KnowngoodError):
    """A typed log line is not understood or does not fit the unit. ``similar`` holds the nearest right names."""

    def __init__(self, message: str, similar: list[str] | None = None) -> None:
        super().__init__(message)
        self.similar = similar or []


class QuantityError(KnowngoodError):
    """A written quantity or amount of money is not understood."""


class RangeError(KnowngoodError):
    """A formula of the handbook is not valid for a value, or does not hold for these values together."""


class TooLargeError(KnowngoodError):
    """Exact inference would need a table over the limit. ``entries`` is the size it would need."""

    def __init__(self, message: str, entries: int) -> None:
        super().__init__(message)
        self.entries = entries


class ContradictionError(KnowngoodError):
    """The log lines in ``lines`` (sequence numbers) cannot all be true on this map; ``recheck`` is the one to make
    again first."""

    def __init__(self, message: str, lines: list[int], recheck: int | None = None) -> None:
        super().__init__(message)
        self.lines = lines
        self.recheck = recheck


class NotFoundError(KnowngoodError):
    """A unit, map or file that was named does not exist."""


class StoreError(KnowngoodError):
    """The home or its database cannot be used. Nothing of what was asked is stored."""


class ClusterError(KnowngoodError):
    """A cluster cannot be reached or used."""


class PictureError(KnowngoodError):
    """A picture cannot be drawn."""


class StoppedError(KnowngoodError):
    """Ended, by a person or a time limit, before there was any answer."""
