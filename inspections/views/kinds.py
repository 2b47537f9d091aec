from __future__ import annotations

import uuid

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from fleet import clock
from fleet.roles import manager_required, signed_in
from inspections.forms.kind import KindForm
from inspections.models import OwnKind
from inspections.recording.rules import add_kind, retire_kind


@manager_required
def kinds(request: HttpRequest) -> HttpResponse:
    """Show the kinds of inspection the yard added; add another."""
    form = KindForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            kind = add_kind(by=signed_in(request), **form.cleaned_data)
        except ValidationError as refusal:
            form.add_error(None, refusal)
        else:
            words = f"“{kind}” is added. Say here what is looked at, and under Schedule how often."
            messages.success(request, words)
            return redirect("checklist", kind.name)
    return render(
        request,
        "inspections/kinds.html",
        {
            "section": "due",
            "form": form,
            "kinds": OwnKind.objects.select_related("recorded_by", "retirement__recorded_by"),
        },
    )


@manager_required
@require_POST
def retire(request: HttpRequest, kind_id: int) -> HttpResponse:
    """Retire a kind: no phone offers it any more, and nothing of it is due."""
    kind = get_object_or_404(OwnKind, pk=kind_id)
    retire_kind(submission_id=uuid.uuid4(), kind=kind, at=clock.now(), by=signed_in(request))
    messages.success(request, f"“{kind}” is retired. What is on record of it stays.")
    return redirect("kinds")
