"""What a gauge has touched since its last calibration: tests, checks, ratings of lots, units."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Exists, OuterRef, Q, QuerySet

from fleet.models import PadPosition, SuppressorHousing
from ratings.ledger.canonical import canonical_text
from ratings.models import BenchTest, GaugeCalibration, LedgerEntry, LotRating, ReferenceCheck
from ratings.models.lot_rating import LotRatingQuerySet


@dataclass(frozen=True)
class Recall:
    """All that a calibration tells of.

    checks: of stands by reference pieces, what later checks are held to.
    ratings: drafted from a touched test, in force or not. units: housings that one of them has
    ever rated, or that hold a pad of such a lot now; each says in `holds` whether it does.
    """

    tests: QuerySet[BenchTest]
    checks: QuerySet[ReferenceCheck]
    ratings: LotRatingQuerySet
    units: QuerySet[SuppressorHousing]


def recall_of(calibration: GaugeCalibration) -> Recall:
    """Return what the gauge touched between the calibration before this one and this one."""
    tests = calibration.touched_tests
    ratings = LotRating.objects.filter(tests__in=tests.order_by()).distinct()
    held = PadPosition.objects.filter(
        lot__in=ratings.order_by().values("lot"), housing=OuterRef("pk")
    )
    units = SuppressorHousing.objects.annotate(holds=Exists(held))
    touched = units.filter(Q(holds=True) | Q(pk__in=_rated_by(ratings)))
    return Recall(tests, calibration.touched_checks, ratings, touched)


def _rated_by(ratings: QuerySet[LotRating]) -> set[int]:
    """Return the housings with a ledger entry that one of the ratings is an input of.

    An entry names its ratings as `"lot":key` in its canonical text.
    """
    named = Q(pk__in=[])
    for mark, key in ratings.order_by().values_list("lot__mark", "pk"):
        pair = canonical_text({mark: key})[1:-1]
        named |= Q(document__contains=f"{pair},") | Q(document__contains=f"{pair}}}")
    entries = LedgerEntry.objects.filter(named).order_by()
    return set(entries.values_list("housing_id", flat=True))
