from typing import Any

from django.db import migrations

from fleet.guards import AppendOnly


def lay_out_shelves(apps: Any, schema_editor: Any) -> None:
    """What is in stock so far lies on the shelf of no yard: nobody said which."""
    lot_model = apps.get_model("fleet", "PadLot")
    apps.get_model("fleet", "ShelfCount").objects.bulk_create(
        apps.get_model("fleet", "ShelfCount")(lot=lot, yard=None, pads=lot.in_stock)
        for lot in lot_model.objects.filter(in_stock__gt=0)
    )


class Migration(migrations.Migration):
    """Shelves as the books have them; moves and meter changes are facts."""

    dependencies = [("fleet", "0005_shelves_and_meters")]

    operations = [
        migrations.RunPython(lay_out_shelves, migrations.RunPython.noop),
        AppendOnly("StockMove"),
        AppendOnly("MeterChange"),
    ]
