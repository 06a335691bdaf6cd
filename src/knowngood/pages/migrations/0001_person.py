"""The one person with a password, and what was tried in vain."""

from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = ()

    operations = (
        migrations.CreateModel(
            name="Person",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("password", models.CharField(max_length=128, verbose_name="password")),
                ("name", models.CharField(max_length=40, unique=True)),
            ],
            options={"abstract": False},
        ),
        migrations.CreateModel(
            name="WrongPassword",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("time", models.DateTimeField(db_index=True)),
                ("address", models.CharField(max_length=64)),
            ],
        ),
    )
