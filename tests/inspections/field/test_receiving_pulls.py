from __future__ import annotations

import json
import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inspections.field.pack import pack_json
from inspections.field.pulls import commitments_along
from inspections.models import PullPhoto
from ratings.models import Commitment, CommitmentCondition, PullRecord
from tests.all_tables import changed, everything
from tests.builders import picture
from tests.factories import AuditorFactory, DispatcherFactory, ManagerFactory
from tests.inspections.field.sent import signed_in
from tests.job_builders import commit, extraction_job, figured_unit

pytestmark = pytest.mark.django_db


@pytest.fixture
def made() -> Commitment:
    return commit(figured_unit(), extraction_job(first_day=timezone.localdate()))


def test_the_phone_knows_of_a_commitment_that_waits_to_be_confirmed(made: Commitment) -> None:
    by = DispatcherFactory()
    CommitmentCondition.objects.create(
        submission_id=uuid.uuid4(),
        commitment=made,
        kind="other",
        words="Permit to come.",
        from_day=made.first_day,
        to_day=made.first_day,
        recorded_by=by,
    )
    other = commit(figured_unit(), extraction_job(first_day=timezone.localdate()))
    along = {each["id"]: each["is_not_yet"] for each in commitments_along(())}
    assert along == {made.pk: True, other.pk: False}


def pull_sent(made: Commitment, by: User, **changes: Any) -> dict[str, Any]:
    """A pull that came, as a phone sends it."""
    now = timezone.now().isoformat()
    plain: dict[str, Any] = {
        "id": str(uuid.uuid4()),
        "commitment": made.pk,
        "signed_by": by.pk,
        "pulled_at": now,
        "sent_at": now,
        "pulled_by_hand": False,
        "pile_group": 1,
        "pile_mark": "7",
        "outcome": "came",
        "method": "vibrated",
        "load_source": "load indicator",
        "hook_load_lbf": 45_000,
        "tare_lbf": None,
        "stretch_in": 2.5,
        "minutes": 9,
        "toe_depth_ft": None,
        "in_the_way": "",
        "watched_by": "Ines Halloran",
        "are_doubts_known": False,
        "photos": [],
    }
    return plain | changes


def send(client: Client, sent: Any) -> Any:
    return client.post(reverse("field-pulls"), json.dumps(sent), content_type="application/json")


def test_a_pull_sent_is_on_record_once(made: Commitment) -> None:
    by = DispatcherFactory()
    sent = pull_sent(made, by)
    first, second = send(signed_in(by), sent), send(signed_in(by), sent)
    assert (first.status_code, second.status_code) == (201, 200)
    pull = PullRecord.objects.get()
    assert (pull.pile_mark, pull.stretch_in, pull.minutes) == ("7", 2.5, 9.0)
    assert pull.watched_by == "Ines Halloran"
    assert first.json()["url"] == reverse("pull-record", args=[pull.pk])
    assert "was calculated" in first.json()["words"]


def test_a_pull_made_hours_ago_by_a_phone_whose_clock_is_wrong_is_put_right(
    made: Commitment,
) -> None:
    by, off = DispatcherFactory(), timedelta(hours=3)
    now = timezone.now()
    sent = pull_sent(made, by, pulled_at=(now + off).isoformat(), sent_at=(now + off).isoformat())
    assert send(signed_in(by), sent).status_code == 201
    pull = PullRecord.objects.get()
    assert abs(pull.pulled_at - now) < timedelta(minutes=1)
    assert "ahead" in pull.clock_words


def test_a_doubt_comes_back_to_the_phone_at_its_field(made: Commitment) -> None:
    by = DispatcherFactory()
    sent = pull_sent(made, by, hook_load_lbf=130_000)
    answer = send(signed_in(by), sent)
    assert answer.status_code == 422
    assert answer.json()["errors"]["are_doubts_known"]
    assert "above the crane" in " ".join(answer.json()["errors"]["hook_load_lbf"])
    assert send(signed_in(by), sent | {"are_doubts_known": True}).status_code == 201


@pytest.mark.parametrize(
    ("bad", "field"),
    [
        ({"pile_mark": ""}, "pile_mark"),
        ({"pile_mark": ["7"]}, "pile_mark"),
        ({"pile_group": -1}, "pile_group"),
        ({"outcome": "perhaps"}, "outcome"),
        ({"method": None}, "method"),
        ({"load_source": "guess"}, "load_source"),
        ({"hook_load_lbf": "heavy"}, "hook_load_lbf"),
        ({"hook_load_lbf": -1}, "hook_load_lbf"),
        ({"hook_load_lbf": None}, "hook_load_lbf"),
        ({"tare_lbf": 1e12}, "tare_lbf"),
        ({"stretch_in": 99}, "stretch_in"),
        ({"minutes": 0}, "minutes"),
        ({"toe_depth_ft": 400}, "toe_depth_ft"),
        ({"in_the_way": "x" * 501}, "in_the_way"),
        ({"watched_by": "x" * 81}, "watched_by"),
        ({"pulled_at": "yesterday"}, "pulled_at"),
        ({"id": "7"}, "id"),
        ({"photos": "many"}, "photos"),
        ({"commitment": 999_999}, "commitment"),
    ],
)
def test_bad_input_is_named_by_field_and_nothing_is_kept(
    made: Commitment, bad: dict[str, Any], field: str
) -> None:
    by = DispatcherFactory()
    before = everything()
    answer = send(signed_in(by), pull_sent(made, by) | bad)
    assert answer.status_code == 422
    assert answer.json()["errors"][field]
    assert changed(before) == set()


@pytest.mark.parametrize("sent", [None, [], "a pull", 7])
def test_what_is_no_pull_is_refused(made: Commitment, sent: Any) -> None:
    assert send(signed_in(DispatcherFactory()), sent).status_code == 422


def test_who_may_send(made: Commitment) -> None:
    auditor, manager = AuditorFactory(), ManagerFactory()
    assert send(signed_in(auditor), pull_sent(made, auditor)).status_code == 403
    assert send(signed_in(manager), pull_sent(made, auditor)).status_code == 403
    assert send(Client(), pull_sent(made, manager)).status_code == 401
    assert not PullRecord.objects.exists()


def test_its_photo_follows_in_pieces_from_a_dispatcher_too(made: Commitment) -> None:
    by, photo = DispatcherFactory(), uuid.uuid4()
    client, file = signed_in(by), picture().read()
    send(client, pull_sent(made, by, photos=[{"id": str(photo), "caption": "The toe"}]))
    answer = client.put(
        reverse("field-photo", args=[photo]),
        file,
        content_type="application/octet-stream",
        headers={"Upload-Offset": "0", "Upload-Length": str(len(file))},
    )
    assert (answer.status_code, answer.json()["done"]) == (201, True)
    assert PullPhoto.objects.get().held.width > 0
    shown = client.get(reverse("pull-photo", args=[photo]))
    assert shown["Content-Type"] == "image/jpeg"


def test_the_phone_takes_along_what_it_needs_to_check_a_pull(made: Commitment) -> None:
    row = json.loads(pack_json(DispatcherFactory(), "us", {}))["commitments"][0]
    assert (row["id"], row["site"], row["housing"]) == (made.pk, "Ferry slip", made.housing_id)
    pile = row["piles"][0]
    assert (pile["embedment_ft"], pile["capacity_lbf"]) == (40.0, 120_000.0)
    assert pile["unit_lb"] == pytest.approx(16_800.0)


def test_a_phone_that_signed_before_who_watched_was_asked_is_taken(made: Commitment) -> None:
    by = DispatcherFactory()
    sent = pull_sent(made, by)
    del sent["watched_by"]
    assert send(signed_in(by), sent).status_code == 201
    assert PullRecord.objects.get().watched_by == ""
