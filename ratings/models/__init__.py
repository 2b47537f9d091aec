from ratings.models.bench import BenchReading, BenchTest, TestStand
from ratings.models.instruments import Gauge, Tape
from ratings.models.ledger import CurrentRating, LedgerEntry
from ratings.models.listing import Listing
from ratings.models.lotrating import LotRating, RatedTest, RatingApproval, RatingWithdrawal
from ratings.models.policy import RatingPolicy

__all__ = [
    "BenchReading",
    "BenchTest",
    "CurrentRating",
    "Gauge",
    "LedgerEntry",
    "Listing",
    "LotRating",
    "RatedTest",
    "RatingApproval",
    "RatingPolicy",
    "RatingWithdrawal",
    "Tape",
    "TestStand",
]
