from __future__ import annotations

from django.db import migrations

from fleet.guards import AppendOnlyAnew

GUARDED = (
    "ApiToken",
    "ApiTokenEnd",
    "ApiWrite",
    "FileLetGo",
    "HourReading",
    "HousingGuide",
    "LettingGo",
    "LotCorrection",
    "MeterChange",
    "OutageReach",
    "PadOrder",
    "PadOrderCancellation",
    "PadOrderPromise",
    "PadPrice",
    "PadReceipt",
    "PadReceiptTakenBack",
    "Passkey",
    "PasskeyEnd",
    "PersonChange",
    "PersonName",
    "Qualification",
    "QualificationWithdrawal",
    "Refusal",
    "RetentionRule",
    "SetUpChange",
    "SignIn",
    "StockMove",
    "Transfer",
    "TransferEnd",
    "TreeNode",
    "YardBinding",
    "YardBindingEnd",
    "YardHaul",
)


class Migration(migrations.Migration):
    dependencies = [("fleet", "0038_recovery_codes_made_anew")]

    operations = [
        # SQLite looks for each key by its index from now on, whatever its statistics tell.
        *map(AppendOnlyAnew, GUARDED),
        AppendOnlyAnew("Hire", but_for=("left_on", "end", "ended_on", "ended_by", "cancel_reason")),
        AppendOnlyAnew("Leaf", but_for=("place",)),
    ]
