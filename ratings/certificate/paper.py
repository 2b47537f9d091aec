"""The certificate of a lot rating as a PDF."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

from django.utils import timezone
from reportlab.platypus import Flowable, KeepTogether

from fleet.dates import day_words, moment_words
from fleet.models import PadLot
from fleet.models.recorded import RecordedBy
from fleet.quantities import Quantity
from fleet.roles import who_words
from ratings.certificate.facts import LEVEL, Certificate, read_certificate
from ratings.certificate.figures import freedom_words, stated
from ratings.certificate.layout import BOXED, FLAG, RESULT, SECTION, Fact, facts_in_pairs
from ratings.certificate.rate_sections import (
    budget_section,
    curve_section,
    example_section,
    pooling_section,
)
from ratings.certificate.test_sections import readings_section, reduced_section, set_up_section
from ratings.models import BenchTest, LotRating, RatingState
from ratings.paper.style import (
    BODY,
    FRAME_PADDING,
    MARGIN,
    MONO,
    SMALL,
    TITLE,
    paper_pdf,
    paragraph,
    small_print,
)


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
        words = f"Approved by {_by(rating.approval)}."
    if words:
        yield paragraph(words, bold=True)
    if certificate.superseded_by is not None:
        later = certificate.superseded_by.pk
        yield paragraph(f"Superseded: rating {later} of this lot was approved after it.", bold=True)


def _result(certificate: Certificate) -> Iterator[Flowable]:
    rating, units = certificate.rating, certificate.units
    value, expanded = stated(
        units.rate(rating.rate_lbf_in), units.rate(certificate.expanded_lbf_in)
    )
    tested = units.length_words(rating.tested_stretch_in)
    yield paragraph(f"Spring rate of one pad: {value} ± {expanded} {units.rate_symbol}", RESULT)
    yield paragraph(
        f"Expanded uncertainty with coverage factor {certificate.coverage_factor:.4g} (Student’s "
        f"t, {_many_words(certificate.degrees_of_freedom)} degrees of freedom), level of "
        f"confidence {100 * LEVEL:g} %. Unrounded: {units.rate_words(rating.rate_lbf_in)} with "
        f"shared standard uncertainty {units.rate_words(certificate.shared_lbf_in)}, which all "
        f"pads of the lot have in common. {_spread_words(certificate)}",
        SMALL,
    )
    yield paragraph(f"Tested stretch {tested}: rated no further.", bold=True)
    if not certificate.is_linear:
        yield paragraph(
            f"Not linear: departs from the line by {rating.linearity_error_pct:.1f} % of full "
            f"scale, limit {certificate.policy.linearity_limit_pct:g} %. Units are rated by the "
            "load curve below, not by rate × stretch.",
            bold=True,
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
        ("Pads tested", _pads_words(tests)),
        ("Tests", ", ".join(f"test {each.pk}" for each in tests)),
        ("Picked from the lot", "as the tests’ notes say, else not on record"),
        ("Tested for", ", ".join(sorted({each.stand.yard.name for each in tests}))),
        ("Tested", ", ".join(dict.fromkeys(day_words(test.tested_at) for test in tests))),
    ]


def _hardness_words(lot: PadLot) -> str:
    hardness = lot.hardness_shore_a
    words = "not on record" if hardness is None else f"{hardness:g} Shore A"
    for each in lot.corrections.all():
        if each.hardness_before != each.hardness_shore_a:
            before = each.hardness_before
            was = "not on record" if before is None else f"{before:g}"
            return f"{words}, corrected {day_words(each.recorded_at)} from {was}"
    return words


def _pads_words(tests: tuple[BenchTest, ...]) -> str:
    many = sum(test.pads_in_test for test in tests)
    return f"{many} in {len(tests)} {'test' if len(tests) == 1 else 'tests'}"


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
        "by the same rate."
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
        yield paragraph("None: no unit held the lot, or it rates none yet.", SMALL)
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
    testers = ", ".join(
        dict.fromkeys(who_words(test.recorded_by) for test in certificate.pooled.tests)
    )
    approved = _by(rating.approval) if hasattr(rating, "approval") else "nobody yet"
    facts = [
        ("Tested by", testers),
        ("Drafted by", _by(rating)),
        ("Approved, issued by", approved),
    ]
    if hasattr(rating, "withdrawal"):
        facts.append(("Withdrawn by", _by(rating.withdrawal)))
    return facts


def _by(record: RecordedBy) -> str:
    return f"{who_words(record.recorded_by)}, {moment_words(record.recorded_at)}"


def certificate_pdf(rating: LotRating, system: str) -> bytes:
    """Return the certificate's bytes; the same rating gives the same ones on any day."""
    certificate = read_certificate(rating, system)
    return paper_pdf(
        _story(certificate),
        title=f"Spring rate certificate {rating.pk}, lot {rating.lot.mark}",
        head=(
            f"spring rate certificate {rating.pk} · lot {rating.lot.mark} · "
            f"{certificate.state.upper()}"
        ),
        draw_foot=lambda canvas: small_print(canvas, 30, FOOT_WORDS),
        side=MARGIN - FRAME_PADDING,
        top=36,
        bottom=46,
    )


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
    ]
