from __future__ import annotations

from collections.abc import Iterable
from typing import Any, cast

from django import forms
from django.db.models import Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse

from fleet.fields import NumberField, RecordsField
from fleet.models import PadLot, SuppressorHousing
from fleet.roles import RECORD, signed_in
from inspections.labels.stocks import STOCKS

# Boxes to tick: who needs more narrows them by a word, or takes all of them.
BOXES_SHOWN = 100


class LabelsForm(forms.Form):
    """Which labels, on what stock.

    word: what the housings and lots offered answer to. Those ticked before it was given count too.
    """

    every_housing = forms.BooleanField(required=False)
    every_lot = forms.BooleanField(required=False)
    housings = RecordsField(
        label="Housings",
        queryset=SuppressorHousing.objects.in_use(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    lots = RecordsField(
        label="Pad lots",
        queryset=PadLot.objects.in_use(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    stock = forms.ChoiceField(
        label="Label stock", choices=[(key, stock.name) for key, stock in STOCKS.items()]
    )
    skip = NumberField(
        label="Labels used up on the first sheet",
        least=0,
        most=29,
        whole=True,
        required=False,
        example="0",
    )

    def __init__(self, *args: Any, word: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.housings_found = SuppressorHousing.objects.in_use().filter(
            Q(mark__icontains=word) | Q(yard__name__icontains=word)
        )
        self.lots_found = PadLot.objects.in_use().filter(
            Q(mark__icontains=word) | Q(supplier__icontains=word)
        )
        for name, found in (("housings", self.housings_found), ("lots", self.lots_found)):
            field = cast(forms.ChoiceField, self.fields[name])
            field.choices = [(each.pk, str(each)) for each in found[:BOXES_SHOWN]]

    def clean_skip(self) -> int:
        return self.cleaned_data["skip"] or 0

    def clean(self) -> None:
        super().clean()
        chosen = self.cleaned_data
        if chosen.get("every_housing"):
            chosen["housings"] = self.housings_found
        if chosen.get("every_lot"):
            chosen["lots"] = self.lots_found
        if not self.errors and not chosen.get("housings") and not chosen.get("lots"):
            raise forms.ValidationError("Nothing is chosen: tick a housing or a lot.")
        stock = STOCKS.get(chosen.get("stock", ""))
        if stock is not None and chosen.get("skip", 0) >= stock.many:
            self.add_error("skip", f"This stock has {stock.many} labels to a sheet: give fewer.")


def labels(request: HttpRequest) -> HttpResponse:
    """Choose labels, and print them."""
    word = request.GET.get("search", "").replace("\0", "")
    form = LabelsForm(request.POST if request.method == "POST" else None, word=word)
    if request.method == "POST" and form.is_valid():
        return _print(request, form)
    name = request.get_host().rsplit(":", 1)[0]
    context = {
        "section": "due",
        "form": form,
        "word": word,
        "groups": [
            ("Housings", form["housings"], form["every_housing"], form.housings_found.count()),
            ("Pad lots", form["lots"], form["every_lot"], form.lots_found.count()),
        ],
        "boxes_shown": BOXES_SHOWN,
        "address": request.build_absolute_uri("/"),
        "is_here_alone": name in ("localhost", "[::1]") or name.startswith("127."),
    }
    return render(request, "labels/labels.html", context)


def scan_housing(request: HttpRequest, housing_id: int) -> HttpResponse:
    """Open a scanned housing: to be inspected by who may, to be read by who may not."""
    housing = get_object_or_404(SuppressorHousing, pk=housing_id)
    if signed_in(request).has_perm(RECORD):
        return redirect(f"{reverse('field')}#inspect/{housing.pk}")
    return redirect("unit", housing.pk)


def _print(request: HttpRequest, form: LabelsForm) -> HttpResponse:
    # Imported on need: the site must not wait for the PDF library at start.
    from inspections.labels.paper import Label, labels_pdf

    housings: Iterable[SuppressorHousing] = form.cleaned_data["housings"].select_related("yard")
    lots: Iterable[PadLot] = form.cleaned_data["lots"]
    chosen = [
        Label(
            housing.mark,
            "Suppressor housing",
            housing.yard.name,
            request.build_absolute_uri(reverse("scan-housing", args=[housing.pk])),
        )
        for housing in housings
    ]
    chosen += [
        Label(
            lot.mark,
            "Pad lot",
            lot.supplier,
            request.build_absolute_uri(reverse("lot", args=[lot.pk])),
        )
        for lot in lots
    ]
    return HttpResponse(
        labels_pdf(chosen, STOCKS[form.cleaned_data["stock"]], form.cleaned_data["skip"]),
        content_type="application/pdf",
        headers={"Content-Disposition": 'inline; filename="labels.pdf"'},
    )
