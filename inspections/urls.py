from __future__ import annotations

from django.urls import path

from fleet.how_pages import how_page
from inspections.api.how import shown as examples
from inspections.archive import views as archive
from inspections.as_of import views as as_of
from inspections.buying import views as buying
from inspections.calendar import views as calendar
from inspections.card import views as card
from inspections.count import correcting, replacement
from inspections.count import views as count
from inspections.count.second_look import second_look
from inspections.exchange import taken
from inspections.exchange import views as exchange
from inspections.exchange.tables import TABLES
from inspections.field import shell
from inspections.field import views as field
from inspections.first_steps import views as steps
from inspections.fleet_summary import views as fleet_summary
from inspections.forecast import views as forecast
from inspections.forecast.came import NEAR_DAYS
from inspections.hire import views as hire
from inspections.history import views as history
from inspections.labels import views as labels
from inspections.lives import views as lives
from inspections.machines import views as machines
from inspections.models import Severity
from inspections.pulls import views as pulls
from inspections.receiving import views as receiving
from inspections.repairs import views as repairs
from inspections.restoring import views as restoring
from inspections.retention import views as retention
from inspections.schedule import views as schedule
from inspections.search import views as search
from inspections.service import meter
from inspections.service import views as service
from inspections.sheets import views as sheets
from inspections.units import board
from inspections.units import views as units
from inspections.units.records import unit_records
from inspections.waiting import views as waiting
from inspections.who_did_what import views as who
from ratings.mechanics.pad_forecast import LEAST_POOLED
from ratings.mechanics.standing import Standing
from ratings.mechanics.survival import LEAST_FAILURES
from ratings.models.policy import rating_policy

urlpatterns = [
    path("", board.board, name="board"),
    path("waiting/", waiting.waits, name="waiting"),
    path("waiting/<slug:section>/", waiting.waits_of, name="waiting-section"),
    path("set-up/first-steps/", steps.steps, name="first-steps"),
    path("set-up/first-steps/hide/", steps.show_or_hide, name="hide-first-steps"),
    path("as-of/", as_of.board_as_of, name="board-as-of"),
    path("as-of/units.csv", as_of.board_as_of_csv, name="board-as-of-csv"),
    path("as-of/differences/", as_of.differences_page, name="as-of-differences"),
    path("as-of/units/<int:housing_id>/", as_of.unit_as_of, name="unit-as-of"),
    path(
        "as-of/machines/<slug:sort>/<int:machine_id>/",
        as_of.machine_page_as_of,
        name="machine-as-of",
    ),
    path("as-of/lots/<int:lot_id>/", as_of.lot_page_as_of, name="lot-as-of"),
    path("as-of/jobs/<int:job_id>/", as_of.job_page_as_of, name="job-as-of"),
    how_page("as-of", "as_of/how.html", "board"),
    path("fleet-summary/", fleet_summary.summary, name="fleet-summary"),
    path("who-did-what/", who.who_did_what, name="who-did-what"),
    path("who-did-what/list/<slug:form>/", who.who_did_what_list, name="who-did-what-list"),
    path("who-did-what/<int:leaf_id>/", who.leaf, name="leaf"),
    path("retention/", retention.retention, name="retention"),
    path("retention/<slug:kind>/", retention.files, name="retention-kind"),
    path("retention/<slug:kind>/rule/", retention.rule, name="retention-rule"),
    path("search/", search.search, name="search"),
    path("units/<int:housing_id>/", units.unit, name="unit"),
    how_page(
        "standing",
        "units/how.html",
        "board",
        policy=rating_policy,
        standings={each.name: each for each in Standing},
    ),
    how_page("inspecting", "count/how.html", "board", severity=Severity),
    how_page("due", "schedule/how.html", "due", severity=Severity),
    how_page("machines", "machine/how.html", "machines"),
    how_page("repairs", "repairs/how.html", "machines"),
    how_page("hire", "hire/how.html", "jobs"),
    how_page("register", "exchange/how.html", "due", tables=TABLES),
    how_page("sheets", "sheets/how.html", "due"),
    how_page("api", "api/how.html", "due", examples=examples),
    path("buy/", buying.buy, name="what-to-buy"),
    path("buy/list.pdf", buying.order_list, name="order-list"),
    path("buy/list.csv", buying.order_list_csv, name="order-list-csv"),
    how_page("restoring", "restoring/how.html", "lots"),
    path("restore/", restoring.restore, name="restore"),
    path("restore/brief/<int:housing_id>/", restoring.brief, name="restore-brief"),
    path("restore/plans/", restoring.kept_plans, name="restoring-plans"),
    path("restore/record/", restoring.plans_record, name="plans-record"),
    path("restore/plans/<int:plan_id>/", restoring.kept_plan, name="restoring-plan"),
    path(
        "restore/plans/<int:plan_id>/order/<int:housing_id>/",
        restoring.order,
        name="order-restoring",
    ),
    path(
        "restore/plans/<int:plan_id>/close/<int:housing_id>/",
        restoring.close_order,
        name="close-restoring",
    ),
    path("units/<int:housing_id>/count/", count.count_pads, name="count-pads"),
    path("inspections/<int:inspection_id>/second-look/", second_look, name="second-look"),
    path("units/<int:housing_id>/replace/", replacement.replace_pads, name="replace-pads"),
    path("units/<int:housing_id>/replace/preview/", replacement.preview, name="replace-preview"),
    path("units/<int:housing_id>/out-of-service/", service.take_out, name="take-out-of-service"),
    path("units/<int:housing_id>/release/", service.release, name="release-to-service"),
    path("units/<int:housing_id>/pads/", lives.unit_pads, name="unit-pads"),
    path("lots/<int:lot_id>/life/", lives.lot_life, name="lot-life"),
    path("units/<int:housing_id>/forecast/", forecast.unit_forecast, name="unit-forecast"),
    path("units/<int:housing_id>/forecast/keep/", forecast.keep, name="keep-forecast"),
    path(
        "units/<int:housing_id>/planned-hours/",
        forecast.new_planned_hours,
        name="new-planned-hours",
    ),
    path("forecasts/", forecast.fleet_forecast, name="fleet-forecast"),
    path("forecasts/held/", forecast.held, name="forecasts-held"),
    path("forecasts/<int:forecast_id>/", forecast.kept_forecast, name="forecast"),
    how_page(
        "forecast",
        "forecast/how.html",
        "board",
        least=LEAST_FAILURES,
        least_pooled=LEAST_POOLED,
        near_days=NEAR_DAYS,
    ),
    how_page("lives", "lives/how.html", "lots", least=LEAST_FAILURES),
    path("units/<int:housing_id>/records/<str:what>/", unit_records, name="unit-records"),
    path("history/", history.history, name="history"),
    path("history/make/", history.begin_history, name="begin-history"),
    path("history/<int:run_id>/", history.history_run, name="history-run"),
    path("history/<int:run_id>/report.pdf", history.history_file, name="history-file"),
    path("units/<int:housing_id>/stretch-card.pdf", card.stretch_card, name="stretch-card"),
    path("units/<int:housing_id>/history.pdf", history.history_report, name="history-report"),
    path("units/<int:housing_id>/archive/", archive.unit_archive, name="unit-archive"),
    how_page("archive", "archive/how.html", "board"),
    path("archives/receive/", receiving.receive, name="receive-unit"),
    path("received/<int:received_id>/", receiving.received_unit, name="received-unit"),
    path(
        "received/<int:received_id>/archive.zip",
        receiving.received_archive,
        name="received-archive",
    ),
    path(
        "received/<int:received_id>/in/<path:member>", receiving.received_file, name="received-file"
    ),
    path("ledger/<int:entry_id>/correct/", correcting.correct_entry, name="correct-entry"),
    path("field/", shell.shell, name="field"),
    path("field/manifest.webmanifest", shell.manifest, name="field-manifest"),
    path("field/worker.js", shell.worker, name="field-worker"),
    path("field/pack/", field.pack, name="field-pack"),
    path("field/inspections/", field.inspections, name="field-inspections"),
    path("field/pulls/", field.pulls, name="field-pulls"),
    path("field/photos/<uuid:photo_id>/", field.photo, name="field-photo"),
    path("commitments/<int:commitment_id>/pull/", pulls.new_pull, name="new-pull"),
    path("pull-photos/<uuid:pull_photo_id>/", pulls.photo, name="pull-photo"),
    path("repairs/", repairs.repairs, name="repairs"),
    path("repairs/new/", repairs.new_repair, name="new-repair"),
    path("repairs/work-list/", repairs.work_list, name="work-list"),
    path("repairs/<int:order_id>/", repairs.repair_order, name="repair-order"),
    path("repair-lines/<int:line_id>/", repairs.take_back, name="take-back-repair-line"),
    path("repair-photos/<uuid:repair_photo_id>/", repairs.photo, name="repair-photo"),
    path("hires/", hire.hires, name="hires"),
    path("hires/new/", hire.new_hire, name="new-hire"),
    path("hires/<int:hire_id>/", hire.hire, name="hire"),
    path("hires/<int:hire_id>/hand-over.pdf", hire.hand_over_paper, name="hand-over-paper"),
    path("hand-over-photos/<uuid:hand_over_photo_id>/", hire.photo, name="hand-over-photo"),
    path(
        "not-ours-photos/<uuid:foreign_photo_id>/",
        hire.foreign_check_photo,
        name="foreign-check-photo",
    ),
    path("not-ours/", hire.foreign_checks, name="foreign-checks"),
    path("not-ours/new/", hire.new_foreign_check, name="new-foreign-check"),
    path("not-ours/<int:foreign_check_id>/", hire.foreign_check, name="foreign-check"),
    path(
        "not-ours/<int:foreign_check_id>/check.pdf",
        hire.foreign_check_paper,
        name="foreign-check-paper",
    ),
    path("due/", schedule.due, name="due"),
    path("due/calendar/", schedule.feed, name="calendar-feed"),
    path("calendar/<str:secret>.ics", schedule.calendar, name="calendar"),
    path("calendar/", calendar.units_calendar, name="units-calendar"),
    path("schedule/", schedule.schedule, name="schedule"),
    path("checklists/", schedule.checklists, name="checklists"),
    path("checklists/<str:name>/", schedule.checklist, name="checklist"),
    path("kinds/", schedule.kinds, name="kinds"),
    path("kinds/<int:kind_id>/machines/", schedule.kind_sorts, name="kind-sorts"),
    path("kinds/<int:kind_id>/retire/", schedule.retire, name="retire-kind"),
    path("findings/<int:finding_id>/close/", service.close, name="close-finding"),
    path("findings/<int:finding_id>/machine/", service.move, name="move-finding"),
    path("photos/<uuid:photo_id>/", service.photo, name="inspection-photo"),
    path("register/", exchange.exchange, name="exchange"),
    path("register/export.<str:form>", exchange.export, name="export"),
    path("taken-in/", taken.taken_imports, name="taken-imports"),
    path("taken-in/<int:import_id>/", taken.taken_import, name="taken-import"),
    path("sheets/", sheets.sheets, name="sheets"),
    path("sheets/<int:draft_id>/", sheets.sheet, name="sheet"),
    path("sheets/<int:draft_id>/rehearsal/", sheets.rehearsal, name="sheet-rehearsal"),
    path("sheets/<int:draft_id>/throw-away/", sheets.throw_sheet_away, name="throw-sheet-away"),
    path("labels/", labels.labels, name="labels"),
    path("scan/housing/<int:housing_id>/", labels.scan_housing, name="scan-housing"),
    path("hammers/<int:hammer_id>/meter/", meter.meter, name="meter"),
    path("power-packs/<int:machine_id>/meter/", meter.pack_meter, name="pack-meter"),
    path("machines/meters/", machines.read_meters, name="read-meters"),
    path(
        "machines/documents/<int:document_id>/", machines.machine_document, name="machine-document"
    ),
    path(
        "machines/documents/<int:document_id>/withdraw/",
        machines.withdraw_machine_document,
        name="withdraw-machine-document",
    ),
    path("machines/<slug:sort>/", machines.machine_list, name="machine-list"),
    path("machines/<slug:sort>/<int:machine_id>/", machines.machine_page, name="machine-page"),
    *(
        path(f"machines/<slug:sort>/<int:machine_id>/{folder}/", view, name=name)
        for folder, view, name in (
            ("hours", machines.enter_hours, "enter-hours"),
            ("inspect", machines.inspect_machine, "inspect-machine"),
            ("documents", machines.machine_documents, "machine-documents"),
            ("out-of-service", service.take_out_machine, "take-machine-out"),
            ("release", service.release_machine, "release-machine"),
        )
    ),
    path("inspections/<int:inspection_id>/", count.inspection, name="inspection"),
    path("replacements/<int:replacement_id>/", count.replacement, name="replacement"),
]
