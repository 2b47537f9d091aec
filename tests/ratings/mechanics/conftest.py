"""How the property tests of this folder run."""

from __future__ import annotations

from hypothesis import settings

# No deadline: the first draw pays for importing scipy. No database: a run leaves nothing behind.
settings.register_profile("mechanics", deadline=None, database=None, max_examples=80)
settings.load_profile("mechanics")
