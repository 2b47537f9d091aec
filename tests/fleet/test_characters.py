"""Names, notes and what papers print of them."""

from __future__ import annotations

import unicodedata
from io import BytesIO

import pytest
from django.core.exceptions import ValidationError
from django.http import QueryDict
from django.test import Client
from django.urls import reverse
from django.utils.http import urlencode
from pypdf import PdfReader

from fleet.characters import check_name, is_on_paper, without_hidden
from fleet.fields import MeasuredForm
from fleet.models import PadLot, Yard
from inspections.labels.paper import Label, labels_pdf
from inspections.labels.stocks import STOCKS
from inspections.models import Inspection
from ratings.paper.letters import printable
from tests.builders import rated_unit
from tests.factories import HousingFactory, YardFactory
from tests.inspections.field.sent import payload, send, signed_in


@pytest.mark.parametrize("name", ["HP-07", "Ładownia 3", "Кран 2", "Ωmega", "½ inch’s"])
def test_a_name_in_a_script_papers_print_is_taken(name: str) -> None:
    check_name(name)


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("HP\u202e70", "U\\+202E, right-to-left override"),
        ("HP-\u200b07", "U\\+200B, zero width space"),
        ("HP-07 \U0001f528", "“\U0001f528” can’t be printed"),
        ("מנוף", "can’t be printed on labels and papers"),
        ("HP\x0707", "a control character"),
    ],
)
def test_a_name_that_cannot_be_told_or_printed_is_refused(name: str, words: str) -> None:
    with pytest.raises(ValidationError, match=words):
        check_name(name)


def test_every_character_a_name_may_have_is_in_the_papers_fonts() -> None:
    taken = [chr(code) for code in range(0x20, 0x2200) if is_on_paper(chr(code))]
    assert len(taken) > 1500
    assert [each for each in taken if printable(each) == "?" != each] == []


def test_what_turns_figures_round_is_left_out_of_a_note() -> None:
    assert without_hidden("was \u202e4.21\u202c tons\r\nnow\tgood") == "was 4.21 tons\r\nnow\tgood"


def test_letters_are_kept_that_only_join_others() -> None:
    joined = "\U0001f469\u200d\U0001f527 می\u200cخواهم"
    assert without_hidden(joined) == joined


def test_every_form_of_measured_numbers_leaves_them_out() -> None:
    from django import forms

    class NoteForm(MeasuredForm):
        note = forms.CharField()

    form = NoteForm(QueryDict(urlencode({"note": "so\u202e\u200bund"})))
    assert form.is_valid()
    assert form.cleaned_data["note"] == "sound"


@pytest.mark.parametrize("blank", ["\u200b", "\u200b\u200d", "\u2800 ", "\u3164"])
def test_a_text_of_nothing_to_be_seen_is_blank(blank: str) -> None:
    assert without_hidden(blank) == ""


@pytest.mark.django_db
def test_a_lot_with_a_hidden_character_in_its_mark_is_refused_at_the_field() -> None:
    unit = rated_unit()
    page = signed_in(unit.manager).post(reverse("new-lot"), {"mark": "L\u200b-1"})
    assert "zero width space" in page.context["form"].errors["mark"][0]
    assert not PadLot.objects.filter(mark__startswith="L\u200b").exists()


@pytest.mark.django_db
def test_set_up_refuses_emoji_in_a_name(manager_client: Client) -> None:
    page = manager_client.post(reverse("new-yard"), {"name": "Yard \U0001f6a7"})
    assert "can’t be printed" in page.content.decode()
    assert not Yard.objects.filter(name__startswith="Yard ").exists()


@pytest.mark.django_db
def test_a_phone_cannot_turn_a_note_round() -> None:
    unit = rated_unit()
    note = "pads \u202eenog\u202c"
    assert send(signed_in(unit.manager), payload(unit, note=note)).status_code == 201
    assert Inspection.objects.latest("pk").note == "pads enog"


def test_labels_print_letters_of_other_scripts() -> None:
    sheet = labels_pdf([Label("Łódź-7", "Копер, Ωmega", "Šab", "https://x/1")], STOCKS["letter-10"])
    text = PdfReader(BytesIO(sheet)).pages[0].extract_text()
    assert unicodedata.normalize("NFC", text).count("Łódź-7") == 1
    assert "Копер, Ωmega" in text


@pytest.mark.django_db
def test_the_history_report_prints_a_persons_name_as_it_is_written() -> None:
    unit = rated_unit()
    unit.manager.first_name, unit.manager.last_name = "Łukasz", "Šašek"
    unit.manager.save()
    housing = HousingFactory(mark="Ж-12", yard=YardFactory())
    client = signed_in(unit.manager)
    file = client.get(reverse("history-report", args=[housing.pk])).content
    text = " ".join(page.extract_text() for page in PdfReader(BytesIO(file)).pages)
    assert "Ж-12" in text
    assert "Łukasz Šašek" in text
