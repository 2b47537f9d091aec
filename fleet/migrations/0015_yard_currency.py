import django.core.validators
from django.db import migrations, models


class Migration(migrations.Migration):
    """What the repairs of a yard are paid in."""

    dependencies = [
        ('fleet', '0014_records_of_one_machine'),
    ]

    operations = [
        migrations.AddField(
            model_name='yard',
            name='currency',
            field=models.CharField(blank=True, default='', help_text='What its repairs are paid in, by its three letters, such as USD or EUR.', max_length=3, validators=[django.core.validators.RegexValidator('\\A[A-Z]{3}\\Z', 'This is not the code of a currency: give its three letters, such as USD.')], verbose_name='currency'),
        ),
    ]
