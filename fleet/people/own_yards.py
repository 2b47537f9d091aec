"""What stands in the yards that whoever reads is bound to: lists open with it, and show all."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import wraps
from typing import Any, TypeVar

import django_filters
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from fleet.models import Yard
from fleet.people.yards import acts_in, yards_bound_to
from fleet.tables import RecordsFilter, RecordsTable

# In an address: what stands in the yards its reader is bound to.
OWN_YARDS = "yours"
View = TypeVar("View", bound=Callable[..., HttpResponse])


class OwnYardsTable(RecordsTable):
    """A list whose rows link to acts, which are offered by where a row stands."""

    def may_record_in(self, yard_id: int) -> bool:
        """Whether its reader records what stands in a yard."""
        return self.may_record and acts_in(self.request.user, yard_id)


class OwnYardsFilter(RecordsFilter):
    """Narrow a list to the yards its reader is bound to; who is bound to none is not asked."""

    bound = django_filters.ChoiceFilter(
        label="Yards you act in",
        empty_label="every yard",
        choices=[(OWN_YARDS, "yours alone")],
        method="filter_bound",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.yards = yards_bound_to(self.request.user)
        if not self.yards:
            del self.form.fields["bound"]

    def filter_bound(self, records: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
        return self.in_yards(records, self.yards)

    def in_yards(self, records: Any, yards: Sequence[Yard]) -> QuerySet[Any]:
        """Return those records that are of some yards."""
        found: QuerySet[Any] = records.filter(yard__in=yards)
        return found

    @property
    def is_own_alone(self) -> bool:
        """Whether it is narrowed to the yards its reader is bound to."""
        return bool(self.yards and self.form.is_valid() and self.form.cleaned_data["bound"])


def opens_in_own_yards(view: View) -> View:
    """Open a list with what stands in the yards its reader is bound to, unless they ask of it."""

    @wraps(view)
    def opened(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        is_asked = request.GET or request.method != "GET" or getattr(request, "htmx", False)
        if is_asked or not yards_bound_to(request.user):
            return view(request, *args, **kwargs)
        return redirect(f"{request.path}?bound={OWN_YARDS}")

    return opened  # type: ignore[return-value]  # the same view, asked first
