"""Files kept of a machine: its plate, its book, calibrations, photos; kept, shown, withdrawn."""

from __future__ import annotations

import uuid
from typing import TYPE_CHECKING, Any

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction

from fleet.models.machine import column_of
from fleet.outages import lock_machine
from fleet.people.yards import in_yard_of
from fleet.tables import Column, MomentColumn, PersonColumn, RecordsTable, TemplateColumn
from inspections.models import DocumentKind, DocumentWithdrawal, MachineDocument
from ratings.jobs.attachments import kept_columns

if TYPE_CHECKING:
    from fleet.models.any_machine import AnyMachine

MOST_OF_A_MACHINE = 200


@in_yard_of("machine")
@transaction.atomic
def keep_document(
    *, submission_id: uuid.UUID, machine: AnyMachine, kind: str, title: str, sent: bytes, by: User
) -> MachineDocument:
    """Keep a file of a machine. A second copy of a submission changes nothing.

    Raises ValidationError for a file or a title that won't do, and where the machine has its fill.
    """
    machine = lock_machine(machine)
    known = MachineDocument.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return known
    if not title.strip():
        raise ValidationError({"title": "This is blank: say what it is."})
    if MachineDocument.objects.standing().of(machine).count() >= MOST_OF_A_MACHINE:
        raise ValidationError(
            f"This machine has {MOST_OF_A_MACHINE} files already: withdraw one that counts no more."
        )
    return MachineDocument.objects.create(
        submission_id=submission_id,
        **column_of(machine),
        kind=DocumentKind(kind),
        title=title.strip(),
        **kept_columns(sent),
        recorded_by=by,
    )


@in_yard_of("document")
@transaction.atomic
def withdraw_document(
    *, submission_id: uuid.UUID, document: MachineDocument, reason: str, by: User
) -> DocumentWithdrawal:
    """Say that a file counts no more; one withdrawn already stays as it was, and so does the file.

    Raises ValidationError where no reason is given.
    """
    if not reason.strip():
        raise ValidationError({"reason": "This is blank: say why it counts no more."})
    lock_machine(document.machine)
    known = DocumentWithdrawal.objects.filter(document=document).first()
    if known is not None:
        return known
    return DocumentWithdrawal.objects.create(
        submission_id=submission_id, document=document, reason=reason.strip(), recorded_by=by
    )


class DocumentTable(RecordsTable):
    """A row for each file of a machine, withdrawn ones too."""

    caption = "Documents"
    anchor = "documents"
    empty_words = "None yet: keep its plate, its book and its calibrations here."
    dated_by = ("recorded_at",)

    title = TemplateColumn("machine/document_cell.html", "File", order_by="title")
    kind = Column("What it is")
    recorded_at = MomentColumn("Kept")
    by = PersonColumn("By")
    state = TemplateColumn("machine/document_state.html", "Counts", orderable=False)

    def render_kind(self, record: MachineDocument) -> str:
        return record.get_kind_display()

    def cell_context(self, record: Any) -> dict[str, Any]:
        return super().cell_context(record) | {"may_record": self.may_record}
