from __future__ import annotations

from io import BytesIO

import pytest
from django.urls import reverse
from pypdf import PdfReader
from pytest_django import Settings
from reportlab.lib.units import mm

from inspections.labels.paper import Label, labels_pdf
from inspections.labels.stocks import STOCKS, LabelStock
from tests.builders import rated_unit
from tests.factories import AuditorFactory
from tests.inspections.field.sent import signed_in


@pytest.mark.parametrize("stock", STOCKS.values(), ids=STOCKS)
def test_every_label_lies_within_its_page(stock: LabelStock) -> None:
    for place in range(stock.many):
        x, y = stock.corner(place)
        assert x >= 0
        assert y >= -0.01
        assert x + stock.width <= stock.page[0] + 0.01
        assert y + stock.height <= stock.page[1] + 0.01


@pytest.mark.parametrize("stock", STOCKS.values(), ids=STOCKS)
def test_no_two_labels_of_a_stock_overlap(stock: LabelStock) -> None:
    assert stock.step_across >= stock.width - 0.01
    assert stock.step_down >= stock.height - 0.01


def test_labels_used_up_are_left_free() -> None:
    stock = STOCKS["letter-10"]
    sheet = labels_pdf([Label("S-01", "Housing", "Tallow Reach", "https://x/1")] * 4, stock, skip=8)
    pages = PdfReader(BytesIO(sheet)).pages
    assert [page.extract_text().count("S-01") for page in pages] == [2, 2]


def test_a_long_name_is_cut_before_it_is_too_small_to_read() -> None:
    label = Label(
        "S-01", "Pad lot", "Pellworth Rubber and Moulding Company of the North", "https://x"
    )
    text = PdfReader(BytesIO(labels_pdf([label], STOCKS["letter-30"]))).pages[0].extract_text()
    assert "Pellworth Rubber" in text
    assert "…" in text


@pytest.mark.django_db
def test_labels_of_chosen_housings_and_lots_are_printed() -> None:
    unit = rated_unit()
    form = {"housings": [unit.housing.pk], "lots": [unit.lot.pk], "stock": "a4-24", "skip": "0"}
    answer = signed_in(unit.manager).post(reverse("labels"), form)
    text = PdfReader(BytesIO(answer.content)).pages[0].extract_text()
    assert unit.housing.mark in text
    assert unit.lot.mark in text


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("host", "words"),
    [
        ("localhost:8000", "No phone finds that one"),
        ("ledger.example", "the address that will"),
    ],
)
def test_the_page_says_where_the_codes_lead(settings: Settings, host: str, words: str) -> None:
    settings.ALLOWED_HOSTS = ["*"]
    page = signed_in(AuditorFactory()).get(reverse("labels"), headers={"host": host})
    assert f"http://{host}/" in page.content.decode()
    assert words in page.content.decode()


@pytest.mark.parametrize("stock", STOCKS.values(), ids=STOCKS)
def test_nothing_is_printed_within_four_millimetres_of_a_sheets_edge(stock: LabelStock) -> None:
    x, y = (at + stock.inset for at in stock.corner(stock.many - 1))
    left = stock.corner(0)[0] + stock.inset
    assert min(left, y, stock.page[0] - x - stock.width + 2 * stock.inset) >= 4 * mm


@pytest.mark.django_db
def test_nothing_chosen_is_said() -> None:
    unit = rated_unit()
    answer = signed_in(unit.manager).post(reverse("labels"), {"stock": "a4-24", "skip": ""})
    assert "Nothing is chosen" in answer.content.decode()


@pytest.mark.django_db
def test_a_scanned_housing_opens_to_be_inspected_by_who_may() -> None:
    unit = rated_unit()
    scanned = reverse("scan-housing", args=[unit.housing.pk])
    assert "#inspect/" in signed_in(unit.manager).get(scanned)["Location"]
    assert signed_in(AuditorFactory()).get(scanned)["Location"] == reverse(
        "unit", args=[unit.housing.pk]
    )
