"""Every paper that states a figure: its code is scanned, its page asked, its file checked."""

from __future__ import annotations

import subprocess
import uuid
from collections.abc import Callable
from datetime import timedelta
from io import BytesIO, StringIO
from pathlib import Path
from typing import Any

import pytest
import zxingcpp
from django.core.cache import cache
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from PIL import Image
from pypdf import PdfReader, PdfWriter

from fleet.outages import take_out_of_service
from ratings.models import LotRating, Paper
from ratings.paper import check_file
from ratings.paper.check_file import Unreadable, Verdict, check_paper
from ratings.record import paper_pages
from ratings.record.paper_pages import MOST_A_MINUTE
from ratings.record.seals import make_seal
from tests.builders import MONDAY, Unit, count, rated_unit
from tests.factories import AuditorFactory, YardFactory
from tests.inspections.hire.test_foreign_checks import checked
from tests.inspections.hire.test_hand_overs import out
from tests.job_builders import commit, extraction_job, figured_unit
from tests.ratings.record.test_paper_with_proof import redrawn, restated
from tests.site.html_form import words

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _nobody_has_asked_yet() -> None:
    cache.clear()


def history(unit: Unit) -> str:
    return reverse("history-report", args=[unit.housing.pk])


def history_of_a_yard(unit: Unit) -> str:
    return f"{reverse('history')}?of=yard-{unit.housing.yard_id}"


def certificate(unit: Unit) -> str:
    rating = LotRating.objects.filter(lot=unit.lot).latest("pk")
    return reverse("lot-certificate", args=[rating.pk])


def pull_sheet(_unit: Unit) -> str:
    made = commit(figured_unit(), extraction_job(first_day=timezone.localdate()))
    return reverse("pull-sheet", args=[made.pk])


def hand_over(_unit: Unit) -> str:
    return reverse("hand-over-paper", args=[out(rated_unit()).pk])


def not_ours(_unit: Unit) -> str:
    return reverse("foreign-check-paper", args=[checked().pk])


def fleet_summary(_unit: Unit) -> str:
    today = timezone.localdate()
    return f"{reverse('fleet-summary')}?first={today - timedelta(days=30)}&last={today}"


def order_list(_unit: Unit) -> str:
    until = timezone.localdate() + timedelta(days=90)
    return f"{reverse('order-list')}?until={until}"


def work_list(_unit: Unit) -> str:
    return f"{reverse('work-list')}?yard={YardFactory().pk}&day={timezone.localdate()}"


PAPERS: dict[str, Callable[[Unit], str]] = {
    "history": history,
    "history of days": history_of_a_yard,
    "certificate": certificate,
    "pull sheet": pull_sheet,
    "hand-over": hand_over,
    "hammer not ours": not_ours,
    "fleet summary": fleet_summary,
    "order list": order_list,
    "work list": work_list,
}


@pytest.fixture(scope="module")
def unit(module_db: None) -> Unit:
    made = rated_unit()
    make_seal()
    return made


def printed(url: str) -> bytes:
    client = Client()
    client.force_login(AuditorFactory())
    sent = client.get(url)
    assert sent["Content-Type"] == "application/pdf"
    return sent.content


def codes_on(paper: bytes, folder: Path) -> list[str]:
    """What a phone reads on the pages of a paper, rendered as they are printed."""
    (folder / "paper.pdf").write_bytes(paper)
    subprocess.run(
        ["pdftoppm", "-r", "110", "-gray", "-png", "paper.pdf", "page"], cwd=folder, check=True
    )
    found = []
    for page in sorted(folder.glob("page*.png")):
        with Image.open(page) as image:
            found += [each.text for each in zxingcpp.read_barcodes(image)]
    return found


@pytest.mark.parametrize("kind", PAPERS)
def test_a_paper_bears_a_seal_and_a_code_that_leads_to_what_it_states(
    unit: Unit, kind: str, tmp_path: Path
) -> None:
    paper = printed(PAPERS[kind](unit))
    given = Paper.objects.latest("pk")
    foot = PdfReader(BytesIO(paper)).pages[0].extract_text()
    assert f"Paper {given.code} · Record sealed: seal 1 of" in foot
    (code,) = codes_on(paper, tmp_path)
    assert code.startswith("http://testserver/")
    led = Client().get(code)
    assert led.status_code == 200
    page = Client().get(reverse("paper", args=[given.code]))
    for name, figure in given.contents["figures"]:
        assert f"{name} {figure}" in words(page)
    if kind != "pull sheet":
        assert words(led) == words(page)
    assert given.kind == kind
    assert check_paper(paper).verdict is Verdict.TRUE


@pytest.mark.parametrize("kind", PAPERS)
def test_a_paper_saved_again_still_shows_each_figure_it_states_and_is_not_what_was_given_out(
    unit: Unit, kind: str
) -> None:
    writer = PdfWriter(clone_from=PdfReader(BytesIO(printed(PAPERS[kind](unit)))))
    writer.add_metadata({"/Producer": "Another program"})
    again = BytesIO()
    writer.write(again)
    found = check_paper(again.getvalue())
    assert found.verdict is Verdict.ALTERED
    assert [fault.split(",")[0] for fault in found.faults] == ["its pages draw what they drew"]


def test_a_history_printed_again_is_the_same_file_under_the_same_code_and_recorded_once(
    unit: Unit,
) -> None:
    client = Client()
    client.force_login(AuditorFactory())
    given_before = Paper.objects.count()
    first, again = (client.get(history(unit)).content for _ in range(2))
    assert first == again
    assert Paper.objects.count() == given_before + 1
    assert printed(history(unit)) != first, "each reader has a code of their own"


def test_a_history_of_which_no_figure_but_something_else_became_another_has_another_code() -> None:
    unit = rated_unit()
    client = Client()
    client.force_login(AuditorFactory())
    first = client.get(history(unit)).content
    out_of_service(unit)
    second, third = (client.get(history(unit)).content for _ in range(2))
    assert second == third != first
    newer, older = Paper.objects.order_by("-pk")[:2]
    assert newer.code != older.code
    assert newer.contents["figures"] == older.contents["figures"]
    found = [check_paper(paper) for paper in (first, second)]
    assert [each.now and each.now.paper for each in found] == [older, newer]


def test_nobody_is_told_that_a_history_of_days_gone_by_still_is_so(unit: Unit) -> None:
    paper = printed(f"{history(unit)}?last={MONDAY:%Y-%m-%d}")
    given = Paper.objects.latest("pk")
    assert (given.kind, given.contents["figures"][0][0]) == ("history of days", "Standing")
    page = words(Client().get(reverse("paper", args=[given.code])))
    assert "KNOWN, OF ITS DAY" in page
    assert "STILL SO" not in page
    assert check_paper(paper).verdict is Verdict.TRUE


def out_of_service(unit: Unit) -> None:
    take_out_of_service(
        submission_id=uuid.uuid4(),
        machine=unit.housing,
        since=MONDAY + timedelta(days=1),
        reason="Weld torn at the guide",
        by=unit.manager,
    )


def test_a_paper_in_metric_units_states_them(unit: Unit) -> None:
    client = Client()
    client.force_login(AuditorFactory())
    client.post(reverse("choose-units"), {"units": "si", "next": "/"})
    paper = client.get(history(unit)).content
    assert ["Line pull", "213.5 kN"] in Paper.objects.latest("pk").contents["figures"]
    assert check_paper(paper).verdict is Verdict.TRUE


def test_its_page_tells_of_what_was_added_since_and_that_it_is_no_longer_so() -> None:
    unit = rated_unit()
    paper = printed(history(unit))
    url = reverse("paper", args=[Paper.objects.get().code])
    before = words(Client().get(url))
    assert "KNOWN, STILL SO" in before
    assert f"Nothing was added to the ledger of {unit.housing.mark} since." in before
    assert "from the record as it stood after seal 1." in before
    torn = {"A1": "cracked", "A2": "cracked", "B1": "missing", "B2": "missing"}
    tuesday = MONDAY + timedelta(days=1)
    count(unit.housing, unit.manager, unit.lot, unsound=torn, at=tuesday)
    after = words(Client().get(url))
    assert "KNOWN, NO LONGER SO" in after
    assert "Another than printed now: " in after
    assert "line pull" in after
    assert "1 entry was added" in after
    assert "24.0 tons" in after, "what it stated, for whoever compares"
    assert check_paper(paper).verdict is Verdict.NO_LONGER_SO


def test_a_unit_out_of_service_is_told_of_and_not_why() -> None:
    unit = rated_unit()
    printed(history(unit))
    out_of_service(unit)
    page = words(Client().get(reverse("paper", args=[Paper.objects.get().code])))
    assert "The unit is out of service now: it must not go out." in page
    assert "Weld" not in page


def test_a_code_is_typed_as_it_comes_and_one_not_known_is_said_to_be_none(unit: Unit) -> None:
    printed(history(unit))
    code = Paper.objects.latest("pk").code
    ask = reverse("ask-paper")
    typed = Client().get(ask, {"code": f" {code.lower().replace('-', ' ')} "}, follow=True)
    assert code in words(typed)
    assert "Code at the foot of each page" in words(Client().get(ask))
    assert "four groups of four" in words(Client().get(ask, {"code": "ABCD-0000"}))
    other = Client().get(reverse("paper", args=["AAAA-BBBB-CCCC-DDDD"]))
    assert other.status_code == 404
    assert "NOT KNOWN" in words(other)
    assert Client().get("/paper/" + "A" * 300 + "/").status_code == 404


def sent(paper: bytes) -> Any:
    """What the open page says of a file."""
    return Client().post(reverse("paper-file"), {"paper": BytesIO(paper)})


def test_whoever_has_the_file_learns_without_an_account_whether_a_byte_was_altered(
    unit: Unit,
) -> None:
    paper = printed(certificate(unit))
    said = sent(paper)
    assert "The file is, byte by byte, what was given out." in words(said)
    assert "KNOWN, STILL SO" in words(said)
    told = sent(paper + b" ")
    assert told.status_code == 404
    assert "No paper of these bytes was given out here by itself." in words(told)


def test_no_file_and_one_larger_than_any_paper_are_refused_in_words(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    nothing = Client().post(reverse("paper-file"))
    assert (nothing.status_code, "No file came" in words(nothing)) == (400, True)
    monkeypatch.setattr(paper_pages, "MOST_BYTES", 1_000_000)
    large = sent(b"%PDF" + bytes(1_000_001))
    assert (large.status_code, "larger than 1 MB" in words(large)) == (413, True)


@pytest.mark.usefixtures("within_one_minute")
def test_its_page_is_not_to_be_found_by_guessing() -> None:
    url = reverse("paper", args=["AAAA-BBBB-CCCC-DDDD"])
    answers = [Client().get(url).status_code for _ in range(MOST_A_MINUTE + 1)]
    assert answers == [404] * MOST_A_MINUTE + [429]


def test_a_paper_whose_page_shows_another_figure_is_found_with_its_page(unit: Unit) -> None:
    forged = redrawn(printed(history(unit)), b"24.0 tons", b"29.0 tons", hides=False)
    found = check_paper(forged)
    assert found.verdict is Verdict.ALTERED
    assert found.faults[0].startswith("page 1 does not show what it showed")
    stated = "it states “Line pull: 24.0 tons (48,000 lbf)”, and no page of it shows that"
    assert stated in found.faults


def test_a_paper_whose_attachment_was_altered_is_found(unit: Unit) -> None:
    paper = printed(history(unit))
    forged = restated(paper, b'"Line pull","24.0 tons', b'"Line pull","29.0 tons')
    found = check_paper(forged)
    assert found.verdict is Verdict.ALTERED
    code = Paper.objects.latest("pk").code
    assert found.faults[0].startswith(f"it bears the code {code}, of “")
    assert "“Line pull: 24.0 tons (48,000 lbf)”, and this one states 29.0 tons" in found.faults[0]
    assert "what it states was altered, or it was not given out here" in found.faults[1]
    assert "29.0 tons" in found.faults[2]
    other = restated(paper, b'"hash":"', b'"hash":"0')
    faults = check_paper(other).faults
    assert any("no entry on record has that hash" in each for each in faults), faults


def not_attached(paper: bytes) -> bytes:
    writer = PdfWriter()
    for page in PdfReader(BytesIO(paper)).pages:
        writer.add_page(page)
    written = BytesIO()
    writer.write(written)
    return written.getvalue()


CANNOT_TELL: dict[str, tuple[Callable[[bytes], bytes], str]] = {
    "no PDF": (lambda _: b"Line-Pull", "it is not a PDF"),
    "nothing": (lambda _: b"", "it is not a PDF"),
    "cut short": (lambda paper: paper[:400], "it can’t be read as a PDF"),
    "nothing attached": (not_attached, "nothing is attached that says what it states"),
    "another thing attached": (
        lambda paper: restated(paper, b"Line-Pull Ledger paper", b"Line-Pull Ledger pap3r"),
        "what is attached to it is not what a paper states",
    ),
}


@pytest.mark.parametrize("what", CANNOT_TELL)
def test_a_file_of_which_nothing_can_be_told_is_said_to_be_one(unit: Unit, what: str) -> None:
    change, why = CANNOT_TELL[what]
    with pytest.raises(Unreadable, match=why):
        check_paper(change(printed(history(unit))))


def command(file: Path) -> tuple[int, str]:
    """The number that the command ends with, and what it says."""
    out, err = StringIO(), StringIO()
    try:
        call_command("ledger", "check-paper", str(file), stdout=out, stderr=err)
    except CommandError as said:
        return said.returncode, f"{out.getvalue()}{err.getvalue()}{said}"
    return 0, out.getvalue()


def test_the_command_says_yes_or_no_and_ends_with_its_number(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    unit = rated_unit()
    file = tmp_path / "paper.pdf"
    paper = printed(history(unit))
    file.write_bytes(paper)
    code, said = command(file)
    assert (code, "byte by byte, what was given out" in said) == (0, True)
    assert "Line pull: 24.0 tons (48,000 lbf)" in said
    file.write_bytes(redrawn(paper, b"48,000", b"52,000", hides=False))
    code, said = command(file)
    assert (code, "page 1 does not show" in said) == (1, True)
    assert command(tmp_path / "none.pdf") == (
        2, f"Can’t tell of {tmp_path / 'none.pdf'}: it is no file."
    )  # fmt: skip
    monkeypatch.setattr(check_file, "MOST_BYTES", 1_000)
    assert "1,000 is the most that is taken" in command(file)[1]
    monkeypatch.undo()
    file.write_bytes(paper)
    tuesday = MONDAY + timedelta(days=1)
    count(unit.housing, unit.manager, unit.lot, unsound={"A1": "cracked"}, at=tuesday)
    code, said = command(file)
    assert (code, "and no longer so" in said) == (3, True)
    with pytest.raises(CommandError, match="Give the file of a paper"):
        call_command("ledger", "check-paper")
    with pytest.raises(CommandError, match=r"x\.pdf goes with check-paper"):
        call_command("ledger", "verify", "x.pdf")
