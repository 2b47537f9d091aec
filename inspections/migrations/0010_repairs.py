import django.core.validators
import django.db.models.deletion
import fleet.clock
from decimal import Decimal
from django.conf import settings
from django.db import migrations, models

from fleet.guards import AppendOnly


class Migration(migrations.Migration):
    """Repairs ordered, what they took and cost, their photos, and how they ended."""

    dependencies = [
        ('fleet', '0015_yard_currency'),
        ('inspections', '0009_sheets_waiting'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='RepairOrder',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('what', models.CharField(help_text='Such as: new hose at the clamp, whip checks on, run it for ten minutes.', max_length=1000, verbose_name='what is to be done')),
                ('who', models.CharField(help_text='A person or a shop.', max_length=80, verbose_name='who does it')),
                ('planned_on', models.DateField(verbose_name='planned for')),
                ('parts_needed', models.CharField(blank=True, help_text='Blank where none.', max_length=500, verbose_name='parts to have at hand')),
                ('clamp', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, to='fleet.clamp')),
                ('finding', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='repair_orders', to='inspections.finding')),
                ('hammer', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, to='fleet.hammer')),
                ('housing', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, to='fleet.suppressorhousing')),
                ('power_pack', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, to='fleet.powerpack')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-pk'],
                'default_related_name': 'repair_orders',
            },
        ),
        migrations.CreateModel(
            name='RepairLine',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('kind', models.CharField(choices=[('part', 'part'), ('labour', 'hours worked'), ('other', 'bought or hired')], max_length=6, verbose_name='what it is')),
                ('text', models.CharField(help_text='The part and its number, or who worked.', max_length=200, verbose_name='description')),
                ('amount', models.DecimalField(decimal_places=2, max_digits=8, validators=[django.core.validators.MinValueValidator(Decimal('0.01'))], verbose_name='pieces or hours')),
                ('price_each', models.DecimalField(blank=True, decimal_places=2, help_text='Blank where it is not known: the cost then says that it is not all.', max_digits=10, null=True, validators=[django.core.validators.MinValueValidator(Decimal('0'))], verbose_name='price of a piece or an hour')),
                ('currency', models.CharField(blank=True, help_text='Of the yard when it was recorded.', max_length=3, validators=[django.core.validators.RegexValidator('\\A[A-Z]{3}\\Z', 'This is not the code of a currency: give its three letters, such as USD.')], verbose_name='currency')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('order', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='lines', to='inspections.repairorder')),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.CreateModel(
            name='RepairClosing',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('kind', models.CharField(choices=[('done', 'done'), ('cancelled', 'cancelled')], max_length=9)),
                ('ended_at', models.DateTimeField()),
                ('text', models.CharField(help_text='What was done, or why not.', max_length=1000)),
                ('done_by', models.CharField(blank=True, max_length=80)),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('order', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='closing', to='inspections.repairorder')),
            ],
            options={
                'ordering': ['-pk'],
            },
        ),
        migrations.CreateModel(
            name='RepairPhoto',
            fields=[
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('id', models.UUIDField(primary_key=True, serialize=False)),
                ('when', models.CharField(choices=[('before', 'before'), ('after', 'after')], max_length=6, verbose_name='taken')),
                ('caption', models.CharField(blank=True, max_length=200)),
                ('file', models.FileField(upload_to='repairs/%Y/%m/')),
                ('sha256', models.CharField(help_text='Of the file as kept.', max_length=64)),
                ('width', models.PositiveIntegerField()),
                ('height', models.PositiveIntegerField()),
                ('order', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='photos', to='inspections.repairorder')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': [models.OrderBy(models.F('when'), descending=True), 'recorded_at'],
            },
        ),
        migrations.CreateModel(
            name='RepairLineTakenBack',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('reason', models.CharField(max_length=200, verbose_name='why')),
                ('line', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='taken_back', to='inspections.repairline')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('reason', ''), _negated=True), name='line_taken_back_for_a_reason')],
            },
        ),
        migrations.AddConstraint(
            model_name='repairorder',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('clamp__isnull', True), ('hammer__isnull', False), ('housing__isnull', True), ('power_pack__isnull', True)), models.Q(('clamp__isnull', True), ('hammer__isnull', True), ('housing__isnull', False), ('power_pack__isnull', True)), models.Q(('clamp__isnull', False), ('hammer__isnull', True), ('housing__isnull', True), ('power_pack__isnull', True)), models.Q(('clamp__isnull', True), ('hammer__isnull', True), ('housing__isnull', True), ('power_pack__isnull', False)), _connector='OR'), name='repairorder_of_one_machine'),
        ),
        migrations.AddConstraint(
            model_name='repairorder',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('what', ''), _negated=True), models.Q(('who', ''), _negated=True)), name='repair_order_says_what_and_who'),
        ),
        migrations.AddConstraint(
            model_name='repairline',
            constraint=models.CheckConstraint(condition=models.Q(('amount__gt', 0), ('kind__in', ['part', 'labour', 'other']), models.Q(('text', ''), _negated=True)), name='repair_line_known'),
        ),
        migrations.AddConstraint(
            model_name='repairline',
            constraint=models.CheckConstraint(condition=models.Q(('price_each__isnull', True), models.Q(('price_each__gte', 0), models.Q(('currency', ''), _negated=True)), _connector='OR'), name='repair_line_priced_in_a_currency'),
        ),
        migrations.AddConstraint(
            model_name='repairclosing',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('kind', 'done'), models.Q(('done_by', ''), _negated=True)), models.Q(('done_by', ''), ('kind', 'cancelled')), _connector='OR'), name='repair_closing_known'),
        ),
        migrations.AddConstraint(
            model_name='repairclosing',
            constraint=models.CheckConstraint(condition=models.Q(('text', ''), _negated=True), name='repair_closing_says_what'),
        ),
        migrations.AddConstraint(
            model_name='repairphoto',
            constraint=models.CheckConstraint(condition=models.Q(('when__in', ['before', 'after'])), name='repair_photo_before_or_after'),
        ),
        AppendOnly("RepairOrder"),
        AppendOnly("RepairLine"),
        AppendOnly("RepairLineTakenBack"),
        AppendOnly("RepairClosing"),
        AppendOnly("RepairPhoto"),
    ]
