from __future__ import annotations

import uuid
from dataclasses import replace
from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.models import SuppressorHousing
from inspections.count.replacement import PadFitted, sign_replacement
from inspections.count.submission import Submission
from ratings.mechanics import unit_rating
from ratings.mechanics.bench import CycleReading
from ratings.mechanics.linepull import PadGroup
from ratings.mechanics.unit_rating import UnitInputs, pad_groups
from ratings.models import LedgerEntry
from tests.builders import (
    MONDAY,
    Unit,
    bench_test,
    count,
    list_hammer,
    pads,
    proof_pull,
    rated_unit,
    receive,
)
from tests.factories import HousingFactory, PadLotFactory
from tests.inspections.history.test_history_report import pages
from tests.site.html_form import words

pytestmark = pytest.mark.django_db


def text_of(client: Client, housing: SuppressorHousing) -> str:
    response = client.get(reverse("unit", args=[housing.pk]))
    assert response.status_code == 200
    return words(response)


def later(unit: Unit, day: int, fault: str) -> None:
    count(
        unit.housing,
        unit.manager,
        unit.lot,
        unsound={fault: "cracked"},
        at=MONDAY + timedelta(days=day),
    )


def test_the_calculation_is_written_out_lot_by_lot(auditor_client: Client) -> None:
    unit, stiffer = rated_unit(), PadLotFactory()
    bench_test(stiffer, unit.manager, rate_lbf_in=1500)
    receive(stiffer, unit.manager, 2)
    sign_replacement(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        fitted_at=MONDAY + timedelta(days=1),
        pads=[PadFitted("A", 1, stiffer.pk), PadFitted("B", 1, stiffer.pk)],
        by=unit.manager,
    )
    text = text_of(auditor_client, unit.housing)
    assert f"{unit.lot.mark} 6 6 6,000 lbf at 6 in 36,000 lbf" in text
    assert f"{stiffer.mark} 2 2 9,000 lbf at 6 in 18,000 lbf" in text
    assert "Line pull 54,000 lbf" in text


def test_the_margin_written_out_leads_from_pull_to_capacity(auditor_client: Client) -> None:
    unit = rated_unit()
    entry = LedgerEntry.objects.filter(housing=unit.housing).latest("sequence")
    text = text_of(auditor_client, unit.housing)
    assert entry.pull_lbf is not None
    assert entry.working_capacity_lbf is not None
    assert f"− {entry.pull_lbf - entry.working_capacity_lbf:,.0f} lbf" in text
    assert f"Working capacity {entry.working_capacity_lbf:,.0f} lbf" in text
    assert "assumed spread , 5 % of the rate by policy" in text


def test_pads_that_add_nothing_where_they_were_not_tested_are_named(auditor_client: Client) -> None:
    unit, short = rated_unit(), PadLotFactory()
    bench_test(short, unit.manager, to_in=2.5)
    receive(short, unit.manager, 1)
    sign_replacement(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        fitted_at=MONDAY + timedelta(days=1),
        pads=[PadFitted("A", 1, short.pk)],
        by=unit.manager,
    )
    text = text_of(auditor_client, unit.housing)
    assert f"{short.mark} 1 0 adds nothing: tested to 2.5 in only" in text
    assert f"Testing lot {short.mark} to the full travel would add about" in text


def test_a_lot_in_more_doubt_than_it_pulls_counts_at_a_share_that_is_said(
    auditor_client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    unit, single = rated_unit(), PadLotFactory()

    def unsure(inputs: UnitInputs) -> tuple[PadGroup, ...]:
        """Put 80 % of the force of the unit's own lot in doubt."""
        return tuple(
            replace(group, between_share=0.8) if group.lot == unit.lot.mark else group
            for group in pad_groups(inputs)
        )

    bench_test(single, unit.manager)
    receive(single, unit.manager, 1)
    monkeypatch.setattr(unit_rating, "pad_groups", unsure)
    sign_replacement(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        fitted_at=MONDAY + timedelta(days=1),
        pads=[PadFitted("A", 1, single.pk)],
        by=unit.manager,
    )
    entry = unit.housing.ledger_entries.latest("sequence")
    (share,) = (each for each in entry.results["lots"] if each["lot"] == unit.lot.mark)
    pct = f"{100.0 * share['share']:.1f}"
    assert 0.0 < share["share"] < 1.0
    text = text_of(auditor_client, unit.housing)
    assert f"× {pct} %" in text
    assert f"counts at {pct} % of its force: more would add more doubt than pull" in text
    report = " ".join(pages(auditor_client, unit.housing))
    assert f"× {pct} % (more would add more doubt than pull)" in report


def test_a_lot_with_no_pad_on_the_weaker_side_is_said_to_add_nothing_for_that(
    auditor_client: Client,
) -> None:
    unit, stiffer = rated_unit(is_guided=False), PadLotFactory()
    bench_test(stiffer, unit.manager, rate_lbf_in=1500)
    receive(stiffer, unit.manager, 1)
    sign_replacement(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        fitted_at=MONDAY + timedelta(days=1),
        pads=[PadFitted("A", 1, stiffer.pk)],
        by=unit.manager,
    )
    text = text_of(auditor_client, unit.housing)
    assert f"{stiffer.mark} 1 0 adds nothing: none of them on the weaker side" in text


def test_what_the_working_capacity_does_not_cover_is_said(auditor_client: Client) -> None:
    unit = rated_unit()
    softer = "rubber softer in use than the policy’s ± 5 % (a proof pull of the unit would show it)"
    uneven = "pads that differ by more than the 5 % assumed (single marked pads tested would show"
    text = text_of(auditor_client, unit.housing)
    assert softer in text
    assert uneven in text
    proof_pull(unit.housing, unit.manager)
    text = text_of(auditor_client, unit.housing)
    assert softer not in text
    assert uneven in text


def test_what_the_tests_left_out_is_priced(auditor_client: Client) -> None:
    unit = rated_unit()
    bench_test(
        unit.lot,
        unit.manager,
        at=MONDAY + timedelta(days=1),
        readings=[CycleReading(10 + x, 79.6 * x) for x in (2.0, 4.0, 6.0, 8.0)],
    )
    text = text_of(auditor_client, unit.housing)
    assert f"Lot {unit.lot.mark}, no unloading read: reading the unloading too would add" in text


def test_marks_on_the_pads_of_two_tests_are_priced(auditor_client: Client) -> None:
    unit = rated_unit()
    price = f"Lot {unit.lot.mark}, pads without marks: marking the pads would add about"
    assert price not in text_of(auditor_client, unit.housing)
    tuesday = MONDAY + timedelta(days=1)
    bench_test(unit.lot, unit.manager, rate_lbf_in=1010.0, at=tuesday, pads=())
    assert price in text_of(auditor_client, unit.housing)


def test_a_unit_limited_by_tested_stretch_names_the_lot(auditor_client: Client) -> None:
    unit = rated_unit(to_in=4.0)
    text = text_of(auditor_client, unit.housing)
    assert f"limited by tested stretch of lot {unit.lot.mark}" in text


def test_a_unit_out_of_balance_is_warned_of(auditor_client: Client) -> None:
    unit = rated_unit(unsound={"A1": "missing", "A2": "missing"})
    text = text_of(auditor_client, unit.housing)
    assert "Out of balance. Side A carries 12,000 lbf, side B 24,000 lbf" in text


def test_a_unit_one_pad_out_is_in_balance(auditor_client: Client) -> None:
    unit = rated_unit(unsound={"A1": "missing"})
    text = text_of(auditor_client, unit.housing)
    assert "in balance within one pad" in text
    assert "Out of balance" not in text


def test_pads_that_add_nothing_are_named(auditor_client: Client) -> None:
    unit, untested = rated_unit(), PadLotFactory()
    receive(untested, unit.manager, 2)
    sign_replacement(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        fitted_at=MONDAY + timedelta(days=1),
        pads=[PadFitted("A", 1, untested.pk), PadFitted("B", 1, untested.pk)],
        by=unit.manager,
    )
    text = text_of(auditor_client, unit.housing)
    said = f"2 sound pads of lot {untested.mark}, which has no approved rate, add nothing"
    assert said in text


def test_pads_of_no_known_lot_are_named(auditor_client: Client) -> None:
    unit = rated_unit()
    count(unit.housing, unit.manager, None, at=MONDAY + timedelta(days=1))
    assert "8 sound pads of no known lot add nothing" in text_of(auditor_client, unit.housing)


def test_what_a_short_unit_lacks_is_told_and_the_housing_is_left_as_it_is(
    auditor_client: Client,
) -> None:
    unit = rated_unit(unsound={"A1": "cracked", "B2": "missing"})
    text = text_of(auditor_client, unit.housing)
    assert "Short of its listing." in text
    assert "With the pads as fitted the listing would take" in text
    assert "Never alter a housing or take out a bumper" in text


def test_a_unit_that_meets_its_listing_is_given_no_advice(auditor_client: Client) -> None:
    assert "What would change the standing" not in text_of(auditor_client, rated_unit().housing)


def test_a_unit_that_lacks_a_fact_is_told_which(auditor_client: Client) -> None:
    text = text_of(auditor_client, HousingFactory())
    assert "It is a spare: it hangs on no hammer" in text
    assert "It needs a pad count and a taped travel" in text
    assert "Line pull not known" in text
    assert "The ledger begins when the pads are first counted" in text


def test_the_ledger_shows_cause_and_difference_of_every_entry(auditor_client: Client) -> None:
    unit = rated_unit()
    later(unit, 1, "A1")
    list_hammer(unit.hammer, unit.manager, 60_000)
    text = text_of(auditor_client, unit.housing)
    assert "first entry of this housing" in text
    assert f"A1: sound, lot {unit.lot.mark} → cracked, lot {unit.lot.mark}" in text
    assert "−6,000 lbf" in text
    assert "listed: 20.0 tons (40,000 lbf) → 30.0 tons (60,000 lbf)" in text
    assert "7 of 8 pads counted sound and travel taped at 6 in" in text


def test_the_newest_entry_stands_first(auditor_client: Client) -> None:
    unit = rated_unit()
    later(unit, 1, "A1")
    response = auditor_client.get(reverse("unit", args=[unit.housing.pk]))
    page = response.content.decode()
    assert page.index('id="entry-3"') < page.index('id="entry-2"') < page.index('id="entry-1"')


def test_every_entry_leads_to_the_record_behind_it(manager_client: Client) -> None:
    unit = rated_unit()
    page = manager_client.get(reverse("unit", args=[unit.housing.pk])).content.decode()
    entry = LedgerEntry.objects.filter(housing=unit.housing).latest("sequence")
    inspection = unit.housing.inspections.get()
    assert f'href="{reverse("inspection", args=[inspection.pk])}"' in page
    assert f'href="{reverse("correct-entry", args=[entry.pk])}"' in page


def test_the_pad_map_shows_every_position_in_word_and_lot(auditor_client: Client) -> None:
    unit = rated_unit(unsound={"A1": "debonded", "B4": "missing"})
    text = text_of(auditor_client, unit.housing)
    assert f"A1 debonded {unit.lot.mark}" in text
    assert "B4 missing" in text
    assert f"B3 sound {unit.lot.mark}" in text


def test_the_head_s_hash_is_on_the_page(auditor_client: Client) -> None:
    unit = rated_unit()
    entry = LedgerEntry.objects.filter(housing=unit.housing).latest("sequence")
    assert entry.hash in text_of(auditor_client, unit.housing)


def test_the_page_speaks_si_to_a_reader_of_si(auditor_client: Client) -> None:
    unit = rated_unit()
    auditor_client.post(reverse("choose-units"), {"units": "si"})
    text = text_of(auditor_client, unit.housing)
    assert "213.5 kN" in text
    assert "175.1 N/mm" in text
    assert "152.4 mm" in text
    assert " lbf" not in text


def test_the_page_asks_as_often_for_a_long_ledger_as_for_a_short_one(
    auditor_client: Client,
) -> None:
    unit = rated_unit(in_stock=20)

    def queries() -> int:
        with CaptureQueriesContext(connection) as captured:
            text_of(auditor_client, unit.housing)
        return len(captured)

    def live(days: range) -> None:
        for day in days:
            later(unit, 2 * day, f"A{1 + day % 2}")
            sign_replacement(
                housing=unit.housing,
                submission=Submission(uuid.uuid4()),
                fitted_at=MONDAY + timedelta(days=2 * day + 1),
                pads=[PadFitted("A", 1 + day % 2, unit.lot.pk)],
                by=unit.manager,
            )

    live(range(1, 3))
    for_short = queries()
    live(range(3, 8))
    assert queries() == for_short


def test_a_housing_of_the_most_positions_is_shown(auditor_client: Client) -> None:
    unit = rated_unit(positions_per_side=24)
    assert len(pads(unit.housing, unit.lot)) == 48
    assert f"B24 sound {unit.lot.mark}" in text_of(auditor_client, unit.housing)


def test_a_travel_beyond_design_is_cautioned_of(auditor_client: Client) -> None:
    unit = rated_unit()
    assert "Travel beyond design" not in text_of(auditor_client, unit.housing)
    count(
        unit.housing,
        unit.manager,
        unit.lot,
        travel_in=8.5,
        travel_reason="Stops worn down",
        at=MONDAY + timedelta(days=1),
    )
    assert "Travel beyond design. 8.5 in was taped where 8 in is built in" in text_of(
        auditor_client, unit.housing
    )
