import uuid
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('editions', '0005_parts'),
    ]

    operations = [
        migrations.CreateModel(
            name='Closing',
            fields=[
                ('id', models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ('scope', models.CharField(max_length=36)),
                ('site', models.CharField(max_length=40)),
                ('sensor_model', models.CharField(max_length=64)),
                ('end_bucket', models.PositiveIntegerField()),
                ('families', models.JSONField()),
            ],
        ),
    ]
