"""Who tested, who approved, and which ledger entries the rating caused."""

from __future__ import annotations

from collections.abc import Iterator

from reportlab.platypus import Flowable, KeepTogether

from fleet.dates import moment_words
from ratings.certificate.facts import Certificate
from ratings.certificate.layout import SECTION, Fact, facts_in_pairs
from ratings.paper.style import MONO, SMALL, paragraph
from ratings.paper.words import who_words


def people_section(certificate: Certificate) -> Iterator[Flowable]:
    yield KeepTogether(
        [paragraph("Tested and approved", SECTION), facts_in_pairs(_people(certificate))]
    )
    yield paragraph("Ledger entries it caused", SECTION)
    if not certificate.entries:
        yield paragraph("None: no unit held the lot, or it rates none yet.", SMALL)
    for entry in certificate.entries:
        yield KeepTogether(
            [
                paragraph(
                    f"Housing {entry.housing.mark}, entry {entry.sequence}, "
                    f"{moment_words(entry.occurred_at)}, {entry.cause}; SHA-256:",
                    SMALL,
                ),
                paragraph(entry.hash, MONO),
            ]
        )


def _people(certificate: Certificate) -> list[Fact]:
    rating = certificate.rating
    testers = ", ".join(
        dict.fromkeys(who_words(test.recorded_by) for test in certificate.pooled.tests)
    )
    facts = [
        ("Tested by", testers),
        ("Drafted by", f"{who_words(rating.recorded_by)}, {moment_words(rating.recorded_at)}"),
    ]
    if hasattr(rating, "approval"):
        approval = rating.approval
        words = f"{who_words(approval.recorded_by)}, {moment_words(approval.recorded_at)}"
    else:
        words = "nobody yet"
    facts.append(("Approved, issued by", words))
    if hasattr(rating, "withdrawal"):
        withdrawal = rating.withdrawal
        facts.append(
            (
                "Withdrawn by",
                f"{who_words(withdrawal.recorded_by)}, {moment_words(withdrawal.recorded_at)}",
            )
        )
    return facts
