from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.context import system_of
from fleet.machines.forms import (
    ClampForm,
    MachineForm,
    OnHammerForm,
    PowerPackForm,
    chosen_hammer,
)
from fleet.machines.recording import (
    change_machine,
    connect_power_pack,
    enter_machine,
    fit_clamp,
)
from fleet.machines.tables import ClampTable, OnHammerTable, PowerPackTable
from fleet.models import Clamp, PowerPack, SetUpChange
from fleet.roles import manager_required, signed_in
from fleet.setup.forms import entered_by_form
from fleet.setup.recording import enter_thing
from fleet.setup.tables import SetUpChangeTable
from fleet.tables import table_of


@dataclass(frozen=True)
class Kind:
    """A kind of machine: what its pages are called, and what reads and records it.

    owner: the argument by which its recording function takes it. put_on: what is done with it.
    """

    page: str
    name: str
    model: type[Any]
    form: type[MachineForm]
    template: str
    owner: str
    put_on: str
    record: Callable[..., Any]

    @property
    def new_page(self) -> str:
        return f"new-{self.page}"

    @property
    def change_page(self) -> str:
        return f"change-{self.page}"

    @property
    def put_on_page(self) -> str:
        return f"{self.put_on.lower()}-{self.page}"


CLAMP = Kind("clamp", "clamp", Clamp, ClampForm, "machines/clamp.html", "clamp", "Fit", fit_clamp)
POWER_PACK = Kind(
    "power-pack",
    "power pack",
    PowerPack,
    PowerPackForm,
    "machines/power_pack.html",
    "power_pack",
    "Connect",
    connect_power_pack,
)


def machines(request: HttpRequest) -> HttpResponse:
    """Show the clamps and the power packs, and which hammer each is on."""
    return render(
        request,
        "machines/machines.html",
        {
            "section": "listings",
            "tables": [
                table_of(request, ClampTable, Clamp.objects.select_related("yard")),
                table_of(request, PowerPackTable, PowerPack.objects.select_related("yard")),
            ],
        },
    )


def machine(request: HttpRequest, machine_id: int, kind: Kind) -> HttpResponse:
    """Show one clamp or power pack, its figures, and the hammers it was on."""
    found = get_object_or_404(kind.model.objects.select_related("yard"), pk=machine_id)
    fittings = found.fittings.select_related("hammer", "recorded_by")
    return render(
        request,
        kind.template,
        {
            "section": "listings",
            "kind": kind,
            "machine": found,
            "now": fittings.current().first(),
            "table": table_of(request, OnHammerTable, fittings),
            "changes": table_of(
                request,
                SetUpChangeTable,
                SetUpChange.objects.of(found).select_related("recorded_by"),
                model=kind.model,
            ),
        },
    )


@manager_required
def new_machine(request: HttpRequest, kind: Kind) -> HttpResponse:
    """Enter a clamp or a power pack."""
    data = request.POST if request.method == "POST" else None
    form = kind.form(data, system=system_of(request))
    if request.method == "POST" and (known := entered_by_form(form, kind.model)) is not None:
        return redirect(kind.page, known.pk)
    if request.method == "POST" and form.is_valid():
        entered = enter_thing(
            form.instance,
            submission_id=form.cleaned_data["submission_id"],
            save=enter_machine,
            by=signed_in(request),
        )
        messages.success(request, f"{kind.name.capitalize()} {entered} is on record.")
        return redirect(kind.page, entered.pk)
    return _form_page(request, kind, form)


@manager_required
def change(request: HttpRequest, machine_id: int, kind: Kind) -> HttpResponse:
    """Change what is on record of a clamp or a power pack."""
    found = get_object_or_404(kind.model, pk=machine_id)
    data = request.POST if request.method == "POST" else None
    form = kind.form(data, instance=found, system=system_of(request))
    if request.method == "POST" and form.is_valid():
        try:
            change_machine(
                found,
                form.changes,
                submission_id=form.cleaned_data["submission_id"],
                reason=form.cleaned_data["reason"],
                by=signed_in(request),
                seen=form.cleaned_data["seen"],
            )
        except ValidationError as refusal:
            form.add_error(None, refusal)
        else:
            messages.success(request, f"What is on record of {found} is changed.")
            return redirect(kind.page, found.pk)
    return _form_page(request, kind, form, found)


def _form_page(
    request: HttpRequest, kind: Kind, form: MachineForm, found: Any = None
) -> HttpResponse:
    return render(
        request,
        "machines/machine_form.html",
        {"section": "listings", "kind": kind, "form": form, "machine": found},
    )


@manager_required
def put_on(request: HttpRequest, machine_id: int, kind: Kind) -> HttpResponse:
    """Put a clamp or a power pack on a hammer, or take it off."""
    found = get_object_or_404(kind.model, pk=machine_id)
    now = found.fittings.current().select_related("hammer").first()
    data = request.POST if request.method == "POST" else None
    form = OnHammerForm(data, initial={"hammer": now.hammer_id if now else None})
    chosen, is_shown = chosen_hammer(request, form)
    if request.method == "POST" and not is_shown and form.is_valid():
        try:
            kind.record(
                **{kind.owner: found},
                hammer=form.cleaned_data["hammer"],
                at=form.cleaned_data["at"],
                by=signed_in(request),
                submission_id=form.cleaned_data["submission_id"],
            )
        except ValidationError as refusal:
            form.add_error(None, refusal)
        else:
            where = form.cleaned_data["hammer"]
            messages.success(
                request, f"{found} is {f'on hammer {where}' if where else 'off every hammer'}."
            )
            return redirect(kind.page, found.pk)
    return render(
        request,
        "machines/put_on.html",
        {
            "section": "machines",
            "kind": kind,
            "machine": found,
            "now": now,
            "form": form,
            "chosen": chosen,
            "is_shown": is_shown,
        },
    )
