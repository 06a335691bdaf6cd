"""The forms that have acted, so that none acts twice."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = (("pages", "0001_person"),)

    operations = (
        migrations.CreateModel(
            name="FormDone",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("word", models.CharField(max_length=200, unique=True)),
                ("answer", models.TextField()),
            ],
        ),
    )
