"""The first tables: maps, units, the lines of each and of the bench."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = ()

    operations = (
        migrations.CreateModel(
            name="BenchLine",
            fields=[
                ("seq", models.PositiveIntegerField(primary_key=True, serialize=False)),
                ("time", models.CharField(max_length=20)),
                ("text", models.TextField()),
            ],
            options={
                "ordering": ("seq",),
            },
        ),
        migrations.CreateModel(
            name="MapText",
            fields=[
                ("content_hash", models.CharField(max_length=64, primary_key=True, serialize=False)),
                ("name", models.TextField()),
                ("text", models.TextField()),
                ("first_stored", models.CharField(max_length=20)),
            ],
        ),
        migrations.CreateModel(
            name="Unit",
            fields=[
                ("id", models.CharField(max_length=16, primary_key=True, serialize=False)),
                ("map", models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, to="bench.maptext")),
            ],
        ),
        migrations.CreateModel(
            name="UnitLine",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("seq", models.PositiveIntegerField()),
                ("time", models.CharField(max_length=20)),
                ("text", models.TextField()),
                ("bench_seq", models.PositiveIntegerField()),
                ("map_hash", models.CharField(max_length=64)),
                ("version", models.CharField(max_length=32)),
                (
                    "unit",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="lines", to="bench.unit"
                    ),
                ),
            ],
            options={
                "ordering": ("unit", "seq"),
                "constraints": [models.UniqueConstraint(fields=("unit", "seq"), name="one_line_a_number")],
            },
        ),
    )
