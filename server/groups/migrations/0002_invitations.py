import django.db.models.deletion
import uuid
from django.db import migrations, models


class Migration(migrations.Migration):
    """Invitations that know no end and no maker are made anew."""

    dependencies = [
        ('groups', '0001_initial'),
    ]

    operations = [
        migrations.DeleteModel(name='Invitation'),
        migrations.CreateModel(
            name='Invitation',
            fields=[
                ('id', models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ('code_sha256', models.CharField(max_length=64, unique=True)),
                ('uses_left', models.PositiveSmallIntegerField()),
                ('expires_on', models.DateField()),
                ('inviter_mark', models.CharField(max_length=32)),
                ('group', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='invitations', to='groups.group')),
            ],
        ),
        migrations.CreateModel(
            name='InvitedTally',
            fields=[
                ('id', models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ('inviter_mark', models.CharField(max_length=32)),
                ('interval', models.DateField()),
                ('n_joined', models.PositiveSmallIntegerField(default=0)),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('inviter_mark', 'interval'), name='tally_once_an_interval')],
            },
        ),
    ]
