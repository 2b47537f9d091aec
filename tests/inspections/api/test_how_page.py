"""The examples of How this works run as they stand on the page."""

from __future__ import annotations

import html
import json
import re
import shlex
import uuid
from dataclasses import dataclass, field

import pytest
from django.test import Client
from django.urls import reverse

from inspections.api.resources import RESOURCES
from inspections.api.writing import ACTS
from tests.builders import drafted_test, rated_unit
from tests.factories import ManagerFactory
from tests.inspections.api.asking import token_of
from tests.inspections.field.sent import signed_in
from tests.job_builders import commit, figured_unit

pytestmark = pytest.mark.django_db
SITE = "https://ledger.example"


@dataclass
class Curl:
    """What a line of curl asks for."""

    method: str = "GET"
    url: str = ""
    headers: dict[str, str] = field(default_factory=dict)
    data: list[str] = field(default_factory=list)


def curl(command: str, token: str) -> Curl:
    """Read a line of curl as a shell does, with a token and a UUID in it."""
    filled = command.replace("$TOKEN", token).replace("$(uuidgen)", str(uuid.uuid4()))
    name, *words = shlex.split(filled)
    assert name == "curl"
    read, given = Curl(), iter(words)
    for word in given:
        if word == "-X":
            read.method = next(given)
        elif word == "-H":
            header, _, value = next(given).partition(": ")
            read.headers[header] = value
        elif word == "-d":
            read.data.append(next(given))
        elif word != "-G":
            read.url = word.removeprefix(SITE)
    return read


def test_every_example_on_the_page_runs_as_it_stands() -> None:
    unit = rated_unit()
    drafted_test(unit.lot, unit.manager)
    commit(figured_unit())
    manager = ManagerFactory()
    page = signed_in(manager).get(reverse("how-api")).content.decode()
    token = token_of(manager).secret
    examples = re.findall(r'<pre class="example" data-status="(\d+)">(.*?)</pre>', page, re.S)
    asked = set()
    for status, command in examples:
        read = curl(html.unescape(command), token)
        content = read.headers.pop("Content-Type", "")
        if read.method == "GET":
            query = dict(each.split("=", 1) for each in read.data)
            answer = Client().get(read.url, query, headers=read.headers)
        else:
            answer = Client().post(read.url, read.data[0], content, headers=read.headers)
        assert answer.status_code == int(status), (read, answer.content)
        asked.add((read.method, read.url.split("/")[3]))
        if status == "422":
            told = re.search(r'<pre class="answer">(.*?)</pre>', page, re.S)
            assert told is not None
            assert answer.json() == json.loads(html.unescape(told[1]))
    assert {("POST", act.name) for act in ACTS} <= asked
    assert {("GET", "units"), ("GET", "inspections")} <= asked


def test_the_page_names_every_kind_of_record() -> None:
    page = signed_in(ManagerFactory()).get(reverse("how-api")).content.decode()
    for each in RESOURCES:
        assert f"<dt><code>{each.name}</code></dt>" in page
