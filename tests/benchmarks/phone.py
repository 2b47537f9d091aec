"""What a phone takes along, beside its JSON alone, and how much goes over the air.

The other is given all of it and only writes it. What is written of units is kept for a minute,
unless anything is recorded: so it is measured, as a crew takes its phones out one after the other.
How long whoever asks first after a record waits is told beside it, many times as long: reading
records is 35 in 100 of that, figures in words 14, writing the JSON 12, what is due for each machine
11, reading the entries that figures come from 10, pads 7.
"""

from __future__ import annotations

import json

from django.test import Client
from django.urls import reverse

from fleet import unchanged
from inspections.field.pack import pack_json
from tests.benchmarks.measuring import Pairs, Run, benchmark, timed
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
        taken = json.loads(pack_json(held.manager, "us", {}))
        client = Client(headers={"host": "localhost", "accept-encoding": "gzip"})
        client.force_login(held.manager)
        wire_bytes = len(client.get(path).content)
    over = "" if wire_bytes <= MOST_WIRE_BYTES else f", over the {MOST_WIRE_BYTES:,} promised"
    run.tell(f"{wire_bytes:,} bytes on the wire{over}")
    ask = visit(filled, filled.holds.manager, path)
    unchanged.forget()
    run.tell(f"{1000.0 * timed(ask):,.0f} ms for whoever asks first after a record")
    return run.paired(ask, lambda: json.dumps(taken))
