"""The tables: maps as they were, units, and the two sorts of log; and gists, which are read off the logs.

Nothing else that is derived is stored. ``gists`` makes what is in these tables anew wherever a log has gone on, and all
of it where other code made it.
"""

from __future__ import annotations

from django.db import models


class MapText(models.Model):
    """A map as it was when a unit was bought by it; kept for good."""

    content_hash = models.CharField(max_length=64, primary_key=True)
    name = models.TextField()
    text = models.TextField()
    first_stored = models.CharField(max_length=20)


class Unit(models.Model):
    """A unit ("U1") or a donor ("D1"), with the map it was bought by."""

    id = models.CharField(max_length=16, primary_key=True)
    map = models.ForeignKey(MapText, on_delete=models.PROTECT)


class UnitLine(models.Model):
    """One line of a unit's log, and what it was computed against."""

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="lines")
    seq = models.PositiveIntegerField()
    time = models.CharField(max_length=20)
    text = models.TextField()
    bench_seq = models.PositiveIntegerField()
    map_hash = models.CharField(max_length=64)
    version = models.CharField(max_length=32)

    class Meta:
        ordering = ("unit", "seq")
        constraints = (models.UniqueConstraint(fields=("unit", "seq"), name="one_line_a_number"),)


class BenchLine(models.Model):
    """One line of the bench's own log."""

    seq = models.PositiveIntegerField(primary_key=True)
    time = models.CharField(max_length=20)
    text = models.TextField()

    class Meta:
        ordering = ("seq",)


class Gist(models.Model):
    """What one unit's log by itself says to others, as ``gists`` reads it off. Texts are JSON, empty for nothing."""

    unit = models.OneToOneField(Unit, on_delete=models.CASCADE, primary_key=True)
    last = models.BigIntegerField()
    """Key of the last line that it was read off."""
    made_by = models.CharField(max_length=32)
    exit = models.CharField(max_length=16)
    """Empty for a unit that is here."""
    unread = models.BooleanField()
    """The log or the map cannot be read by this version; the rest is empty then."""
    readings = models.TextField()
    planned = models.CharField(max_length=16)
    incoming = models.TextField()
    sales = models.TextField()
    used = models.TextField()
    account = models.TextField()

    class Meta:
        # Few of thousands are here, hardly any cannot be read, and few have gone on since the last question.
        indexes = (
            models.Index(fields=("unit",), condition=models.Q(exit=""), name="gists_of_units_here"),
            models.Index(fields=("unit",), condition=models.Q(unread=True), name="gists_of_unread_logs"),
            models.Index(fields=("last",), name="gists_by_last_line"),
        )


class Passage(models.Model):
    """A line that put a part onto the shelf (``onto`` 1) or took one off it (-1), in the log of ``unit``."""

    unit = models.ForeignKey(Unit, on_delete=models.CASCADE)
    seq = models.PositiveIntegerField()
    time = models.CharField(max_length=20)
    source = models.CharField(max_length=16)
    """The unit that the part left."""
    part = models.TextField()
    onto = models.SmallIntegerField()
    text = models.TextField()
    """The line that took it off."""
    what = models.TextField()
    """The part in words, of one that was put there."""
    slot = models.TextField()
    """What money lay on it when it left, as ``gists`` writes it."""

    class Meta:
        indexes = (models.Index(fields=("source", "part", "onto"), name="passages_of_a_part"),)


class GistsUpTo(models.Model):
    """The one row that says up to which line of the whole store the gists go."""

    newest = models.BigIntegerField()
    made_by = models.CharField(max_length=32)
