from django.db import migrations

from fleet.guards import AppendOnly


class Migration(migrations.Migration):
    """Facts are events: the database refuses to change or remove one."""

    dependencies = [("ratings", "0001_initial")]

    operations = [
        AppendOnly("BenchTest"),
        AppendOnly("BenchReading"),
        AppendOnly("LotRating"),
        AppendOnly("RatedTest"),
        AppendOnly("RatingApproval"),
        AppendOnly("RatingWithdrawal"),
        AppendOnly("Listing"),
        AppendOnly("RatingPolicy"),
        AppendOnly("LedgerEntry"),
    ]
