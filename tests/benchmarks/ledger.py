"""The ledger: re-rating all units that hold a lot, and verifying every entry.

Re-rating is the act itself, on record for good in a copy of the database. Of its time: trying it,
and reading pads, hammers and listings of all units before the locks 14 in 100; rating the units and
spelling documents, which the other does as well, and reading the entries before 44; under the
locks, reading all of it anew, holding it to what was worked out and to the entry before, so that
none is posted where nothing changed, and rows of entries, heads and leaves 42. The other reads
nothing, holds nothing to what was, and writes no leaf. That facts are read twice is the price of
nobody's waiting while units are rated: how long they wait, `tests/faults/rerating.py` tells.

Verifying, of its time: parsing, recomputing and hashing, which the other does as well, 78 in 100;
holding columns and results to each document 7; holding it to its one spelling, for which it is
spelled again, 4; reading entries 3; heads, and the last entry of each unit held to the records as
they stand, 8. The other does nothing of that.
"""

from __future__ import annotations

import hashlib
import json
import uuid
from functools import partial
from itertools import islice

from django.db import connection, transaction

from ratings.lots.recording import approve_rating
from ratings.mechanics.record import read_inputs, results_of_format
from ratings.models import LedgerEntry
from ratings.record.verify import verify_record
from tests.benchmarks.databases import Filled
from tests.benchmarks.measuring import Pairs, Run, Work, benchmark, timed
from tests.benchmarks.yards import Yard, yard
from tests.builders import drafted_test
from tests.factories import ManagerFactory

ENTRIES_OF_A_UNIT = 100
MOST_BYTES_AN_ENTRY = 500.0
DOCUMENTS_AT_ONCE = 5_000


@benchmark(
    "rerate",
    "re-rating a lot that 2,000 housings hold, to computing and hashing the same entries and one "
    "bulk insert of them",
    goal=1.5,
)
def rerate(run: Run) -> Pairs:
    units = run.size(2_000, 30)
    filled = run.databases.filled(("yard", units), lambda: yard(units))
    posted: list[LedgerEntry] = []

    def ours() -> float:
        with run.databases.copied(filled) as held:
            draft = drafted_test(held.lot, held.manager, rate_lbf_in=1_010.0).draft
            other = ManagerFactory()
            assert draft is not None
            entries: list[LedgerEntry] = []

            def approve() -> None:
                entries[:] = approve_rating(
                    submission_id=uuid.uuid4(),
                    rating=draft,
                    by=other,
                    has_read_doubts=True,
                    accepts_implausible=True,
                    implausible_reason="The rubber on record is a guess",
                )

            took = timed(approve)
            if len(entries) != units:
                raise RuntimeError(f"{len(entries)} of {units} units were rated again")
            posted[:] = entries
        return took

    ours()
    inputs = [read_inputs(entry.inputs) for entry in posted]
    outer = [
        {name: part for name, part in entry.contents.items() if name != "results"}
        for entry in posted
    ]
    columns = [field for field in LedgerEntry._meta.concrete_fields if not field.primary_key]
    names = ", ".join(str(field.column) for field in columns)
    statement = (
        f"INSERT INTO {LedgerEntry._meta.db_table} ({names}) "
        f"VALUES ({', '.join(['%s'] * len(columns))})"
    )
    places = {field.attname: place for place, field in enumerate(columns)}

    def bare() -> float:
        with filled.used(), transaction.atomic():

            def work() -> None:
                rows = []
                for entry, given, contents in zip(posted, inputs, outer, strict=True):
                    results = results_of_format(contents["format"], given)
                    text = json.dumps(contents | {"results": results}, sort_keys=True)
                    row = [
                        field.get_db_prep_save(getattr(entry, field.attname), connection)
                        for field in columns
                    ]
                    row[places["document"]] = text
                    row[places["hash"]] = hashlib.sha256(text.encode()).hexdigest()
                    rows.append(row)
                with connection.cursor() as cursor:
                    cursor.executemany(statement, rows)

            took = timed(work)
            transaction.set_rollback(True)
        return took

    return run.paired(ours, bare, warm=False)


@benchmark(
    "verify",
    "verifying 100,000 entries, to JSON parsing, recomputation and SHA-256 of the same bytes alone",
    goal=1.5,
)
def verify(run: Run) -> Pairs:
    entries = run.size(100_000, 300)
    run.memory(
        "verifying entries",
        (run.size(2_000, 200), entries),
        lambda size: (_chains(run, size), _verified(_chains(run, size))),
        MOST_BYTES_AN_ENTRY,
    )
    filled = _chains(run, entries)

    def bare() -> float:
        took = 0.0
        with filled.used():
            documents = LedgerEntry.objects.order_by("pk").values_list("document", flat=True)
            left = documents.iterator(DOCUMENTS_AT_ONCE)
            while some := list(islice(left, DOCUMENTS_AT_ONCE)):
                took += timed(partial(_recomputed, some))
        return took

    return run.paired(_verified(filled), bare, warm=False)


def _recomputed(documents: list[str]) -> None:
    for document in documents:
        contents = json.loads(document)
        results_of_format(contents["format"], read_inputs(contents["inputs"]))
        hashlib.sha256(document.encode()).hexdigest()


def _chains(run: Run, entries: int) -> Filled[Yard]:
    units = entries // ENTRIES_OF_A_UNIT
    return run.databases.filled(
        ("chains", units), lambda: yard(units + 1, entries_each=ENTRIES_OF_A_UNIT)
    )


def _verified(filled: Filled[Yard]) -> Work:
    def work() -> None:
        with filled.used():
            for looked in verify_record(only={"chains"}):
                if looked.faults:
                    raise RuntimeError(str(looked.faults[0]))

    return work
