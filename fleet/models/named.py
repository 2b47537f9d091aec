from __future__ import annotations

from django.db.models import UniqueConstraint
from django.db.models.functions import Lower


def named_once(field: str, name: str) -> UniqueConstraint:
    """Refuse two marks or names that differ in small and capital letters alone."""
    return UniqueConstraint(
        Lower(field),
        name=name,
        violation_error_message="This one is on record already, in other small or capital letters: "
        "give it one of its own.",
    )
