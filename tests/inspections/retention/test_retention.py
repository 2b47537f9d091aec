"""What may go is listed, never deleted silently, and its leaf stays."""

from __future__ import annotations

import uuid
from datetime import date, timedelta
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.core.files.storage import default_storage
from django.core.management import call_command
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet import clock
from fleet.models import FileLetGo, Leaf, Refusal, RetentionRule
from fleet.roles import who_words
from inspections.models import MachineDocument, RepairPhoto
from inspections.repairs.recording import add_photo, finish_repair
from inspections.retention.kinds import BY_KEY, KINDS, past, rule_of, years_ago
from inspections.retention.recording import let_go, set_rule
from ratings.models import JobAttachment, Proposal
from ratings.payload import written
from ratings.proposals.acts import SecondPersonNeeded
from ratings.proposals.recording import confirm_proposal, propose
from ratings.record.verify import verify_record
from tests.builders import ordered_repair, picture
from tests.conftest import append_only_lifted
from tests.factories import HammerFactory, ManagerFactory
from tests.job_builders import attached, commit, extraction_job, figured_unit
from tests.site.html_form import error_at, fields_of, opened, words

pytestmark = pytest.mark.django_db
OLD = timedelta(days=6 * 366)
FILES = BY_KEY["job-files"]


def attached_long_ago(title: str = "Boring 3") -> JobAttachment:
    job = extraction_job(first_day=(timezone.now() - OLD).date())
    with clock.set_to(timezone.now() - OLD):
        return attached(job, title)


def ruled(
    kind: str = "job-files",
    years: int | None = 5,
    *,
    second: bool = False,
    by: User | None = None,
) -> RetentionRule:
    return set_rule(
        submission_id=uuid.uuid4(),
        kind=BY_KEY[kind],
        years=years,
        needs_second_person=second,
        reason="room on the disk",
        by=by or ManagerFactory(),
    )


def gone(*files: Any, by: User | None = None, reason: str = "the job is long done") -> Any:
    return let_go(
        submission_id=uuid.uuid4(),
        kind="job-files",
        keys=[str(each.pk) for each in files],
        reason=reason,
        by=by or ManagerFactory(),
    )


def where(file: JobAttachment) -> Path:
    return Path(default_storage.path(str(file.file.name)))


def amiss() -> list[str]:
    return [str(fault) for each in verify_record(only=["rows"]) for fault in each.faults]


def listed(kind: str) -> list[str]:
    return [each.held or "may go" for each in past(BY_KEY[kind], rule_of(BY_KEY[kind]))]


def test_everything_is_kept_for_ever_until_a_rule_says_otherwise() -> None:
    attached_long_ago()
    assert [past(kind, rule_of(kind)) for kind in KINDS] == [[]] * len(KINDS)
    ruled(years=5)
    assert listed("job-files") == ["may go"]
    ruled(years=None)
    assert listed("job-files") == []


def test_a_rule_lists_what_is_older_and_nothing_else_and_lets_nothing_go() -> None:
    old, young = attached_long_ago(), attached(extraction_job())
    ruled(years=5)
    assert [each.row for each in past(FILES, rule_of(FILES))] == [old]
    assert where(old).exists()
    assert where(young).exists()


def test_a_rule_is_changed_by_a_later_one_that_says_why() -> None:
    ruled(years=5)
    ruled(years=8)
    assert [each.years for each in RetentionRule.objects.all()] == [8, 5]
    with pytest.raises(ValidationError, match="Nothing differs"):
        ruled(years=8)
    with pytest.raises(IntegrityError), transaction.atomic():
        RetentionRule.objects.update(years=1)


@pytest.mark.parametrize("years", [0, -3, 101])
def test_years_that_cannot_be_are_refused(years: int) -> None:
    with pytest.raises(ValidationError, match="won’t do"):
        ruled(years=years)


@pytest.mark.django_db(transaction=True)
def test_bytes_go_and_row_leaf_and_sum_stay_and_verifying_knows() -> None:
    file = attached_long_ago()
    ruled()
    leaf = Leaf.objects.get(model="ratings.jobattachment", row_key=str(file.pk))
    made = gone(file)
    assert not where(file).exists()
    held = made.files.get()
    assert (held.sha256, held.name) == (file.sha256, file.file.name)
    assert JobAttachment.objects.get() == file
    assert Leaf.objects.get(pk=leaf.pk).document == leaf.document
    assert amiss() == []


@pytest.mark.django_db(transaction=True)
def test_a_file_removed_with_no_record_of_it_is_still_caught() -> None:
    file, other = attached_long_ago(), attached_long_ago("Boring 4")
    ruled()
    gone(file)
    where(other).unlink()
    assert [each for each in amiss() if f"job attachment {other.pk}" in each]
    with append_only_lifted(), connection.cursor() as cursor:
        cursor.execute(
            "INSERT INTO fleet_fileletgo "
            '(letting_go_id, model, row_key, "column", name, sha256, words) '
            'SELECT letting_go_id, model, %s, "column", %s, %s, words FROM fleet_fileletgo',
            [str(other.pk), other.file.name, other.sha256],
        )
    assert [each for each in amiss() if "no leaf of the journal tells of it" in each]


@pytest.mark.django_db(transaction=True)
def test_a_file_let_go_says_when_by_whom_and_why(auditor_client: Client) -> None:
    file = attached_long_ago()
    ruled()
    manager = ManagerFactory(first_name="Runa", last_name="Vik")
    gone(file, by=manager)
    page = auditor_client.get(reverse("job-attachment", args=[file.pk]))
    assert page.status_code == 410
    assert "by Runa Vik: the job is long done" in words(page)
    assert not Refusal.objects.exists()


def test_a_file_that_is_lost_says_whom_to_ask(auditor_client: Client) -> None:
    file = attached_long_ago()
    where(file).unlink()
    page = auditor_client.get(reverse("job-attachment", args=[file.pk]))
    assert page.status_code == 404
    assert "not where it was kept: ask whoever keeps the backup" in words(page)


def test_what_a_commitment_in_force_rests_on_must_stay() -> None:
    made = commit(figured_unit())
    with clock.set_to(timezone.now() - OLD):
        file = attached(made.job)
    ruled()
    assert listed("job-files") == ["a commitment in force rests on it"]
    with pytest.raises(ValidationError, match="must stay: a commitment in force"):
        gone(file)
    assert where(file).exists()


def test_files_of_a_job_stay_until_it_is_over() -> None:
    with clock.set_to(timezone.now() - OLD):
        attached(extraction_job())
    ruled()
    assert listed("job-files") == ["its job is not over"]


def test_photos_of_a_repair_stay_until_it_is_done(
    manager_client: Client, django_capture_on_commit_callbacks: Any
) -> None:
    manager, hammer = ManagerFactory(), HammerFactory()
    order = ordered_repair(hammer, manager)
    with clock.set_to(timezone.now() - OLD):
        add_photo(
            photo_id=uuid.uuid4(), order=order, when="before", sent=picture().read(), by=manager
        )
    ruled("repair-photos")
    assert listed("repair-photos") == ["the repair is not done"]
    finish_repair(
        submission_id=uuid.uuid4(),
        order=order,
        ended_at=timezone.now(),
        text="Welded.",
        done_by="Odo",
        closes_finding=False,
        by=manager,
    )
    assert listed("repair-photos") == ["may go"]
    photo = RepairPhoto.objects.get()
    with django_capture_on_commit_callbacks(execute=True):
        let_go(
            submission_id=uuid.uuid4(),
            kind="repair-photos",
            keys=[str(photo.pk)],
            reason="seen",
            by=manager,
        )
    assert listed("repair-photos") == []
    assert not default_storage.exists(str(photo.file.name))
    assert amiss() == []
    page = manager_client.get(reverse("repair-order", args=[order.pk]))
    assert f"by {who_words(manager)}: seen" in words(page)
    assert "<img" not in page.content.decode()


@pytest.mark.parametrize(
    ("keys", "told"),
    [([], "None is ticked"), (["0"], "load the page again"), (["x"], "load it again")],
)
def test_what_cannot_be_let_go_is_answered_in_words(keys: list[str], told: str) -> None:
    attached_long_ago()
    ruled()
    with pytest.raises(ValidationError, match=told):
        let_go(
            submission_id=uuid.uuid4(), kind="job-files", keys=keys, reason="r", by=ManagerFactory()
        )
    assert not FileLetGo.objects.exists()


def test_none_goes_that_is_young_or_for_no_reason() -> None:
    young = attached(extraction_job())
    ruled()
    with pytest.raises(ValidationError, match="not past its time"):
        gone(young)
    with pytest.raises(ValidationError, match="say why"):
        gone(attached_long_ago(), reason=" ")


def test_letting_go_never_hides_bytes_that_were_altered() -> None:
    file = attached_long_ago()
    ruled()
    where(file).write_bytes(b"altered")
    with pytest.raises(ValidationError, match="not those on record"):
        gone(file)
    assert where(file).exists()


@pytest.mark.django_db(transaction=True)
def test_by_the_rule_a_second_manager_confirms_what_goes() -> None:
    file = attached_long_ago()
    ruled(second=True)
    client, manager = Client(), ManagerFactory()
    client.force_login(manager)
    url = reverse("retention-kind", args=["job-files"])
    fields = opened(client, url) | {"keys": str(file.pk), "reason": "long done"}
    offer = client.post(url, fields)
    assert "propose" in words(offer).lower()
    assert where(file).exists()
    with pytest.raises(SecondPersonNeeded):
        gone(file, by=manager)
    client.post(reverse("new-proposal"), fields_of(offer) | {"why": "it is old"})
    proposal = Proposal.objects.get()
    assert where(file).exists()
    second, page = ManagerFactory(), Client()
    page.force_login(second)
    shown = opened(page, reverse("proposal", args=[proposal.pk]))
    confirmed = page.post(reverse("confirm-proposal", args=[proposal.pk]), shown, follow=True)
    assert "Confirmed, and recorded as it was proposed" in words(confirmed)
    assert not where(file).exists()
    assert FileLetGo.objects.get().letting_go.recorded_by == manager
    listed = words(client.get(url))
    assert f"{who_words(manager)}, confirmed by {who_words(second)}" in listed


def test_who_waived_the_second_person_lets_nothing_go_alone() -> None:
    file, manager = attached_long_ago(), ManagerFactory()
    ruled(second=False, by=manager)
    with pytest.raises(SecondPersonNeeded):
        gone(file, by=manager)
    assert not FileLetGo.objects.exists()
    gone(file, by=ManagerFactory())
    assert FileLetGo.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_who_proposed_to_let_go_never_confirms_it() -> None:
    file, manager = attached_long_ago(), ManagerFactory()
    ruled(second=True)
    with pytest.raises(SecondPersonNeeded) as needed:
        gone(file, by=manager)
    proposal = propose(
        submission_id=uuid.uuid4(),
        what=needed.value.act.what,
        payload=written(needed.value.arguments),
        why="it is old",
        by=manager,
    )
    with pytest.raises(ValidationError, match="You proposed this"):
        confirm_proposal(submission_id=uuid.uuid4(), proposal=proposal, by=manager)
    assert where(file).exists()


@pytest.mark.django_db(transaction=True)
def test_a_manager_lets_go_on_the_page_and_an_auditor_only_reads(
    manager_client: Client, auditor_client: Client
) -> None:
    file = attached_long_ago()
    ruled()
    url = reverse("retention-kind", args=["job-files"])
    assert "Let go of what is ticked" not in words(auditor_client.get(url))
    assert auditor_client.post(url, {"keys": str(file.pk), "reason": "x"}).status_code == 403
    bare = manager_client.post(url, opened(manager_client, url) | {"reason": "long done"})
    assert "None is ticked" in words(bare)
    fields = opened(manager_client, url) | {"keys": str(file.pk), "reason": "long done"}
    manager_client.post(url, fields)
    assert not where(file).exists()
    manager_client.post(url, fields)
    assert FileLetGo.objects.count() == 1
    assert "long done" in words(auditor_client.get(url))


def test_a_rule_is_changed_on_its_page(manager_client: Client) -> None:
    url = reverse("retention-rule", args=["job-files"])
    refused = manager_client.post(url, opened(manager_client, url) | {"years": "ten"})
    assert error_at(refused, "years")
    fields = opened(manager_client, url) | {"years": "10", "reason": "as insured"}
    manager_client.post(url, fields)
    assert RetentionRule.objects.get().years == 10
    assert "10 years" in words(manager_client.get(reverse("retention")))


def test_the_command_lists_and_lets_nothing_go() -> None:
    file = attached_long_ago()
    ruled()
    told = StringIO()
    call_command("retention", stdout=told)
    assert f"{file.title}, of job {file.job}" in told.getvalue()
    assert "may go" in told.getvalue()
    assert "1 past their time." in told.getvalue()
    assert where(file).exists()


@pytest.mark.django_db(transaction=True)
def test_the_command_names_a_file_let_go_that_a_backup_brought_back() -> None:
    file = attached_long_ago()
    ruled()
    bytes_of = where(file).read_bytes()
    gone(file)
    where(file).write_bytes(bytes_of)
    told = StringIO()
    call_command("retention", stdout=told)
    assert "Let go, and there all the same" in told.getvalue()


def test_a_year_ago_on_a_29th_of_february_is_none_too_early(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    day = date(2028, 2, 29)
    monkeypatch.setattr(timezone, "localdate", lambda: day)
    assert timezone.localtime(years_ago(1)).date().isoformat() == "2027-02-28"


def test_each_kind_is_a_column_of_files_and_its_holds_can_be_asked() -> None:
    for kind in KINDS:
        assert kind.model._meta.get_field(kind.column)
        assert kind.held([]) == {}
        assert list(kind.kept().select_related(*kind.related)) == []
    assert MachineDocument._meta.label_lower in {kind.label for kind in KINDS}
