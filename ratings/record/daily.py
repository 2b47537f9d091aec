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
        if self.faults:
            told = [f"THE RECORD DOES NOT HOLD: {len(self.faults)} found amiss.", *self.faults[:20]]
        else:
            told = ["The record holds: every row, every entry, every answer."]
        return "\n".join(
            [*told, "", "Keep this seal: what is recorded later is held to it.", ""]
        ) + (f"\n{self.seal.text}")


def seal_and_verify() -> Day:
    """Seal the record as it stands, and verify all of it."""
    seal = make_seal()
    faults = [
        f"- {fault}" for looked in verify_record() if looked.is_done for fault in looked.faults
    ]
    return Day(seal, tuple(faults))
