from __future__ import annotations

from typing import Any

import django_filters
from django import forms
from django.db.models import Q, QuerySet

from fleet.models import SuppressorHousing, Yard
from ratings.board.units import OUT_OF_SERVICE, WORST_FIRST


class BoardFilter(django_filters.FilterSet):  # type: ignore[misc]  # the library carries no types
    """Narrow the board by standing, yard, mounting or a word."""

    search = django_filters.CharFilter(
        label="Search",
        method="filter_search",
        widget=forms.TextInput(attrs={"type": "search", "placeholder": "mark, hammer or yard"}),
    )
    standing = django_filters.ChoiceFilter(
        label="Standing",
        empty_label="any",
        choices=[
            (OUT_OF_SERVICE, OUT_OF_SERVICE),
            *((standing.value, standing.value) for standing in WORST_FIRST),
        ],
        method="filter_standing",
    )
    yard = django_filters.ModelChoiceFilter(
        label="Yard", empty_label="any", queryset=Yard.objects.all()
    )
    mounted = django_filters.ChoiceFilter(
        label="Mounted",
        empty_label="either",
        choices=[("yes", "on a hammer"), ("no", "off the hammer")],
        method="filter_mounted",
    )

    class Meta:
        model = SuppressorHousing
        fields: list[str] = []

    # The units carry what the board's own query adds to each of them.
    def filter_search(self, units: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
        return units.filter(
            Q(mark__icontains=value)
            | Q(mounting__hammer__mark__icontains=value)
            | Q(mounting__hammer__make__icontains=value)
            | Q(mounting__hammer__type_name__icontains=value)
            | Q(yard__name__icontains=value)
        )

    def filter_standing(self, units: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
        if value == OUT_OF_SERVICE:
            return units.filter(in_service=0)
        rank = [standing.value for standing in WORST_FIRST].index(value)
        return units.filter(in_service=1, rank=rank)

    def filter_mounted(self, units: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
        return units.filter(mounting__isnull=value == "no")
