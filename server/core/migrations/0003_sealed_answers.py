from django.db import migrations, models


class Migration(migrations.Migration):
    """Answers in clear are forgotten: whoever repeats a request of the last two days is answered anew."""

    dependencies = [
        ('core', '0002_erasures'),
    ]

    operations = [
        migrations.DeleteModel(name='IdempotencyKey'),
        migrations.CreateModel(
            name='IdempotencyKey',
            fields=[
                ('mark', models.CharField(max_length=32, primary_key=True, serialize=False)),
                ('account_mark', models.CharField(db_index=True, max_length=32)),
                ('body_digest', models.CharField(max_length=32)),
                ('key_version', models.PositiveSmallIntegerField()),
                ('answer', models.BinaryField()),
                ('answered_on', models.DateField()),
            ],
        ),
    ]
