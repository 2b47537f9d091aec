import django.db.models.functions.text
import fleet.characters
from django.db import migrations, models

from fleet.guards import refuse_names_alike


class Migration(migrations.Migration):
    """Names are given once whatever their capitals, and held to what papers can print."""

    dependencies = [
        ('fleet', '0006_shelves_hold'),
    ]

    operations = [
        migrations.RunPython(
            refuse_names_alike("fleet", ("Yard", "name"), ("Hammer", "mark"), ("SuppressorHousing", "mark"), ("PadLot", "mark")),
            migrations.RunPython.noop,
        ),
        migrations.AlterField(
            model_name='hammer',
            name='mark',
            field=models.CharField(help_text='What is painted on it.', max_length=40, unique=True, validators=[fleet.characters.check_name], verbose_name='yard mark'),
        ),
        migrations.AlterField(
            model_name='padlot',
            name='mark',
            field=models.CharField(max_length=40, unique=True, validators=[fleet.characters.check_name], verbose_name='lot mark'),
        ),
        migrations.AlterField(
            model_name='suppressorhousing',
            name='mark',
            field=models.CharField(help_text='What is painted on it.', max_length=40, unique=True, validators=[fleet.characters.check_name], verbose_name='yard mark'),
        ),
        migrations.AlterField(
            model_name='yard',
            name='name',
            field=models.CharField(max_length=80, unique=True, validators=[fleet.characters.check_name]),
        ),
        migrations.AddConstraint(
            model_name='hammer',
            constraint=models.UniqueConstraint(django.db.models.functions.text.Lower('mark'), name='hammer_marked_once', violation_error_message='This one is on record already, in other small or capital letters: give it one of its own.'),
        ),
        migrations.AddConstraint(
            model_name='padlot',
            constraint=models.UniqueConstraint(django.db.models.functions.text.Lower('mark'), name='pad_lot_marked_once', violation_error_message='This one is on record already, in other small or capital letters: give it one of its own.'),
        ),
        migrations.AddConstraint(
            model_name='suppressorhousing',
            constraint=models.UniqueConstraint(django.db.models.functions.text.Lower('mark'), name='housing_marked_once', violation_error_message='This one is on record already, in other small or capital letters: give it one of its own.'),
        ),
        migrations.AddConstraint(
            model_name='yard',
            constraint=models.UniqueConstraint(django.db.models.functions.text.Lower('name'), name='yard_named_once', violation_error_message='This one is on record already, in other small or capital letters: give it one of its own.'),
        ),
    ]
