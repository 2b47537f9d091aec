"""The page of a lot's rating, where it is approved and withdrawn; the lot's page; the policy's."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from ratings.mechanics.bench import Branch, CycleReading
from ratings.mechanics.unit_rating import Policy
from ratings.models import CurrentRating, LedgerEntry, LotRating, RatingPolicy
from ratings.policy import change_policy
from tests.all_tables import changed, everything
from tests.builders import MONDAY, Unit, approve, bench_test, drafted_test, rated_unit
from tests.factories import ManagerFactory, PadLotFactory
from tests.site.html_form import error_at, fields_of, opened, words

pytestmark = pytest.mark.django_db


def head(unit: Unit) -> LedgerEntry:
    return CurrentRating.objects.get(housing=unit.housing).head


def page(name: str, key: int) -> str:
    return reverse(name, args=[key])


def signed_in(person: Any) -> Client:
    client = Client()
    client.force_login(person)
    return client


@pytest.fixture
def unit() -> Unit:
    return rated_unit()


@pytest.fixture
def draft(unit: Unit) -> LotRating:
    """A draft of 950 lbf/in from two single pads, by the unit's manager."""
    drafted = drafted_test(
        unit.lot, unit.manager, rate_lbf_in=900, at=MONDAY + timedelta(days=1)
    ).draft
    assert drafted is not None
    return drafted


def test_a_draft_says_that_it_rates_no_unit(auditor_client: Client, draft: LotRating) -> None:
    text = words(auditor_client.get(page("lot-rating", draft.pk)))
    assert "Draft. It rates no unit until a second person approves it" in text
    assert "Rate of each pad 950 lbf/in" in text
    assert "Ledger entries it caused None yet" in text
    assert text.count("Bench test") == 2


def test_a_second_person_approves_and_sending_it_twice_changes_nothing(
    manager_client: Client, unit: Unit, draft: LotRating
) -> None:
    fields = opened(manager_client, page("lot-rating", draft.pk)) | {"has_read_doubts": "on"}
    url = page("approve-rating", draft.pk)
    text = words(manager_client.post(url, fields, follow=True))
    assert f"Rating {draft.pk} is approved; 1 ledger entry posted" in text
    assert f"Housing {unit.housing.mark}, entry 3 lot rated" in text
    assert head(unit).hash in text
    assert head(unit).pull_lbf == pytest.approx(8 * 950 * 6)
    before = everything()
    assert manager_client.post(url, fields, follow=True).status_code == 200
    assert changed(before) == set()


def test_whoever_drafted_it_is_offered_no_button_and_refused(unit: Unit, draft: LotRating) -> None:
    client = signed_in(unit.manager)
    text = words(client.get(page("lot-rating", draft.pk)))
    assert "You drafted it by recording its test" in text
    assert "Approve the rating" not in text
    before = everything()
    response = client.post(page("approve-rating", draft.pk), {"submission_id": uuid.uuid4()})
    assert "a second person must approve it" in words(response)
    assert changed(before) == set()


def test_a_rating_is_withdrawn_with_a_reason(
    manager_client: Client, unit: Unit, draft: LotRating
) -> None:
    approve(draft)
    fields = opened(manager_client, page("lot-rating", draft.pk))
    url = page("withdraw-rating", draft.pk)
    before = everything()
    refused = manager_client.post(url, fields | {"reason": " "})
    assert error_at(refused, "reason")
    assert changed(before) == set()
    text = words(manager_client.post(url, fields | {"reason": "tape slipped"}, follow=True))
    assert f"Rating {draft.pk} is withdrawn; 1 ledger entry posted" in text
    assert "tape slipped" in text
    assert head(unit).pull_lbf == pytest.approx(48_000)
    ledger = manager_client.get(page("unit", unit.housing.pk))
    assert "withdrawn: tape slipped" in words(ledger)
    assert f'href="{page("lot-rating", draft.pk)}"' in ledger.content.decode()
    before = everything()
    assert manager_client.post(url, fields | {"reason": "again"}, follow=True).status_code == 200
    assert changed(before) == set()


@pytest.mark.parametrize("role", ["dispatcher", "auditor"])
def test_a_reader_reads_it_and_neither_approves_nor_withdraws(
    role: str, request: pytest.FixtureRequest, draft: LotRating
) -> None:
    client = request.getfixturevalue(f"{role}_client")
    approved = draft.lot.ratings.earliest("pk")
    for rating, button in ((draft, "Approve the rating"), (approved, "Withdraw the rating")):
        assert button not in words(client.get(page("lot-rating", rating.pk)))
    before = everything()
    sent = {"submission_id": uuid.uuid4(), "reason": "mine"}
    assert client.post(page("approve-rating", draft.pk), sent).status_code == 403
    assert client.post(page("withdraw-rating", approved.pk), sent).status_code == 403
    assert changed(before) == set()


@pytest.mark.parametrize("name", ["approve-rating", "withdraw-rating"])
@pytest.mark.parametrize("given", ["", "x", "\x00", "z" * 36])
def test_a_form_id_that_is_none_is_no_server_error(
    manager_client: Client, draft: LotRating, name: str, given: str
) -> None:
    before = everything()
    sent = {"submission_id": given, "reason": "why"}
    response = manager_client.post(page(name, draft.pk), sent)
    assert response.status_code == 200
    assert changed(before) == set()


def test_what_is_approved_or_withdrawn_already_is_said(
    manager_client: Client, draft: LotRating
) -> None:
    approve(draft)
    sent = {"submission_id": uuid.uuid4(), "reason": "why"}
    response = manager_client.post(page("approve-rating", draft.pk), sent)
    assert "This rating is approved already" in response.content.decode()
    draft_again = drafted_test(draft.lot, ManagerFactory()).draft
    assert draft_again is not None
    response = manager_client.post(page("withdraw-rating", draft_again.pk), sent)
    assert "only an approved one is withdrawn" in response.content.decode()


def test_the_lot_lists_its_ratings_and_which_is_in_use(
    auditor_client: Client, unit: Unit, draft: LotRating
) -> None:
    first = unit.lot.ratings.earliest("pk")
    text = words(auditor_client.get(page("lot", unit.lot.pk)))
    assert f"Rating {first.pk} 1,000 lbf/in approved, in use" in text
    assert f"Rating {draft.pk} 950 lbf/in draft" in text
    assert "assumed spread: 5 % by policy" in text
    approve(draft)
    text = words(auditor_client.get(page("lot", unit.lot.pk)))
    assert f"Rating {draft.pk} 950 lbf/in approved, in use" in text
    assert "assumed spread" not in text


def test_the_lot_s_page_says_what_more_tests_would_gain(
    auditor_client: Client, unit: Unit, draft: LotRating
) -> None:
    text = words(auditor_client.get(page("lot", unit.lot.pk)))
    assert "2 single pads were tested. With 95 % confidence at least 90 % of the pads have" in text
    assert "Testing 1 more, if they scatter alike, would raise that by 19 lbf/in" in text


def test_with_one_single_pad_it_says_that_the_spread_is_assumed(
    auditor_client: Client, unit: Unit
) -> None:
    text = words(auditor_client.get(page("lot", unit.lot.pk)))
    assert "Fewer than two single pads were tested: how pads differ is assumed" in text


def test_a_lot_without_a_rating_says_how_it_gets_one(auditor_client: Client) -> None:
    text = words(auditor_client.get(page("lot", PadLotFactory().pk)))
    assert "No rating yet" in text
    assert "unrated: adds nothing to any line pull" in text


def test_a_stale_rate_is_flagged_on_the_lot_and_on_every_unit_that_uses_it(
    auditor_client: Client, unit: Unit
) -> None:
    wrong = unit.lot.bench_tests.get()
    bench_test(unit.lot, unit.manager, corrects=wrong, rubber_temperature_f=20.0)
    assert "Stale. The rating is stale: its rubber was tested colder" in words(
        auditor_client.get(page("lot", unit.lot.pk))
    )
    text = words(auditor_client.get(page("unit", unit.housing.pk)))
    assert "stale" in text.lower()
    assert "tested colder than the policy allows" in text


def test_the_policy_says_how_long_a_rate_holds_and_what_a_stale_one_counts(
    manager_client: Client, unit: Unit
) -> None:
    text = words(manager_client.get(reverse("policy")))
    assert "A rate holds for 730 days after its newest test" in text
    assert "Rubber tested between 40 °F and 100 °F" in text
    assert "A stale rate keeps its figure, flagged" in text
    fields = opened(manager_client, reverse("policy"))
    assert (fields["rate_valid_days"], fields["stale_rates"]) == ("730", "keep")
    fields |= {"rate_valid_days": "1", "coldest_f": "50", "warmest_f": "90"}
    fields |= {"stale_rates": "drop", "reason": "insurer asks"}
    text = words(manager_client.post(reverse("policy"), fields, follow=True))
    assert "A rate holds for 1 days" in text
    assert "counts for nothing until tested again" in text
    row = RatingPolicy.objects.get()
    assert (row.rate_valid_days, row.coldest_f, row.warmest_f) == (1, 50.0, 90.0)
    assert head(unit).cause == "policy"
    assert head(unit).standing == "unrated"
    ledger = words(manager_client.get(page("unit", unit.housing.pk)))
    assert "policy days a rate holds" in ledger
    assert "policy on stale rates" in ledger


def test_the_policy_speaks_of_temperature_in_the_reader_s_units(manager_client: Client) -> None:
    manager_client.post(reverse("choose-units"), {"units": "si"})
    fields = opened(manager_client, reverse("policy"))
    assert float(fields["coldest_f"]) == pytest.approx(4.4444)
    manager_client.post(reverse("policy"), fields | {"coldest_f": "10", "reason": "SI"})
    assert RatingPolicy.objects.get().coldest_f == pytest.approx(50.0)


@pytest.mark.parametrize(
    ("changes", "at", "said"),
    [
        ({"warmest_f": "40"}, "warmest_f", "no warmer than the coldest"),
        ({"rate_valid_days": "0"}, "rate_valid_days", "won’t do: give 1 or more"),
        ({"rate_valid_days": "1.5"}, "rate_valid_days", "is not a whole number"),
        ({"coldest_f": "-100"}, "coldest_f", "won’t do: give"),
        ({"stale_rates": "forget"}, "stale_rates", "not one of the available choices"),
    ],
)
def test_a_policy_that_cannot_be_is_answered_beside_its_field(
    manager_client: Client, changes: dict[str, str], at: str, said: str
) -> None:
    fields = opened(manager_client, reverse("policy")) | {"reason": "why"} | changes
    before = everything()
    response = manager_client.post(reverse("policy"), fields)
    assert said in error_at(response, at)
    assert changed(before) == set()
    if at != "stale_rates":
        assert fields_of(response)[at] == changes[at]


def test_a_policy_of_stale_rates_alone_is_a_change(manager_client: Client, unit: Unit) -> None:
    fields = opened(manager_client, reverse("policy")) | {"stale_rates": "drop", "reason": "why"}
    assert manager_client.post(reverse("policy"), fields).status_code == 302
    change_policy(submission_id=uuid.uuid4(), policy=Policy(), reason="back again", by=unit.manager)
    assert RatingPolicy.objects.count() == 2


def test_a_wanted_gain_is_answered_on_the_lots_page(auditor_client: Client) -> None:
    unit = rated_unit()
    for rate_lbf_in in (960.0, 1040.0):
        bench_test(unit.lot, unit.manager, rate_lbf_in=rate_lbf_in, at=MONDAY)
    url = reverse("lot", args=[unit.lot.pk])
    modest = words(auditor_client.get(url, {"gain": "5"}))
    assert "would raise that by 5 lbf/in" in modest
    assert "No number of further tests would raise that by 900 lbf/in" in words(
        auditor_client.get(url, {"gain": "900"})
    )
    assert "won’t do" in words(auditor_client.get(url, {"gain": "-3"}))


def test_whoever_approves_sees_what_the_tests_warn_of(manager_client: Client) -> None:
    off = [CycleReading(10.0 + x, 80.0 * (x + 0.5)) for x in (1.0, 2.0, 3.0, 4.0, 6.0)]
    drafted = drafted_test(PadLotFactory(), ManagerFactory(), readings=off).draft
    assert drafted is not None
    text = words(manager_client.get(reverse("lot-rating", args=[drafted.pk])))
    assert "a tape misread at rest by 0.5 in" in text


def test_a_bent_lot_shows_the_force_at_the_stretches_that_matter(auditor_client: Client) -> None:
    bent = [
        CycleReading(10.0 + x, 60.0 * x * (1.0 + 0.1 * x), branch=branch)
        for branch in Branch
        for x in (2.0, 4.0, 6.0, 8.0)
    ]
    lot = PadLotFactory()
    rating = bench_test(lot, ManagerFactory(), readings=bent).rating
    force_lbf = rating.load_curve.force_lbf(8.0)
    for url in (reverse("lot", args=[lot.pk]), reverse("lot-rating", args=[rating.pk])):
        text = words(auditor_client.get(url))
        assert "Force of one pad" in text
        assert f"{force_lbf:,.0f} lbf at 8 in" in text
        assert "Rate of each pad" not in text.partition("Tested to")[0]
        assert "not linear" in text
    assert f"{force_lbf:,.0f} lbf at 8 in" in words(auditor_client.get(reverse("lots")))


def test_a_lot_within_5_percent_of_full_scale_and_bent_at_short_stretch_is_not_linear(
    auditor_client: Client,
) -> None:
    # At 2 in 10 % softer than its rate, and nowhere 5 % of the largest force off.
    forces = {2.0: 0.9, 4.0: 0.97, 6.0: 1.0, 8.0: 1.0}
    bent = [
        CycleReading(10.0 + x, 80.0 * x * share, branch=branch)
        for branch in Branch
        for x, share in forces.items()
    ]
    lot = PadLotFactory()
    rating = bench_test(lot, ManagerFactory(), readings=bent).rating
    assert rating.linearity_error_pct < 5.0 < rating.bend_pct
    assert "not linear" in words(auditor_client.get(reverse("lot", args=[lot.pk])))
