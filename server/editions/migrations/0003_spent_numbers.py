from django.db import migrations, models


class Migration(migrations.Migration):
    """Marks of whole records cannot become marks of their parts: the table begins anew."""

    dependencies = [
        ('editions', '0002_ties'),
    ]

    operations = [
        migrations.DeleteModel(name='SpentMark'),
        migrations.CreateModel(
            name='SpentMark',
            fields=[
                ('mark', models.BigIntegerField(primary_key=True, serialize=False)),
                ('key_version', models.PositiveSmallIntegerField()),
            ],
        ),
    ]
