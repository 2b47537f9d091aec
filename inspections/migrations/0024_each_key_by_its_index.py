from __future__ import annotations

from django.db import migrations

from fleet.guards import AppendOnlyAnew

GUARDED = (
    "Checklist",
    "DocumentWithdrawal",
    "FindingClosing",
    "Forecast",
    "ForecastReplay",
    "ForeignCheck",
    "ForeignCheckPhoto",
    "HandOver",
    "HandOverPhoto",
    "ItemAnswer",
    "KindNeeds",
    "KindRetirement",
    "KindSorts",
    "MachineDocument",
    "MovedRecords",
    "OwnKind",
    "PadCount",
    "PadReplacement",
    "Photo",
    "PhotoFile",
    "PlannedHours",
    "PullPhoto",
    "PullPhotoFile",
    "ReceivedUnit",
    "RepairClosing",
    "RepairLine",
    "RepairLineTakenBack",
    "RepairOrder",
    "RepairPhoto",
    "ReplacedPad",
    "RestorePlan",
    "SecondLook",
    "ServiceSchedule",
    "TakenImport",
)


class Migration(migrations.Migration):
    dependencies = [("inspections", "0023_unsound_pads_by_index")]

    operations = [
        # SQLite looks for each key by its index from now on, whatever its statistics tell.
        *map(AppendOnlyAnew, GUARDED),
        AppendOnlyAnew("Inspection", but_for=("hammer", "clamp", "power_pack")),
        AppendOnlyAnew("Finding", but_for=("hammer", "housing", "clamp", "power_pack")),
    ]
