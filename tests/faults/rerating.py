"""A lot that many housings hold is rated again while inspections of those housings arrive.

`python -m tests.faults.rerating --units 2000` prints how long the longest inspection waited, and
what on record is not as it must be after; with DATABASE_URL, in a database made on that server.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import random
import sys
import time
import uuid
from dataclasses import dataclass
from datetime import UTC, datetime
from multiprocessing.connection import Connection
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from tests.benchmarks.databases import Filled
    from tests.benchmarks.yards import Yard

# Inspections arrive alone for so long before the lot is rated, and after.
BESIDE_SECONDS = 1.0


@dataclass(frozen=True)
class Rerated:
    """What came of it: the longest waits with and without a lot being rated, and what is wrong."""

    units: int
    rerating_seconds: float
    signed: int
    longest_wait_seconds: float
    longest_alone_seconds: float
    faults: tuple[str, ...]

    @property
    def words(self) -> str:
        """Return it as a line."""
        return (
            f"{self.units} units rated again in {self.rerating_seconds:.2f} s while "
            f"{self.signed} inspections were signed: the longest waited "
            f"{self.longest_wait_seconds:.2f} s, and {self.longest_alone_seconds:.2f} s while no "
            f"lot was rated; {len(self.faults)} faults"
        )


def rerate_while_signing(filled: Filled[Yard], signers: int, seed: int = 1) -> Rerated:
    """Rate a yard's lot again while so many people sign inspections of its housings."""
    from ratings.lots.recording import approve_rating
    from tests.builders import drafted_test
    from tests.factories import ManagerFactory

    with filled.used() as held:
        draft = drafted_test(held.lot, held.manager, rate_lbf_in=1_010.0).draft
        assert draft is not None
        other = ManagerFactory()
    # A connection outlives no fork.
    filled.connection.close()
    context = multiprocessing.get_context("fork")
    is_over = context.Event()
    pipes, processes = [], []
    for number in range(signers):
        receiving, sending = context.Pipe(duplex=False)
        process = context.Process(target=_sign, args=(filled, sending, is_over, seed + number))
        process.start()
        pipes.append(receiving)
        processes.append(process)
    with filled.opened_anew():
        time.sleep(BESIDE_SECONDS)
        begun = time.monotonic()
        posted = approve_rating(
            submission_id=uuid.uuid4(),
            rating=draft,
            by=other,
            has_read_doubts=True,
            accepts_implausible=True,
            implausible_reason="The rubber on record is a guess",
        )
        ended = time.monotonic()
        time.sleep(BESIDE_SECONDS)
        is_over.set()
        took: list[tuple[float, float]] = []
        troubles: list[str] = []
        for receiving in pipes:
            times, said = receiving.recv()
            took += times
            troubles += said
        for process in processes:
            process.join()
        faults = [*troubles, *_faults(draft.pk, len(posted))]
    waits = [end - start for start, end in took if end >= begun and start <= ended]
    alone = [end - start for start, end in took if end < begun or start > ended]
    return Rerated(
        len(posted),
        ended - begun,
        len(took),
        max(waits, default=0.0),
        max(alone, default=0.0),
        tuple(faults),
    )


def _sign(filled: Filled[Yard], sending: Connection, is_over: Any, seed: int) -> None:
    """Sign inspections one after the other, and tell when each began and ended."""
    from django.db import DatabaseError

    from inspections.count.signing import Seen, sign_inspection
    from inspections.count.submission import Submission

    chance = random.Random(seed)
    took: list[tuple[float, float]] = []
    troubles: list[str] = []
    with filled.opened_anew():
        while not is_over.is_set():
            begun = time.monotonic()
            try:
                sign_inspection(
                    housing=chance.choice(filled.holds.housings),
                    submission=Submission(uuid.uuid4()),
                    # Each differs, so that each posts an entry.
                    seen=Seen(
                        datetime.now(UTC),
                        [],
                        travel_in=round(chance.uniform(4.0, 6.0), 3),
                        travel_reason="Taped again",
                    ),
                    by=filled.holds.manager,
                )
            except DatabaseError as trouble:
                troubles.append(f"an inspection failed: {trouble}")
            took.append((begun, time.monotonic()))
            time.sleep(0.02)
    sending.send((took, troubles))


def _faults(rating: int, posted: int) -> list[str]:
    from ratings.models import CurrentRating
    from ratings.record.verify import verify_record

    heads = CurrentRating.objects.select_related("head", "housing")
    found = [
        f"{each.housing} does not rest on the new rate"
        for each in heads
        if rating not in each.head.contents["provenance"]["lot_ratings"].values()
    ]
    if posted != len(heads):
        found.append(f"{posted} of {len(heads)} units were rated again")
    for looked in verify_record(only={"chains"}):
        found += [str(fault) for fault in looked.faults]
    return found


def main() -> int:
    """Rate a yard's lot again while people sign, and say how that went."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--units", type=int, default=2_000)
    parser.add_argument("--signers", type=int, default=4)
    parser.add_argument("--like", default="", help="a migrated, empty database to copy")
    asked = parser.parse_args()
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "fleet.config.settings")
    with TemporaryDirectory(prefix="rerating-") as folder:
        os.environ |= {"LEDGER_VAR": folder, "LEDGER_PLAIN_HTTP": "1"}
        import django

        django.setup()
        from tests.benchmarks.databases import Databases
        from tests.benchmarks.yards import yard

        databases = Databases(Path(folder), asked.like)
        try:
            filled = databases.filled("yard", lambda: yard(asked.units))
            came_to = rerate_while_signing(filled, asked.signers)
        finally:
            databases.close()
    print(came_to.words)
    for fault in came_to.faults[:20]:
        print(fault, file=sys.stderr)
    return 1 if came_to.faults else 0


if __name__ == "__main__":
    raise SystemExit(main())
