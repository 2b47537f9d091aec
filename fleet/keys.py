"""A record's key as a query or a hidden field gives it."""

from __future__ import annotations

import re

# No more digits than a database key can have.
WHOLE_NUMBER = re.compile(r"[0-9]{1,18}")


def whole_number(given: str) -> int | None:
    """Return a plain whole number, None for anything else."""
    return int(given) if WHOLE_NUMBER.fullmatch(given) else None
