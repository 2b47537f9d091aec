from ratings.models.bench import (
    BenchPad,
    BenchReading,
    BenchTest,
    Gauge,
    Tape,
    TestStand,
    Thermometer,
)
from ratings.models.commitment import (
    Commitment,
    CommitmentCondition,
    CommitmentConfirmation,
    CommitmentLetter,
    ConditionKind,
    ConditionMet,
    JobAnswer,
)
from ratings.models.job import (
    AttachmentKind,
    AttachmentWithdrawal,
    ExtractionJob,
    JobAttachment,
    JobHold,
    JobVersion,
    PileGroup,
    PileSection,
    SoilLayer,
    SoilTemplate,
    YardDistance,
)
from ratings.models.ledger import CurrentRating, LedgerEntry
from ratings.models.listing import Listing
from ratings.models.lot_rating import (
    DecidedTest,
    LotDecision,
    LotRating,
    RatedTest,
    RatingApproval,
    RatingRejection,
    RatingState,
    RatingWithdrawal,
)
from ratings.models.policy import RatingPolicy
from ratings.models.proof_pull import LoadIndicator, ProofDecision, ProofPull, ProofReading
from ratings.models.proposal import Proposal, ProposalAnswer, What
from ratings.models.pull_record import LearnedFactor, LearningRules, PullRecord
from ratings.models.record import Paper, Seal, Verification
from ratings.models.rules import ExtractionRules
from ratings.models.stand_checks import (
    GaugeCalibration,
    ReferenceCheck,
    ReferencePiece,
    ReferenceReading,
)
from ratings.models.surveillance import SurveillancePlan
from ratings.models.transport import TransferForJob, TransportRules

__all__ = [
    "AttachmentKind",
    "AttachmentWithdrawal",
    "BenchPad",
    "BenchReading",
    "BenchTest",
    "Commitment",
    "CommitmentCondition",
    "CommitmentConfirmation",
    "CommitmentLetter",
    "ConditionKind",
    "ConditionMet",
    "CurrentRating",
    "DecidedTest",
    "ExtractionJob",
    "ExtractionRules",
    "Gauge",
    "GaugeCalibration",
    "JobAnswer",
    "JobAttachment",
    "JobHold",
    "JobVersion",
    "LearnedFactor",
    "LearningRules",
    "LedgerEntry",
    "Listing",
    "LoadIndicator",
    "LotDecision",
    "LotRating",
    "Paper",
    "PileGroup",
    "PileSection",
    "ProofDecision",
    "ProofPull",
    "ProofReading",
    "Proposal",
    "ProposalAnswer",
    "PullRecord",
    "RatedTest",
    "RatingApproval",
    "RatingPolicy",
    "RatingRejection",
    "RatingState",
    "RatingWithdrawal",
    "ReferenceCheck",
    "ReferencePiece",
    "ReferenceReading",
    "Seal",
    "SoilLayer",
    "SoilTemplate",
    "SurveillancePlan",
    "Tape",
    "TestStand",
    "Thermometer",
    "TransferForJob",
    "TransportRules",
    "Verification",
    "What",
    "YardDistance",
]
