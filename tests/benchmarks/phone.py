"""What a phone takes along, beside its JSON alone, and how much goes over the air.

The other is given all of it and only writes it, which is 10 in 100 of our time. Figures in words
and what a proof pull holds each unit to take 37, reading 9,000 records 28, what is due for each
machine 9, pads 4. Nothing is kept from one to the next: a phone must not leave with what was so
before.
"""

from __future__ import annotations

import json

from django.test import Client
from django.urls import reverse

from inspections.field.pack import pack_for
from tests.benchmarks.measuring import Pairs, Run, benchmark
from tests.benchmarks.pages import visit
from tests.benchmarks.yards import yard

MOST_WIRE_BYTES = 300_000


@benchmark(
    "pack",
    "the phone’s pack at 1,000 units of 24 pads, to its JSON alone; at most 300 kB on the wire",
    goal=1.5,
    sides=("ours", "its JSON"),
)
def pack(run: Run) -> Pairs:
    units = run.size(1_000, 30)
    filled = run.databases.filled(("yard of 24 pads", units), lambda: yard(units, per_side=12))
    path = reverse("field-pack")
    with filled.used() as held:
        taken = json.loads(json.dumps(pack_for(held.manager, "us"), default=str))
        client = Client(headers={"host": "localhost", "accept-encoding": "gzip"})
        client.force_login(held.manager)
        wire_bytes = len(client.get(path).content)
    over = "" if wire_bytes <= MOST_WIRE_BYTES else f", over the {MOST_WIRE_BYTES:,} promised"
    run.tell(f"{wire_bytes:,} bytes on the wire{over}")
    return run.paired(visit(filled, filled.holds.manager, path), lambda: json.dumps(taken))
