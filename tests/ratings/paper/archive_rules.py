"""Papers held to the rules of archives by a validator that knows nothing of how they were made."""

from __future__ import annotations

from page import ValidationProfile, validate_pdf_bytes

ARCHIVE, READ_ALOUD = ValidationProfile.PDF_A_3A, ValidationProfile.PDF_UA_1


def broken_rules(paper: bytes, profile: ValidationProfile = ARCHIVE) -> set[str]:
    """Return the rules of a profile that a paper breaks, by their names."""
    return {each.rule_id for each in validate_pdf_bytes(paper, profile=profile).failures}
