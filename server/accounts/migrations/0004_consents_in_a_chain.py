import uuid

from django.db import migrations, models


def draw_pseudonyms(apps, schema_editor):
    for account in apps.get_model("accounts", "Account").objects.all():
        account.pseudonym = uuid.uuid4()
        account.save(update_fields=["pseudonym"])


def ask_again_about_children(apps, schema_editor):
    """Nobody has said when they come of age: nothing new is taken of them until somebody does."""
    for wearer in apps.get_model("accounts", "Wearer").objects.filter(age_class="child").select_related("account"):
        wearer.of_age_month = wearer.account.joined_on.replace(day=1)
        wearer.save(update_fields=["of_age_month"])


class Migration(migrations.Migration):
    """The text has changed with the record of consents: whoever agreed before is asked again."""

    dependencies = [
        ('accounts', '0003_key_versions'),
    ]

    operations = [
        migrations.AddField(
            model_name='account',
            name='pseudonym',
            field=models.UUIDField(default=uuid.uuid4, editable=False),
        ),
        migrations.RunPython(draw_pseudonyms, migrations.RunPython.noop),
        migrations.AddField(
            model_name='wearer',
            name='of_age_month',
            field=models.DateField(null=True),
        ),
        migrations.RunPython(ask_again_about_children, migrations.RunPython.noop),
        migrations.AddConstraint(
            model_name='wearer',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('age_class', 'child'), ('of_age_month__isnull', False)), models.Q(('age_class', 'adult'), ('of_age_month__isnull', True)), _connector='OR'), name='wearer_child_comes_of_age'),
        ),
        migrations.DeleteModel(name='Consent'),
        migrations.CreateModel(
            name='Consent',
            fields=[
                ('id', models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ('pseudonym', models.UUIDField()),
                ('number', models.PositiveIntegerField()),
                ('scope', models.CharField(choices=[('keep', 'keep my wears for my own reports'), ('pool', 'count the wears I give to a group in pooled figures'), ('guardian', 'I may decide for the children whose wears I keep')], max_length=8)),
                ('text_version', models.PositiveSmallIntegerField()),
                ('given', models.BooleanField()),
                ('on', models.DateField()),
                ('chain_hash', models.CharField(max_length=64)),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('pseudonym', 'number'), name='consent_numbered'), models.CheckConstraint(condition=models.Q(('number__gte', 1)), name='consent_numbers_from_one'), models.CheckConstraint(condition=models.Q(('scope__in', ['keep', 'pool', 'guardian'])), name='consent_scope_known')],
            },
        ),
    ]
