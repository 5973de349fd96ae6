import django.db.models.deletion
import uuid
from django.db import migrations, models


class Migration(migrations.Migration):
    """Entries that name a wear cannot keep their hashes without it: the record begins anew."""

    dependencies = [
        ('curation', '0001_initial'),
    ]

    operations = [
        migrations.DeleteModel(name='Decision'),
        migrations.CreateModel(
            name='Decision',
            fields=[
                ('id', models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ('number', models.PositiveIntegerField()),
                ('wear_mark', models.CharField(max_length=32)),
                ('action', models.CharField(choices=[('approve', 'Approve'), ('exclude', 'Exclude'), ('undo', 'Undo')], max_length=7)),
                ('code', models.CharField(blank=True, choices=[('', 'no reason needed'), ('wrong_unit', 'the readings are in another unit than stated'), ('swapped', 'fingerstick and sensor are swapped'), ('copied', 'the fingersticks look copied from the sensor'), ('stuck', 'the sensor readings do not move'), ('not_believable', 'the readings cannot be believed'), ('duplicate', 'this wear was given before'), ('against_protocol', "the wear does not keep to the group's rules"), ('wrong_description', 'site, sensor model or length of wear cannot be right')], default='', max_length=17)),
                ('moderator_mark', models.CharField(max_length=32)),
                ('protocol_version', models.PositiveIntegerField()),
                ('on_month', models.DateField()),
                ('chain_hash', models.CharField(max_length=64)),
                ('group', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='groups.group')),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('group', 'number'), name='decision_number_once_a_group'), models.CheckConstraint(condition=models.Q(('number__gte', 1)), name='decision_numbers_from_one'), models.CheckConstraint(condition=models.Q(models.Q(('action', 'exclude'), ('code__in', ['wrong_unit', 'swapped', 'copied', 'stuck', 'not_believable', 'duplicate', 'against_protocol', 'wrong_description'])), models.Q(('action__in', ('approve', 'undo')), ('code', '')), _connector='OR'), name='decision_exclusion_has_a_reason')],
            },
        ),
    ]
