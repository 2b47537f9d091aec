"""Sheets of invented facts, and what a reader finds on them; no database behind."""

from __future__ import annotations

from dataclasses import replace
from io import BytesIO
from typing import Any

from pypdf import PdfReader

from fleet.models import Hammer, SuppressorHousing
from ratings.jobs.answer import calculate
from ratings.jobs.candidates import Candidate
from ratings.jobs.validity import State, Word
from ratings.mechanics.extraction.job import Crane, Job, Pile, PileKind, PileOfJob, PullMethod
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.linepull import PadGroup
from ratings.mechanics.soil import Density, Layer, LayerKind
from ratings.mechanics.standing import Standing
from ratings.pullsheet.facts import OnRecord, Sheet, make_sheet
from ratings.pullsheet.paper import pull_sheet_pdf

URL = "https://ledger.example/commitments/7/"

# 16 pads of 1,000 lbf/in to 6 in: 96,000 lbf at the stops.
PADS = PadGroup(16, 1000.0, 8.0, 20.0, 30.0, 10.0, lot="L-1")
UNIT = Unit(
    mark="S-7",
    groups=(PADS,),
    stiff_groups=(PADS,),
    unknown_stiffness="",
    usable_travel_in=6.0,
    travel_uncertainty_in=0.02,
    standing=Standing.MEETS_LISTING,
    eccentric_moment_lb_in=4400.0,
    frequency_vpm=1600.0,
    exciter_weight_lb=8000.0,
    clamp_weight_lb=2000.0,
    clamp_force_lbf=400_000.0,
    housing_weight_lb=4000.0,
    days_since_count=3,
    clamp_kinds=tuple(PileKind),
)
JOB = Job(
    pile=Pile(PileKind.H, 73.0, 56.4, 50.0, 40.0, area_in2=21.4, yield_strength_ksi=50.0),
    layers=(
        Layer(
            LayerKind.GRANULAR,
            0.0,
            50.0,
            120.0,
            density=Density.MEDIUM_DENSE_SAND,
            soil="round fine sand",
        ),
    ),
    crane=Crane(200_000.0, 2000.0, 800.0, 120_000.0),
    water_depth_ft=10.0,
)
# As a yard that uses the whole of a crane's chart, so that its limit is seen by itself.
WHOLE_CHART = ExtractionPolicy(crane_share=1.0)
RECORD = OnRecord(
    number=7,
    housing="S-7",
    hammer="V-7",
    site="Ferry slip",
    days="26–28 Nov 2026",
    committed="25 Nov 2026 09:30 by Pat Doe",
    answer_hash="a" * 64,
    entry_sequence=4,
    entry_hash="e" * 64,
    results={
        "sound_pads": 16,
        "positions": 16,
        "lots": [{"lot": "L-1", "count": 16}],
        "pull_lbf": 96_000.0,
        "working_capacity_lbf": 91_000.0,
        "listed_lbf": 90_000.0,
    },
    positions=tuple(
        {"side": side, "number": number, "condition": "sound", "lot": "L-1"}
        for side in "AB"
        for number in range(1, 9)
    ),
)
VALID = State(Word.VALID, ("The unit’s rating is still ledger entry 4.",))


def sheet(
    *,
    unit: Unit = UNIT,
    job: Job = JOB,
    piles: tuple[PileOfJob, ...] = (),
    policy: ExtractionPolicy = WHOLE_CHART,
    state: State = VALID,
    system: str = "us",
    url: str = URL,
    crane: dict[str, Any] | None = None,
    still: bool = False,
    **record: Any,
) -> Sheet:
    """A sheet of a pull that holds. piles: groups in place of one pile. crane, record: what
    differs.
    """
    asked = replace(job, crane=replace(job.crane, **crane or {}))
    if still:
        asked = replace(asked, method=PullMethod.STILL)
    candidate = Candidate(SuppressorHousing(mark=unit.mark), Hammer(mark="V-7"), None, unit)
    return make_sheet(
        replace(RECORD, **record),
        calculate(candidate, piles or (PileOfJob(1, "", 1, asked),), policy),
        state=state,
        url=url,
        system=system,
        printed="26 Nov 2026 06:10 by Pat Doe",
    )


def words_of(pdf: bytes, page: int = 0) -> str:
    """The words of a sheet's front; of its back where page is 1. It has no more pages."""
    pages = PdfReader(BytesIO(pdf)).pages
    assert len(pages) == 2
    return " ".join(pages[page].extract_text().split())


def printed(of: Sheet) -> str:
    """The words of a sheet's front."""
    return words_of(pull_sheet_pdf(of))


def printed_back(of: Sheet) -> str:
    """The words of a sheet's back."""
    return words_of(pull_sheet_pdf(of), page=1)
