"""Which record a count puts right, by the address its page was opened at."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse

from fleet.fields import open_to_correction, whole_number
from fleet.models import SuppressorHousing
from fleet.roles import manager_required
from inspections.models import Inspection, PadReplacement
from ratings.ledger.posting import Cause, entries_caused_by
from ratings.models import LedgerEntry, Listing


@manager_required
def correct_entry(request: HttpRequest, entry_id: int) -> HttpResponse:
    """Send the person to the form that puts right the record behind a ledger entry."""
    entry = get_object_or_404(LedgerEntry, pk=entry_id)
    record = entry.cause_record
    if entry.cause in (Cause.PAD_COUNT, Cause.PAD_REPLACEMENT):
        return redirect(
            reverse("count-pads", args=[entry.housing_id]) + f"?corrects={entry.sequence}"
        )
    if entry.cause == Cause.LISTING:
        listing = get_object_or_404(Listing, pk=record)
        return redirect(reverse("new-listing", args=[listing.hammer_id]) + f"?corrects={record}")
    if entry.cause == Cause.GUIDE:
        return redirect(reverse("guide", args=[entry.housing_id]) + f"?corrects={record}")
    raise Http404("What caused this entry is put right on its own page.")


@dataclass(frozen=True)
class Corrected:
    """The record that a count corrects, and the entry it caused, if it changed a figure."""

    entry: LedgerEntry | None
    inspection: Inspection | None
    replacement: PadReplacement | None

    @property
    def words(self) -> str:
        if self.entry is not None:
            return f"entry {self.entry.sequence}"
        return f"inspection {self.inspection.pk if self.inspection else ''}"

    @property
    def note(self) -> str:
        """What was noted then: it stands unless it is changed."""
        record = self.inspection or self.replacement
        return "" if record is None else record.note

    @property
    def at(self) -> datetime:
        if self.inspection is not None:
            return self.inspection.seen_at
        assert self.replacement is not None
        return self.replacement.fitted_at


def corrected_record(request: HttpRequest, housing: SuppressorHousing) -> Corrected | None:
    """Return the record a request asks to correct, None where it asks for none. Raises Http404."""
    is_open = open_to_correction(request.POST.get("submission_id", ""))
    inspection_id = whole_number(request.GET.get("inspection", ""))
    if inspection_id is not None:
        inspection = get_object_or_404(Inspection, is_open, pk=inspection_id, housing=housing)
        caused = entries_caused_by(Cause.PAD_COUNT, inspection.pk, [housing.pk])
        return Corrected(caused.get(housing.pk), inspection, None)
    sequence = whole_number(request.GET.get("corrects", ""))
    if sequence is None:
        return None
    entry = get_object_or_404(LedgerEntry, housing=housing, sequence=sequence)
    record = entry.cause_record
    if entry.cause == Cause.PAD_COUNT:
        return Corrected(entry, get_object_or_404(Inspection, is_open, pk=record), None)
    if entry.cause == Cause.PAD_REPLACEMENT:
        return Corrected(entry, None, get_object_or_404(PadReplacement, is_open, pk=record))
    raise Http404("This entry is not put right by a count.")
