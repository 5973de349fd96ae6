"""The reserved group that sits above the groups that feed it, with the first version of its rules."""

from datetime import date

from django.db import migrations

FOUNDED_ON = date(2026, 11, 25)


def make_everyone(apps, schema_editor):
    group = apps.get_model("groups", "Group").objects.create(
        slug="everyone",
        name="Everyone",
        description="All groups that feed it, counted together.",
        public=True,
        feeds_everyone=True,
        wearers="mixed",
        reserved=True,
        founded_on=FOUNDED_ON,
    )
    apps.get_model("groups", "Protocol").objects.create(group=group, version=1)


def drop_everyone(apps, schema_editor):
    # Refused by the database while a wear or an edition belongs to it.
    apps.get_model("groups", "Group").objects.filter(slug="everyone").delete()


class Migration(migrations.Migration):
    dependencies = [("groups", "0001_initial")]

    operations = [migrations.RunPython(make_everyone, drop_everyone)]
