import django.db.models.deletion
import fleet.clock
from django.conf import settings
from django.db import migrations, models

from fleet.guards import AppendOnly


class Migration(migrations.Migration):
    """A draft may be rejected; an approval keeps which doubts were read."""

    dependencies = [
        ('ratings', '0001_squashed_0005_names_once_and_printable'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(
            model_name='ratingapproval',
            name='doubts',
            field=models.JSONField(default=list, help_text='What there was to doubt in it, as the approver said they had read.'),
        ),
        migrations.CreateModel(
            name='RatingRejection',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('reason', models.CharField(max_length=200)),
                ('rating', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='rejection', to='ratings.lotrating')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('reason', ''), _negated=True), name='rating_rejected_for_a_reason')],
            },
        ),
        AppendOnly("RatingRejection"),
        # On SQLite a new column takes the table's triggers with it.
        AppendOnly("RatingApproval"),
    ]
