"""Canonical JSON (RFC 8785) and its SHA-256."""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime
from typing import Any

import rfc8785


def canonical_text(contents: dict[str, Any]) -> str:
    """Return the one spelling RFC 8785 allows of these JSON values."""
    return rfc8785.dumps(contents).decode("utf-8")


def digest(document: str) -> str:
    """Return the SHA-256 of the document's UTF-8 bytes, in hex."""
    return hashlib.sha256(document.encode("utf-8")).hexdigest()


def time_text(at: datetime) -> str:
    """Return a moment as UTC to the microsecond, always in the same spelling."""
    return at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
