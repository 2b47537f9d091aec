"""A bench test held against the yard's policy and against the other tests of its lot and stand."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import cached_property

from fleet.dates import day_words
from fleet.models import PadLot
from ratings.bench.reduction import Reduction, reduce_test
from ratings.bench.tested_pads import TestedPad, mark_key, pads_of
from ratings.lot_pools import as_day, pool_test_of, stand_name
from ratings.mechanics.bench import CycleReading, ReadingError
from ratings.mechanics.lot_rate import PoolTest, pool_test
from ratings.mechanics.mistakes import (
    Care,
    TestedCurve,
    bore_changed,
    cold_rubber,
    disagreement,
    lacks,
)
from ratings.mechanics.remarks import Refused, Remark
from ratings.mechanics.shortcuts import Shortcut
from ratings.mechanics.unit_rating import Policy
from ratings.models import BenchTest


def refuse_copies(test: BenchTest, readings: Sequence[CycleReading]) -> None:
    """Refuse a reading given twice, and readings that another test of the lot holds already.

    To the last figure, twice in one run and branch: a row typed again would count as evidence,
    but for one at rest, which is none. The test that this one corrects may hold them.
    Raises ValueError, ReadingError for one reading.
    """
    for place, reading in enumerate(readings):
        if reading.tape_in != test.tape_datum_in and reading in readings[:place]:
            raise ReadingError(
                place,
                "gauge_psi",
                f"this is reading {readings.index(reading) + 1} again, on the same branch of the "
                "same run: delete it, or say which run it was read in",
            )
    others = test.lot.bench_tests.standing().prefetch_related("readings")
    for other in others.exclude(pk__in=[test.corrects_id or 0]):
        if other.measured == list(readings):
            raise Refused(
                f"{name_of(other)} of this lot has these very readings: a pad that is stretched "
                "again never reads the same throughout. If it is the same test, it is on record; "
                "correct it there. If it is another, type what was read in it, or read it at one "
                "stretch more"
            )


def name_of(test: BenchTest) -> str:
    """Return a test's name and day in words."""
    return f"bench test {test.pk} ({day_words(test.tested_at)})"


def _as_pooled(test: BenchTest, reduction: Reduction, marked: set[str]) -> PoolTest:
    return pool_test(
        test.set_up,
        test.instruments,
        reduction.measured,
        name="this test",
        day=as_day(test.tested_at),
        marks=sorted(marked),
        stand=stand_name(test),
        conditioning_cycles=test.conditioning_cycles,
        temperature_f=test.rubber_temperature_f,
    )


class LotTests:
    """The tests of a lot that may rate, to hold one of them, or one not yet saved, against."""

    def __init__(self, lot: PadLot, policy: Policy) -> None:
        self.lot, self.policy = lot, policy

    def compared(
        self,
        test: BenchTest,
        reduction: Reduction,
        pads: Sequence[TestedPad],
        typed_in: str = "us",
    ) -> Reduction:
        """Return a test's reduction with all that policy, lot and stand give to doubt in it.

        typed_in: the units it is taken to have been typed in.
        """
        marked = {mark_key(pad.mark) for pad in pads if pad.mark}
        care = self._care(test, len(marked))
        shortcuts = _as_pooled(test, reduction, marked).shortcuts(self.policy)
        short = lacks(shortcuts, test.set_up, reduction.cycle, care)
        found = [
            *reduction.warnings,
            *filter(None, [cold_rubber(care), self._cylinder(test)]),
            *self._repeats(test, marked),
            *filter(None, [self._disagreement(test, reduction, marked, typed_in)]),
            *((each.words,) for each in short),
            *self._refused(shortcuts),
        ]
        return replace(reduction, warnings=tuple(found), lacks=short)

    def pooled_with(
        self, test: BenchTest, reduction: Reduction, pads: Sequence[TestedPad]
    ) -> list[PoolTest]:
        """Return the tests of the lot that may rate as they are pooled, this one first."""
        marked = {mark_key(pad.mark) for pad in pads if pad.mark}
        others = [pool_test_of(other) for other, _, _ in self._others(test)]
        return [_as_pooled(test, reduction, marked), *others]

    @cached_property
    def _tests(self) -> list[tuple[BenchTest, tuple[TestedPad, ...], Reduction]]:
        """Each test of the lot that may rate, its pads and what it comes to, the newest first."""
        tests = self.lot.bench_tests.standing().prefetch_related("readings", "pads__housing")
        return [
            (test, pads_of(test), reduce_test(test, test.measured, 100.0))
            for test in tests.order_by("-tested_at", "-pk")
            if test.is_for_rating
        ]

    def _others(
        self, test: BenchTest
    ) -> Iterator[tuple[BenchTest, tuple[TestedPad, ...], Reduction]]:
        for each in self._tests:
            other = each[0]
            if other.pk not in (test.pk, test.corrects_id) and (
                test.pk is None or other.corrects_id != test.pk
            ):
                yield each

    def _care(self, test: BenchTest, marked_pads: int) -> Care:
        return Care(
            conditioning_cycles=test.conditioning_cycles,
            conditioning_needed=self.policy.conditioning_cycles,
            rubber_temperature_f=test.rubber_temperature_f,
            coldest_f=self.policy.coldest_f,
            warmest_f=self.policy.warmest_f,
            marked_pads=marked_pads,
        )

    def _refused(self, shortcuts: Sequence[Shortcut]) -> Iterator[Remark]:
        refused = [each for each in shortcuts if each in self.policy.refused_shortcuts]
        if refused:
            yield (
                f"By the yard’s policy a test rates nothing with {', '.join(refused)}: it is kept "
                "on record.",
            )

    def _repeats(self, test: BenchTest, marked: set[str]) -> Iterator[Remark]:
        for other, pads, _ in self._others(test):
            again = sorted(pad.mark for pad in pads if mark_key(pad.mark) in marked)
            if again:
                yield (
                    f"{'Pad' if len(again) == 1 else 'Pads'} {', '.join(again)} "
                    f"{'was' if len(again) == 1 else 'were'} stretched in {name_of(other)} too: "
                    "tested again, and no further pad of the lot.",
                )

    def _disagreement(
        self, test: BenchTest, reduction: Reduction, marked: set[str], typed_in: str
    ) -> Remark | None:
        this = TestedCurve("this test", reduction.curve, test.pads_in_test, frozenset(marked))
        others = [
            TestedCurve(
                name_of(other),
                known.curve,
                other.pads_in_test,
                frozenset(mark_key(pad.mark) for pad in pads if pad.mark),
            )
            for other, pads, known in self._others(test)
        ]
        return disagreement(this, others, test.set_up, self.policy.pad_spread_pct, typed_in)

    def _cylinder(self, test: BenchTest) -> Remark | None:
        """What the stand's cylinder was in the test before this one, where it was another."""
        before = (
            BenchTest.objects.standing()
            .filter(stand=test.stand, tested_at__lte=test.tested_at)
            .exclude(pk__in=[test.pk or 0, test.corrects_id or 0])
            .order_by("-tested_at", "-pk")
            .first()
        )
        return None if before is None else bore_changed(test.set_up, before.set_up, name_of(before))
