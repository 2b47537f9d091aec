from ratings.models.bench import BenchReading, BenchTest, TestStand
from ratings.models.commitment import Commitment, JobAnswer
from ratings.models.extractionrules import ExtractionRules
from ratings.models.instruments import Gauge, Tape
from ratings.models.job import ExtractionJob, SoilLayer, YardDistance
from ratings.models.ledger import CurrentRating, LedgerEntry
from ratings.models.listing import Listing
from ratings.models.lotrating import LotRating, RatedTest, RatingApproval, RatingWithdrawal
from ratings.models.pilesection import PileSection
from ratings.models.policy import RatingPolicy
from ratings.models.soiltemplate import SoilTemplate

__all__ = [
    "BenchReading",
    "BenchTest",
    "Commitment",
    "CurrentRating",
    "ExtractionJob",
    "ExtractionRules",
    "Gauge",
    "JobAnswer",
    "LedgerEntry",
    "Listing",
    "LotRating",
    "PileSection",
    "RatedTest",
    "RatingApproval",
    "RatingPolicy",
    "RatingWithdrawal",
    "SoilLayer",
    "SoilTemplate",
    "Tape",
    "TestStand",
    "YardDistance",
]
