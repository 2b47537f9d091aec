from __future__ import annotations

from hashlib import sha256

from django.db.models import Model


def version_of(record: Model) -> str:
    """Return a text that differs as soon as anything on record of something does."""
    values = [str(getattr(record, field.attname)) for field in record._meta.concrete_fields]
    return sha256("|".join(values).encode()).hexdigest()[:16]
