from __future__ import annotations

import logging
from hashlib import file_digest

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.text import slugify
from django.views.decorators.http import require_safe

from fleet.aside import NoRoom
from fleet.context import system_of
from fleet.fields import show_refusal
from fleet.kept_files import open_kept
from fleet.roles import manager_required, signed_in
from fleet.tables import table_of
from inspections.exchange.incoming import Refused
from inspections.models import ReceivedUnit
from inspections.receiving.as_register import Told
from inspections.receiving.events import EventTable, events_of
from inspections.receiving.forms import ArrivalForm, ReceiveForm
from inspections.receiving.reading import NotTaken, as_it_left, check
from inspections.receiving.recording import (
    Coming,
    known_by,
    read,
    receive_unit,
    refuse_one_that_is_here,
    rehearse,
)
from ratings.check_record import Opened, Unreadable, Wrong, parts_of

logger = logging.getLogger(__name__)


# An archive that was sent waits here, by who sent it, until it is taken or another is sent.
WAITING, WAITING_SEAL = "imports/unit-{}.zip", "imports/unit-{}.seal"


@manager_required
def receive(request: HttpRequest) -> HttpResponse:
    """Check an archive that comes from another site, rehearse what it becomes, and take it."""
    act = request.POST.get("act", "send") if request.method == "POST" else ""
    if act == "send":
        return _send(request)
    if act == "drop":
        _forget(request)
        return redirect("receive-unit")
    return _arrival(request, act)


def _send(request: HttpRequest) -> HttpResponse:
    form = ReceiveForm(request.POST, request.FILES)
    if form.is_valid():
        sent, seal = form.cleaned_data["file"], form.cleaned_data["seal"]
        try:
            checked = check(sent.file, sent.size, seal)
            told = read(checked)
            known = known_by(_digest(sent.file))
            if known is not None:
                messages.info(request, f"It was taken already: nothing changed. This is {known}.")
                return redirect("received-unit", known.pk)
            refuse_one_that_is_here(checked, told)
        except NotTaken as refusal:
            form.add_error("file", str(refusal))
        else:
            _forget(request)
            sent.seek(0)
            default_storage.save(_place(request, WAITING), sent)
            default_storage.save(_place(request, WAITING_SEAL), ContentFile(seal.encode()))
            return redirect("receive-unit")
    logger.warning("archive of “%s” refused: %r", request.user, form.errors.get_json_data())
    return render(request, "receiving/receive.html", {"section": "set-up", "form": form})


def _arrival(request: HttpRequest, act: str) -> HttpResponse:
    """Show what waits, and what would become of it; take it where that is asked."""
    context: dict[str, object] = {"section": "set-up", "form": ReceiveForm()}
    place = _place(request, WAITING)
    if not default_storage.exists(place):
        if act:
            messages.error(request, "No archive waits any more: send it again.")
        return render(request, "receiving/receive.html", context)
    with default_storage.open(place) as file:
        digest = _digest(file)
        try:
            checked = check(file, file.size, _seal_waiting(request), is_known=True)
            told = read(checked)
        except NotTaken as refusal:
            _forget(request)
            messages.error(request, str(refusal))
            return redirect("receive-unit")
        form = ArrivalForm(request.POST if act else None, called=told.called)
        context |= {"checked": checked, "arrival": form, "digest": digest, "size": file.size}
        context |= {"left": as_it_left(checked.archive), "names_no_lot": _names_no_lot(told)}
        if act and form.is_valid():
            coming = Coming(
                checked,
                told,
                digest,
                file.size,
                form.cleaned_data["yard"],
                form.cleaned_data["received_at"],
                form.marks,
            )
            try:
                if act == "take" and request.POST.get("digest") == digest:
                    received = receive_unit(coming, file=file, by=signed_in(request))
                    _forget(request)
                    messages.success(request, f"{received} is here, as {received.housing}.")
                    return redirect("received-unit", received.pk)
                context["trial"] = rehearse(coming, signed_in(request))
            except ValidationError as refusal:
                show_refusal(form, refusal, system_of(request))
            except (NotTaken, NoRoom) as refusal:
                form.add_error(None, str(refusal))
            except Refused as refused:
                context["trial"] = refused.trial
    return render(request, "receiving/receive.html", context)


def _names_no_lot(told: Told) -> bool:
    return not any(each.what == "lot" for each in told.called)


def _place(request: HttpRequest, waiting: str) -> str:
    return waiting.format(signed_in(request).pk)


def _seal_waiting(request: HttpRequest) -> str:
    place = _place(request, WAITING_SEAL)
    if not default_storage.exists(place):
        return ""
    with default_storage.open(place) as file:
        return bytes(file.read()).decode()


def _forget(request: HttpRequest) -> None:
    for waiting in (WAITING, WAITING_SEAL):
        default_storage.delete(_place(request, waiting))


def _digest(file: Opened) -> str:
    file.seek(0)
    digest = file_digest(file, "sha256").hexdigest()
    file.seek(0)
    return digest


def received_unit(request: HttpRequest, received_id: int) -> HttpResponse:
    """Show what the record of a unit says of the time before it came, as it was received."""
    received = get_object_or_404(
        ReceivedUnit.objects.select_related("housing", "taken", "recorded_by"), pk=received_id
    )
    context: dict[str, object] = {"section": "board", "received": received}
    try:
        events = events_of(received, system_of(request))
        context["files"] = _files_in(received)
    except (OSError, Wrong, Unreadable) as trouble:
        events, context["trouble"] = [], trouble
    context["table"] = table_of(request, EventTable, events)
    return render(request, "receiving/received.html", context)


def _files_in(received: ReceivedUnit) -> list[str]:
    with received.file.open("rb") as opened:
        members = parts_of("the archive kept", opened)
    return [each for each in members if each.startswith(("papers/", "files/"))]


@require_safe
def received_archive(request: HttpRequest, received_id: int) -> HttpResponseBase:
    """Send the archive that a unit came with, as it was received."""
    received = get_object_or_404(ReceivedUnit, pk=received_id)
    name = f"received-{slugify(received.mark) or received.pk}.zip"
    return FileResponse(open_kept(received.file), as_attachment=True, filename=name)


@require_safe
def received_file(request: HttpRequest, received_id: int, member: str) -> HttpResponseBase:
    """Send a photo, a paper or another file of the archive that a unit came with."""
    received = get_object_or_404(ReceivedUnit, pk=received_id)
    if not member.startswith(("papers/", "files/")):
        raise Http404("An archive has no such file.")
    with open_kept(received.file) as opened:
        try:
            part = parts_of("the archive kept", opened).get(member)
        except (Wrong, Unreadable) as trouble:
            raise Http404(f"The archive is not what was received: {trouble}.") from None
        if part is None:
            raise Http404("This archive has no such file.")
        opened.seek(part.begins)
        data = opened.read(part.size)
    is_photo = data.startswith(b"\xff\xd8\xff")
    ending = ".jpg" if is_photo else ".pdf" if data.startswith(b"%PDF") else ""
    name = member.rpartition("/")[2].removesuffix(".pdf") + ending
    response = HttpResponse(
        data, content_type="image/jpeg" if is_photo else "application/octet-stream"
    )
    # Whatever a stranger’s file is, no browser runs it.
    place = "inline" if is_photo else "attachment"
    response["Content-Disposition"] = f'{place}; filename="{name}"'
    response["X-Content-Type-Options"] = "nosniff"
    return response
