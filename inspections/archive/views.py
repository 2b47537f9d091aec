from __future__ import annotations

from django.http import FileResponse, HttpRequest
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, render

from fleet.context import system_of
from fleet.models import SuppressorHousing
from fleet.roles import signed_in
from inspections.archive.forms import CHAIN, ArchiveForm
from inspections.archive.making import Options, archive_name, make_archive
from ratings.record.packing import TooMuch


def unit_archive(request: HttpRequest, housing_id: int) -> HttpResponseBase:
    """Say what an archive of a unit holds, and give it out."""
    housing = get_object_or_404(SuppressorHousing.objects.select_related("yard"), pk=housing_id)
    form = ArchiveForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        options = Options(
            is_chain=form.cleaned_data["what"] == CHAIN,
            with_files=form.cleaned_data["photos"],
            with_pull_sheet=form.cleaned_data["pull_sheet"],
            system=system_of(request),
        )
        try:
            seal, opened = make_archive(housing, maker=signed_in(request), options=options)
        except TooMuch as trouble:
            form.add_error("photos", str(trouble))
        else:
            return FileResponse(
                opened, as_attachment=True, filename=archive_name(housing, seal, options)
            )
    context = {"section": "board", "housing": housing, "form": form}
    return render(request, "archive/archive.html", context)
