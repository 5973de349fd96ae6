from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('curation', '0002_marks_of_wears'),
        ('groups', '0001_initial'),
    ]

    operations = [
        migrations.RemoveConstraint(
            model_name='decision',
            name='decision_exclusion_has_a_reason',
        ),
        migrations.AddField(
            model_name='decision',
            name='closes',
            field=models.CharField(blank=True, default='', max_length=200),
        ),
        migrations.AlterField(
            model_name='decision',
            name='action',
            field=models.CharField(choices=[('approve', 'Approve'), ('exclude', 'Exclude'), ('undo', 'Undo'), ('close', 'Close')], max_length=7),
        ),
        migrations.AlterField(
            model_name='decision',
            name='wear_mark',
            field=models.CharField(blank=True, max_length=32),
        ),
        migrations.AddConstraint(
            model_name='decision',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('action__in', ('exclude', 'close')), ('code__in', ['wrong_unit', 'swapped', 'copied', 'stuck', 'not_believable', 'duplicate', 'against_protocol', 'wrong_description'])), models.Q(('action__in', ('approve', 'undo')), ('code', '')), _connector='OR'), name='decision_exclusion_has_a_reason'),
        ),
        migrations.AddConstraint(
            model_name='decision',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(models.Q(('action', 'close'), ('wear_mark', '')), models.Q(('closes', ''), _negated=True)), models.Q(models.Q(('action', 'close'), _negated=True), models.Q(('wear_mark', ''), _negated=True), ('closes', '')), _connector='OR'), name='decision_about_a_wear_or_about_sums'),
        ),
    ]
