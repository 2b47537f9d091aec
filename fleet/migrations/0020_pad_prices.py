import django.core.validators
import django.db.models.deletion
import fleet.clock
from decimal import Decimal
from django.conf import settings
from django.db import migrations, models

from fleet.guards import AppendOnly


class Migration(migrations.Migration):
    """What a pad of a lot costs, from which day, and how soon it comes."""

    dependencies = [
        ('fleet', '0019_pad_lots_out_of_use'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='PadPrice',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('amount', models.DecimalField(decimal_places=2, max_digits=10, validators=[django.core.validators.MinValueValidator(Decimal('0'))], verbose_name='price of one pad')),
                ('currency', models.CharField(blank=True, max_length=3, validators=[django.core.validators.RegexValidator('\\A[A-Z]{3}\\Z', 'This is not the code of a currency: give its three letters, such as USD.')], verbose_name='currency')),
                ('valid_from', models.DateField(verbose_name='valid from')),
                ('source', models.CharField(help_text='The offer, bill or list it stands in.', max_length=200)),
                ('lead_days', models.PositiveSmallIntegerField()),
                ('lot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='prices', to='fleet.padlot')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('yard', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='pad_prices', to='fleet.yard')),
            ],
            options={
                'ordering': ['-valid_from', '-pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('amount__gte', 0), models.Q(('currency', ''), _negated=True), models.Q(('source', ''), _negated=True)), name='pad_price_known'), models.CheckConstraint(condition=models.Q(('lead_days__range', (0, 730))), name='pad_price_comes_in_two_years')],
            },
        ),
        AppendOnly("PadPrice"),
    ]
