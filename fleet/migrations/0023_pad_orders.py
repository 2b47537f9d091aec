import django.core.validators
import django.db.models.deletion
import fleet.clock
from decimal import Decimal
from django.conf import settings
from django.db import migrations, models

from fleet.guards import AppendOnly


class Migration(migrations.Migration):
    """Orders of pads: what was ordered, promised anew, came, was taken back, was cancelled."""

    dependencies = [
        ('fleet', '0022_person_names'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='PadOrder',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('kind', models.CharField(blank=True, help_text='Where it is of no lot of the yard: what its supplier calls it.', max_length=200, verbose_name='kind of pad')),
                ('hardness_shore_a', models.FloatField(null=True)),
                ('bonded_area_in2', models.FloatField(null=True)),
                ('rubber_thickness_in', models.FloatField(null=True)),
                ('pads', models.PositiveIntegerField()),
                ('price_each', models.DecimalField(decimal_places=2, max_digits=10, validators=[django.core.validators.MinValueValidator(Decimal('0'))], verbose_name='price of one pad')),
                ('currency', models.CharField(blank=True, max_length=3, validators=[django.core.validators.RegexValidator('\\A[A-Z]{3}\\Z', 'This is not the code of a currency: give its three letters, such as USD.')], verbose_name='currency')),
                ('supplier', models.CharField(max_length=80)),
                ('supplier_words', models.CharField(blank=True, help_text='The number of the order or the offer, and anything agreed on.', max_length=200, verbose_name='what the supplier wrote')),
                ('ordered_on', models.DateField(verbose_name='ordered on')),
                ('promised_on', models.DateField(verbose_name='promised for')),
                ('ordered_by', models.CharField(max_length=80, verbose_name='who ordered')),
                ('lot', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='orders', to='fleet.padlot')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('yard', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='pad_orders', to='fleet.yard')),
            ],
            options={
                'ordering': ['-pk'],
            },
        ),
        migrations.CreateModel(
            name='PadOrderCancellation',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('reason', models.CharField(max_length=200, verbose_name='why')),
                ('order', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='cancellation', to='fleet.padorder')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-pk'],
            },
        ),
        migrations.CreateModel(
            name='PadOrderPromise',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('promised_on', models.DateField(verbose_name='promised for')),
                ('words', models.CharField(help_text='Who said so, and why.', max_length=200, verbose_name='what the supplier said')),
                ('order', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='promises', to='fleet.padorder')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-pk'],
            },
        ),
        migrations.CreateModel(
            name='PadReceipt',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('pads', models.PositiveIntegerField()),
                ('received_at', models.DateTimeField(verbose_name='came at')),
                ('more_reason', models.CharField(blank=True, help_text='Blank where no more did.', max_length=200, verbose_name='why more came than were ordered')),
                ('note', models.CharField(blank=True, max_length=200)),
                ('lot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='receipts', to='fleet.padlot')),
                ('move', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='receipt', to='fleet.stockmove')),
                ('order', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='receipts', to='fleet.padorder')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-received_at', '-pk'],
            },
        ),
        migrations.CreateModel(
            name='PadReceiptTakenBack',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('reason', models.CharField(max_length=200, verbose_name='why')),
                ('move', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='taken_back', to='fleet.stockmove')),
                ('receipt', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='taken_back', to='fleet.padreceipt')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-pk'],
            },
        ),
        migrations.AddConstraint(
            model_name='padorder',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('kind', ''), ('lot__isnull', False)), models.Q(('lot__isnull', True), models.Q(('kind', ''), _negated=True)), _connector='OR'), name='pad_order_of_a_lot_or_a_kind'),
        ),
        migrations.AddConstraint(
            model_name='padorder',
            constraint=models.CheckConstraint(condition=models.Q(('pads__range', (1, 10000))), name='pad_order_of_pads'),
        ),
        migrations.AddConstraint(
            model_name='padorder',
            constraint=models.CheckConstraint(condition=models.Q(('price_each__gte', 0), models.Q(('currency', ''), _negated=True)), name='pad_order_priced'),
        ),
        migrations.AddConstraint(
            model_name='padorder',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('supplier', ''), _negated=True), models.Q(('ordered_by', ''), _negated=True)), name='pad_order_says_of_whom_and_who'),
        ),
        migrations.AddConstraint(
            model_name='padorder',
            constraint=models.CheckConstraint(condition=models.Q(('promised_on__gte', models.F('ordered_on'))), name='pad_order_promised_after_ordered'),
        ),
        migrations.AddConstraint(
            model_name='padorder',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('hardness_shore_a__isnull', True), ('hardness_shore_a__range', (0, 100)), _connector='OR'), models.Q(('bonded_area_in2__isnull', True), ('bonded_area_in2__gt', 0), _connector='OR'), models.Q(('rubber_thickness_in__isnull', True), ('rubber_thickness_in__gt', 0), _connector='OR')), name='pad_order_rubber_possible'),
        ),
        migrations.AddConstraint(
            model_name='padordercancellation',
            constraint=models.CheckConstraint(condition=models.Q(('reason', ''), _negated=True), name='pad_order_cancelled_for_a_reason'),
        ),
        migrations.AddConstraint(
            model_name='padorderpromise',
            constraint=models.CheckConstraint(condition=models.Q(('words', ''), _negated=True), name='pad_promise_in_words'),
        ),
        migrations.AddConstraint(
            model_name='padreceipt',
            constraint=models.CheckConstraint(condition=models.Q(('pads__range', (1, 10000))), name='pad_receipt_of_pads'),
        ),
        migrations.AddConstraint(
            model_name='padreceipttakenback',
            constraint=models.CheckConstraint(condition=models.Q(('reason', ''), _negated=True), name='pad_receipt_taken_back_for_a_reason'),
        ),
        AppendOnly("PadOrder"),
        AppendOnly("PadOrderPromise"),
        AppendOnly("PadOrderCancellation"),
        AppendOnly("PadReceipt"),
        AppendOnly("PadReceiptTakenBack"),
    ]
