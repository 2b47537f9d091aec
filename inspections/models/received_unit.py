from __future__ import annotations

from django.db import models
from django.db.models import Q

from fleet.models.recorded import Recorded


class ReceivedUnit(Recorded):
    """A unit that came from another site with its record: the archive as received, kept whole.

    What it says is that site's word, not a measurement of this yard. Never edited.

    identity: SHA-256 of the first leaf that tells of the housing, which no other site has.
    identities: of each machine and lot likewise, and what it is called here. marks: by what it was
    called there, such as "lot L-12", what each is called here. left: what its record came to when
    it left. taken: what each row became here. is_held: whether a seal that came another way was
    held to it.
    """

    housing = models.OneToOneField(
        "fleet.SuppressorHousing", models.PROTECT, related_name="received"
    )
    taken = models.ForeignKey("inspections.TakenImport", models.PROTECT, related_name="+")
    site = models.CharField(max_length=120)
    mark = models.CharField("its mark there", max_length=60)
    identity = models.CharField(max_length=64, unique=True)
    received_at = models.DateTimeField()
    seal_number = models.PositiveBigIntegerField()
    seal_made = models.CharField(max_length=40)
    seal_hash = models.CharField(max_length=64)
    is_held = models.BooleanField()
    sha256 = models.CharField(max_length=64, unique=True, help_text="Of the archive as received.")
    size_bytes = models.BigIntegerField()
    file = models.FileField(upload_to="received/")
    marks = models.JSONField(default=dict)
    identities = models.JSONField(default=dict)
    left = models.JSONField(default=dict)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                name="received_unit_from_somewhere", condition=~Q(site="") & ~Q(mark="")
            ),
        ]

    def __str__(self) -> str:
        return f"unit {self.mark} of {self.site}"
