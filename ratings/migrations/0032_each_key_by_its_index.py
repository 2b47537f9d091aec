from __future__ import annotations

from django.db import migrations

from fleet.guards import AppendOnlyAnew

GUARDED = (
    "AttachmentWithdrawal",
    "BenchPad",
    "BenchReading",
    "BenchTest",
    "CommitmentCondition",
    "CommitmentConfirmation",
    "CommitmentLetter",
    "ConditionMet",
    "DecidedTest",
    "ExtractionRules",
    "GaugeCalibration",
    "JobAnswer",
    "JobAttachment",
    "JobVersion",
    "LearnedFactor",
    "LearningRules",
    "LedgerEntry",
    "Listing",
    "LotDecision",
    "LotRating",
    "Paper",
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
    "RatingWithdrawal",
    "ReferenceCheck",
    "ReferenceReading",
    "Seal",
    "SurveillancePlan",
    "TransferForJob",
    "TransportRules",
    "Verification",
)


class Migration(migrations.Migration):
    dependencies = [("ratings", "0031_papers_by_their_file")]

    operations = [
        # SQLite looks for each key by its index from now on, whatever its statistics tell.
        *map(AppendOnlyAnew, GUARDED),
    ]
