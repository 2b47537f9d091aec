"""What a yard adds to the tables jobs start from: a pile section, a soil template."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.html import format_html
from django.utils.safestring import SafeString

from fleet.context import system_of
from fleet.fields import MeasuredModelForm, show_refusal
from fleet.quantities import Quantity
from fleet.roles import planner_required, signed_in
from fleet.tables import Column, MeasuredColumn, RecordsTable, TemplateColumn, table_of
from ratings.jobs.recording import layer_of
from ratings.jobs.sections import (
    FILLED_BY_SECTION,
    GENERIC_SECTIONS,
    add_section,
    sections_by_name,
)
from ratings.jobs.soil_profiles import GENERIC_PROFILES, keep_profile
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


class PileSectionTable(RecordsTable):
    """Generic sections, from the table of them."""

    caption = "Generic shapes"
    anchor = "generic"
    own_prefix = "generic-"
    empty_words = "None yet."
    rows_on_a_page = 50

    name = Column("Section")
    kind = Column("Kind")
    area_in2 = MeasuredColumn(Quantity.AREA, "Area", css="number")
    weight_lb_ft = MeasuredColumn(Quantity.LINE_WEIGHT, "Weight", css="number")
    perimeter_in = MeasuredColumn(Quantity.LENGTH, "Perimeter", css="number")
    plug_area_in2 = MeasuredColumn(Quantity.AREA, "Plug", css="number", empty_values=(None, 0.0))
    source = Column("Source", css="small")

    def render_name(self, value: str) -> SafeString:
        return format_html("<strong>{}</strong>", value)


class YardSectionTable(PileSectionTable):
    """Sections the yard added."""

    caption = "The yard’s own"
    anchor = "own"
    own_prefix = "own-"


def pile_sections(request: HttpRequest) -> HttpResponse:
    """Show every section a job can choose."""
    tables = [
        table_of(request, YardSectionTable, PileSection.objects.all()),
        table_of(request, PileSectionTable, list(GENERIC_SECTIONS)),
    ]
    return render(request, "jobs/pile_sections.html", {"section": "jobs", "tables": tables})


@planner_required
def new_pile_section(request: HttpRequest) -> HttpResponse:
    """Add a section to the table."""
    data = request.POST if request.method == "POST" else None
    form = PileSectionForm(data, system=system_of(request))
    if request.method == "POST" and form.is_valid():
        try:
            added = add_section(section=form.instance, by=signed_in(request))
        except ValidationError as refusal:
            show_refusal(form, refusal, system_of(request))
        else:
            messages.success(request, f"Section {added} can be chosen for a job now.")
            return redirect("pile-sections")
    return render(request, "jobs/pile_section_form.html", {"section": "jobs", "form": form})


class SoilTable(RecordsTable):
    """Generic soil profiles."""

    caption = "Generic"
    anchor = "generic"
    own_prefix = "generic-"
    empty_words = "None yet."

    name = Column("Name")
    water_depth_ft = MeasuredColumn(Quantity.DEPTH, "Water at", default="no water")
    layers = TemplateColumn("jobs/soil_layers.html", "Layers", orderable=False)
    note = Column("Note", css="small", orderable=False)

    def render_name(self, value: str) -> SafeString:
        return format_html("<strong>{}</strong>", value)

    def cell_context(self, record: SoilTemplate) -> dict[str, Any]:
        return {"layers": record.ground}


class YardSoilTable(SoilTable):
    """Soil templates the yard kept."""

    caption = "The yard’s own"
    anchor = "own"
    own_prefix = "own-"


def soil_templates(request: HttpRequest) -> HttpResponse:
    """Show every soil profile a job can start from."""
    tables = [
        table_of(request, YardSoilTable, SoilTemplate.objects.all()),
        table_of(request, SoilTable, list(GENERIC_PROFILES.values())),
    ]
    return render(request, "jobs/soil_templates.html", {"section": "jobs", "tables": tables})


@planner_required
def new_soil_template(request: HttpRequest, job_id: int) -> HttpResponse:
    """Keep a job's ground for others to start from."""
    job = get_object_or_404(ExtractionJob, pk=job_id)
    form = SoilTemplateForm(request.POST if request.method == "POST" else None)
    layers = [layer_of(each) for each in job.layers.all()]
    if request.method == "POST" and form.is_valid():
        try:
            kept = keep_profile(template=form.instance, job=job, by=signed_in(request))
        except ValidationError as refusal:
            show_refusal(form, refusal, system_of(request))
        else:
            messages.success(request, f"Jobs can start from the ground “{kept}” now.")
            return redirect("soil-templates")
    return render(
        request,
        "jobs/soil_template_form.html",
        {"section": "jobs", "job": job, "form": form, "layers": layers},
    )
