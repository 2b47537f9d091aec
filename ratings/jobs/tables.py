"""What a yard adds to the tables jobs start from: a pile section, a soil template."""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.characters import check_name
from fleet.context import system_of
from fleet.fields import MeasuredField, MeasuredForm, PlainText
from fleet.roles import planner_required, signed_in
from fleet.units import Quantity
from ratings.jobs.recording import job_of
from ratings.jobs.sections import GENERIC_NAMES, GENERIC_SECTIONS, yard_sections
from ratings.jobs.soil_profiles import GENERIC_PROFILES, layer_record, profile_of
from ratings.models import ExtractionJob, PileSection, SoilTemplate
from ratings.models.choices import PILE_KINDS


class PileSectionForm(MeasuredForm):
    """A section the yard meets often."""

    name = forms.CharField(
        label="Name", max_length=80, help_text="As it is to be chosen.", validators=[check_name]
    )
    kind = forms.ChoiceField(label="Kind of pile", choices=PILE_KINDS)
    area_in2 = MeasuredField(
        Quantity.AREA, label="Area of its material", least=0.5, most=20_000, example="15.5"
    )
    weight_lb_ft = MeasuredField(
        Quantity.LINE_WEIGHT, label="Weight", least=1, most=20_000, example="53"
    )
    perimeter_in = MeasuredField(
        Quantity.LENGTH,
        label="Perimeter for friction",
        least=1,
        most=4_000,
        example="47.65",
        help_text="What the ground rubs on; of an H-pile commonly the box, 2(d + b).",
    )
    plug_area_in2 = MeasuredField(
        Quantity.AREA,
        label="Area of the plug",
        least=0,
        most=20_000,
        required=False,
        example="126",
        help_text="Of the soil within, should it come out plugged.",
    )
    source = forms.CharField(
        label="Source", max_length=160, help_text="Where these figures are from."
    )

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"]
        if name in GENERIC_NAMES or PileSection.objects.filter(name=name).exists():
            raise forms.ValidationError(f"“{name}” is in the table already: give another name.")
        return name

    def clean_plug_area_in2(self) -> float:
        return self.cleaned_data["plug_area_in2"] or 0.0


class SoilTemplateForm(PlainText, forms.Form):
    """A name for a job's ground, so that others can start from it."""

    name = forms.CharField(
        label="Name", max_length=80, help_text="As it is to be chosen.", validators=[check_name]
    )
    note = forms.CharField(
        label="Note",
        required=False,
        max_length=200,
        help_text="Such as the borings it rests on.",
    )

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"]
        if SoilTemplate.objects.filter(name=name).exists():
            raise forms.ValidationError(f"“{name}” is taken: give another name.")
        return name


def pile_sections(request: HttpRequest) -> HttpResponse:
    """Show every section a job can choose."""
    tables = [("The yard’s own", yard_sections()), ("Generic shapes", GENERIC_SECTIONS)]
    return render(request, "jobs/pile_sections.html", {"section": "jobs", "tables": tables})


@planner_required
def new_pile_section(request: HttpRequest) -> HttpResponse:
    """Add a section to the table."""
    data = request.POST if request.method == "POST" else None
    form = PileSectionForm(data, system=system_of(request))
    if request.method == "POST" and form.is_valid():
        added = PileSection.objects.create(recorded_by=signed_in(request), **form.cleaned_data)
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
        "jobs/soil_template_form.html",
        {"section": "jobs", "job": job, "form": form, "layers": layers},
    )
