"""What the daily job does for the record: seal it, verify all of it, and say so in the letter."""

from __future__ import annotations

from dataclasses import dataclass

from ratings.models import Seal
from ratings.record.seals import make_seal
from ratings.record.verify import verify_record


@dataclass(frozen=True)
class Day:
    """The seal of the day, and what does not hold: nothing where all of it does."""

    seal: Seal
    faults: tuple[str, ...]

    @property
    def words(self) -> str:
        """The lines of a letter that tell of both."""
        told = ["The record holds: every row, every entry, every answer."]
        if self.faults:
            told = [f"THE RECORD DOES NOT HOLD: {len(self.faults)} found amiss.", *self.faults[:20]]
        told += ["", "Keep this seal: what is recorded later is held to it.", "", self.seal.text]
        return "\n".join(told)


def seal_and_verify() -> Day:
    """Seal the record as it stands, and verify all of it."""
    seal = make_seal()
    done = [looked for looked in verify_record() if looked.is_done]
    return Day(seal, tuple(f"- {fault}" for looked in done for fault in looked.faults))
