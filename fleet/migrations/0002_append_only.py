from django.db import migrations

from fleet.guards import AppendOnly


class Migration(migrations.Migration):
    """Facts are events: the database refuses to change or remove one."""

    dependencies = [("fleet", "0001_initial")]

    operations = [
        AppendOnly("StockMove"),
        AppendOnly("HourReading"),
    ]
