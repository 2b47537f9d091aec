"""Files beside a job: borings, pages of the crane's chart, photos; kept, shown, withdrawn."""

from __future__ import annotations

import uuid
from typing import Any, ClassVar

from django import forms
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile
from django.db import transaction
from django.db.models import TextChoices
from django.utils.functional import cached_property

from fleet.fields import FactForm
from fleet.people.yards import in_yard_of, lock_and_look_again, stands_elsewhere
from fleet.picture import MOST_BYTES, BadUpload
from fleet.tables import Column, MomentColumn, PersonColumn, RecordsTable, TemplateColumn
from fleet.uploads import JPEG, PDF, Form, Upload, let_in
from ratings.models import AttachmentKind, AttachmentWithdrawal, ExtractionJob, JobAttachment

MOST_OF_A_JOB = 100
SUFFIXES = {PDF: "pdf", JPEG: "jpg"}
FORMATS = ("JPEG", "PNG")
TOO_LARGE = f"This file is larger than {MOST_BYTES // 1024**2} MB: send a smaller one."


def read_file(sent: bytes) -> Upload:
    """Return a sent file as it is kept: a PDF as it came, a picture made anew without its tags.

    What it is says its content, never its name. Raises ValidationError for anything else.
    """
    try:
        return let_in(sent, Form.PDF, Form.PICTURE, pictures=FORMATS)
    except BadUpload as refusal:
        said = str(refusal)
        if "is no picture" in said:
            said = "This file is none of these: send a PDF, a JPEG or a PNG."
        raise ValidationError(said) from None


@in_yard_of("job")
@transaction.atomic
def attach(
    *, submission_id: uuid.UUID, job: ExtractionJob, kind: str, title: str, sent: bytes, by: User
) -> JobAttachment:
    """Keep a file beside a job. A second copy of a submission changes nothing.

    Raises ValidationError for a file or a title that won't do, and where the job has its fill.
    """
    lock_and_look_again()
    locked = ExtractionJob.objects.select_for_update().get(pk=job.pk)
    known = JobAttachment.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return known
    if not title.strip():
        raise ValidationError({"title": "This is blank: say what it is."})
    if locked.attachments.standing().count() >= MOST_OF_A_JOB:
        raise ValidationError(
            f"This job has {MOST_OF_A_JOB} files already: withdraw one that counts no more."
        )
    return JobAttachment.objects.create(
        submission_id=submission_id,
        job=locked,
        kind=AttachmentKind(kind),
        title=title.strip(),
        **kept_columns(sent),
        recorded_by=by,
    )


def kept_columns(sent: bytes) -> dict[str, Any]:
    """Return what a record of a kept file holds of it. Raises ValidationError at "sent"."""
    try:
        sheet = read_file(sent)
    except ValidationError as refusal:
        raise ValidationError({"sent": refusal.messages}) from None
    return {
        "file": ContentFile(sheet.content, name=f"{uuid.uuid4()}.{SUFFIXES[sheet.content_type]}"),
        "content_type": sheet.content_type,
        "size_bytes": len(sheet.content),
        "sha256": sheet.sha256,
    }


@in_yard_of("attachment")
@transaction.atomic
def withdraw(
    *, submission_id: uuid.UUID, attachment: JobAttachment, reason: str, by: User
) -> AttachmentWithdrawal:
    """Say that a file counts no more; one withdrawn already stays as it was, and so does the file.

    Raises ValidationError where no reason is given.
    """
    if not reason.strip():
        raise ValidationError({"reason": "This is blank: say why it counts no more."})
    lock_and_look_again()
    ExtractionJob.objects.select_for_update().get(pk=attachment.job_id)
    known = AttachmentWithdrawal.objects.filter(attachment=attachment).first()
    if known is not None:
        return known
    return AttachmentWithdrawal.objects.create(
        submission_id=submission_id, attachment=attachment, reason=reason.strip(), recorded_by=by
    )


class SentFileField(forms.FileField):
    """A file, refused by its size before any of it is read."""

    def clean(self, data: Any, initial: Any = None) -> Any:
        file = super().clean(data, initial)
        if file is not None and file.size > MOST_BYTES:
            raise forms.ValidationError(TOO_LARGE)
        return file


class KeptFileForm(FactForm):
    """A file to be kept beside something: its title, and the file itself."""

    sent = SentFileField(
        label="The file",
        widget=forms.FileInput(attrs={"accept": "application/pdf,image/jpeg,image/png"}),
        help_text=f"PDF, JPEG or PNG, {MOST_BYTES // 1024**2} MB at the most. A picture is made "
        "smaller, and what it tells of where it was taken is left out.",
        error_messages={
            "required": "This is blank: choose a file.",
            "empty": "This file is empty: choose another.",
        },
    )

    field_order = ("kind", "title", "sent")


def kind_field(kinds: type[TextChoices]) -> forms.ChoiceField:
    """Return the field that asks what a kept file is."""
    return forms.ChoiceField(
        label="What it is",
        choices=[("", "choose"), *kinds.choices],
        error_messages={"required": "This is blank: choose what it is."},
    )


class AttachmentForm(KeptFileForm):
    """A file to be kept beside a job."""

    kind = kind_field(AttachmentKind)

    class Meta:
        model = JobAttachment
        fields = ("kind", "title")
        error_messages: ClassVar = {"title": {"required": "This is blank: say what it is."}}


class WithdrawalForm(FactForm):
    """Why a file counts no more."""

    class Meta:
        model = AttachmentWithdrawal
        fields = ("reason",)


class AttachmentTable(RecordsTable):
    """A row for each file beside a job, withdrawn ones too."""

    caption = "Files"
    empty_words = "None yet."
    dated_by = ("recorded_at",)

    title = TemplateColumn("jobs/attachment_cell.html", "File", order_by="title")
    kind = Column("What it is")
    recorded_at = MomentColumn("Attached")
    by = PersonColumn("By")
    state = TemplateColumn("jobs/attachment_state.html", "Counts", orderable=False)

    def render_kind(self, record: JobAttachment) -> str:
        return record.get_kind_display()

    def cell_context(self, record: Any) -> dict[str, Any]:
        return super().cell_context(record) | {"may_plan": self._may_withdraw}

    @cached_property
    def _may_withdraw(self) -> bool:
        """Whether its reader may act on the one job whose files these are."""
        jobs = {each.record.job_id: each.record.job for each in self.rows}
        return self.may_plan and not any(
            stands_elsewhere(self.request.user, job) for job in jobs.values()
        )
