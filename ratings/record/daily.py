"""What the daily job does for the record: seal it, verify all of it, and say so in the letter."""

from __future__ import annotations

import logging
from dataclasses import dataclass

from ratings.models import Seal
from ratings.record.seals import make_seal
from ratings.record.verify import verify_record

logger = logging.getLogger(__name__)


@dataclass(frozen=True)
class Day:
    """The seal of the day, and what does not hold: nothing where all of it does."""

    seal: Seal | None
    faults: tuple[str, ...]

    @property
    def summary(self) -> str:
        """Whether the record holds, in one line."""
        if self.faults:
            return f"THE RECORD DOES NOT HOLD: {len(self.faults)} found amiss."
        return "The record holds: every row, every entry, every answer."

    @property
    def words(self) -> str:
        """The lines of a letter that tell of both."""
        told = [self.summary, *self.faults[:20]]
        if self.seal is not None:
            told += ["", "Keep this seal: what is recorded later is held to it.", ""]
            told.append(self.seal.text)
        return "\n".join(told)


def seal_and_verify() -> Day:
    """Verify all of the record, and seal it as it stands; no seal where none can be made."""
    done = [looked for looked in verify_record() if looked.is_done]
    faults = [f"- {fault}" for looked in done for fault in looked.faults]
    seal = None
    try:
        seal = make_seal()
    except Exception as trouble:
        logger.exception("no seal could be made")
        faults.append(f"- the seal of the day: none can be made ({type(trouble).__name__})")
    return Day(seal, tuple(faults))
