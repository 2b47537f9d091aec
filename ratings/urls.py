from __future__ import annotations

from django.urls import path

from fleet.how_pages import how_page
from fleet.setup.urls import out_of_use_urls, set_up_urls
from ratings import guides, listings, mounting, policy
from ratings.bench import views as bench
from ratings.bench.readings_table import MOST_ROWS
from ratings.certificate import views as certificate
from ratings.jobs import compare, rules, section_pages
from ratings.jobs import paper_views as papers
from ratings.jobs import views as jobs
from ratings.jobs.rules import rules_in_force
from ratings.lots import decisions, rating_views
from ratings.lots import views as lots
from ratings.lots.out_of_use import LOT
from ratings.mechanics.planning import Aim
from ratings.mechanics.soil import BETAS
from ratings.models.policy import rating_policy
from ratings.orders import views as orders
from ratings.plan import views as plan
from ratings.proof import views as proof
from ratings.proposals import views as proposals
from ratings.pulls import views as pulls
from ratings.pulls.lessons import learning_in_force
from ratings.pullsheet import crew
from ratings.pullsheet import views as pullsheet
from ratings.record import paper_pages
from ratings.record import views as record
from ratings.rerating import views as reratings
from ratings.stands import views as stands
from ratings.stands.things import INSTRUMENTS
from ratings.surveillance import views as surveillance
from ratings.transfers import views as transfers
from ratings.transport import transport_in_force
from ratings.upkeep import views as upkeep

urlpatterns = [
    path("health/", upkeep.health, name="health"),
    path("ready/", upkeep.ready, name="ready"),
    path("metrics/", upkeep.metrics, name="metrics"),
    path("units/<int:housing_id>/mounting/", mounting.mounting, name="mounting"),
    path("units/<int:housing_id>/guide/", guides.guide, name="guide"),
    path("lots/", lots.lots, name="lots"),
    path("stock-take/", lots.stock_take, name="stock-take"),
    path("lots/<int:lot_id>/move/", lots.move_yards, name="move-yards"),
    path("lots/new/", lots.new_lot, name="new-lot"),
    path("lots/<int:lot_id>/", lots.lot, name="lot"),
    *out_of_use_urls(LOT),
    path("lots/<int:lot_id>/keeping/", lots.keeping, name="lot-keeping"),
    path("lots/<int:lot_id>/correct/", lots.correct, name="correct-lot"),
    path("lots/<int:lot_id>/price/", lots.price, name="lot-price"),
    path("lots/<int:lot_id>/stock/", lots.stock, name="lot-stock"),
    path("pad-orders/", orders.orders, name="pad-orders"),
    path("pad-orders/new/", orders.new_order, name="new-pad-order"),
    path("pad-orders/<int:pad_order_id>/", orders.order, name="pad-order"),
    path("pad-receipts/<int:receipt_id>/take-back/", orders.take_back, name="take-back-receipt"),
    path("lots/<int:lot_id>/tests-that-count/", decisions.decide, name="decide-tests"),
    path("lots/<int:lot_id>/surveillance/", surveillance.lot_plan, name="lot-surveillance"),
    path("record/", record.record, name="record"),
    path("record/journal.jsonl", record.journal_export, name="journal-export"),
    path("record/journal/<slug:form>/", record.journal_lines, name="journal-lines"),
    path("record/check_record.py", record.script, name="check-record-script"),
    path("record/seals/<int:number>.txt", record.seal_text, name="seal-text"),
    path("ledger/<int:entry_id>/entry.json", record.entry_document, name="entry-document"),
    path("ledger/<int:entry_id>/proof.json", record.entry_proof, name="entry-proof"),
    path("paper/", paper_pages.ask, name="ask-paper"),
    path("paper/file/", paper_pages.paper_file, name="paper-file"),
    path("paper/<slug:code>/", paper_pages.paper, name="paper"),
    path("surveillance/", surveillance.surveillance, name="surveillance"),
    path("lots/<int:lot_id>/bench-test/", bench.new_test, name="new-bench-test"),
    path("lots/<int:lot_id>/bench-test/preview/", bench.preview, name="bench-preview"),
    path("bench-tests/<int:test_id>/", bench.test, name="bench-test"),
    path("bench-tests/<int:test_id>/photo/", bench.photo, name="bench-photo"),
    path("lot-ratings/<int:rating_id>/", rating_views.lot_rating, name="lot-rating"),
    path(
        "lot-ratings/<int:rating_id>/certificate.pdf",
        certificate.certificate,
        name="lot-certificate",
    ),
    path("lot-ratings/<int:rating_id>/approve/", rating_views.approve, name="approve-rating"),
    path("lot-ratings/<int:rating_id>/reject/", rating_views.reject, name="reject-rating"),
    path("lot-ratings/<int:rating_id>/withdraw/", rating_views.withdraw, name="withdraw-rating"),
    *(pattern for thing in INSTRUMENTS for pattern in set_up_urls(thing)),
    path("stands/", stands.stands, name="stands"),
    path("stands/<int:stand_id>/", stands.stand, name="stand"),
    path("stands/<int:stand_id>/check/", stands.new_check, name="new-reference-check"),
    path("stand-checks/<int:check_id>/", stands.reference_check, name="reference-check"),
    path("gauges/<int:gauge_id>/", stands.gauge, name="gauge"),
    path(
        "gauges/<int:gauge_id>/certificate/", stands.new_calibration, name="new-gauge-calibration"
    ),
    path("gauge-certificates/<int:calibration_id>/", stands.calibration, name="gauge-calibration"),
    path("gauge-certificates/<int:calibration_id>/touched/", stands.recall, name="recall"),
    path("listings/", listings.listings, name="listings"),
    path("hammers/<int:hammer_id>/listing/", listings.new_listing, name="new-listing"),
    path("rerating/<int:work_id>/", reratings.rerating, name="rerating"),
    path("rerating/<int:work_id>/seen/", reratings.see_rerating, name="see-rerating"),
    path("proposals/", proposals.proposals, name="proposals"),
    path("proposals/new/", proposals.new_proposal, name="new-proposal"),
    path("proposals/<int:proposal_id>/", proposals.proposal, name="proposal"),
    path("proposals/<int:proposal_id>/confirm/", proposals.confirm, name="confirm-proposal"),
    path(
        "proposals/<int:proposal_id>/turn-down/",
        proposals.turn_proposal_down,
        name="turn-proposal-down",
    ),
    path("jobs/", jobs.jobs, name="jobs"),
    path("jobs/new/", jobs.new_job, name="new-job"),
    path("jobs/compare/", compare.compare, name="compare-answers"),
    path("jobs/layers/", jobs.job_layers, name="job-layers"),
    path("jobs/<int:job_id>/files/", papers.job_attachments, name="job-attachments"),
    path("jobs/files/<int:attachment_id>/", papers.job_attachment, name="job-attachment"),
    path(
        "jobs/files/<int:attachment_id>/withdraw/",
        papers.withdraw_attachment,
        name="withdraw-attachment",
    ),
    path("jobs/<int:job_id>/copy/", papers.job_copy, name="copy-job"),
    path("jobs/<int:job_id>/history/", jobs.job_history, name="job-history"),
    path("jobs/piles/", jobs.job_piles, name="job-piles"),
    path("jobs/holds/", jobs.job_holds, name="job-holds"),
    path("jobs/set-up/", jobs.job_set_up, name="job-set-up"),
    path("jobs/<int:job_id>/", jobs.job, name="job"),
    path(
        "jobs/<int:job_id>/soil-template/",
        section_pages.new_soil_template,
        name="new-soil-template",
    ),
    path("pile-sections/", section_pages.pile_sections, name="pile-sections"),
    path("pile-sections/new/", section_pages.new_pile_section, name="new-pile-section"),
    path("soil-templates/", section_pages.soil_templates, name="soil-templates"),
    path("extraction-rules/", rules.extraction_rules, name="extraction-rules"),
    path("jobs/answer/", jobs.job_answer, name="job-answer"),
    path(
        "jobs/answer/units/<int:housing_id>/",
        jobs.job_answer_unit,
        name="job-answer-unit",
    ),
    path("jobs/<int:job_id>/units/<int:housing_id>/", jobs.job_unit, name="job-unit"),
    path("commitments/<int:commitment_id>/", pullsheet.commitment, name="commitment"),
    path(
        "commitments/<int:commitment_id>/pull-sheet.pdf",
        pullsheet.pull_sheet,
        name="pull-sheet",
    ),
    path(
        "commitments/<int:commitment_id>/answer.json",
        pullsheet.answer_document,
        name="answer-document",
    ),
    path(
        "commitments/<int:commitment_id>/release/",
        jobs.release_commitment,
        name="release-commitment",
    ),
    path("commitments/<int:commitment_id>/confirm/", jobs.confirm, name="confirm-commitment"),
    path("conditions/<int:condition_id>/done/", jobs.meet, name="meet-condition"),
    path("sheet/<slug:code>/", crew.crew, name="crew"),
    path("plan/", plan.plan, name="plan"),
    path("transfers/", transfers.transfers, name="transfers"),
    path("transfers/new/", transfers.new_transfer, name="new-transfer"),
    path("transfers/<int:transfer_id>/", transfers.transfer, name="transfer"),
    path("yard-hauls/", transfers.yard_hauls, name="yard-hauls"),
    path("transport-rules/", transfers.transport_rules, name="transport-rules"),
    path("pulls/", pulls.pulls, name="pulls"),
    path("pulls/list.csv", pulls.pulls_csv, name="pulls-csv"),
    path("pulls/<int:pull_record_id>/", pulls.pull_record, name="pull-record"),
    path("pulls/lessons/", pulls.pull_lessons, name="pull-lessons"),
    path("pulls/lessons/take/", pulls.take_lesson, name="take-lesson"),
    path("pulls/lessons/rules/", pulls.change_lesson_rules, name="change-lesson-rules"),
    path("policy/", policy.policy, name="policy"),
    path("units/<int:housing_id>/proof-pull/", proof.new_proof_pull, name="new-proof-pull"),
    path("proof-pulls/<int:pull_id>/", proof.proof_pull, name="proof-pull"),
    path("proof-pulls/<int:pull_id>/set-aside/", proof.set_aside, name="set-aside-proof-pull"),
    how_page("ledger", "ledger/how.html", "board"),
    how_page("bench", "bench/how.html", "lots", policy=rating_policy, most_readings=MOST_ROWS),
    how_page("proof", "proof/how.html", "board", policy=rating_policy),
    how_page("pulls", "pulls/how.html", "jobs", learning=learning_in_force, rules=rules_in_force),
    how_page("plan", "plan/how.html", "jobs", aims=list(Aim), rules=transport_in_force),
    how_page("job", "jobs/how.html", "jobs", rules=rules_in_force, betas=BETAS),
]
