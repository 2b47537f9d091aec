"""A commitment as it stands now: whether its answer and its sheet hold, and every reason why not.

Whatever an answer rests on voids it when it changes: the unit's rating and the rates under it, the
hammer, its clamp and their figures, the numbers of the job, how far the unit is hauled and what is
in its way, the last full count, and what was to be done. By the yard's rules in force the check is
made again and compared: a rule changed that leaves every figure of an answer as it was is no reason
to print its sheet again. `WATCHED` names what each part of an answer is held to.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from datetime import date, datetime
from enum import StrEnum
from typing import Any

from django.db.models import QuerySet
from django.utils import timezone

from fleet.dates import day_words, days_words, moment_words
from fleet.models import (
    ClampFitting,
    Hammer,
    Mounting,
    OutOfService,
    SuppressorHousing,
    Transfer,
)
from fleet.signers import signer_words
from ratings.jobs.ahead import MEETS, as_planned, oldest_count_days, why_not
from ratings.jobs.candidates import (
    Candidate,
    away_words,
    candidates,
    counted_on,
    figures_of,
    hires_of_units,
    rates_in_force,
    watch_of,
    yard_on,
)
from ratings.jobs.conditions import ConditionNow, conditions_now
from ratings.jobs.on_the_way import in_the_way
from ratings.jobs.particulars import particulars_of
from ratings.jobs.recording import jobs_of
from ratings.jobs.rules import rules_in_force
from ratings.ledger.answers import answer_fault
from ratings.mechanics.extraction.check import check_piles
from ratings.mechanics.extraction.job import PileKind, PileOfJob
from ratings.mechanics.extraction.outcomes import ConditionKey
from ratings.mechanics.extraction.record import read_answer, verdict_record
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.standing import Standing
from ratings.models import (
    Commitment,
    CommitmentConfirmation,
    ConditionKind,
    CurrentRating,
    ExtractionJob,
    JobAnswer,
    LedgerEntry,
    PullRecord,
)

# The format of answers from which on they name the groups of piles of a job.
GROUPS_SINCE = 3
# From good to bad; a step to the right is a fall.
ORDER = (
    Standing.MEETS_LISTING,
    Standing.NOT_PROVEN,
    Standing.BELOW_LISTING,
    Standing.UNRATED,
)


class Word(StrEnum):
    """What a commitment's sheet is now."""

    VALID = "valid"
    NOT_YET = "not yet"
    PAST = "past"
    VOID = "void"


class ReasonKey(StrEnum):
    """What voids a sheet."""

    FAULT = "fault"
    RELEASED = "released"
    SERVICE = "service"
    OVERLOAD = "overload"
    HAMMER = "hammer"
    STANDING = "standing"
    RATING = "rating"
    FIGURES = "figures"
    JOB = "job"
    AWAY = "away"
    CALIBRATION = "calibration"
    COUNT = "count"
    CONDITION = "condition"
    RULES = "rules"


# What a crew is told: no site, no name, no mark, no figure.
CREW_WORDS = {
    ReasonKey.FAULT: "It can’t be checked against the record.",
    ReasonKey.RELEASED: "The hammer was released from what this sheet is for.",
    ReasonKey.SERVICE: "The hammer was taken out of service.",
    ReasonKey.OVERLOAD: "The hammer or its rigging was overloaded and not inspected since.",
    ReasonKey.HAMMER: "The suppressor housing is not on the hammer that this sheet is for.",
    ReasonKey.STANDING: "The suppressor housing was rated again, and stands worse.",
    ReasonKey.RATING: "The suppressor housing was rated again since it was made.",
    ReasonKey.FIGURES: "What is on record of the hammer or its clamp changed since it was made.",
    ReasonKey.JOB: "What is to be pulled was changed since it was made.",
    ReasonKey.AWAY: "The hammer is to be elsewhere then, or comes from another place.",
    ReasonKey.CALIBRATION: "What watches the load changed, or is not calibrated to the last day.",
    ReasonKey.COUNT: "The last full count of the pads is too old.",
    ReasonKey.CONDITION: "Something that was to be done by now is not done.",
    ReasonKey.RULES: "The rules it was made by were changed since.",
}
# What of a unit each reason watches over, by the fields of Unit: a test walks them all.
WATCHED: dict[ReasonKey, tuple[str, ...]] = {
    ReasonKey.RATING: (
        "groups",
        "usable_travel_in",
        "travel_uncertainty_in",
        "confidence",
        "standing",
        "proof",
        "drops_stale",
        "stiff_groups",
        "unknown_stiffness",
        "stale_lots",
        "lapsing_lots",
    ),
    ReasonKey.FIGURES: (
        "eccentric_moment_lb_in",
        "frequency_vpm",
        "exciter_weight_lb",
        "clamp_weight_lb",
        "clamp_force_lbf",
        "housing_weight_lb",
        "clamp_kinds",
    ),
    ReasonKey.AWAY: ("committed", "distance_mi"),
    ReasonKey.CALIBRATION: ("watched_by", "calibration_lapsing"),
    ReasonKey.COUNT: ("days_since_count",),
    ReasonKey.SERVICE: ("out_of_service",),
    ReasonKey.JOB: ("days_held",),
}
# What of the rules a sheet prints or goes by beside the check itself.
PRINTED_RULES = ("care_margin", "crane_share", "low_factor", "high_factor")
# Of what stands beside an answer: asked of people as it is confirmed, or compared by itself.
NOT_COMPARED = ("watched_by", "load_indicator", "clamp")

# With these it must not be sent out, whatever a new answer would say.
GRAVE = (ReasonKey.SERVICE, ReasonKey.OVERLOAD, ReasonKey.HAMMER, ReasonKey.STANDING)


@dataclass(frozen=True)
class Reason:
    """Why a sheet is void: what it is, and a sentence for who plans.

    since: from when on, None where no record tells.
    """

    key: ReasonKey
    words: str
    since: datetime | None = None


@dataclass(frozen=True)
class State:
    """A word, and sentences that say why. fault: of the answer on record, "" where it holds."""

    word: Word
    reasons: tuple[str, ...]
    fault: str = ""

    @property
    def is_void(self) -> bool:
        return self.word is Word.VOID


@dataclass(frozen=True)
class CommitmentNow:
    """A commitment as it stands now.

    answer: its newest, of which its sheet is. head: of the unit's ledger. hammer: the one the
    housing is on now. reasons: every one why its sheet is void. conditions: what it depends on.
    is_confirmed: whether its answer was given once all was done that comes before it goes; True
    where nothing does.
    """

    commitment: Commitment
    answer: JobAnswer
    head: LedgerEntry | None
    hammer: Hammer | None
    today: date
    reasons: tuple[Reason, ...] = ()
    conditions: tuple[ConditionNow, ...] = ()
    is_confirmed: bool = True
    fault: str = ""

    @property
    def word(self) -> Word:
        """What its sheet is now."""
        if not self.commitment.is_in_force:
            return Word.VOID
        if self.is_over:
            return Word.VOID if self.fault else Word.PAST
        if self.reasons:
            return Word.VOID
        return Word.VALID if self.is_confirmed and not self.wanting else Word.NOT_YET

    @property
    def keys(self) -> frozenset[ReasonKey]:
        return frozenset(each.key for each in self.reasons)

    @property
    def is_void(self) -> bool:
        """Whether the answer and its sheet hold no more."""
        return self.word is Word.VOID

    @property
    def fell(self) -> bool:
        """Whether the unit stands worse than when it was committed, or can't go as it was."""
        return bool(self.keys & set(GRAVE))

    @property
    def is_moved(self) -> bool:
        """Whether the housing is on another hammer now, or on none."""
        return ReasonKey.HAMMER in self.keys

    @property
    def is_job_changed(self) -> bool:
        """Whether the job asks something else than it did then."""
        return ReasonKey.JOB in self.keys

    @property
    def is_over(self) -> bool:
        """Whether its last day is past, so that nothing is sent out on it any more."""
        return self.commitment.last_day < self.today

    @property
    def is_live(self) -> bool:
        """Whether it holds a unit today or will."""
        return self.commitment.is_in_force and not self.is_over

    @property
    def wanting(self) -> list[ConditionNow]:
        """The conditions for lack of which no sheet prints."""
        return [each for each in self.conditions if each.is_wanting]

    @property
    def assumed(self) -> frozenset[ConditionKey]:
        """The conditions its answer tells of as they will be once all is done, not as they are."""
        kinds = {each.plan.kind for each in self.conditions if not each.is_met}
        return frozenset(MEETS[kind] for kind in kinds & set(MEETS))

    @property
    def may_be_answered_again(self) -> bool:
        """Whether a new answer would let its sheet print."""
        may_change = self.word in (Word.VOID, Word.NOT_YET)
        helps = not self.is_moved and ReasonKey.OVERLOAD not in self.keys
        return self.is_live and may_change and not self.wanting and helps

    @property
    def lead(self) -> str:
        """What it comes to, in a few words."""
        if self.fell:
            return "Do not send it out."
        return "Its sheet is void." if self.is_void else "Not yet."

    @property
    def words(self) -> str:
        """What to say at the top, "" where all is as it was."""
        if not self.is_live:
            return ""
        if self.reasons:
            return self.reasons[0].words
        return self.not_yet_words

    @property
    def not_yet_words(self) -> str:
        """What is still to be done before its sheet prints, "" where nothing is."""
        if self.word is not Word.NOT_YET:
            return ""
        unit = self.commitment.housing.mark
        if not self.wanting:
            return f"All is done that {unit} was committed on: confirm it on an answer of today."
        listed = "; ".join(each.words for each in self.wanting)
        return f"Before {unit} goes: {listed}."

    @property
    def crew_words(self) -> str:
        """Why its sheet is what it is, giving nothing away."""
        if self.word is Word.PAST:
            return "The days it was for are over."
        if self.word is Word.NOT_YET:
            return "Something is still to be done before it may be pulled on."
        if self.word is Word.VOID:
            return " ".join(CREW_WORDS[key] for key in ReasonKey if key in self.keys)
        if self.today < self.commitment.first_day:
            return "The days it is for have not begun."
        return "Nothing that it rests on has changed since it was made."

    @property
    def days(self) -> str:
        return days_words(self.commitment.first_day, self.commitment.last_day)

    @property
    def state(self) -> State:
        """The word and its sentences, for the sheet and its page."""
        word = self.word
        if word is Word.VOID:
            return State(word, tuple(each.words for each in self.reasons), self.fault)
        if word is Word.PAST:
            return State(word, (f"It was for {self.days}.",))
        if word is Word.NOT_YET:
            return State(word, (self.not_yet_words,))
        entry, head = self.answer.entry, self.head
        words = f"The unit’s rating is still ledger entry {entry.sequence}."
        if head is not None and head.pk != entry.pk:
            words = (
                f"The unit’s rating is still that of ledger entry {entry.sequence}: entry "
                f"{head.sequence} changed none of its figures."
            )
        return State(word, (words,))


def rates_the_same(head: LedgerEntry, entry: LedgerEntry) -> bool:
    """Return whether the last entry of a unit rates it by the figures an answer rests on."""
    if head.pk == entry.pk:
        return True
    return (head.contents["format"], head.inputs, head.results) == (
        entry.contents["format"],
        entry.inputs,
        entry.results,
    )


def commitments_of_job(job: ExtractionJob) -> list[CommitmentNow]:
    """Return every commitment of a job, those in force first."""
    return commitments_now(job.commitments.all())


def commitments_of_unit(housing: SuppressorHousing) -> list[CommitmentNow]:
    """Return the commitments of a unit in force, but for those that are over."""
    return commitments_now(housing.commitments.not_over(timezone.localdate()))


def commitment_now(pk: int) -> CommitmentNow:
    """Return one commitment as it stands now, its answer calculated again from its document."""
    return commitments_now(Commitment.objects.filter(pk=pk), recalculates=True)[0]


def commitments_fallen() -> list[CommitmentNow]:
    """Return those that hold a unit today or will, and whose sheets are void."""
    live = commitments_now(Commitment.objects.not_over(timezone.localdate()))
    return [each for each in live if each.is_void]


def commitments_now(
    commitments: QuerySet[Commitment], *, recalculates: bool = False
) -> list[CommitmentNow]:
    """Return commitments as they stand now, those in force first.

    In a fixed number of queries, in one where there are none.
    recalculates: whether each answer is calculated again from its document, which takes longer.
    """
    listed = list(
        commitments.select_related(
            "job__indicator",
            "housing",
            "hammer",
            "answer__entry",
            "answer__recorded_by",
            "released_by",
        ).prefetch_related("job__layers", "job__pile_groups", "job__holds", "job__distances")
    )
    if not listed:
        # As on most days: nothing is asked about none.
        return []
    facts = _Facts(listed)
    rows = [facts.of(each, recalculates=recalculates) for each in listed]
    return sorted(rows, key=lambda row: (not row.commitment.is_in_force, row.commitment.first_day))


@dataclass(frozen=True)
class _Then:
    """What an answer on record was given on.

    beside: what its sheet says beside it, {} where it is one of before. on_the_way: what the days
    on the way ran into, None where nobody asked.
    """

    unit: Unit
    piles: tuple[PileOfJob, ...]
    policy: ExtractionPolicy
    names_groups: bool
    beside: dict[str, Any]
    on_the_way: tuple[str, ...] | None

    @property
    def lots(self) -> set[str]:
        """The lots whose rates it rests on."""
        return {each.lot for each in (*self.unit.groups, *self.unit.stiff_groups)}


def _then(answer: JobAnswer) -> _Then | None:
    """Read what an answer was given on, None where it can't be read."""
    try:
        contents = answer.contents
        unit, piles, policy = read_answer(contents)
        names_groups = contents["format"] >= GROUPS_SINCE
    except (KeyError, TypeError, ValueError):
        return None
    ways = contents.get("on_the_way")
    beside = contents.get("particulars", {})
    if beside:
        # Blank where an answer of before says nothing of them.
        beside.setdefault("sections", [""] * len(piles))
    return _Then(unit, piles, policy, names_groups, beside, None if ways is None else tuple(ways))


class _Facts:
    """What is on record now of the units of some commitments, asked for once for all."""

    def __init__(self, listed: list[Commitment]) -> None:
        self.today = timezone.localdate()
        ids = [each.housing_id for each in listed]
        self.heads = {
            rating.housing_id: rating.head
            for rating in CurrentRating.objects.filter(housing__in=ids).select_related("head")
        }
        out = OutOfService.objects.open().of_units(ids)
        self.out = {
            each: (reason, since)
            for each, reason, since in out.values_list("unit_today", "reason", "since")
        }
        self.hammers = Mounting.objects.hammers_by_housing(ids)
        fitted = ClampFitting.objects.current()
        self.clamps = fitted.clamps_by_hammer(each.pk for each in self.hammers.values())
        self.seen = {
            each.pk: each for each in SuppressorHousing.objects.filter(pk__in=ids).with_last_seen()
        }
        self.overloads = PullRecord.objects.open_overloads(
            {key: getattr(each, "counted_at", None) for key, each in self.seen.items()}
        )
        self.conditions = conditions_now(listed)
        confirmed = CommitmentConfirmation.objects.filter(commitment__in=listed)
        # The last of each is written last, and so stays.
        self.confirmed = {
            each.commitment_id: each.answer
            for each in confirmed.select_related("answer__entry", "answer__recorded_by")
        }
        self.rules = rules_in_force()
        self.transfers = Transfer.objects.open_by_housing(ids)
        self.hires = hires_of_units()
        answers = [self.confirmed.get(each.pk) or each.answer for each in listed]
        self.then = {each.pk: _then(each) for each in answers}
        lots = {lot for then in self.then.values() if then is not None for lot in then.lots}
        self.rates = rates_in_force(lots)

    def of(self, made: Commitment, *, recalculates: bool) -> CommitmentNow:
        """Return one of them as it stands."""
        confirmed = self.confirmed.get(made.pk)
        answer = confirmed or made.answer
        conditions = tuple(self.conditions.get(made.pk, ()))
        fault = answer_fault(answer) if recalculates else ""
        plain = CommitmentNow(
            made,
            answer,
            self.heads.get(made.housing_id),
            self.hammers.get(made.housing_id),
            self.today,
            conditions=conditions,
            is_confirmed=confirmed is not None
            or not any(each.is_before_it_goes for each in conditions),
            fault=fault,
        )
        reading = _Reading(plain, self, recalculates)
        return CommitmentNow(**{**vars(plain), "reasons": tuple(reading.reasons())})


@dataclass(frozen=True)
class _Reading:
    """The reasons why one commitment's sheet is void."""

    now: CommitmentNow
    facts: _Facts
    recalculates: bool = False

    def reasons(self) -> Iterator[Reason]:
        """Yield each reason, what must not go out first."""
        now, made = self.now, self.now.commitment
        if now.fault:
            yield Reason(ReasonKey.FAULT, f"The answer on record does not hold: {now.fault}.")
        if made.released_at is not None and made.released_by is not None:
            # What became of the unit afterwards is no matter of this sheet.
            yield Reason(
                ReasonKey.RELEASED,
                f"Released {moment_words(made.released_at)} by "
                f"{signer_words(made, 'released_by', 'released_at')}: "
                f"{made.release_reason.rstrip('.')}.",
                made.released_at,
            )
            return
        if now.is_over:
            return
        yield from self._hindrances()
        then = self.facts.then[now.answer.pk]
        if then is None:
            if not now.fault:
                yield Reason(ReasonKey.FAULT, "The answer on record can’t be read.")
            return
        yield from self._rating(then)
        yield from self._figures(then)
        yield from self._job(then)
        yield from self._away(then)
        yield from self._watch(then)
        yield from self._count()
        yield from self._conditions()
        yield from self._rules(then)

    def _hindrances(self) -> Iterator[Reason]:
        made, unit = self.now.commitment, self.now.commitment.housing.mark
        out, since = self.facts.out.get(made.housing_id, ("", None))
        if out and not self._is_planned(ConditionKind.SERVICE):
            words = f"{unit} is out of service: {out.rstrip('.')}."
            yield Reason(ReasonKey.SERVICE, words, since)
        overload = self.facts.overloads.get(made.housing_id)
        if overload is not None:
            words = f"{unit} was {overload.overload_words}, with a full count of it."
            yield Reason(ReasonKey.OVERLOAD, words, overload.pulled_at)
        hammer = self.now.hammer
        if hammer is None or hammer.pk != made.hammer_id:
            on = f"on {hammer.mark}" if hammer else "off the hammer"
            yield Reason(
                ReasonKey.HAMMER,
                f"{unit} was committed on {made.hammer.mark} and is {on} now.",
            )

    def _is_planned(self, kind: ConditionKind) -> bool:
        """Whether something of a kind is still to be done in time."""
        return any(
            each.plan.kind is kind and not each.is_met and not each.is_missed
            for each in self.now.conditions
        )

    def _rating(self, then: _Then) -> Iterator[Reason]:
        now, entry, unit = self.now, self.now.answer.entry, self.now.commitment.housing.mark
        if now.head is not None and rates_the_same(now.head, entry):
            yield from self._stale(then)
            return
        judged = now.head.judged if now.head else Standing.UNRATED
        if not now.is_confirmed:
            yield from self._promise()
            return
        at = f"entry {now.head.sequence} ({judged})" if now.head else "none"
        since = now.head.recorded_at if now.head else None
        moved = f"committed on ledger entry {entry.sequence} ({entry.judged}), now at {at}"
        if ORDER.index(judged) > ORDER.index(entry.judged):
            words = f"fell from {entry.judged} to {judged} since it was committed"
            yield Reason(ReasonKey.STANDING, f"The standing of {unit} {words}: {moved}.", since)
        else:
            yield Reason(ReasonKey.RATING, f"The rating of {unit} changed: {moved}.", since)

    def _stale(self, then: _Then) -> Iterator[Reason]:
        """Judge the rates that the rating rests on: the ledger may not have been told yet."""
        stale, lapsing = self.facts.rates.stale_by(self.now.commitment.last_day)
        planned = {
            each.plan.lot.mark
            for each in self.now.conditions
            if each.plan.kind is ConditionKind.RATE and each.plan.lot and not each.is_missed
        }
        for found, before, words in (
            (stale, then.unit.stale_lots, "is stale now"),
            (lapsing, then.unit.lapsing_lots, "will be stale before the last day is over"),
        ):
            lots = sorted((found & then.lots) - set(before) - planned)
            if lots:
                yield Reason(
                    ReasonKey.RATING,
                    f"The rate of lot {' and '.join(lots)}, on which "
                    f"{self.now.commitment.housing.mark} was committed, {words}: answer it again.",
                )

    def _promise(self) -> Iterator[Reason]:
        """Judge a unit whose rating changed before its commitment was confirmed, as planned."""
        made, unit = self.now.commitment, self.now.commitment.housing.mark
        found = candidates(
            made.first_day,
            made.last_day,
            made.job.distances_mi,
            leave_out_job=made.job_id,
            only_housing=made.housing_id,
            watch=watch_of(made.job.indicator, made.last_day),
        )
        if not found:
            return
        plans = [each.plan for each in self.now.conditions if not each.is_met]
        planned = as_planned(found[0], plans, self._counted_on, made.first_day, made.last_day)
        verdict = check_piles(planned, jobs_of(made.job), self.facts.rules)
        if not verdict.may_go:
            yield Reason(
                ReasonKey.STANDING,
                f"The rating of {unit} changed since it was committed: even with all done that it "
                f"was committed on, it is {why_not(verdict)}.",
            )

    def _figures(self, then: _Then) -> Iterator[Reason]:
        hammer, housing = self.now.hammer, self.facts.seen[self.now.commitment.housing_id]
        if hammer is None or hammer.pk != self.now.commitment.hammer_id:
            return
        clamp = self.facts.clamps.get(hammer.pk)
        changed = [
            name.rsplit("_", 2)[0].replace("_", " ")
            for name, figure in figures_of(housing, hammer, clamp).items()
            if getattr(then.unit, name) != figure
        ]
        kinds = clamp.kinds if clamp else None
        # An answer of before says nothing of them.
        if then.unit.clamp_kinds is not None and set(then.unit.clamp_kinds) != set(kinds or ()):
            changed.append("the piles its jaws hold")
        if "clamp" in then.beside and (clamp is None or clamp.mark != then.beside["clamp"]):
            changed.append(f"its clamp, which is {clamp.mark if clamp else 'none'} now")
        if changed:
            names = " and ".join(changed)
            yield Reason(
                ReasonKey.FIGURES,
                f"What is on record of {hammer.mark} or {housing.mark} changed since it was "
                f"committed ({names}): answer it again.",
            )

    def _job(self, then: _Then) -> Iterator[Reason]:
        made = self.now.commitment
        now, asked = jobs_of(made.job), then.piles
        is_other = asked != now
        if not then.names_groups:
            is_other = [each.job for each in asked] != [each.job for each in now]
        days = (made.job.first_day, made.job.last_day)
        if is_other or days != (made.first_day, made.last_day):
            yield Reason(
                ReasonKey.JOB,
                f"The numbers of the job changed since {made.housing.mark} was committed: its "
                "answer and its sheet are on the old ones. Answer it again, or release it.",
            )

        elif then.beside:
            yield from self._beside(then)

    def _beside(self, then: _Then) -> Iterator[Reason]:
        """Compare what a sheet says of the job beside its answer."""
        made = self.now.commitment
        clamp = self.facts.clamps.get(made.hammer_id)
        now = particulars_of(made.job, clamp)
        names = sorted(now.keys() | then.beside.keys())
        changed = [
            name.replace("_", " ")
            for name in names
            if name not in NOT_COMPARED and now.get(name) != then.beside.get(name)
        ]
        if changed:
            yield Reason(
                ReasonKey.JOB,
                f"What the sheet of {made.housing.mark} says of the job beside its figures changed "
                f"since ({' and '.join(changed)}): answer it again.",
            )

    def _away(self, then: _Then) -> Iterator[Reason]:
        """Judge where the unit is: elsewhere on these days, or farther off than it was."""
        made, unit = self.now.commitment, self.now.commitment.housing.mark
        transfer = self.facts.transfers.get(made.housing_id)
        away = away_words(
            transfer,
            self.facts.hires,
            made.housing_id,
            made.hammer_id,
            made.first_day,
            made.last_day,
        )
        if away:
            yield Reason(ReasonKey.AWAY, f"{unit} is held on these days by {away}.")
        housing = self.facts.seen[made.housing_id]
        haul_mi = made.job.distances_mi.get(yard_on(housing.yard_id, transfer, made.first_day))
        if haul_mi != then.unit.distance_mi:
            yield Reason(
                ReasonKey.AWAY,
                f"How far {unit} is hauled changed since it was committed, for it is in another "
                "yard or the distances of the job are others: answer it again.",
            )
        elif self.recalculates and then.on_the_way is not None and self.now.hammer is not None:
            candidate = Candidate(housing, self.now.hammer, self.now.head, then.unit)
            new = [each for each in in_the_way(made.job, candidate) if each not in then.on_the_way]
            if new:
                yield Reason(ReasonKey.AWAY, f"{unit}: {'; '.join(new)}. Answer it again.")

    def _watch(self, then: _Then) -> Iterator[Reason]:
        """Judge what watches the pull; an answer of before says nothing of it."""
        made, named = self.now.commitment, self.now.commitment.job.indicator
        if then.unit.watched_by is None:
            return
        planned = {each.plan.indicator.mark for each in self.now.conditions if each.plan.indicator}
        mark = named.mark if named else ""
        if mark != then.unit.watched_by and (mark or then.unit.watched_by not in planned):
            was = then.unit.watched_by or "not named"
            yield Reason(
                ReasonKey.CALIBRATION,
                f"The load indicator that watches the pull is {mark or 'not named'} now; when "
                f"{made.housing.mark} was committed it was {was}: answer it again.",
            )
        elif (
            named is not None
            and not named.is_in_calibration_to(made.last_day)
            and not self._is_planned(ConditionKind.CALIBRATION)
        ):
            yield Reason(
                ReasonKey.CALIBRATION,
                f"The calibration of {mark}, which watches the pull, does not last to the last "
                "day any more: have it calibrated, or choose another on the job.",
            )

    @property
    def _counted_on(self) -> date | None:
        return counted_on(self.facts.seen[self.now.commitment.housing_id])

    def _count(self) -> Iterator[Reason]:
        made, days = self.now.commitment, self.facts.rules.inspection_days
        counts = [
            each.plan
            for each in self.now.conditions
            if each.plan.kind is ConditionKind.COUNT and not each.is_met and not each.is_missed
        ]
        from_day = max(made.first_day, min(self.facts.today, made.last_day))
        oldest = oldest_count_days(self._counted_on, counts, from_day, made.last_day)
        if oldest is None or oldest > days:
            counted = day_words(self._counted_on) if self._counted_on else "never"
            yield Reason(
                ReasonKey.COUNT,
                f"The last full count of {made.housing.mark} ({counted}) does not hold to the "
                f"last day: one holds for {days} days.",
            )

    def _conditions(self) -> Iterator[Reason]:
        for each in self.now.conditions:
            if each.is_missed:
                yield Reason(ReasonKey.CONDITION, f"It was not done in time: {each.words}.")

    def _rules(self, then: _Then) -> Iterator[Reason]:
        unit = then.unit
        if unit.clamp_kinds is None:
            # An answer of before says nothing of its clamp; what was not asked voids nothing.
            unit = replace(unit, clamp_kinds=tuple(PileKind))
        try:
            verdict = check_piles(unit, then.piles, self.facts.rules)
            before = check_piles(unit, then.piles, then.policy)
        except ValueError as trouble:
            # Such as a soil of the job that is in their table no more.
            yield Reason(
                ReasonKey.RULES,
                f"{self.now.commitment.housing.mark} was committed by other rules, and it can’t be "
                f"judged by the rules now in force: {trouble}.",
            )
            return
        if not verdict.may_go:
            yield Reason(
                ReasonKey.RULES,
                f"By the rules now in force {self.now.commitment.housing.mark} would be "
                f"{why_not(verdict)}.",
            )
            return
        others = [
            each.name
            for each in fields(ExtractionPolicy)
            if getattr(self.facts.rules, each.name) != getattr(then.policy, each.name)
        ]
        if verdict_record(before) != verdict_record(verdict) or set(others) & set(PRINTED_RULES):
            yield Reason(
                ReasonKey.RULES,
                f"The rules changed since {self.now.commitment.housing.mark} was committed "
                f"({' and '.join(each.replace('_', ' ') for each in others)}), and by those now in "
                "force its figures are others: answer it again.",
            )
