"""Bench tests with their readings."""

from __future__ import annotations

from django.contrib.auth.models import User

from fleet.models import PadLot
from inspections.exchange.acts.lookup import KNOWN, NEW, one, submission_id
from inspections.exchange.rows import Row
from ratings.mechanics.bench import Branch, CycleReading
from ratings.models import BenchTest, Gauge, Tape, TestStand
from ratings.recording.bench import TestSetUp, record_bench_test


def bench_test(row: Row, by: User) -> str:
    """Record a bench test with its readings."""
    values = dict(row.values)
    lot = one(PadLot, "mark", values.pop("lot"), "lot")
    if BenchTest.objects.filter(lot=lot, tested_at=values["tested_at"]).exists():
        return KNOWN
    values.pop("test")
    for name, model, key in (("stand", TestStand, "name"), ("gauge", Gauge, "mark"),
                             ("tape", Tape, "mark")):  # fmt: skip
        values[name] = one(model, key, values[name], name)
    record_bench_test(
        submission_id=submission_id(row),
        lot=lot,
        set_up=TestSetUp(**{name: value for name, value in values.items() if value is not None}),
        readings=[
            CycleReading(
                part.values["tape_in"],
                part.values["gauge_psi"],
                part.values["run"] or 1,
                Branch(part.values["branch"] or Branch.LOADING),
            )
            for part in row.parts
        ],
        by=by,
    )
    return NEW
