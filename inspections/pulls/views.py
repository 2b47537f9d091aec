from __future__ import annotations

import uuid
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.context import system_of
from fleet.fields import open_to_correction, whole_number
from fleet.kept_files import open_kept
from fleet.picture import NoPicture
from fleet.roles import planner_required, signed_in
from inspections.count.findings import PhotoTaken
from inspections.models import PullPhoto, PullPhotoFile
from inspections.photos.recording import keep_photo
from inspections.pulls.forms import PullForm
from inspections.pulls.recording import record_pull_with_photos
from ratings.mechanics.extraction.job import PileOfJob
from ratings.models import Commitment, PullRecord
from ratings.models.choices import PILE_KINDS
from ratings.proposals.acts import SecondPersonNeeded
from ratings.proposals.views import may_propose
from ratings.pulls.sheet_answer import AnswerInputs, answer_of_sheet, hook_weights, inputs_of


@planner_required
@may_propose
def new_pull(request: HttpRequest, commitment_id: int) -> HttpResponse:
    """Enter what happened when a pile was pulled; the form works without scripts."""
    made = get_object_or_404(
        Commitment.objects.select_related("answer", "job", "housing", "hammer"), pk=commitment_id
    )
    asked, corrects = inputs_of(answer_of_sheet(made)), _corrected(request, made)
    is_sent = request.method == "POST"
    form = PullForm(
        request.POST if is_sent else None,
        request.FILES if is_sent else None,
        groups=groups_of(asked),
        is_correction=corrects is not None,
        initial=_initial(corrects, asked),
        system=system_of(request),
    )
    if is_sent and form.is_valid():
        try:
            pull = _save(request, made, form, corrects)
        except NoPicture as refusal:
            form.add_error("photo", str(refusal))
        except SecondPersonNeeded:
            # Offered without its photo the correction would lose it unsaid.
            if not form.cleaned_data["photo"]:
                raise
            form.add_error(
                "photo",
                "The policy asks for a second person for a correction of a pull, and a photo "
                "can’t be kept with a proposal: leave it out.",
            )
        except ValidationError as refusal:
            form.take(refusal)
        else:
            messages.success(request, f"The pull of pile {pull.pile_mark} is on record.")
            return redirect("pull-record", pull.pk)
    return render(
        request,
        "pulls_form/pull_form.html",
        {
            "section": "jobs",
            "made": made,
            "form": form,
            "corrects": corrects,
            "piles": [
                {
                    "pile": each,
                    "kind": PILE_KINDS[each.job.pile.kind.value],
                    "weights_lb": hook_weights(asked, each.job).all_lb,
                }
                for each in asked.piles
            ],
            "usable_travel_in": asked.unit.usable_travel_in,
        },
    )


def groups_of(asked: AnswerInputs) -> list[tuple[int, str]]:
    """Return the groups of piles of an answer, as a form offers them."""
    return [(each.number, _group_words(each)) for each in asked.piles]


def _group_words(pile: PileOfJob) -> str:
    kind = PILE_KINDS[pile.job.pile.kind.value]
    return f"{pile.label or f'group {pile.number}'}, {pile.count} of {kind}"


@transaction.atomic
def _save(
    request: HttpRequest, made: Commitment, form: PullForm, corrects: PullRecord | None
) -> PullRecord:
    given = form.cleaned_data
    photo = given["photo"]
    named = [PhotoTaken(uuid.uuid4(), "", None)] if photo else []
    recorded = record_pull_with_photos(
        photos=named,
        submission_id=given["submission_id"],
        commitment=made,
        done=form.done(),
        by=signed_in(request),
        are_doubts_known=given["are_doubts_known"],
        corrects=corrects,
        correction_reason=given.get("correction_reason", ""),
    )
    if photo and not recorded.is_copy:
        keep_photo(PullPhoto.objects.get(pk=named[0].id), photo.read(), signed_in(request))
    return recorded.pull


def _corrected(request: HttpRequest, made: Commitment) -> PullRecord | None:
    key = whole_number(request.GET.get("corrects", ""))
    if key is None:
        return None
    is_open = open_to_correction(request.POST.get("submission_id", ""))
    return get_object_or_404(PullRecord, is_open, pk=key, commitment=made)


def _initial(corrects: PullRecord | None, asked: AnswerInputs) -> dict[str, Any]:
    if corrects is None:
        is_vibrating = asked.piles[0].job.is_vibrating
        method = PullRecord.Method.VIBRATED if is_vibrating else PullRecord.Method.STILL
        return {"method": method.value}
    copied = set(PullForm.field_order) - {"photo", "correction_reason"}
    return {name: getattr(corrects, name) for name in copied}


def photo(request: HttpRequest, pull_photo_id: uuid.UUID) -> FileResponse:
    """Send a photo of a pull; there is no other way to it."""
    held = get_object_or_404(PullPhotoFile, photo=pull_photo_id)
    return FileResponse(open_kept(held.file), content_type="image/jpeg")
