"""What each unit's log says to others, read off it: thrown away and made anew at any time."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = (("bench", "0001_logs"),)

    operations = (
        migrations.CreateModel(
            name="Gist",
            fields=[
                (
                    "unit",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE, primary_key=True, serialize=False, to="bench.unit"
                    ),
                ),
                ("last", models.BigIntegerField()),
                ("made_by", models.CharField(max_length=32)),
                ("exit", models.CharField(max_length=16)),
                ("unread", models.BooleanField()),
                ("readings", models.TextField()),
                ("planned", models.CharField(max_length=16)),
                ("incoming", models.TextField()),
                ("sales", models.TextField()),
                ("used", models.TextField()),
                ("account", models.TextField()),
            ],
        ),
        migrations.CreateModel(
            name="Passage",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("unit", models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, to="bench.unit")),
                ("seq", models.PositiveIntegerField()),
                ("time", models.CharField(max_length=20)),
                ("source", models.CharField(max_length=16)),
                ("part", models.TextField()),
                ("onto", models.SmallIntegerField()),
                ("text", models.TextField()),
                ("what", models.TextField()),
                ("slot", models.TextField()),
            ],
            options={
                "indexes": [models.Index(fields=("source", "part", "onto"), name="passages_of_a_part")],
            },
        ),
        migrations.CreateModel(
            name="GistsUpTo",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("newest", models.BigIntegerField()),
                ("made_by", models.CharField(max_length=32)),
            ],
        ),
    )
