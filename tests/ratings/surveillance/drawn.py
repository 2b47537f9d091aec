"""Pads drawn from service and tested, for the tests of this folder."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Any

from django.contrib.auth.models import User

from fleet.models import PadLot, SuppressorHousing
from ratings.bench.recording import RecordedTest
from ratings.bench.tested_pads import TestedPad
from ratings.models import Gauge, TestStand
from tests.builders import approve, drafted_test
from tests.factories import GaugeFactory, HousingFactory, ManagerFactory, PadLotFactory
from tests.factories import TestStandFactory as StandFactory

# Rates of one pad at each visit, lbf/in: as bought, a year on, two and three.
SOFTENING = ((1010.0, 990.0, 1000.0), (962.0, 950.0), (905.0, 918.0), (870.0, 852.0))
SLOWLY = ((1010.0, 990.0, 1000.0), (985.0, 975.0), (960.0, 972.0), (940.0, 928.0))
STEADY = ((1010.0, 990.0, 1000.0), (1004.0, 992.0), (996.0, 1011.0), (990.0, 1002.0))
HOURS_A_YEAR = 600.0
FIRST_YEAR = 2023


def day(year: int, month: int = 3) -> datetime:
    return datetime(year, month, 2, 15, 0, tzinfo=UTC)


class Bench:
    """A lot, a stand with its gauge, housings to draw from, and who tests."""

    def __init__(self, **of_lot: Any) -> None:
        self.lot: PadLot = PadLotFactory(**of_lot)
        self.by: User = ManagerFactory()
        self.stand: TestStand = StandFactory()
        self.gauge: Gauge = GaugeFactory(yard=self.stand.yard)
        self.housings: list[SuppressorHousing] = [HousingFactory(), HousingFactory()]

    def tested(
        self, rate_lbf_in: float, at: datetime, *pads: dict[str, Any], **more: Any
    ) -> RecordedTest:
        """Stretch pads, as many as are told of, or one of which nothing is said."""
        given: dict[str, Any] = {
            "stand": self.stand,
            "gauge": self.gauge,
            "pads_in_test": max(len(pads), 1),
            "pads": tuple(TestedPad(number, **pad) for number, pad in enumerate(pads, 1)),
            "conditioning_cycles": 3,
            "rubber_temperature_f": 68.0,
        }
        return drafted_test(self.lot, self.by, rate_lbf_in=rate_lbf_in, at=at, **given | more)

    def new(self, rate_lbf_in: float, at: datetime, mark: str = "", **more: Any) -> RecordedTest:
        """Test one pad from the crate."""
        return self.tested(rate_lbf_in, at, {"mark": mark, "origin": "new"}, **more)

    def drawn(
        self,
        rate_lbf_in: float,
        at: datetime,
        mark: str = "",
        hours: float | None = None,
        housing: int | None = 0,
        fate: str = "put back",
        **more: Any,
    ) -> RecordedTest:
        """Test one pad from service."""
        pad: dict[str, Any] = {"mark": mark, "origin": "from service", "hours": hours, "fate": fate}
        if housing is not None:
            pad["housing"] = self.housings[housing]
        return self.tested(rate_lbf_in, at, pad, **more)

    def watched(self, rates: Sequence[Sequence[float]] = SOFTENING, **more: Any) -> Bench:
        """Test new pads in the first year and pads from service every year after; approve."""
        for year, visit in enumerate(rates):
            for place, rate in enumerate(visit):
                at, mark = day(FIRST_YEAR + year), f"P{year}{place}"
                if year == 0:
                    made = self.new(rate, at, mark, **more)
                else:
                    self.drawn(rate, at, mark, HOURS_A_YEAR * year, place % 2, **more)
            if year == 0 and made.draft is not None:
                approve(made.draft)
        return self
