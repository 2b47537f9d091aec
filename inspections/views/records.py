from __future__ import annotations

from collections.abc import Iterable

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from inspections.models import Inspection, ItemAnswer, PadReplacement


def inspection(request: HttpRequest, inspection_id: int) -> HttpResponse:
    """Show an inspection as it was signed."""
    found = get_object_or_404(
        Inspection.objects.select_related(
            "housing",
            "own_kind",
            "recorded_by",
            "hour_reading__hammer",
            "corrects",
            "corrects_replacement",
        ),
        pk=inspection_id,
    )
    pads = list(found.pads.select_related("lot"))
    sides = {side: [pad for pad in pads if pad.side == side] for side in ("A", "B")}
    return render(
        request,
        "inspections/inspection.html",
        {
            "section": "board",
            "inspection": found,
            "sides": sides,
            "answers": _by_part(found.answers.all()),
            "findings": found.findings.select_related(
                "housing", "inspection__recorded_by", "closing__recorded_by"
            ).prefetch_related("photos__held"),
            "photos": found.photos.filter(finding__isnull=True).select_related("held"),
            "today": timezone.localdate(),
        },
    )


def _by_part(answers: Iterable[ItemAnswer]) -> list[ItemAnswer]:
    """Answers of one part together, parts in the order the list first names them."""
    listed = list(answers)
    first = {answer.part: place for place, answer in reversed(list(enumerate(listed)))}
    return sorted(listed, key=lambda answer: first[answer.part])


def replacement(request: HttpRequest, replacement_id: int) -> HttpResponse:
    """Show a pad replacement as it was signed."""
    found = get_object_or_404(
        PadReplacement.objects.select_related("housing", "recorded_by"), pk=replacement_id
    )
    return render(
        request,
        "inspections/replacement.html",
        {
            "section": "board",
            "replacement": found,
            "pads": found.pads.select_related("lot", "removed_lot"),
        },
    )
