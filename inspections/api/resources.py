"""What a program may read: each kind of record once, its fields those of its model.

Every figure is in the unit it is stored in, which stands in its name. A test holds this list to
the journal's: whatever has leaves is read here, or its reason not to be stands below.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from django.contrib.auth.models import User
from django.db import models
from django.db.models import Model, QuerySet
from ninja import Schema
from pydantic import Field, create_model

from fleet import models as fleet
from fleet.people.recording import role_of
from fleet.roles import who_words
from fleet.signers import signer_words
from fleet.units import hung_today
from inspections import models as inspections
from inspections.api.columns import Moment, ReadColumn, columns_of
from ratings import models as ratings
from ratings.rerating.telling import rated_again_since

# By label: why no program reads it by itself.
NOT_READ = {
    "auth.group": "a role, told of each person",
    "auth.group_permissions": "told in How this works",
    "auth.user_groups": "told as the role of a person",
    "auth.user_user_permissions": "nobody has rights beside a role",
    "fleet.person": "told of each person",
    "fleet.personname": "told with what they signed",
    "inspections.calendarfeed": "a secret of one person’s own",
}

Rows = Sequence[Any]


@dataclass(frozen=True)
class Resource:
    """A kind of record that programs read.

    name: in addresses. about: what it is, for whoever writes the program. of_it: reverse relations
    whose rows are told with it. when: its columns of time that a list may be narrowed by, beside
    when it was recorded. more: fields that are no columns, by name, with type and words.
    look_up: what those say of each of some rows. asked: a query that look_up reads well. only: the
    columns that are told, where not all are.
    """

    model: type[Model]
    name: str
    about: str
    of_it: tuple[str, ...] = ()
    when: tuple[str, ...] = ()
    more: Mapping[str, tuple[Any, str]] = field(default_factory=dict)
    look_up: Callable[[Rows], list[dict[str, Any]]] | None = None
    asked: Callable[[], QuerySet[Any]] | None = None
    only: tuple[str, ...] = ()

    @cached_property
    def columns(self) -> list[ReadColumn]:
        columns = columns_of(self.model)
        return [each for each in columns if not self.only or each.name in self.only]

    @cached_property
    def children(self) -> dict[str, list[ReadColumn]]:
        """The columns of the rows told with it, by the name of their relation."""
        relations: dict[str, Any] = {name: self.model._meta.get_field(name) for name in self.of_it}
        return {
            name: columns_of(relation.related_model, but=relation.field.name)
            for name, relation in relations.items()
        }

    @cached_property
    def is_signed(self) -> bool:
        """Whether it says who recorded it."""
        return {"recorded_by", "recorded_at"} <= {each.name for each in self.model._meta.fields}

    @cached_property
    def times(self) -> tuple[str, ...]:
        """The columns of time that a list may be narrowed by."""
        return (*self.when, "recorded_at") if self.is_signed else self.when

    @cached_property
    def keys(self) -> tuple[str, ...]:
        """The columns that name another record, by which a list may be narrowed."""
        return tuple(
            each.attname
            for each in self.model._meta.concrete_fields
            if isinstance(each, models.ForeignKey)
            and each.related_model is not User
            and isinstance(each.target_field, models.IntegerField)
        )

    @cached_property
    def schema(self) -> type[Schema]:
        """What one of them looks like."""
        fields: dict[str, Any] = {column.name: column.schema for column in self.columns}
        if self.is_signed:
            words = "Who recorded it, by the name of that moment."
            fields["recorded_by"] = (str, Field(description=words))
        for name, columns in self.children.items():
            row: Any = create_model(
                f"{self.title}{name.title().replace('_', '')}",
                __base__=Schema,
                **{column.name: column.schema for column in columns},  # type: ignore[call-overload]
            )
            fields[name] = (list[row], Field(description="Each of them."))
        for name, (annotation, words) in self.more.items():
            fields[name] = (annotation, Field(description=words))
        made: type[Schema] = create_model(self.title, __base__=Schema, **fields)
        return made

    @property
    def title(self) -> str:
        return "".join(part.title() for part in self.name.split("-"))

    def records(self) -> QuerySet[Any]:
        """Return all of them, with what is told of each, in a fixed number of queries."""
        found = self.model._default_manager.all() if self.asked is None else self.asked()
        if self.is_signed:
            found = found.select_related("recorded_by")
        return found.prefetch_related(*self.of_it)

    def told(self, rows: Rows) -> list[dict[str, Any]]:
        """Return rows as programs read them."""
        found = [self._told(row) for row in rows]
        if self.look_up is not None:
            for each, more in zip(found, self.look_up(rows), strict=True):
                each |= more
        return found

    def _told(self, row: Any) -> dict[str, Any]:
        told = {column.name: column.of(row) for column in self.columns}
        if self.is_signed:
            told["recorded_by"] = signer_words(row)
        for name, columns in self.children.items():
            children = sorted(getattr(row, name).all(), key=lambda child: child.pk)
            told[name] = [{column.name: column.of(each) for column in columns} for each in children]
        return told


class CurrentFigures(Schema):
    """What the last entry of a unit's ledger says."""

    entry_id: int
    sequence: int
    standing: str = Field(description="Its state against its listing.")
    pull_lbf: float | None = Field(description="Line pull, best estimate, lbf.")
    working_capacity_lbf: float | None = Field(description="What the yard stands behind, lbf.")
    listed_lbf: float | None = Field(description="Listed rating, lbf.")
    usable_travel_in: float | None = Field(description="The stretch it is rated at, in.")
    sound_pads: int
    positions: int
    occurred_at: Moment


class Outage(Schema):
    """A machine of the unit that is out of service."""

    outage_id: int
    since: Moment
    reason: str


def _stand(housings: Rows) -> list[dict[str, Any]]:
    """What units are made of today, their figures, and whether they are in service."""
    keys = [housing.pk for housing in housings]
    hung = hung_today(keys)
    heads = ratings.CurrentRating.objects.filter(housing__in=keys).select_related("head")
    head_of = {each.housing_id: each.head for each in heads}
    out: dict[int, list[Any]] = {}
    for outage in fleet.OutOfService.objects.open().of_units(keys):
        out.setdefault(outage.unit_today, []).append(outage)
    since = rated_again_since(keys)
    return [
        {
            **{
                f"{column}_id": getattr(getattr(hung.get(key), column, None), "pk", None)
                for column in ("hammer", "clamp", "power_pack")
            },
            "rating": _figures(head_of.get(key)),
            "rated_again_since": since[key].isoformat() if key in since else None,
            "is_in_service": key not in out,
            "outages": [
                {
                    "outage_id": each.pk,
                    "since": each.since.isoformat(),
                    "reason": each.reason,
                }
                for each in out.get(key, [])
            ],
        }
        for key in keys
    ]


def _figures(head: Any) -> dict[str, Any] | None:
    if head is None:
        return None
    names = set(CurrentFigures.model_fields) - {"entry_id", "occurred_at"}
    named = {name: getattr(head, name) for name in names}
    return {"entry_id": head.pk, "occurred_at": head.occurred_at.isoformat(), **named}


UNIT = {
    "hammer_id": (int | None, "The hammer it hangs on today."),
    "clamp_id": (int | None, "The clamp of that hammer."),
    "power_pack_id": (int | None, "The power pack of that hammer."),
    "rating": (CurrentFigures | None, "By the last entry of its ledger; null where none is."),
    "rated_again_since": (
        Moment | None,
        "Since when its figures are worked out anew; null where they are not. Meanwhile those "
        "above are of before: ask again in a minute, before it goes out on them.",
    ),
    "is_in_service": (bool, "Whether no machine of it is out of service."),
    "outages": (list[Outage], "What keeps it out of service."),
}


def _named(people: Rows) -> list[dict[str, Any]]:
    return [{"name": who_words(each), "role": role_of(each)} for each in people]


def _states(found: Rows) -> list[dict[str, Any]]:
    return [{"state": str(each.state)} for each in found]


RESOURCES: tuple[Resource, ...] = (
    # Units and machines.
    Resource(
        fleet.SuppressorHousing,
        "units",
        "Units by their housing: what hangs together today, how it is rated, its service.",
        of_it=("positions",),
        more=UNIT,
        look_up=_stand,
    ),
    Resource(fleet.Yard, "yards", "Yards."),
    Resource(fleet.YardHaul, "yard-hauls", "How far yards are from each other."),
    Resource(fleet.Hammer, "hammers", "Hammers, in use or not."),
    Resource(fleet.Clamp, "clamps", "Clamps."),
    Resource(fleet.PowerPack, "power-packs", "Power packs."),
    Resource(fleet.Mounting, "mountings", "Housings on hammers.", when=("mounted_at",)),
    Resource(fleet.ClampFitting, "clamp-fittings", "Clamps on hammers.", when=("fitted_at",)),
    Resource(
        fleet.PowerPackConnection,
        "power-pack-connections",
        "Power packs on hammers.",
        when=("fitted_at",),
    ),
    Resource(fleet.HousingGuide, "housing-guides", "Whether housings are guided."),
    Resource(fleet.HourReading, "hour-readings", "Hours read off meters.", when=("read_at",)),
    Resource(fleet.MeterChange, "meter-changes", "Meters changed or set.", when=("changed_at",)),
    Resource(
        fleet.OutOfService,
        "outages",
        "Machines out of service: since when, why, and how they came back.",
        of_it=("reaches",),
        when=("since",),
    ),
    Resource(fleet.OutageReach, "outage-reaches", "Outages that were found to begin earlier."),
    Resource(fleet.SetUpChange, "set-up-changes", "Changes of what the yard owns, with reasons."),
    # Pads.
    Resource(
        fleet.PadLot,
        "pad-lots",
        "Pad lots, with what lies on each shelf and their ratings.",
        of_it=("shelves", "ratings"),
    ),
    Resource(fleet.LotCorrection, "lot-corrections", "What was put right of lots."),
    Resource(fleet.StockMove, "stock-moves", "Pads that came and went.", when=("occurred_at",)),
    Resource(fleet.PadPrice, "pad-prices", "What pads cost."),
    Resource(fleet.PadOrder, "pad-orders", "Pads ordered.", of_it=("promises", "receipts")),
    Resource(fleet.PadOrderPromise, "pad-order-promises", "When ordered pads are promised for."),
    Resource(fleet.PadOrderCancellation, "pad-order-cancellations", "Orders cancelled."),
    Resource(fleet.PadReceipt, "pad-receipts", "Pads received.", when=("received_at",)),
    Resource(fleet.PadReceiptTakenBack, "pad-receipts-taken-back", "Receipts taken back."),
    # The bench.
    Resource(
        ratings.BenchTest,
        "bench-tests",
        "Bench tests, with their readings and pads.",
        of_it=("readings", "pads"),
        when=("tested_at",),
    ),
    Resource(
        ratings.LotRating,
        "lot-ratings",
        "What the tests of a lot come to, and how that stands.",
        of_it=("rated_tests",),
        more={"state": (str, "Draft, approved, withdrawn and so on.")},
        look_up=_states,
        asked=lambda: ratings.LotRating.objects.with_state(),
    ),
    Resource(ratings.RatingApproval, "rating-approvals", "Ratings approved by a second person."),
    Resource(ratings.RatingRejection, "rating-rejections", "Ratings rejected."),
    Resource(ratings.RatingWithdrawal, "rating-withdrawals", "Ratings withdrawn."),
    Resource(
        ratings.LotDecision,
        "lot-decisions",
        "Which tests of a lot count, where they disagree.",
        of_it=("decided_tests",),
    ),
    Resource(ratings.TestStand, "stands", "Test stands."),
    Resource(ratings.Gauge, "gauges", "Gauges.", of_it=("calibrations",)),
    Resource(ratings.GaugeCalibration, "gauge-calibrations", "Certificates of gauges."),
    Resource(ratings.Tape, "tapes", "Tapes."),
    Resource(ratings.Thermometer, "thermometers", "Thermometers."),
    Resource(ratings.LoadIndicator, "load-indicators", "Load indicators."),
    Resource(ratings.ReferencePiece, "reference-pieces", "Pieces that stands are checked by."),
    Resource(
        ratings.ReferenceCheck,
        "reference-checks",
        "Stands checked by a reference piece.",
        of_it=("readings",),
        when=("checked_at",),
    ),
    Resource(ratings.SurveillancePlan, "surveillance-plans", "Pads to be drawn from service."),
    # The ledger.
    Resource(
        ratings.LedgerEntry,
        "ledger-entries",
        "Every change of a unit’s line pull, with the document it holds and its hash.",
        when=("occurred_at",),
    ),
    Resource(ratings.Listing, "listings", "What the literature claims of hammers."),
    Resource(ratings.RatingPolicy, "policies", "How the yard rates."),
    Resource(
        ratings.ProofPull,
        "proof-pulls",
        "Whole units pulled, with readings.",
        of_it=("readings",),
        when=("pulled_at",),
    ),
    Resource(ratings.ProofDecision, "proof-decisions", "Proof pulls set aside."),
    Resource(ratings.Proposal, "proposals", "What waits, or waited, for a second person."),
    Resource(ratings.ProposalAnswer, "proposal-answers", "What the second person said."),
    Resource(fleet.Leaf, "leaves", "The journal: a line for every row ever written."),
    Resource(ratings.Seal, "seals", "Seals of the journal.", when=("made_at",)),
    Resource(ratings.Paper, "papers", "Papers given out, and what each states."),
    Resource(ratings.Verification, "verifications", "When the record was verified.", when=("at",)),
    # Inspections and service.
    Resource(
        inspections.Inspection,
        "inspections",
        "Inspections: pads counted, travel taped, answers to checklists.",
        of_it=("pads", "answers", "findings"),
        when=("seen_at",),
    ),
    Resource(inspections.SecondLook, "second-looks", "Second looks at pads said sound again."),
    Resource(inspections.Finding, "findings", "What was found wrong."),
    Resource(
        inspections.FindingClosing, "finding-closings", "Findings mended.", when=("closed_at",)
    ),
    Resource(
        inspections.PadReplacement,
        "pad-replacements",
        "Pads fitted.",
        of_it=("pads",),
        when=("fitted_at",),
    ),
    Resource(inspections.Photo, "photos", "Photos named by inspections; their bytes by hash."),
    Resource(inspections.PhotoFile, "photo-files", "Photos that came, by the hash of their bytes."),
    Resource(inspections.Checklist, "checklists", "Checklists by kind of inspection."),
    Resource(inspections.OwnKind, "inspection-kinds", "The yard’s own kinds of inspection."),
    Resource(inspections.KindNeeds, "kind-needs", "What a kind needs to count."),
    Resource(inspections.KindSorts, "kind-sorts", "Which machines a kind looks at."),
    Resource(inspections.KindRetirement, "kind-retirements", "Kinds no longer used."),
    Resource(inspections.ServiceSchedule, "service-schedules", "How often each kind is due."),
    Resource(inspections.MachineDocument, "machine-documents", "Papers of machines, by hash."),
    Resource(
        inspections.DocumentWithdrawal, "document-withdrawals", "Papers of machines withdrawn."
    ),
    Resource(inspections.MovedRecords, "moved-records", "Inspections put to another machine."),
    Resource(
        inspections.RepairOrder,
        "repairs",
        "Repair orders, with parts, hours and cost.",
        of_it=("lines", "photos"),
    ),
    Resource(
        inspections.RepairLineTakenBack, "repair-lines-taken-back", "Lines of repairs taken back."
    ),
    Resource(inspections.RepairClosing, "repair-closings", "Repairs finished.", when=("ended_at",)),
    # Jobs.
    Resource(
        ratings.ExtractionJob,
        "jobs",
        "Piles to be pulled: crane, piles, ground.",
        of_it=("pile_groups", "layers", "holds", "distances"),
        when=("first_day", "changed_at"),
    ),
    Resource(ratings.JobVersion, "job-versions", "What jobs said before."),
    Resource(ratings.JobAttachment, "job-attachments", "Papers of jobs, by hash."),
    Resource(ratings.AttachmentWithdrawal, "attachment-withdrawals", "Papers of jobs withdrawn."),
    Resource(
        ratings.JobAnswer, "answers", "Whether a unit suits a job, with the document and its hash."
    ),
    Resource(
        ratings.Commitment,
        "commitments",
        "Units promised to jobs.",
        of_it=("conditions", "confirmations"),
        when=("first_day", "last_day", "released_at"),
    ),
    Resource(ratings.CommitmentCondition, "commitment-conditions", "What a commitment waits for."),
    Resource(ratings.ConditionMet, "conditions-met", "What it waited for, and came."),
    Resource(ratings.CommitmentConfirmation, "commitment-confirmations", "Commitments confirmed."),
    Resource(
        ratings.CommitmentLetter,
        "commitment-letters",
        "Letters that a commitment holds no more.",
        when=("sent_at",),
    ),
    Resource(
        ratings.PullRecord, "pulls", "What happened when piles were pulled.", when=("pulled_at",)
    ),
    Resource(inspections.PullPhoto, "pull-photos", "Photos named by pulls."),
    Resource(inspections.PullPhotoFile, "pull-photo-files", "Photos of pulls, by hash."),
    Resource(ratings.ExtractionRules, "extraction-rules", "How jobs are answered."),
    Resource(ratings.LearningRules, "learning-rules", "How much pulls teach."),
    Resource(ratings.LearnedFactor, "learned-factors", "What pulls taught of soils."),
    Resource(ratings.PileSection, "pile-sections", "Sections of piles."),
    Resource(ratings.SoilTemplate, "soil-templates", "Ground profiles kept."),
    Resource(ratings.TransferForJob, "transfers-for-jobs", "Which transfer is for which job."),
    Resource(ratings.TransportRules, "transport-rules", "How long units are on the way."),
    Resource(fleet.Transfer, "transfers", "Units sent from yard to yard.", when=("leaves_on",)),
    Resource(fleet.TransferEnd, "transfer-ends", "Transfers arrived or cancelled."),
    # Hire.
    Resource(fleet.Hire, "hires", "Units let out.", of_it=("hand_overs",), when=("from_day",)),
    Resource(inspections.HandOverPhoto, "hand-over-photos", "Photos of hand-overs, by their hash."),
    Resource(
        inspections.ForeignCheck,
        "foreign-checks",
        "Hammers that are not ours, checked.",
        of_it=("photos",),
        when=("checked_at",),
    ),
    # Ahead.
    Resource(inspections.PlannedHours, "planned-hours", "Hours a unit is to run."),
    Resource(inspections.Forecast, "forecasts", "How units are likely to stand, as foreseen."),
    Resource(inspections.ForecastReplay, "forecast-replays", "Forecasts held to what came."),
    Resource(inspections.RestorePlan, "restore-plans", "Which pads bring short units back."),
    Resource(inspections.TakenImport, "imports", "Registers and sheets taken in."),
    Resource(
        inspections.ReceivedUnit,
        "received-units",
        "Units that came from another site, and what that had on record of them.",
        when=("received_at",),
    ),
    # People and programs.
    Resource(
        User,
        "people",
        "Who works here, and as what.",
        more={
            "name": (str, "As papers and pages write it now."),
            "role": (str, "Equipment manager, dispatcher or auditor; empty for none."),
        },
        look_up=_named,
        asked=lambda: User.objects.prefetch_related("groups"),
        only=("id", "is_active"),
    ),
    Resource(fleet.PersonChange, "person-changes", "Changes of roles and access."),
    Resource(fleet.YardBinding, "yard-bindings", "Who was bound to which yards, and why."),
    Resource(fleet.YardBindingEnd, "yard-binding-ends", "Bindings to yards that were lifted."),
    Resource(fleet.Qualification, "qualifications", "What people are qualified for."),
    Resource(
        fleet.QualificationWithdrawal, "qualification-withdrawals", "Qualifications withdrawn."
    ),
    Resource(fleet.ApiToken, "tokens", "Tokens of programs; never the token itself."),
    Resource(fleet.ApiTokenEnd, "token-ends", "Tokens withdrawn."),
    Resource(fleet.ApiWrite, "token-writes", "What was recorded by which token."),
    Resource(fleet.Passkey, "passkeys", "Passkeys added; never what lets anybody in."),
    Resource(fleet.PasskeyEnd, "passkey-ends", "Passkeys taken away."),
    Resource(fleet.RetentionRule, "retention-rules", "How long files of a kind are kept."),
    Resource(fleet.LettingGo, "files-let-go", "Files let go, by whom and why.", of_it=("files",)),
    Resource(
        fleet.SignIn,
        "sign-ins",
        "Who signed in and out, and who was not let in.",
        when=("recorded_at",),
    ),
    Resource(
        fleet.Refusal,
        "refusals",
        "What was refused to whom, on which page and why.",
        when=("recorded_at",),
    ),
)
