"""The certificate of a lot rating as a PDF."""

from __future__ import annotations

import logging
import math
from collections.abc import Iterator
from datetime import timedelta
from importlib.metadata import version

from django.utils import timezone
from reportlab.platypus import Flowable, KeepTogether

from fleet.dates import day_words, moment_words
from fleet.models import PadLot, StockMove, Yard
from fleet.models.recorded import RecordedBy
from fleet.quantities import Quantity
from fleet.signers import signer_words
from ratings.certificate.example_section import example_section
from ratings.certificate.facts import LEVEL, Certificate, read_certificate
from ratings.certificate.figures import freedom_words, stated
from ratings.certificate.layout import (
    BOXED,
    END,
    FLAG,
    RESULT,
    SECTION,
    Fact,
    facts_in_pairs,
)
from ratings.certificate.rate_sections import budget_section, curve_section, pooling_section
from ratings.certificate.test_sections import readings_section, reduced_section, set_up_section
from ratings.mechanics.load_curve import MonotoneCurve
from ratings.mechanics.record import FORMAT
from ratings.mechanics.uncertainty import (
    Component,
    combine,
    two_sided_factor,
    whole_degrees_of_freedom,
)
from ratings.models import BenchTest, LotRating, RatingState
from ratings.paper.pages import paper_pdf
from ratings.paper.style import (
    BODY,
    FRAME_PADDING,
    MARGIN,
    MONO,
    SMALL,
    TITLE,
    paragraph,
    small_print,
)
from ratings.record.papers import Stamp

PACKAGE = "line-pull-ledger"
VOID = "VOID"
MOST_DAYS_NAMED = 3

logger = logging.getLogger(__name__)


def heading_section(certificate: Certificate) -> Iterator[Flowable]:
    rating = certificate.rating
    yield paragraph("Certificate of spring rate", TITLE)
    yield paragraph(f"Of rating {rating.pk} · lot {rating.lot.mark}", BODY, bold=True)
    yield from _state(certificate)
    yield from _result(certificate)
    yield paragraph("What was tested", SECTION)
    yield facts_in_pairs(_item(certificate))


def _state(certificate: Certificate) -> Iterator[Flowable]:
    rating = certificate.rating
    words = ""
    if certificate.is_void:
        yield paragraph(VOID, FLAG)
        yield paragraph(
            f"Void, whatever stands below: {'; '.join(certificate.differences)}. A reading, an "
            "instrument or the rating was changed after it was signed. Rely on neither figure, "
            "and tell the auditor.",
            bold=True,
        )
    if certificate.state != RatingState.APPROVED:
        yield paragraph(certificate.state.upper(), FLAG)
    if certificate.state == "draft":
        words = f"Drafted by {_by(rating)}. No second person has approved it: it rates no unit."
    if certificate.state == RatingState.REJECTED:
        reason = rating.rejection.reason.rstrip(".")
        words = f"By {_by(rating.rejection)}: {reason}. It rates no unit and never will."
    elif certificate.state.is_dead_draft:
        words = f"Drafted by {_by(rating)}. It rates no unit, and nobody can approve it any more."
    if certificate.state == "withdrawn":
        reason = rating.withdrawal.reason.rstrip(".")
        words = f"By {_by(rating.withdrawal)}: {reason}. It rates no unit."
    if certificate.state == "approved":
        was = "It was approved" if certificate.is_void else "Approved"
        words = f"{was} by {_by(rating.approval)}."
    if words:
        yield paragraph(words, bold=True)
    if certificate.superseded_by is not None:
        later = certificate.superseded_by.pk
        yield paragraph(f"Superseded: rating {later} of this lot was approved after it.", bold=True)


def _result(certificate: Certificate) -> Iterator[Flowable]:
    rating, units = certificate.rating, certificate.units
    tested = units.length_words(rating.tested_stretch_in)
    if certificate.is_linear:
        value, expanded = stated(
            units.rate(rating.rate_lbf_in), units.rate(certificate.expanded_lbf_in)
        )
        yield paragraph(
            f"Mean spring rate of the lot’s pads: {value} ± {expanded} {units.rate_symbol}", RESULT
        )
    else:
        yield paragraph(f"Mean force of the lot’s pads: {'; '.join(_forces(certificate))}", RESULT)
        yield paragraph(
            f"Bent: departs from a straight line by {rating.linearity_error_pct:.1f} % of full "
            f"scale, limit {certificate.policy.linearity_limit_pct:g} %, so that no one rate "
            "describes a pad. The rate below is that of the straight line through its readings.",
            bold=True,
        )
    yield paragraph(
        f"Measurand: mean over the pads of the lot, in shear, from rest to {tested}, on the bench. "
        f"Expanded uncertainty with coverage factor {certificate.coverage_factor:.4g} (Student’s "
        f"t, {_many_words(certificate.degrees_of_freedom)} degrees of freedom), level of "
        f"confidence {100 * LEVEL:g} %. Unrounded: {units.rate_words(rating.rate_lbf_in)} with "
        f"shared standard uncertainty {units.rate_words(certificate.shared_lbf_in)}, which all "
        f"pads of the lot have in common. {_spread_words(certificate)} {_one_pad(certificate)}",
        SMALL,
    )
    yield paragraph(
        f"Tested stretch {tested}: rated no further. Every unit is rated by the load curve as "
        "measured, less what the tests left out, and not by the rate.",
        bold=True,
    )


def _forces(certificate: Certificate) -> Iterator[str]:
    """Force at half and at the whole of the tested stretch, where one rate says nothing."""
    rate, units = certificate.lot_rate, certificate.units
    curve = MonotoneCurve(rate.curve, rate.curve_doubt)
    of_pads = certificate.spread_lbf_in / rate.rate_lbf_in / math.sqrt(rate.pads_tested or math.inf)
    for share in (0.5, 1.0):
        stretch_in = share * curve.tested_stretch_in
        force_lbf = curve.force_lbf(stretch_in)
        doubt_lbf = math.hypot(
            curve.standard_uncertainty_lbf(stretch_in),
            of_pads * force_lbf,
            rate.between_share * force_lbf,
        )
        expanded_lbf = certificate.coverage_factor * doubt_lbf
        value, expanded = stated(units.force(force_lbf), units.force(expanded_lbf))
        yield f"{value} ± {expanded} {units.force_symbol} at {units.length_words(stretch_in, 4)}"


def _one_pad(certificate: Certificate) -> str:
    """Say between what rates any one pad of the lot lies."""
    units, rate_lbf_in = certificate.units, certificate.rating.rate_lbf_in
    found = combine(
        [
            Component("lot", certificate.shared_lbf_in, certificate.degrees_of_freedom),
            Component(
                "pad",
                certificate.spread_lbf_in,
                certificate.pooled.rate.spread.degrees_of_freedom,
            ),
        ]
    )
    freedom = whole_degrees_of_freedom(found.degrees_of_freedom)
    half_lbf_in = two_sided_factor(LEVEL, freedom) * found.standard
    least, most = max(0.0, rate_lbf_in - half_lbf_in), rate_lbf_in + half_lbf_in
    return (
        f"Any one pad of it lies, with the same confidence, between {units.rate_words(least, 3)} "
        f"and {units.rate_words(most, 3)}."
    )


def _many_words(degrees_of_freedom: float) -> str:
    return "over 1,000" if degrees_of_freedom > 1000 else freedom_words(degrees_of_freedom)


def _spread_words(certificate: Certificate) -> str:
    rating, units = certificate.rating, certificate.units
    spread = units.rate_words(certificate.spread_lbf_in, 3)
    if rating.spread_lbf_in is None:
        return (
            f"Pad-to-pad standard deviation {spread}: assumed spread, "
            f"{certificate.policy.pad_spread_pct:g} % of the rate by policy."
        )
    found = certificate.pooled.rate.spread
    freedom = freedom_words(found.degrees_of_freedom)
    return (
        f"Pad-to-pad standard deviation {spread}: the policy’s "
        f"{certificate.policy.pad_spread_pct:g} % of the rate, updated by {found.single_pads} "
        f"pads tested singly ({freedom} degrees of freedom)."
    )


def _item(certificate: Certificate) -> list[Fact]:
    lot = certificate.rating.lot
    tests = certificate.pooled.tests
    return [
        ("Lot", lot.mark),
        ("Supplier", lot.supplier or "not on record"),
        ("Hardness", _hardness_words(lot)),
        ("Pads received", _received_words(certificate.rating)),
        ("Pads tested", _pads_words(tests)),
        ("Method", f"Line-Pull Ledger, rating method {FORMAT}, program {version(PACKAGE)}"),
        ("Tests", ", ".join(f"test {each.pk}" for each in tests)),
        ("Drawn from the lot", _drawn_words(tests)),
        ("Tested at and for", "; ".join(sorted({_yard_words(each.stand.yard) for each in tests}))),
        ("Tested", ", ".join(dict.fromkeys(day_words(test.tested_at) for test in tests))),
    ]


def _received_words(rating: LotRating) -> str:
    """Say on which days pads of the lot had come when its rating was drafted (ISO 17025 §7.8)."""
    came = rating.lot.moves.filter(
        kind=StockMove.Kind.RECEIVED, recorded_at__lte=rating.recorded_at
    ).order_by("occurred_at")
    days = list(dict.fromkeys(day_words(move.occurred_at) for move in came))
    if len(days) > MOST_DAYS_NAMED:
        return f"on {len(days)} days, {days[0]} the first and {days[-1]} the last"
    return ", ".join(days) or "not on record"


def _hardness_words(lot: PadLot) -> str:
    hardness = lot.hardness_shore_a
    words = "not on record" if hardness is None else f"{hardness:g} Shore A"
    for each in lot.corrections.all():
        if each.hardness_before != each.hardness_shore_a:
            before = each.hardness_before
            was = "not on record" if before is None else f"{before:g}"
            return f"{words}, corrected {day_words(each.recorded_at)} from {was}"
    return words


def _yard_words(yard: Yard) -> str:
    return f"{yard.name}, {yard.place}" if yard.place else f"{yard.name}, address not on record"


def _drawn_words(tests: tuple[BenchTest, ...]) -> str:
    """Say where the pads came from; by whom and how they were picked only a note can."""
    sources: dict[str, int] = {}
    for test in tests:
        pads = [pad.origin for pad in test.pads.all()]
        pads += [""] * (test.pads_in_test - len(pads))
        for origin in pads:
            words = origin or "origin not on record"
            sources[words] = sources.get(words, 0) + 1
    found = ", ".join(f"{many} {words}" for words, many in sorted(sources.items()))
    return f"{found}; how they were picked: as the tests’ notes say, else not on record"


def _pads_words(tests: tuple[BenchTest, ...]) -> str:
    many = sum(test.pads_in_test for test in tests)
    marks = sorted({pad.mark for test in tests for pad in test.pads.all() if pad.mark})
    named = f"; marked {', '.join(marks)}" if marks else "; no marks on record"
    return f"{many} in {len(tests)} {'test' if len(tests) == 1 else 'tests'}{named}"


CAUTION_WORDS = (
    "Pads and housing are rated by measurement. The crane’s chart, rigging limits, the maker’s "
    "instructions, local code and a qualified person come first. Never pull to the stops while "
    "vibrating. A stretched bench stand stores energy: stand clear, bleed before touching. Lock "
    "out before counting pads."
)
FOOT_WORDS = (
    "The figures hold for the pads tested, and for their lot by the spread stated. "
    "Copy it whole or not at all."
)
FOLLOWS_WORDS = (
    "Method and report follow: JCGM 100 (GUM) for the budget, its degrees of freedom and the "
    "expanded uncertainty; JCGM 106 for the decision by working capacity; ISO/IEC 17025:2017 "
    "clause 7.8 for what a report of tests tells; ASME B40.100 for the gauge’s grades; ISO 1827 "
    "and ASTM D4014 for the idea of conditioning cycles before the readings. None of them is "
    "claimed in full, and no accreditation is."
)


def limits_section(certificate: Certificate) -> Iterator[Flowable]:
    yield KeepTogether(
        [
            paragraph("Limits of use", SECTION),
            *(paragraph(line, SMALL) for line in _limits(certificate)),
            paragraph("What it follows", SECTION),
            paragraph(FOLLOWS_WORDS, SMALL),
        ]
    )
    yield paragraph(CAUTION_WORDS, BOXED)


def _limits(certificate: Certificate) -> Iterator[str]:
    rating, policy, units = certificate.rating, certificate.policy, certificate.units
    until = timezone.localtime(rating.tested_at) + timedelta(days=policy.rate_valid_days)
    yield (
        f"Stretch: from rest to {units.length_words(rating.tested_stretch_in)} as tested, rated no "
        "further; nothing is extrapolated."
    )
    yield f"Temperature: {_temperature_words(certificate)}"
    yield (
        f"Time: holds {policy.rate_valid_days} days from the newest test, to {day_words(until)}; "
        "later it is stale and flagged on every unit that uses it."
    )
    yield (
        "Pads: the figures hold for the pads tested, and for the others of their lot by the "
        "pad-to-pad spread stated; for sound pads only."
    )
    yield (
        "Policy: as in force when the rating was drafted. A later policy may rate units otherwise "
        "by the same tests."
    )


def _temperature_words(certificate: Certificate) -> str:
    rating, policy, system = certificate.rating, certificate.policy, certificate.units.system
    allowed = " to ".join(
        Quantity.TEMPERATURE.words(each, system) for each in (policy.coldest_f, policy.warmest_f)
    )
    words = f"policy allows tests with rubber at {allowed}"
    if rating.coldest_f is None or rating.warmest_f is None:
        return f"{words}; the rubber’s temperature in test is not on record."
    tested = " to ".join(
        dict.fromkeys(
            Quantity.TEMPERATURE.words(each, system)
            for each in (rating.coldest_f, rating.warmest_f)
        )
    )
    is_within = policy.coldest_f <= rating.coldest_f and rating.warmest_f <= policy.warmest_f
    return f"{words}; tested at {tested}, {'within' if is_within else 'OUTSIDE'} that."


def people_section(certificate: Certificate) -> Iterator[Flowable]:
    yield KeepTogether(
        [paragraph("Tested and approved", SECTION), facts_in_pairs(_people(certificate))]
    )
    yield paragraph("Ledger entries it caused", SECTION)
    if not certificate.entries:
        words = "no unit held the lot when it was approved, or none was rated otherwise by it."
        if certificate.state != RatingState.APPROVED:
            words = "it was not approved, so it rated none."
        yield paragraph(f"None: {words}", SMALL)
    for entry in certificate.entries:
        yield KeepTogether(
            [
                paragraph(
                    f"Housing {entry.housing.mark}, entry {entry.sequence}, "
                    f"{moment_words(entry.occurred_at)}, {entry.cause}; SHA-256:",
                    SMALL,
                ),
                paragraph(entry.hash, MONO),
            ]
        )


def _people(certificate: Certificate) -> list[Fact]:
    rating = certificate.rating
    testers = ", ".join(dict.fromkeys(signer_words(test) for test in certificate.pooled.tests))
    approved = _by(rating.approval) if hasattr(rating, "approval") else "nobody yet"
    facts = [
        ("Tested by", testers),
        ("Drafted by", _by(rating)),
        ("Approved, issued by", approved),
        ("Issued on", _issued_words(rating)),
    ]
    if hasattr(rating, "withdrawal"):
        facts.append(("Withdrawn by", _by(rating.withdrawal)))
    return facts


def _issued_words(rating: LotRating) -> str:
    if hasattr(rating, "approval"):
        return day_words(rating.approval.recorded_at)
    return "not issued: no second person has approved it"


def _by(record: RecordedBy) -> str:
    return f"{signer_words(record)}, {moment_words(record.recorded_at)}"


def certificate_pdf(rating: LotRating, system: str, stamp: Stamp | None = None) -> bytes:
    """Return the certificate's bytes; the same rating under the same seal gives the same ones.

    Of one whose readings can't be calculated any more it says so, and states no figure.
    """
    try:
        certificate = read_certificate(rating, system)
        story, word = (
            _story(certificate),
            VOID if certificate.is_void else certificate.state.upper(),
        )
    except (ArithmeticError, LookupError, TypeError, ValueError) as trouble:
        logger.exception("the readings of rating %s can't be calculated", rating.pk)
        story, word = list(_unreadable(rating, trouble)), VOID
    return paper_pdf(
        story,
        title=f"Spring rate certificate {rating.pk}, lot {rating.lot.mark}",
        head=f"spring rate certificate {rating.pk} · lot {rating.lot.mark} · {word}",
        draw_foot=lambda canvas: small_print(canvas, 30, FOOT_WORDS),
        side=MARGIN - FRAME_PADDING,
        top=36,
        bottom=46,
        stamp=stamp,
    )


def _unreadable(rating: LotRating, trouble: Exception) -> Iterator[Flowable]:
    """Yield all that stands on the certificate of a rating whose readings give none."""
    yield paragraph("Certificate of spring rate", TITLE)
    yield paragraph(f"Of rating {rating.pk} · lot {rating.lot.mark}", BODY, bold=True)
    yield paragraph(VOID, FLAG)
    tests = ", ".join(str(each.pk) for each in rating.tests.order_by("pk")) or "none on record"
    yield paragraph(
        "Void: the readings it rests on can’t be calculated any more, so that it states no figure. "
        f"Bench tests: {tests}. What is wrong: {str(trouble).rstrip('.') or type(trouble).__name__}"
        ". A reading, an instrument or a test was changed or removed after it was signed: rely on "
        "no figure of this rating, and tell the auditor.",
        bold=True,
    )
    yield paragraph(f"Drafted by {_by(rating)}.")
    if hasattr(rating, "approval"):
        yield paragraph(f"It was approved by {_by(rating.approval)}.")
    yield paragraph(f"End of certificate {rating.pk}", END)


def _story(certificate: Certificate) -> list[Flowable]:
    story = [*heading_section(certificate)]
    for test, reduction in zip(
        certificate.pooled.tests, certificate.pooled.reductions, strict=True
    ):
        story += set_up_section(certificate, test)
        story += readings_section(certificate, test, reduction)
        story += reduced_section(certificate, test, reduction)
        story += budget_section(certificate, reduction)
    return [
        *story,
        *pooling_section(certificate),
        *curve_section(certificate),
        *example_section(certificate),
        *limits_section(certificate),
        *people_section(certificate),
        paragraph(f"End of certificate {certificate.rating.pk}", END),
    ]
