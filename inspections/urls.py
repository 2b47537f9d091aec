from __future__ import annotations

from django.urls import path

from inspections.views import correct, count, history, records, replace, service

urlpatterns = [
    path("units/<int:housing_id>/count/", count.count_pads, name="count-pads"),
    path("units/<int:housing_id>/count/preview/", count.preview, name="count-preview"),
    path("units/<int:housing_id>/replace/", replace.replace_pads, name="replace-pads"),
    path("units/<int:housing_id>/replace/preview/", replace.preview, name="replace-preview"),
    path("units/<int:housing_id>/out-of-service/", service.take_out, name="take-out-of-service"),
    path("units/<int:housing_id>/release/", service.release, name="release-to-service"),
    path("units/<int:housing_id>/history.pdf", history.history_report, name="history-report"),
    path("ledger/<int:entry_id>/correct/", correct.correct_entry, name="correct-entry"),
    path("inspections/<int:inspection_id>/", records.inspection, name="inspection"),
    path("replacements/<int:replacement_id>/", records.replacement, name="replacement"),
]
