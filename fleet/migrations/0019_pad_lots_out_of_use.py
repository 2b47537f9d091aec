
from django.db import migrations, models


class Migration(migrations.Migration):
    """A pad lot can be put out of use, used up or thrown away."""

    dependencies = [
        ('fleet', '0018_hires'),
    ]

    operations = [
        migrations.AddField(
            model_name='padlot',
            name='retired_on',
            field=models.DateField(blank=True, editable=False, null=True, verbose_name='out of use since'),
        ),
    ]
