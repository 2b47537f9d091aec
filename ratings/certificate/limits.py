"""How far the figures hold, what they follow, and the cautions that come first."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

from django.utils import timezone
from reportlab.platypus import Flowable, KeepTogether

from fleet.dates import day_words
from fleet.quantities import Quantity
from ratings.certificate.facts import Certificate
from ratings.certificate.layout import BOXED, SECTION
from ratings.paper.style import SMALL, paragraph

CAUTION_WORDS = (
    "Pads and housing are rated by measurement. The crane’s chart, rigging limits, the maker’s "
    "instructions, local code and a qualified person come first. Never pull to the stops while "
    "vibrating. A stretched bench stand stores energy: stand clear, bleed before touching. Lock "
    "out before counting pads."
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
