import django.db.models.functions.text
import fleet.characters
from django.db import migrations, models

from fleet.guards import refuse_names_alike


class Migration(migrations.Migration):
    """Names are given once whatever their capitals, and held to what papers can print."""

    dependencies = [
        ('fleet', '0007_names_once_and_printable'),
        ('ratings', '0004_extraction_facts'),
    ]

    operations = [
        migrations.RunPython(
            refuse_names_alike("ratings", ("TestStand", "name"), ("Gauge", "mark"), ("Tape", "mark")),
            migrations.RunPython.noop,
        ),
        migrations.AlterField(
            model_name='gauge',
            name='mark',
            field=models.CharField(max_length=40, unique=True, validators=[fleet.characters.check_name], verbose_name='yard mark'),
        ),
        migrations.AlterField(
            model_name='pilesection',
            name='name',
            field=models.CharField(max_length=80, unique=True, validators=[fleet.characters.check_name]),
        ),
        migrations.AlterField(
            model_name='soiltemplate',
            name='name',
            field=models.CharField(max_length=80, unique=True, validators=[fleet.characters.check_name]),
        ),
        migrations.AlterField(
            model_name='tape',
            name='mark',
            field=models.CharField(max_length=40, unique=True, validators=[fleet.characters.check_name], verbose_name='yard mark'),
        ),
        migrations.AlterField(
            model_name='teststand',
            name='name',
            field=models.CharField(max_length=80, unique=True, validators=[fleet.characters.check_name]),
        ),
        migrations.AddConstraint(
            model_name='gauge',
            constraint=models.UniqueConstraint(django.db.models.functions.text.Lower('mark'), name='gauge_marked_once', violation_error_message='This one is on record already, in other small or capital letters: give it one of its own.'),
        ),
        migrations.AddConstraint(
            model_name='tape',
            constraint=models.UniqueConstraint(django.db.models.functions.text.Lower('mark'), name='tape_marked_once', violation_error_message='This one is on record already, in other small or capital letters: give it one of its own.'),
        ),
        migrations.AddConstraint(
            model_name='teststand',
            constraint=models.UniqueConstraint(django.db.models.functions.text.Lower('name'), name='test_stand_named_once', violation_error_message='This one is on record already, in other small or capital letters: give it one of its own.'),
        ),
    ]
