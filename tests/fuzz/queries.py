"""What stands in the address of a page: filters, pages, days, and what nobody reads."""

from __future__ import annotations

from datetime import timedelta
from urllib.parse import quote_from_bytes

from django.utils import timezone
from hypothesis import strategies as st

from tests.fuzz.forms import Text, _bytes, shown
from tests.fuzz.held import Held, says_why
from tests.fuzz.values import values

COMMON = (
    "page",
    "per_page",
    "sort",
    "q",
    "search",
    "since",
    "until",
    "first",
    "last",
    "day",
    "other",
    "yard",
    "unit",
    "lot",
    "corrects",
    "kind",
    "goal",
    "form",
    "fit",
    "job",
    "next",
    "cursor",
)
# That a paper was given out is on record, by whatever it was asked for.
GIVEN_OUT = {
    "fleet.Leaf": "of a paper given out",
    "ratings.Paper": "a paper given out",
    "fleet.LongWork": "a long export that was asked for",
}


@st.composite
def asked(draw: st.DrawFn, own: list[str]) -> list[tuple[str, Text]]:
    """What is asked of a page, mostly by names it knows."""
    names = st.sampled_from(own) if own else st.sampled_from(COMMON)
    either = st.one_of(names, names, st.sampled_from(COMMON))
    # Some pages work nothing out but for a day to come.
    today = timezone.localdate()
    days = st.sampled_from([(today + timedelta(days=n)).isoformat() for n in (-400, -1, 0, 90)])
    return draw(st.lists(st.tuples(either, st.one_of(values, days)), min_size=1, max_size=4))


def hold(held: Held, path: str, query: list[tuple[str, Text]]) -> None:
    """Ask for a page, and hold its answer to what must hold of all. Raises Fault."""
    with held.case(f"GET {path} {shown(query)}") as case:
        # A server takes no longer line than this.
        parts = (
            f"{quote_from_bytes(_bytes(name))}={quote_from_bytes(_bytes(value)[:3_000])}"
            for name, value in query
        )
        answer = case.ask(lambda: held.client().get(f"{path}?{'&'.join(parts)}"))
        case.nothing_changed(but=GIVEN_OUT)
        if answer.status_code >= 400 and not says_why(answer, set()):
            raise case.fault(f"answered {answer.status_code} and says not why")
