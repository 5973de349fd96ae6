import uuid
from collections import defaultdict

from django.db import migrations, models

NUMBER_BYTES = 8


def pack(apps, _schema_editor):
    """The marks stay what they are, and move together."""
    packed = defaultdict(list)
    for number, version in apps.get_model("editions", "SpentMark").objects.values_list("mark", "key_version"):
        mark = number.to_bytes(NUMBER_BYTES, signed=True)
        packed[version, mark[0]].append(mark)
    apps.get_model("editions", "SpentMarks").objects.bulk_create(
        apps.get_model("editions", "SpentMarks")(
            key_version=version, first_byte=first, numbers=b"".join(sorted(marks))
        )
        for (version, first), marks in packed.items()
    )


class Migration(migrations.Migration):
    dependencies = [
        ("editions", "0007_rests_on"),
    ]

    operations = [
        migrations.CreateModel(
            name="SpentMarks",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ("key_version", models.PositiveSmallIntegerField()),
                ("first_byte", models.PositiveSmallIntegerField()),
                ("numbers", models.BinaryField()),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=("key_version", "first_byte"), name="spent_packed_once")
                ],
            },
        ),
        migrations.RunPython(pack, migrations.RunPython.noop),
        migrations.DeleteModel(name="SpentMark"),
    ]
