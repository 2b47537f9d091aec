"""Pages by which a yard is set up: a list of each kind of thing, and its forms."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.text import capfirst

from fleet.context import system_of
from fleet.fields import show_refusal, whole_number
from fleet.models import SetUpChange
from fleet.roles import manager_required, signed_in
from fleet.setup.forms import BackForm, RetireForm, ThingForm, entered_by_form
from fleet.setup.recording import (
    bring_back,
    change_thing,
    enter_thing,
    retire_thing,
)
from fleet.setup.tables import SetUpChangeTable, table_class_of, value_words
from fleet.setup.things import Thing
from fleet.tables import NONE, table_of


def set_up(request: HttpRequest) -> HttpResponse:
    """Show all that is set up, and where."""
    return render(request, "setup/set_up.html", {"section": "set-up"})


def things(request: HttpRequest, thing: Thing[Any]) -> HttpResponse:
    """Show all things of one kind, those in use first."""
    records = thing.model._default_manager.order_by("retired_on", *thing.model._meta.ordering)
    if hasattr(thing.model, "yard"):
        records = records.select_related("yard")
    return render(
        request,
        "setup/things.html",
        {
            "section": thing.section,
            "thing": thing,
            "table": table_of(request, table_class_of(thing), records),
        },
    )


def record(request: HttpRequest, record_id: int, thing: Thing[Any]) -> HttpResponse:
    """Show one thing: what is on record of it, and every change of that."""
    found = get_object_or_404(thing.model, pk=record_id)
    changes = SetUpChange.objects.of(found)
    retired = changes.filter(kind=SetUpChange.Kind.RETIRED).first() if found.retired_on else None
    return render(
        request,
        "setup/record.html",
        {
            "section": thing.section,
            "thing": thing,
            "record": found,
            "name": name_of(found),
            "facts": facts_of(found, thing, system_of(request)),
            "retired": retired,
            "more": _more(thing, found),
            "table": table_of(
                request,
                SetUpChangeTable,
                changes.select_related("recorded_by"),
                model=thing.model,
            ),
        },
    )


def _more(thing: Thing[Any], record: Any) -> tuple[str, str] | None:
    """Return the address and the words of the page that tells what was done with a thing."""
    if thing.more is None:
        return None
    page, words, given = thing.more
    return reverse(page, args=[*given, record.pk]), words


def name_of(record: Any) -> str:
    """Return the mark or name of a thing."""
    return str(getattr(record, "mark", None) or record.name)


def facts_of(record: Any, thing: Thing[Any], system: str) -> list[tuple[str, str]]:
    """Return what is on record of a thing, each with its label, as its form asks for it."""
    form = thing.form(instance=record, system=system)
    fields = {field.name: field for field in record._meta.concrete_fields}
    named = [(name, field.label) for name, field in form.fields.items() if name in fields]
    return [
        (str(label or name), value_words(fields[name], getattr(record, name), system, none=NONE))
        for name, label in named
        if name not in ("mark", "name")
    ]


@manager_required
def new(request: HttpRequest, thing: Thing[Any]) -> HttpResponse:
    """Enter a thing."""
    is_sent = request.method == "POST"
    data = request.POST if is_sent else None
    form = thing.form(data, initial=_initial(request), system=system_of(request))
    if is_sent and (known := entered_by_form(form, thing.model)) is not None:
        return redirect(thing.page, known.pk)
    if is_sent and form.is_valid():
        try:
            entered = enter_thing(
                form.instance,
                submission_id=form.cleaned_data["submission_id"],
                save=thing.save,
                by=signed_in(request),
            )
        except ValidationError as refusal:
            show_refusal(form, refusal, form.system)
        else:
            messages.success(request, f"{capfirst(thing.name)} {name_of(entered)} is on record.")
            return redirect(thing.page, entered.pk)
    return _form_page(request, thing, form)


def _initial(request: HttpRequest) -> dict[str, Any]:
    """Return what the address fills in beforehand: the yard, where it names one."""
    yard = whole_number(request.GET.get("yard", ""))
    return {} if yard is None else {"yard": yard}


@manager_required
def change(request: HttpRequest, record_id: int, thing: Thing[Any]) -> HttpResponse:
    """Change what is on record of a thing."""
    found = get_object_or_404(thing.model, pk=record_id)
    form = thing.form(
        request.POST if request.method == "POST" else None,
        instance=found,
        fixed=thing.fixed(found),
        system=system_of(request),
    )
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            change_thing(
                found,
                form.changes,
                submission_id=given["submission_id"],
                reason=given["reason"],
                by=signed_in(request),
                fixed=thing.fixed(found),
                seen=given["seen"] or None,
            )
        except ValidationError as refusal:
            show_refusal(form, refusal, form.system)
        else:
            outcome = "is changed" if form.changes else "is as it was: nothing differed"
            messages.success(request, f"What is on record of {name_of(found)} {outcome}.")
            return redirect(thing.page, found.pk)
        found.refresh_from_db()
    return _form_page(request, thing, form, thing.model._default_manager.get(pk=record_id))


def _form_page(
    request: HttpRequest, thing: Thing[Any], form: ThingForm, found: Any = None
) -> HttpResponse:
    return render(
        request,
        "setup/form.html",
        {
            "section": thing.section,
            "thing": thing,
            "form": form,
            "record": found,
            "name": name_of(found) if found else "",
        },
    )


@manager_required
def retire(request: HttpRequest, record_id: int, thing: Thing[Any]) -> HttpResponse:
    """Take a thing out of use."""
    found = get_object_or_404(thing.model, pk=record_id)
    form = RetireForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            retire_thing(
                found, by=signed_in(request), in_the_way=thing.in_the_way, **form.cleaned_data
            )
        except ValidationError as refusal:
            show_refusal(form, refusal, form.system)
        else:
            messages.success(request, f"{name_of(found)} is out of use.")
            return redirect(thing.page, found.pk)
    return _end_page(request, thing, found, form, is_back=False)


@manager_required
def back(request: HttpRequest, record_id: int, thing: Thing[Any]) -> HttpResponse:
    """Bring a thing back into use."""
    found = get_object_or_404(thing.model, pk=record_id)
    form = BackForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            bring_back(found, by=signed_in(request), **form.cleaned_data)
        except ValidationError as refusal:
            show_refusal(form, refusal, form.system)
        else:
            messages.success(request, f"{name_of(found)} is in use again.")
            return redirect(thing.page, found.pk)
    return _end_page(request, thing, found, form, is_back=True)


def _end_page(
    request: HttpRequest, thing: Thing[Any], found: Any, form: Any, *, is_back: bool
) -> HttpResponse:
    return render(
        request,
        "setup/retire.html",
        {
            "section": thing.section,
            "thing": thing,
            "record": found,
            "name": name_of(found),
            "form": form,
            "is_back": is_back,
            "waiting": [] if is_back else list(thing.in_the_way(found)),
        },
    )
