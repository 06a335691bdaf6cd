"""Gists of units that are here, of logs that cannot be read and of logs that went on are found without going through
all."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = (("bench", "0002_gists"),)

    operations = (
        migrations.AddIndex(
            model_name="gist",
            index=models.Index(condition=models.Q(("exit", "")), fields=["unit"], name="gists_of_units_here"),
        ),
        migrations.AddIndex(
            model_name="gist",
            index=models.Index(condition=models.Q(("unread", True)), fields=["unit"], name="gists_of_unread_logs"),
        ),
        migrations.AddIndex(
            model_name="gist",
            index=models.Index(fields=["last"], name="gists_by_last_line"),
        ),
    )
