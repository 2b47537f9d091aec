"""What waits for somebody in the yard, a function for each section.

Another section is a function from `Today` to `Found` and its line in PROVIDERS: page, daily
letter and count all read that tuple.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta
from functools import partial
from typing import Any
from urllib.parse import quote

from django.contrib.auth.models import User
from django.db.models import Exists, F, OuterRef, Q, Value
from django.urls import reverse
from django.utils import timezone

from fleet.dates import day_words
from fleet.models import (
    Hire,
    LongWork,
    PadLot,
    PadOrder,
    PadPosition,
    SuppressorHousing,
    Transfer,
)
from fleet.outages import named
from fleet.roles import PLAN, RECORD, who_words
from fleet.signers import signer_words
from inspections.count.second_look import pads_to_look_at, second_looks_wanted
from inspections.models import Finding, Inspection, RepairOrder, Severity
from inspections.repairs.tables import with_machines
from inspections.schedule.due import open_findings
from inspections.schedule.pressing import CHANGED_JUST_NOW
from inspections.waiting.sections import (
    Found,
    Line,
    Next,
    Pressing,
    Provider,
    Today,
    Waiting,
    waiting,
)
from ratings.bench.stand_warnings import StandCheck, stand_checks
from ratings.jobs.conditions import ConditionNow
from ratings.jobs.validity import CommitmentNow, Word
from ratings.ledger.facts import staleness
from ratings.models import (
    ConditionKind,
    Gauge,
    LoadIndicator,
    LotRating,
    Proposal,
    PullRecord,
    RatingPolicy,
    ReferenceCheck,
    Tape,
    TestStand,
    Thermometer,
)
from ratings.models.policy import policy_in_force
from ratings.rerating.telling import not_recorded
from ratings.surveillance.draws import DrawsDue, draws_due
from ratings.surveillance.words import Softening, softenings

# An instrument must be sent away and a lot pulled on the stand, so that it is told in time.
CALIBRATION_SOON = timedelta(days=30)
STALE_SOON = timedelta(days=30)
CONDITION_SOON = timedelta(days=7)


def fallen(today: Today) -> Found:
    """Commitments whose sheets are void."""
    return Found([each for each in today.commitments if each.is_void], _fallen)


def _fallen(now: CommitmentNow) -> Line:
    made = now.commitment
    page = reverse("commitment", args=[made.pk])
    again = now.may_be_answered_again
    return Line(
        _commitment_words(now),
        f"{now.lead} {now.words}",
        page,
        "Answer it again" if again else "Release it",
        page if again else reverse("release-commitment", args=[made.pk]),
        is_grave=True,
    )


def _commitment_words(now: CommitmentNow) -> str:
    made = now.commitment
    return f"{made.housing.mark} for {made.job.site}, {now.days}"


def to_confirm(today: Today) -> Found:
    """Commitments of which all is done that they were made on, but for an answer of today."""
    ready = [each for each in today.commitments if each.word is Word.NOT_YET and not each.wanting]
    return Found(ready, _to_confirm)


def _to_confirm(now: CommitmentNow) -> Line:
    page = reverse("commitment", args=[now.commitment.pk])
    return Line(_commitment_words(now), now.not_yet_words, page, "Confirm it", page)


def conditions(today: Today) -> Found:
    """What is to be done before a committed unit goes, or while it is held, within a week."""
    open_ones = [
        (now, each)
        for now in today.commitments
        if not now.is_void
        for each in now.conditions
        if not each.is_met
    ]
    soon = [
        (now, each)
        for now, each in open_ones
        if each.plan.to_day <= today.day + CONDITION_SOON or each.plan.from_day <= today.day
    ]
    later = [
        Next(each.plan.to_day, f"{each.plan.said} for {now.commitment.housing.mark}")
        for now, each in open_ones
        if (now, each) not in soon
    ]
    soon.sort(key=lambda pair: (pair[1].plan.to_day, pair[1].condition.pk))
    return Found(soon, _condition, _first(later))


def _condition(pair: tuple[CommitmentNow, ConditionNow]) -> Line:
    now, condition = pair
    action, form, right = _condition_action(now, condition)
    return Line(
        _commitment_words(now),
        f"{condition.word}: {condition.words}",
        reverse("commitment", args=[now.commitment.pk]),
        action,
        form,
        right,
        condition.is_missed,
    )


def _condition_action(now: CommitmentNow, condition: ConditionNow) -> tuple[str, str, str]:
    """Return what there is to do, where, and by whose right."""
    housing, row = now.commitment.housing_id, condition.condition
    match condition.plan.kind:
        case ConditionKind.COUNT:
            return "Count it", inspect_address(housing), RECORD
        case ConditionKind.PADS:
            return "Fit the pads", reverse("replace-pads", args=[housing]), RECORD
        case ConditionKind.RATE:
            return "See its ratings", f"{reverse('lot', args=[row.lot_id])}#ratings", RECORD
        case ConditionKind.SERVICE:
            return "Release it", reverse("release-to-service", args=[housing]), RECORD
        case ConditionKind.OTHER:
            return "Say that it is done", reverse("meet-condition", args=[row.pk]), PLAN
        case _:
            return "", "", RECORD


def transfers_late(today: Today) -> Found:
    """Transfers that were to arrive before today."""
    open_ones = Transfer.objects.open().select_related("origin", "goal", "housing", "hammer")
    late, coming = _split(open_ones.order_by("arrives_on", "pk"), "arrives_on", today.day)
    following = (
        Next(coming.arrives_on, f"{coming.what} arrives in {coming.goal}") if coming else None
    )
    return Found(late, _transfer, following)


def _split(planned: Iterable[Any], name: str, day: date) -> tuple[list[Any], Any]:
    """Return those planned for before a day, and the first planned for it or later, or None.

    By the day that `name` holds, the first of which comes first. One query, since a yard has no
    more under way than it has machines.
    """
    late: list[Any] = []
    for each in planned:
        if getattr(each, name) >= day:
            return late, each
        late.append(each)
    return late, None


def _transfer(transfer: Transfer) -> Line:
    page = reverse("transfer", args=[transfer.pk])
    return Line(
        transfer.what,
        f"to be in {transfer.goal} since {day_words(transfer.arrives_on)}, from {transfer.origin}",
        page,
        "Say that it came",
        page,
        is_late=True,
    )


def hires_overdue(today: Today) -> Found:
    """Units on hire that were to be back before today."""
    out = Hire.objects.out().select_related("housing").order_by("back_due", "pk")
    late, coming = _split(out, "back_due", today.day)
    following = (
        Next(coming.back_due, f"{coming.housing} comes back from {coming.hirer}")
        if coming
        else None
    )
    return Found(late, _hire, following)


def _hire(hire: Hire) -> Line:
    page = reverse("hire", args=[hire.pk])
    words = f"{hire.board_words}; contact {hire.contact}"
    return Line(str(hire.housing), words, page, "Take it back", f"{page}#hand-over", is_late=True)


def overloads(today: Today) -> Found:
    """Pulls that went beyond a limit, of units that no full count came after."""
    pulled = PullRecord.objects.standing().exclude(doubts=[])
    units = SuppressorHousing.objects.filter(
        pk__in=pulled.order_by().values("commitment__housing")
    ).with_last_seen()
    marks = {each.pk: each for each in units.select_related("yard")}
    found = PullRecord.objects.open_overloads(
        {key: getattr(each, "counted_at", None) for key, each in marks.items()}
    )
    oldest = sorted(found.values(), key=lambda pull: (pull.pulled_at, pull.pk))
    return Found([(marks[each.commitment.housing_id], each) for each in oldest], _overload)


def _overload(pair: tuple[SuppressorHousing, PullRecord]) -> Line:
    housing, pull = pair
    return Line(
        housing.mark,
        pull.overload_words,
        reverse("pull-record", args=[pull.pk]),
        "Inspect it",
        inspect_address(housing.pk),
        is_grave=True,
    )


def second_looks(today: Today) -> Found:
    """Pads said to be sound again that wait for another person to look."""
    return Found(list(second_looks_wanted()), _second_look)


def _second_look(found: Inspection) -> Line:
    who = found.second_look_by
    page = reverse("second-look", args=[found.pk])
    return Line(
        f"Pads of {found.housing}: {pads_to_look_at(found)}",
        f"said to be sound again on {day_words(found.seen_at)} by {signer_words(found)}, "
        f"with no new pad on record; {who_words(who) if who else 'another person'} is to look too",
        page,
        "Sign the second look",
        page,
    )


def proposals(today: Today) -> Found:
    """What waits for a second person; not for whoever proposed it."""
    found = Proposal.objects.open().select_related("recorded_by").order_by("pk")
    if today.person is not None:
        found = found.exclude(recorded_by=today.person)
    return Found(found, _proposal)


def _proposal(proposal: Proposal) -> Line:
    page = reverse("proposal", args=[proposal.pk])
    return Line(
        proposal.title,
        f"proposed {day_words(proposal.recorded_at)} by {signer_words(proposal)}, waits "
        "for another person",
        page,
        "Confirm it or turn it down",
        page,
    )


def not_rerated(_today: Today) -> Found:
    """What was to rate many units again, and was not recorded."""
    return Found(not_recorded(), _not_rerated)


def _not_rerated(work: LongWork) -> Line:
    page = reverse("rerating", args=[work.pk])
    return Line(
        str(work.arguments["title"]),
        f"asked for {day_words(work.asked_at)} by {signer_words(work, 'asked_by', 'asked_at')}: "
        "not recorded, and nothing was rated by it",
        page,
        "See why",
        page,
        is_grave=True,
    )


def drafts(today: Today) -> Found:
    """Ratings that wait for a second person."""
    return Found(list(LotRating.objects.waiting()), _draft)


def _draft(draft: LotRating) -> Line:
    page = reverse("lot-rating", args=[draft.pk])
    return Line(
        f"Rating {draft.pk} of lot {draft.lot.mark}",
        f"drafted {day_words(draft.recorded_at)} by {signer_words(draft)}, waits for a "
        "second person",
        page,
        "Approve or reject it",
        f"{page}#approve",
    )


def overdue(today: Today) -> Found:
    """Inspections over their days or hours."""
    return Found(today.fleet_due.asked("overdue", ""), _due_line, read=today.with_units)


def due_soon(today: Today) -> Found:
    """Inspections that come due within a week or the last tenth of their hours."""
    later = [Next(each.day, f"{each.kind} of {each.mark}") for each in today.fleet_due.coming]
    soon = today.fleet_due.asked("soon", "")
    return Found(soon, _due_line, _first(later), read=today.with_units)


def _due_line(pressing: Pressing) -> Line:
    found, read_now = pressing
    if read_now is None:
        page = reverse("unit", args=[found.housing])
        return Line(found.mark, f"{found.kind}, {CHANGED_JUST_NOW}", page)
    unit, kind = read_now
    return Line(
        f"{unit.name} ({unit.yard})",
        f"{kind.row.kind}, {kind.words_with_machine}",
        unit.url,
        "Inspect it",
        inspect_address(found.housing, found.kind),
        is_late=kind.is_overdue,
    )


def inspect_address(housing_id: int, kind: str = "") -> str:
    """Return where a unit is inspected, the kind chosen already where one is named."""
    return f"{reverse('field')}#inspect/{housing_id}{'/' + quote(kind, safe='') if kind else ''}"


def findings(today: Today) -> Found:
    """Findings to be acted on, by when."""
    to_act_on = open_findings().exclude(severity=Severity.MONITOR).order_by("act_by", "pk")
    # Their photos show where they are read.
    return Found(to_act_on.prefetch_related(None), partial(_finding, today.day))


def _finding(today: date, finding: Finding) -> Line:
    day = f"by {day_words(finding.act_by)}" if finding.act_by else "no day set"
    return Line(
        named(finding.machine),
        f"{finding.text}, {finding.who_acts} {day}",
        reverse("inspection", args=[finding.inspection_id]),
        "Close it",
        reverse("close-finding", args=[finding.pk]),
        is_late=finding.act_by is not None and finding.act_by < today,
    )


def repairs(today: Today) -> Found:
    """Repairs planned for today or before, and not done."""
    planned = with_machines(RepairOrder.objects.open()).order_by("planned_on", "pk")
    pressing, coming = _split(planned, "planned_on", today.day + timedelta(days=1))
    following = Next(coming.planned_on, f"repair of {coming.machine}") if coming else None
    return Found(pressing, _repair, following)


def _repair(order: RepairOrder) -> Line:
    page = reverse("repair-order", args=[order.pk])
    return Line(
        f"{order.sort.label.capitalize()} {order.machine} ({order.machine.yard})",
        f"{order.what}, {order.who}, planned for {day_words(order.planned_on)}",
        page,
        "Record what was done",
        f"{page}#finish",
        is_late=order.is_late,
    )


def calibrations(today: Today) -> Found:
    """Gauges and other instruments out of calibration, or soon.

    Nothing is rated on a gauge without a date, so that it waits for one. A yard need not have its
    tapes and thermometers calibrated: they wait where they once were.
    """
    last_day = today.day + CALIBRATION_SOON
    instruments: list[Any] = []
    later: list[Next] = []
    # One query for what waits and what comes next, of all kinds: no yard has many instruments.
    asked = [
        model._default_manager.filter(_in_use(today.day), model_asked)
        .order_by()
        .annotate(place=Value(place))
        .values_list("place", "pk", "mark", "due_on")
        for place, (model, model_asked) in enumerate(CALIBRATED)
    ]
    for place, pk, mark, due_on in asked[0].union(*asked[1:], all=True):
        each = CALIBRATED[place][0](pk=pk, mark=mark, due_on=due_on)
        if due_on is None or due_on <= last_day:
            instruments.append(each)
        else:
            later.append(Next(due_on, f"calibration of {_kind_of(each)} {mark}"))
    instruments.sort(key=lambda each: (each.due_on or date.min, each.mark))
    return Found(instruments, partial(_calibration, today.day), _first(later))


_HAS_DAY = Q(due_on__isnull=False)
CALIBRATED: tuple[tuple[Any, Q], ...] = (
    (Gauge, Q()),
    (Tape, _HAS_DAY),
    (Thermometer, _HAS_DAY),
    (LoadIndicator, _HAS_DAY),
)


def _in_use(day: date) -> Q:
    return Q(retired_on__isnull=True) | Q(retired_on__gt=day)


def _kind_of(instrument: Any) -> str:
    return str(instrument._meta.verbose_name)


def _calibration(today: date, instrument: Any) -> Line:
    due_on = instrument.due_on
    is_late = due_on is None or due_on < today
    if due_on is None:
        words = "no calibration on record"
    elif is_late:
        words = f"out of calibration since {day_words(due_on)}"
    else:
        words = f"calibration due {day_words(due_on)}"
    if isinstance(instrument, Gauge):
        page = reverse("gauge", args=[instrument.pk])
        form = reverse("new-gauge-calibration", args=[instrument.pk])
    else:
        kind = _kind_of(instrument).replace(" ", "-")
        page = reverse(f"set-up-{kind}", args=[instrument.pk])
        form = reverse(f"change-{kind}", args=[instrument.pk])
    name = f"{_kind_of(instrument).capitalize()} {instrument.mark}"
    return Line(name, words, page, "Enter its certificate", form, is_late=is_late)


def stands_out(today: Today) -> Found:
    """Stands whose newest check by a reference piece is out of its limits."""
    stands = {
        each.pk: each
        for each in TestStand.objects.filter(
            _in_use(today.day),
            Exists(ReferenceCheck.objects.standing().filter(stand=OuterRef("pk"))),
        )
    }
    checks = stand_checks(set(stands))
    out = [
        (stands[key], each[-1]) for key, each in checks.items() if each and each[-1].judged.is_out
    ]
    return Found(sorted(out, key=lambda pair: pair[0].name), _stand)


def _stand(pair: tuple[TestStand, StandCheck]) -> Line:
    stand, check = pair
    return Line(
        f"Stand {stand.name}",
        f"out of its limits on {day_words(check.at)}: {check.words}",
        reverse("stand", args=[stand.pk]),
        "Check it again",
        reverse("new-reference-check", args=[stand.pk]),
        is_grave=True,
    )


def stale_rates(today: Today) -> Found:
    """Ratings in force of lots the yard has pads of that are stale, or will be within a month."""
    policy = policy_in_force(RatingPolicy.objects.first())
    fitted = PadPosition.objects.filter(lot=OuterRef("lot"))
    ratings = (
        LotRating.objects.in_force()
        .filter(Q(lot__in_stock__gt=0) | Exists(fitted), lot__retired_on__isnull=True)
        .defer("figures", "curve", "curve_doubt")
    )
    # The one that counts last of its lot is written last, and so stays.
    in_force = {rating.lot_id: rating for rating in ratings}
    now, holds = timezone.now(), timedelta(days=policy.rate_valid_days)
    pressing, later = [], []
    for rating in in_force.values():
        last_day = timezone.localdate(rating.tested_at + holds)
        reason = staleness(rating, policy, now)
        if reason or last_day <= today.day + STALE_SOON:
            pressing.append((last_day, rating, reason))
        else:
            later.append(Next(last_day, f"the rate of lot {rating.lot.mark} holds no longer"))
    pressing.sort(key=lambda each: (not each[2], each[0], each[1].pk))
    return Found(pressing, _stale, _first(later))


def _stale(found: tuple[date, LotRating, str]) -> Line:
    last_day, rating, reason = found
    words = f"stale: {reason}" if reason else f"holds to {day_words(last_day)}: test pads again"
    return Line(
        f"Lot {rating.lot.mark}",
        f"rating {rating.pk} {'is ' if reason else ''}{words}",
        reverse("lot", args=[rating.lot_id]),
        "Record a bench test",
        reverse("new-bench-test", args=[rating.lot_id]),
        is_late=bool(reason),
    )


def soft_lots(today: Today) -> Found:
    """Lots that soften and were not rated anew since."""
    return Found([each for each in softenings() if not each.is_taken_up], _softening)


def _softening(softening: Softening) -> Line:
    page = reverse("lot", args=[softening.lot.pk])
    return Line(
        f"Lot {softening.lot.mark}",
        f"{softening.words}.",
        f"{page}#drawn",
        "Rate it anew",
        f"{page}#ratings",
    )


def draws(today: Today) -> Found:
    """Pads that the plan of a lot asks for from service."""
    asked = draws_due()
    later = [
        Next(each.due_on, f"pads of lot {each.lot.mark} to draw")
        for each in asked
        if each.due_on is not None and not each.is_overdue and not each.is_soon
    ]
    return Found([each for each in asked if each.is_overdue or each.is_soon], _draw, _first(later))


def _draw(draw: DrawsDue) -> Line:
    return Line(
        f"Lot {draw.lot.mark}",
        f"{'overdue, ' if draw.is_overdue else ''}{draw.words}",
        reverse("lot-surveillance", args=[draw.lot.pk]),
        "Record their bench test",
        reverse("new-bench-test", args=[draw.lot.pk]),
        is_late=draw.is_overdue,
    )


def orders_late(today: Today) -> Found:
    """Orders of pads of which some should have come by now."""
    under_way = today.pads_on_order
    late = [each for each in under_way if each.due_on < today.day]
    coming = [
        Next(each.due_on, f"{each.left} pads of order {each.pk} to come")
        for each in under_way[len(late) :]
    ]
    return Found(late, _order_late, _first(coming))


def _order_late(order: PadOrder) -> Line:
    page = reverse("pad-order", args=[order.pk])
    return Line(
        f"Order {order.pk} for {order.yard}",
        f"{order.left} of {order.pads} pads, {order.what}, from {order.supplier}, promised for "
        f"{day_words(order.due_on)}",
        page,
        "Record what came, or ask for another day",
        f"{page}#receive",
        is_late=True,
    )


def reorders(today: Today) -> Found:
    """Lots of which so few pads lie on the shelf that more are to be ordered.

    Those on order already wait too, and say so, until so many come that they are no longer short.
    """
    short = (
        PadLot.objects.in_use()
        .filter(in_stock__lte=F("reorder_point"))
        .order_by("in_stock", "mark")
    )
    under_way: dict[int | None, int] = {}
    for order in today.pads_on_order:
        under_way[order.lot_id] = under_way.get(order.lot_id, 0) + order.left
    return Found(short, partial(_reorder, under_way))


def _reorder(under_way: dict[int | None, int], lot: PadLot) -> Line:
    coming = under_way.get(lot.pk, 0)
    on_order = f", {coming} on order" if coming else ""
    return Line(
        f"Lot {lot.mark}",
        f"{lot.in_stock} in stock{on_order}, to be ordered at {lot.reorder_point}",
        reverse("lot", args=[lot.pk]),
        "Order pads",
        f"{reverse('new-pad-order')}?lot={lot.pk}",
        is_late=lot.in_stock == 0 and not coming,
    )


def _first(coming: Iterable[Next]) -> Next | None:
    return min(coming, key=lambda each: each.day, default=None)


# In the order of what it costs to leave it.
PROVIDERS = (
    Provider("fallen", "Commitments that fell", fallen, PLAN, auditors_read=True),
    Provider("overloads", "Pulls to look at", overloads, auditors_read=True),
    Provider("not-rerated", "Asked for, and not recorded", not_rerated, auditors_read=True),
    Provider("confirm", "Commitments to confirm", to_confirm, PLAN),
    Provider("conditions", "To be done for commitments", conditions, PLAN),
    Provider("late", "Transfers that are late", transfers_late, PLAN),
    Provider("hires", "Hires overdue back", hires_overdue, auditors_read=True),
    Provider("overdue", "Overdue", overdue, auditors_read=True),
    Provider("repairs", "Repairs to be made", repairs, auditors_read=True),
    Provider("findings", "Findings to be repaired", findings, auditors_read=True),
    Provider("second-looks", "Second looks at pads", second_looks, auditors_read=True),
    Provider("proposals", "Proposals to confirm", proposals, auditors_read=True),
    Provider("drafts", "Ratings to approve or reject", drafts, auditors_read=True),
    Provider("stands", "Stands out of their limits", stands_out, auditors_read=True),
    Provider("calibrations", "Out of calibration, or soon", calibrations, auditors_read=True),
    Provider("soften", "Lots that soften", soft_lots, auditors_read=True),
    Provider("stale", "Rates that are stale, or soon", stale_rates, auditors_read=True),
    Provider("draws", "Pads to draw from service", draws, auditors_read=True),
    Provider("soon", "Due soon", due_soon),
    Provider("orders-late", "Orders of pads that are late", orders_late, auditors_read=True),
    Provider("reorders", "Pads to order", reorders),
)


def waiting_for(person: User) -> Waiting:
    """Return all that waits for a person."""
    return waiting([each for each in PROVIDERS if each.is_for(person)], person)


def waiting_for_managers(person: User | None = None) -> Waiting:
    """Return all that waits for an equipment manager, for one of them or whichever it is."""
    return waiting(PROVIDERS, person)
