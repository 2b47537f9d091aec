from __future__ import annotations

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('ratings', '0020_versions_and_attachments'),
    ]

    operations = [
        migrations.AddField(
            model_name='gauge',
            name='retired_on',
            field=models.DateField(blank=True, editable=False, null=True, verbose_name='out of use since'),
        ),
        migrations.AddField(
            model_name='loadindicator',
            name='retired_on',
            field=models.DateField(blank=True, editable=False, null=True, verbose_name='out of use since'),
        ),
        migrations.AddField(
            model_name='referencepiece',
            name='retired_on',
            field=models.DateField(blank=True, editable=False, null=True, verbose_name='out of use since'),
        ),
        migrations.AddField(
            model_name='tape',
            name='retired_on',
            field=models.DateField(blank=True, editable=False, null=True, verbose_name='out of use since'),
        ),
        migrations.AddField(
            model_name='teststand',
            name='retired_on',
            field=models.DateField(blank=True, editable=False, null=True, verbose_name='out of use since'),
        ),
        migrations.AddField(
            model_name='thermometer',
            name='retired_on',
            field=models.DateField(blank=True, editable=False, null=True, verbose_name='out of use since'),
        ),
    ]
