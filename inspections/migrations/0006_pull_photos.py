import django.db.models.deletion
import fleet.clock
from django.conf import settings
from django.db import migrations, models

from fleet.guards import AppendOnly


class Migration(migrations.Migration):
    """Photos of pulls."""

    dependencies = [
        ('inspections', '0001_squashed_0005_own_kinds'),
        ('ratings', '0018_pulls_done'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='PullPhoto',
            fields=[
                ('id', models.UUIDField(primary_key=True, serialize=False)),
                ('caption', models.CharField(blank=True, max_length=200)),
                ('pull', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='photos', to='ratings.pullrecord')),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.CreateModel(
            name='PullPhotoFile',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('file', models.FileField(upload_to='pulls/%Y/%m/')),
                ('sha256', models.CharField(help_text='Of the file as kept.', max_length=64)),
                ('width', models.PositiveIntegerField()),
                ('height', models.PositiveIntegerField()),
                ('photo', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='held', to='inspections.pullphoto')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        AppendOnly("PullPhoto"),
        AppendOnly("PullPhotoFile"),
    ]
