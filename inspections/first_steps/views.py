from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from fleet.models import ReaderPreference
from fleet.roles import signed_in
from inspections.first_steps.steps import first_steps


def steps(request: HttpRequest) -> HttpResponse:
    """Show the first steps of a new yard, done and to do."""
    found = first_steps(signed_in(request))
    return render(request, "first_steps/page.html", {"section": "set-up", "first": found})


@require_POST
def show_or_hide(request: HttpRequest) -> HttpResponse:
    """Leave the first steps out of the board for whoever asks, or show them there again."""
    hides = request.POST.get("hide") == "yes"
    ReaderPreference.objects.update_or_create(
        user=signed_in(request), defaults={"hides_first_steps": hides}
    )
    if hides:
        messages.info(request, "The first steps are left out here. They stay under Set-up.")
        return redirect("board")
    return redirect("first-steps")
