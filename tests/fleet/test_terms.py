from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from django.template import Context, Template, TemplateSyntaxError
from django.test import Client, RequestFactory
from django.urls import reverse

from fleet.terms import TERMS, term_named
from tests.builders import rated_unit
from tests.site.html_form import words

APPS = ("fleet", "ratings", "inspections")


def written(text: str, **context: Any) -> str:
    request = RequestFactory().get("/")
    return Template("{% load terms %}" + text).render(Context({"request": request, **context}))


def test_a_word_gets_its_help_at_the_first_mention_only() -> None:
    page = written('{% term "usable travel" %}, {% term "usable travel" "Usable travel" %}')
    assert page.count("popovertarget") == 1
    assert page.startswith("usable travel<button")
    assert page.endswith(", Usable travel")


def test_what_was_mentioned_is_explained_once_at_the_end() -> None:
    page = written('{% term "E_n" %}{% terms_said %}{% heading "Line pull" %}{% terms_said %}')
    ids = re.findall(r'popover id="([\w-]+)"', page)
    assert ids == re.findall(r'popovertarget="([\w-]+)"', page) == ["term-e_n", "term-line-pull"]
    assert "E<sub>n</sub>" in page


def test_a_heading_that_is_no_term_stands_as_it_is() -> None:
    assert written("{% heading words %}", words="Order <more> at") == "Order &lt;more&gt; at"


def test_a_word_that_is_not_in_the_table_is_refused() -> None:
    with pytest.raises(TemplateSyntaxError, match="no term 'usable travl'"):
        written('{% term "usable travl" %}')


def test_every_term_that_a_template_asks_for_is_in_the_table() -> None:
    asked = {
        name
        for app in APPS
        for path in Path(app).rglob("*.html")
        for name in re.findall(r'{% (?:term|heading) "([^"]+)"', path.read_text())
    }
    assert len(asked) > 20
    assert {name for name in asked if term_named(name) is None} == set()


def test_no_word_means_two_things() -> None:
    names = [name for term in TERMS for name in (term.name.casefold(), *term.also)]
    assert len(names) == len(set(names))
    assert all(name == name.casefold() for name in names)


@pytest.mark.django_db
def test_the_page_of_words_lists_them_all_and_leads_on(auditor_client: Client) -> None:
    response = auditor_client.get(reverse("words"))
    page, text = response.content.decode(), words(response)
    for term in TERMS:
        assert f'id="{term.anchor}"' in page
        assert term.meaning in text
        assert f'href="{reverse(term.page)}"' in page


@pytest.mark.django_db
def test_a_unit_s_page_helps_with_its_words(auditor_client: Client) -> None:
    unit = rated_unit()
    page = auditor_client.get(reverse("unit", args=[unit.housing.pk])).content.decode()
    mentioned = re.findall(r'popovertarget="([\w-]+)"', page)
    said = re.findall(r'popover id="([\w-]+)"', page)
    assert len(said) == len(set(said)) >= 8
    assert set(mentioned) == set(said)
