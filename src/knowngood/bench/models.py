"""The tables: maps as they were, units, and the two sorts of log. Nothing derived is stored."""

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
