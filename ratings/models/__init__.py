from ratings.models.bench import BenchReading, BenchTest, TestStand
from ratings.models.ledger import CurrentRating, LedgerEntry
from ratings.models.listing import Listing
from ratings.models.lotrating import LotRating
from ratings.models.policy import RatingPolicy

__all__ = [
    "BenchReading",
    "BenchTest",
    "CurrentRating",
    "LedgerEntry",
    "Listing",
    "LotRating",
    "RatingPolicy",
    "TestStand",
]
