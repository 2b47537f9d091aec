"""Each seal lists the papers given out since the one before: one byte altered, and it shows."""

from __future__ import annotations

import shutil
import subprocess
import sys
from hashlib import sha256
from io import BytesIO
from pathlib import Path

import pytest
from django.utils import timezone
from pypdf import PdfReader, PdfWriter
from pypdf.annotations import FreeText

from ratings import check_record
from ratings.models import LedgerEntry, Paper, Seal
from ratings.record.papers import Stamp, Stated, give_out
from ratings.record.seals import NoSeal, make_seal, read_seal
from tests.builders import Unit, count, rated_unit
from tests.factories import AuditorFactory, YardFactory
from tests.inspections.card.test_stretch_card import printed as card
from tests.inspections.card.test_stretch_card import ready_unit
from tests.ratings.record.test_paper_with_proof import restated
from tests.ratings.record.test_papers_given_out import PAPERS, certificate, history, printed
from tests.tamper.yard import found_amiss, with_the_file_in_hand

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def unit(module_db: None) -> Unit:
    made = rated_unit()
    make_seal()
    return made


def verdict_alone(folder: Path, files: dict[str, bytes]) -> tuple[int, str]:
    """What the script says of files, alone with them."""
    shutil.copy(str(check_record.__file__), folder / "check_record.py")
    for name, data in files.items():
        (folder / name).write_bytes(data)
    command = [sys.executable, "-I", "-S", "check_record.py", *files]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)
    return done.returncode, done.stdout + done.stderr


@pytest.mark.parametrize("kind", PAPERS)
def test_one_paper_the_seal_made_next_and_the_script_tell_whether_a_byte_of_it_was_altered(
    unit: Unit, kind: str, tmp_path: Path
) -> None:
    paper = printed(PAPERS[kind](unit))
    files = {"paper.pdf": paper, "next.txt": make_seal().text.encode()}
    code, said = verdict_alone(tmp_path, files)
    assert (code, "paper.pdf was given out so, byte by byte: seal 2 of" in said) == (0, True)
    # The same pages, in a file that another program wrote.
    again = BytesIO()
    PdfWriter(clone_from=PdfReader(BytesIO(paper))).write(again)
    code, said = verdict_alone(tmp_path, files | {"paper.pdf": again.getvalue()})
    assert (code, said.startswith("No. paper.pdf")) == (1, True)
    code, said = verdict_alone(tmp_path, {"paper.pdf": paper, "before.txt": seal_before(paper)})
    assert code == 2
    assert "whether anything on its pages was altered shows by seal 2" in said


def seal_before(paper: bytes) -> bytes:
    """The seal that a paper names at its foot."""
    named = Paper.objects.get(file_hash=sha256(paper).hexdigest()).contents["seal"]
    return Seal.objects.get(number=named["number"]).text.encode()


@pytest.mark.parametrize("system", ["us", "si"])
def test_figures_that_stand_apart_on_a_card_are_those_it_states(
    system: str, tmp_path: Path
) -> None:
    unit = ready_unit()
    make_seal()
    files = {"card.pdf": card(unit, system), "seal.txt": make_seal().text.encode()}
    code, said = verdict_alone(tmp_path, files)
    assert (code, "it shows line pull, " in said) == (0, True), said


@pytest.mark.parametrize("change", ["a page put in", "a page drawn over"])
def test_what_another_program_adds_to_pages_is_found_by_the_seal_made_next(
    unit: Unit, change: str
) -> None:
    paper = printed(certificate(unit))
    seal = make_seal().text.encode()
    writer = PdfWriter(clone_from=PdfReader(BytesIO(paper)))
    if change == "a page put in":
        writer.add_blank_page(100, 100)
    else:
        writer.add_annotation(0, FreeText(text="99.9 tons", rect=(50, 500, 250, 560)))
    written = BytesIO()
    writer.write(written)
    with pytest.raises(check_record.Wrong, match=r"paper\.pdf was altered: seal 2"):
        check_record.check([("paper.pdf", written.getvalue()), ("seal.txt", seal)])


def test_a_paper_that_states_something_else_is_not_among_those_the_next_seal_lists(
    unit: Unit,
) -> None:
    paper = printed(certificate(unit))
    seal = make_seal().text.encode()
    forged = restated(paper, b'"by":"', b'"by":"not ')
    assert forged != paper
    with pytest.raises(check_record.Wrong, match="lists each paper that was given out since"):
        check_record.check([("paper.pdf", forged), ("seal.txt", seal)])


def test_a_seal_made_while_a_paper_is_printed_is_the_one_it_names(unit: Unit) -> None:
    asked = []

    def make(stamp: Stamp) -> bytes:
        asked.append(stamp.code)
        if len(asked) == 1:
            # Something was recorded, and sealed, while the pages were drawn.
            YardFactory()
            make_seal()
        return blank_page()

    give_out(
        "test paper",
        "1",
        "us",
        by=AuditorFactory(),
        url_of=lambda code: f"https://ledger.example/paper/{code}/",
        make=make,
        stated=Stated("A paper", ()),
    )
    paper = Paper.objects.latest("pk")
    assert (len(asked), paper.code) == (2, asked[1])
    assert paper.contents["seal"]["number"] == Seal.objects.latest("number").number
    assert paper.file_hash in make_seal().text


def blank_page() -> bytes:
    writer, page = PdfWriter(), BytesIO()
    writer.add_blank_page(100, 100)
    writer.write(page)
    return page.getvalue()


def test_a_paper_of_before_says_which_entry_came_since(unit: Unit, tmp_path: Path) -> None:
    made = rated_unit()
    make_seal()
    paper = printed(history(made))
    following = make_seal().text.encode()
    count(made.housing, made.manager, made.lot, unsound={"A1": "cracked"}, at=timezone.now())
    newest = make_seal().text.encode()
    files = {"paper.pdf": paper, "next.txt": following, "newest.txt": newest}
    code, said = verdict_alone(tmp_path, files)
    assert (code, said.splitlines()[0]) == (3, "Yes, and it is no longer the last word:")
    last = LedgerEntry.objects.filter(housing=made.housing).latest("sequence").sequence
    told = said.splitlines()[1]
    assert f"paper.pdf tells of entry {last - 1} of {made.housing.mark}, and seal 4 of" in told
    assert f"names entry {last}: ask what stands now" in told


def test_seals_that_nothing_binds_to_each_other_are_not_called_true(
    unit: Unit, tmp_path: Path
) -> None:
    seals = {"1.txt": Seal.objects.get().text.encode()}
    for number in (2, 3):
        YardFactory()
        seals[f"{number}.txt"] = make_seal().text.encode()
    assert verdict_alone(tmp_path, seals)[0] == 0
    del seals["2.txt"]
    code, said = verdict_alone(tmp_path, seals)
    assert code == 2
    assert "nothing given shows that seal 3 of" in said


def test_a_seal_whose_list_of_papers_was_cut_is_refused(unit: Unit) -> None:
    told = Seal.objects.get().text.replace("papers 0", "papers 1").rsplit("code ", 1)[0]
    text = f"{told}code {sha256(told.encode()).hexdigest()}\n"
    with pytest.raises(NoSeal, match="says that it lists 1 papers, and lists 0"):
        read_seal(text)
    with pytest.raises(check_record.Wrong, match="says it lists 1 papers and lists 0"):
        check_record.Seal("seal.txt", text)


def test_a_seal_of_before_papers_were_listed_still_reads(unit: Unit) -> None:
    told = Seal.objects.get().text.replace("papers 0\n", "").rsplit("code ", 1)[0]
    text = f"{told}code {sha256(told.encode()).hexdigest()}\n"
    assert read_seal(text).papers is None
    assert check_record.Seal("seal.txt", text).papers is None


def test_verifying_finds_a_paper_that_a_seal_lists_and_the_record_lacks(unit: Unit) -> None:
    printed(certificate(unit))
    seal = make_seal()
    paper = Paper.objects.latest("pk")
    with with_the_file_in_hand() as cursor:
        cursor.execute("DELETE FROM ratings_paper WHERE id = %s", [paper.pk])
        found = found_amiss()["seals"]
    assert found == [
        f"paper with the SHA-256 {paper.file_hash}: seal {seal.number} lists it as given out, and "
        "no such paper is on record"
    ]
