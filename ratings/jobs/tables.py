"""What a yard adds to the tables jobs start from: a pile section, a soil template."""

from __future__ import annotations

from dataclasses import asdict

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.context import system_of
from fleet.fields import MeasuredModelForm
from fleet.roles import planner_required, signed_in
from ratings.jobs.recording import job_of
from ratings.jobs.sections import FILLED_BY_SECTION, GENERIC_SECTIONS, sections_by_name
from ratings.jobs.soil_profiles import GENERIC_PROFILES, profile_of
from ratings.models import ExtractionJob, PileSection, SoilTemplate
from ratings.models.choices import PILE_KINDS


class PileSectionForm(MeasuredModelForm):
    """A section the yard meets often."""

    kind = forms.ChoiceField(label="Kind of pile", choices=PILE_KINDS)

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"]
        if name in sections_by_name():
            raise forms.ValidationError(f"“{name}” is in the table already: give another name.")
        return name

    def clean_plug_area_in2(self) -> float:
        return self.cleaned_data["plug_area_in2"] or 0.0

    class Meta:
        model = PileSection
        fields = ("name", "kind", *FILLED_BY_SECTION, "source")


class SoilTemplateForm(MeasuredModelForm):
    """A name for a job's ground, so that others can start from it."""

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"]
        if SoilTemplate.objects.filter(name=name).exists():
            raise forms.ValidationError(f"“{name}” is taken: give another name.")
        return name

    class Meta:
        model = SoilTemplate
        fields = ("name", "note")


def pile_sections(request: HttpRequest) -> HttpResponse:
    """Show every section a job can choose."""
    tables = [("The yard’s own", PileSection.objects.all()), ("Generic shapes", GENERIC_SECTIONS)]
    return render(request, "jobs/pile_sections.html", {"section": "jobs", "tables": tables})


@planner_required
def new_pile_section(request: HttpRequest) -> HttpResponse:
    """Add a section to the table."""
    data = request.POST if request.method == "POST" else None
    form = PileSectionForm(data, system=system_of(request))
    if request.method == "POST" and form.is_valid():
        form.instance.recorded_by = signed_in(request)
        added = form.save()
        messages.success(request, f"Section {added} can be chosen for a job now.")
        return redirect("pile-sections")
    return render(request, "jobs/pile_section_form.html", {"section": "jobs", "form": form})


def soil_templates(request: HttpRequest) -> HttpResponse:
    """Show every soil profile a job can start from."""
    own = [profile_of(row) for row in SoilTemplate.objects.all()]
    tables = [("The yard’s own", own), ("Generic", list(GENERIC_PROFILES.values()))]
    return render(request, "jobs/soil_templates.html", {"section": "jobs", "tables": tables})


@planner_required
def new_soil_template(request: HttpRequest, job_id: int) -> HttpResponse:
    """Keep a job's ground for others to start from."""
    job = get_object_or_404(ExtractionJob, pk=job_id)
    form = SoilTemplateForm(request.POST if request.method == "POST" else None)
    layers = job_of(job).layers
    if request.method == "POST" and form.is_valid():
        form.instance.recorded_by = signed_in(request)
        form.instance.water_depth_ft = job.water_depth_ft
        form.instance.layers = [asdict(layer) for layer in layers]
        kept = form.save()
        messages.success(request, f"Jobs can start from the ground “{kept}” now.")
        return redirect("soil-templates")
    return render(
        request,
        "jobs/soil_template_form.html",
        {"section": "jobs", "job": job, "form": form, "layers": layers},
    )
