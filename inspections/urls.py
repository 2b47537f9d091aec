from __future__ import annotations

from django.urls import path

from fleet.how import how_page
from inspections.exchange.tables import TABLES
from inspections.models import Severity
from inspections.views import (
    correct,
    count,
    due,
    exchange,
    field,
    fieldshell,
    findings,
    history,
    kinds,
    labels,
    meter,
    records,
    replace,
    rules,
    service,
)

urlpatterns = [
    how_page("inspecting", "inspections/how_inspecting.html", "board", severity=Severity),
    how_page("due", "inspections/how_due.html", "due", severity=Severity),
    how_page("register", "inspections/how_register.html", "due", tables=TABLES),
    path("units/<int:housing_id>/count/", count.count_pads, name="count-pads"),
    path("units/<int:housing_id>/count/preview/", count.preview, name="count-preview"),
    path("units/<int:housing_id>/replace/", replace.replace_pads, name="replace-pads"),
    path("units/<int:housing_id>/replace/preview/", replace.preview, name="replace-preview"),
    path("units/<int:housing_id>/out-of-service/", service.take_out, name="take-out-of-service"),
    path("units/<int:housing_id>/release/", service.release, name="release-to-service"),
    path("units/<int:housing_id>/history.pdf", history.history_report, name="history-report"),
    path("ledger/<int:entry_id>/correct/", correct.correct_entry, name="correct-entry"),
    path("field/", fieldshell.shell, name="field"),
    path("field/manifest.webmanifest", fieldshell.manifest, name="field-manifest"),
    path("field/worker.js", fieldshell.worker, name="field-worker"),
    path("field/pack/", field.pack, name="field-pack"),
    path("field/inspections/", field.inspections, name="field-inspections"),
    path("field/photos/<uuid:photo_id>/", field.photo, name="field-photo"),
    path("due/", due.due, name="due"),
    path("due/calendar/", due.feed, name="calendar-feed"),
    path("calendar/<str:secret>.ics", due.calendar, name="calendar"),
    path("schedule/", rules.schedule, name="schedule"),
    path("checklists/", rules.checklists, name="checklists"),
    path("checklists/<str:name>/", rules.checklist, name="checklist"),
    path("kinds/", kinds.kinds, name="kinds"),
    path("kinds/<int:kind_id>/retire/", kinds.retire, name="retire-kind"),
    path("findings/<int:finding_id>/close/", findings.close, name="close-finding"),
    path("photos/<uuid:photo_id>/", findings.photo, name="inspection-photo"),
    path("register/", exchange.exchange, name="exchange"),
    path("register/export.<str:form>", exchange.export, name="export"),
    path("labels/", labels.labels, name="labels"),
    path("scan/housing/<int:housing_id>/", labels.scan_housing, name="scan-housing"),
    path("hammers/<int:hammer_id>/meter/", meter.meter, name="meter"),
    path("inspections/<int:inspection_id>/", records.inspection, name="inspection"),
    path("replacements/<int:replacement_id>/", records.replacement, name="replacement"),
]
