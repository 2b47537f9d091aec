"""The tables jobs start from: pile sections and soil templates."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.context import system_of
from fleet.roles import planner_required, signed_in
from ratings.extraction.stored import job_of
from ratings.forms.jobtables import PileSectionForm, SoilTemplateForm
from ratings.models import ExtractionJob, PileSection, SoilTemplate
from ratings.piles.generic import GENERIC_SECTIONS
from ratings.piles.table import yard_sections
from ratings.soilprofiles import GENERIC_PROFILES, layer_record, profile_of


def pile_sections(request: HttpRequest) -> HttpResponse:
    """Show every section a job can choose."""
    tables = [("The yard’s own", yard_sections()), ("Generic shapes", GENERIC_SECTIONS)]
    return render(request, "ratings/pile_sections.html", {"section": "jobs", "tables": tables})


@planner_required
def new_pile_section(request: HttpRequest) -> HttpResponse:
    """Add a section to the table."""
    data = request.POST if request.method == "POST" else None
    form = PileSectionForm(data, system=system_of(request))
    if request.method == "POST" and form.is_valid():
        added = PileSection.objects.create(recorded_by=signed_in(request), **form.cleaned_data)
        messages.success(request, f"Section {added} can be chosen for a job now.")
        return redirect("pile-sections")
    return render(request, "ratings/pile_section_form.html", {"section": "jobs", "form": form})


def soil_templates(request: HttpRequest) -> HttpResponse:
    """Show every soil profile a job can start from."""
    own = [profile_of(row) for row in SoilTemplate.objects.all()]
    tables = [("The yard’s own", own), ("Generic", list(GENERIC_PROFILES.values()))]
    return render(request, "ratings/soil_templates.html", {"section": "jobs", "tables": tables})


@planner_required
def new_soil_template(request: HttpRequest, job_id: int) -> HttpResponse:
    """Keep a job's ground for others to start from."""
    job = get_object_or_404(ExtractionJob, pk=job_id)
    form = SoilTemplateForm(request.POST if request.method == "POST" else None)
    layers = job_of(job).layers
    if request.method == "POST" and form.is_valid():
        kept = SoilTemplate.objects.create(
            recorded_by=signed_in(request),
            water_depth_ft=job.water_depth_ft,
            layers=[layer_record(layer) for layer in layers],
            **form.cleaned_data,
        )
        messages.success(request, f"Jobs can start from the ground “{kept}” now.")
        return redirect("soil-templates")
    return render(
        request,
        "ratings/soil_template_form.html",
        {"section": "jobs", "job": job, "form": form, "layers": layers},
    )
