"""One paper, two seals and the script alone: the one that was altered is found."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
import zlib
from collections.abc import Callable
from datetime import timedelta
from hashlib import sha256
from io import BytesIO
from pathlib import Path
from typing import Any, cast

import pytest
from django.test import Client
from django.urls import reverse
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader, PdfWriter

from fleet.quantities import capacity_words, listed_words, pull_words
from ratings import check_record
from ratings.certificate.figures import Units
from ratings.record.seals import make_seal
from tests.builders import MONDAY, bench_test, count, rated_unit
from tests.factories import ManagerFactory, PadLotFactory
from tests.inspections.hire.test_hand_overs import back, out

pytestmark = pytest.mark.django_db
Files = dict[str, bytes]


@pytest.fixture
def given_out(auditor_client: Client) -> Files:
    """The history of a unit on paper, and seals that somebody kept: two before it, one after."""
    unit = rated_unit()
    older = make_seal().text.encode()
    tuesday = MONDAY + timedelta(days=1)
    count(unit.housing, unit.manager, unit.lot, unsound={"A1": "cracked"}, at=tuesday)
    newer = make_seal().text.encode()
    paper = auditor_client.get(reverse("history-report", args=[unit.housing.pk])).content
    after = make_seal().text.encode()
    return {"history.pdf": paper, "older.txt": older, "newer.txt": newer, "after.txt": after}


def check(files: Files) -> list[str]:
    return check_record.check(list(files.items()))


def test_a_paper_and_two_seals_as_given_out_hold(given_out: Files) -> None:
    told = " ".join(check(given_out))
    assert "it shows line pull, 21.0 tons (42,000 lbf), as the record has it" in told
    assert "holds all that seal 1" in told


def test_the_foot_of_each_page_names_the_seal(given_out: Files) -> None:
    newer = check_record.Seal("newer", given_out["newer.txt"].decode())
    for page in PdfReader(BytesIO(given_out["history.pdf"])).pages:
        text = page.extract_text()
        assert f"seal {newer.number} of" in text
        assert newer.hash[:4].upper() in text


STREAM = re.compile(rb"(\d+ 0 obj\n<<(?:(?!endobj).)*?)stream\r?\n(.*?)\r?\nendstream", re.DOTALL)


def rewritten(paper: bytes, change: Callable[[bytes, bool], bytes]) -> bytes:
    """A paper whose streams were unpacked, changed and packed again.

    change: from what a stream holds, and whether that is attached.
    """

    def repack(found: re.Match[bytes]) -> bytes:
        is_attached = b"/EmbeddedFile" in found[1]
        packed: Callable[[bytes], bytes] = zlib.compress
        try:
            words = zlib.decompress(found[2])
        except zlib.error:
            # What the site attaches to a paper that is made lies in it as it is.
            if not is_attached:
                return found[0]
            words, packed = found[2], bytes
        again = change(words, is_attached)
        if again == words:
            return found[0]
        return found[1] + b"stream\n" + packed(again) + b"\r\nendstream"

    return STREAM.sub(repack, paper)


def redrawn(paper: bytes, before: bytes, after: bytes, *, hides: bool = True) -> bytes:
    """A paper whose pages show other words.

    hides: the hashes of the pages attached are altered with them, as who knows of them would do.
    """
    shown, instead = by_glyph(paper, before), by_glyph(paper, after)
    hashes: dict[bytes, bytes] = {}

    def redraw(words: bytes, is_attached: bool) -> bytes:
        other = words if is_attached else words.replace(shown, instead)
        hashes[sha256(words).hexdigest().encode()] = sha256(other).hexdigest().encode()
        return other

    def hide(words: bytes, is_attached: bool) -> bytes:
        for old, new in hashes.items() if is_attached else ():
            words = words.replace(old, new)
        return words

    forged = rewritten(paper, redraw)
    return rewritten(forged, hide) if hides else forged


def restated(paper: bytes, before: bytes, after: bytes) -> bytes:
    """A paper with other words attached: in what it states, or in its proof."""
    return rewritten(
        paper, lambda words, is_attached: words.replace(before, after) if is_attached else words
    )


def test_a_paper_whose_page_draws_anything_else_is_found(given_out: Files) -> None:
    forged = redrawn(given_out["history.pdf"], b"42,000", b"58,000", hides=False)
    with pytest.raises(check_record.Wrong, match="page 1 does not draw what it did"):
        check(given_out | {"history.pdf": forged})


def by_glyph(paper: bytes, words: bytes) -> bytes:
    """Words as the pages of a paper show them: by the glyphs of its font."""
    fonts = cast(Any, PdfReader(BytesIO(paper)).pages[0])["/Resources"]["/Font"]
    told = fonts["/R"]["/ToUnicode"].get_data()
    pairs = re.findall(rb"<([0-9A-F]{4})> <([0-9A-F]{4})>", told)
    glyphs = {chr(int(means, 16)): glyph for glyph, means in pairs}
    return b"".join(glyphs[each] for each in words.decode())


def test_a_paper_that_shows_another_pull_is_found(given_out: Files) -> None:
    forged = redrawn(given_out["history.pdf"], b"42,000", b"58,000")
    assert forged != given_out["history.pdf"]
    with pytest.raises(check_record.Wrong, match=r"it states “Line pull: 21.0 tons .*no page"):
        check(given_out | {"history.pdf": forged})


def test_a_paper_that_says_another_pull_in_its_headline_is_found(given_out: Files) -> None:
    forged = redrawn(given_out["history.pdf"], b"line pull 21.0", b"line pull 29.0")
    with pytest.raises(check_record.Wrong, match=r"it says “line pull 29\.0 tons”"):
        check(given_out | {"history.pdf": forged})


@pytest.mark.parametrize(
    ("before", "after"),
    [
        (b"21.0 tons (42,000 lbf)", b"29.0 tons (58,000 lbf)"),
        (b"18.7 tons (37,400 lbf)", b"20.7 tons (41,400 lbf)"),
        (b"20.0 tons (40,000 lbf)", b"18.0 tons (36,000 lbf)"),
        (b"not proven", b"meets listing"),
    ],
)
def test_a_figure_altered_on_pages_and_in_what_is_attached_is_found(
    given_out: Files, before: bytes, after: bytes
) -> None:
    paper = redrawn(given_out["history.pdf"], before, after)
    forged = restated(paper, b'","' + before, b'","' + after)
    with pytest.raises(check_record.Wrong, match="and the record has"):
        check(given_out | {"history.pdf": forged})


@pytest.mark.parametrize("name", ["older.txt", "newer.txt"])
def test_a_seal_that_was_altered_is_found(given_out: Files, name: str) -> None:
    told = given_out[name].decode()
    root = re.search(r"root ([0-9a-f]{64})", told)
    assert root is not None
    body = told.rsplit("code ", 1)[0].replace(root[1], root[1][::-1])
    forged = f"{body}code {sha256(body.encode()).hexdigest()}\n".encode()
    with pytest.raises(check_record.Wrong):
        check(given_out | {name: forged})


def said_alone(folder: Path, files: Files) -> tuple[int, str]:
    """What the script says in a folder of its own, with Python's own library and no other."""
    folder.mkdir()
    shutil.copy(str(check_record.__file__), folder / "check_record.py")
    for name, data in files.items():
        (folder / name).write_bytes(data)
    command = [sys.executable, "-I", "-S", "check_record.py", *files]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)
    return done.returncode, done.stdout + done.stderr


def test_an_outsider_with_papers_two_seals_and_the_script_alone_finds_the_altered_ones(
    given_out: Files, tmp_path: Path
) -> None:
    paper = given_out.pop("history.pdf")
    code, said = said_alone(tmp_path / "true", {"history.pdf": paper, **given_out})
    assert (code, "Yes. All of this holds together:" in said) == (0, True)
    assert "not compared with the record: whatever else its pages show" in said
    altered = {
        "text.pdf": (redrawn(paper, b"42,000", b"58,000", hides=False), "page 1 does not draw"),
        "hidden.pdf": (redrawn(paper, b"42,000", b"58,000"), "and no page shows that"),
        "stated.pdf": (
            restated(paper, b"21.0 tons (42,000 lbf)", b"29.0 tons (58,000 lbf)"),
            "it states “Line pull: 29.0 tons (58,000 lbf)”, and no page shows that",
        ),
        "proof.pdf": (restated(paper, b"not proven", b"nope proven"), "is not in the journal of"),
    }
    for name, (data, why) in altered.items():
        assert data != paper
        both = {"history.pdf": paper, name: data, **given_out}
        code, said = said_alone(tmp_path / name.removesuffix(".pdf"), both)
        assert code == 1, said
        assert said.startswith(f"No. {name}: ")
        assert why in said


def test_it_says_how_it_is_run_and_which_file_it_could_not_open(
    given_out: Files, tmp_path: Path
) -> None:
    command = [sys.executable, "-I", "-S", str(check_record.__file__)]
    done = subprocess.run([*command, "--help"], capture_output=True, text=True, check=True)
    assert "python check_record.py FILE FILE" in done.stdout
    missing = [*command, "older-seal.txt"]
    done = subprocess.run(missing, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    said = "Can’t tell: older-seal.txt can’t be opened: No such file or directory."
    assert done.stdout.strip() == said
    code, said = said_alone(tmp_path / "unsealed", {"history.pdf": given_out["history.pdf"]})
    assert (code, "no seal was given that it can be held to" in said) == (2, True)


@settings(max_examples=300, deadline=None)
@given(
    st.floats(1.0, 400_000.0),
    st.one_of(st.none(), st.floats(1.0, 400_000.0)),
    st.sampled_from(["us", "si"]),
)
def test_it_writes_figures_as_papers_do(
    force_lbf: float, listed_lbf: float | None, system: str
) -> None:
    results = {
        "pull_lbf": force_lbf,
        "working_capacity_lbf": force_lbf,
        "listed_lbf": listed_lbf,
        "standing": "not proven",
    }
    document = json.dumps({"housing": "S-1", "results": results})
    row = {"document": document, "hash": sha256(document.encode()).hexdigest(), "sequence": 1}
    entry = check_record.Entry("here", {"row": row | results})
    assert entry.words(system) == {
        "standing": "not proven",
        "line pull": pull_words(force_lbf, system, listed_lbf=listed_lbf),
        "working capacity": capacity_words(force_lbf, system, listed_lbf=listed_lbf),
        "listed": listed_words(listed_lbf, system),
    }


def test_an_entry_whose_column_is_not_what_its_document_says_is_found() -> None:
    results = {"pull_lbf": 1.0, "working_capacity_lbf": 1.0, "listed_lbf": 1.0, "standing": "x"}
    document = json.dumps({"housing": "S-1", "results": results})
    row = {"document": document, "hash": sha256(document.encode()).hexdigest(), "sequence": 1}
    for column in results:
        leaf = {"row": row | results | {column: 2.0}}
        with pytest.raises(check_record.Wrong, match=f"{column} of entry 1 of S-1 is 2.0"):
            check_record.Entry("here", leaf)


def test_a_paper_with_no_proof_or_with_no_seal_is_not_called_true(given_out: Files) -> None:
    told = check(given_out | {"history.pdf": b"%PDF-1.4 nothing"})
    [doubt] = [each for each in told if isinstance(each, check_record.Doubt)]
    assert "no seal given lists it" in doubt
    with pytest.raises(check_record.Unreadable, match="no seal was given"):
        check({"history.pdf": given_out["history.pdf"]})


def test_a_paper_whose_page_was_replaced_by_an_update_of_it_is_found(given_out: Files) -> None:
    paper = given_out["history.pdf"]
    update = BytesIO(paper)
    writer = PdfWriter(update, incremental=True)
    writer.pages[0].rotate(180)
    written = BytesIO()
    writer.write(written)
    assert written.getvalue().startswith(paper)
    with pytest.raises(check_record.Wrong, match="added to after it was given out"):
        check(given_out | {"history.pdf": written.getvalue()})


def test_a_headline_of_other_capitals_or_a_pull_within_a_longer_figure_is_found(
    given_out: Files,
) -> None:
    for after in (b"Line pull: 499.9", b"LINE PULL 499.9"):
        forged = redrawn(given_out["history.pdf"], b"line pull 21.0", after)
        with pytest.raises(check_record.Wrong, match=r"499\.9 tons"):
            check(given_out | {"history.pdf": forged})
    forged = redrawn(given_out["history.pdf"], b"42,000", b"142,000")
    with pytest.raises(check_record.Wrong, match=r"it states “Line pull: 21.0 tons .*no page"):
        check(given_out | {"history.pdf": forged})


# As long as a mark may be: it wraps where it is printed.
FIRST, SECOND = "S-1 of the long quay, the north crane 12", "S-2"


@pytest.fixture
def of_two_units(auditor_client: Client) -> Files:
    """The history of the fleet on paper: of two units, one with a pad that counts no more."""
    for mark, unsound in ((FIRST, {}), (SECOND, {"A1": "cracked"})):
        unit = rated_unit(mark=mark)
        tuesday = MONDAY + timedelta(days=1)
        count(unit.housing, unit.manager, unit.lot, unsound=unsound, at=tuesday)
    seal = make_seal().text.encode()
    asked = {"of": "fleet", "first": "", "last": ""}
    paper = auditor_client.get(reverse("history"), asked).content
    return {"fleet.pdf": paper, "seal.txt": seal}


PULLS = {FIRST: "24.0 tons (48,000 lbf)", SECOND: "21.0 tons (42,000 lbf)"}


def test_a_paper_of_several_units_holds_by_each_one_s_own_entry(of_two_units: Files) -> None:
    told = " ".join(check(of_two_units))
    for mark, pull in PULLS.items():
        assert f"it shows line pull, {mark}, {pull}, as the record has it" in told


def exchanged(text: bytes) -> bytes:
    """A text in which the pulls of the two units stand for each other."""
    first, second = (pull.encode() for pull in PULLS.values())
    return text.replace(first, b"\0").replace(second, first).replace(b"\0", second)


def redrawn_exchanged(paper: bytes, begins: bytes, first: bytes, second: bytes) -> bytes:
    """A paper that shows two figures for each other, wherever they follow the same words."""
    unlike = b"99.9"
    for before, after in ((first, unlike), (second, first), (unlike, second)):
        paper = redrawn(paper, begins + before, begins + after)
    return paper


def refusal(files: Files) -> str:
    with pytest.raises(check_record.Wrong) as caught:
        check(files)
    return str(caught.value)


def test_figures_of_two_units_exchanged_in_what_a_paper_states_are_found_and_located(
    of_two_units: Files,
) -> None:
    stated = rewritten(
        of_two_units["fleet.pdf"],
        lambda words, is_attached: exchanged(words) if is_attached else words,
    )
    forged = redrawn_exchanged(stated, b"", b"24.0 tons (48,000", b"21.0 tons (42,000")
    for paper in (stated, forged):
        said = refusal(of_two_units | {"fleet.pdf": paper})
        assert f"fleet.pdf: it states “Line pull, {FIRST}: {PULLS[SECOND]}”" in said
    assert f"and the record has {PULLS[FIRST]} in entry 2 of {FIRST}" in said


def test_figures_of_two_units_exchanged_on_pages_alone_are_found(of_two_units: Files) -> None:
    whole = of_two_units["fleet.pdf"]
    forged = redrawn_exchanged(whole, b"", b"24.0 tons (48,000", b"21.0 tons (42,000")
    said = refusal(of_two_units | {"fleet.pdf": forged})
    assert f"it states “Line pull, {FIRST}: {PULLS[FIRST]}”, and no page shows that" in said
    forged = redrawn_exchanged(whole, b"line pull ", b"24.0", b"21.0")
    said = refusal(of_two_units | {"fleet.pdf": forged})
    assert f"“line pull 24.0 tons”, as the record has it of {FIRST}" in said


def test_a_figure_that_names_no_unit_of_those_proven_is_found(of_two_units: Files) -> None:
    for name in (b"Line pull", b"Line pull, S-3"):
        forged = restated(of_two_units["fleet.pdf"], b"Line pull, S-2", name)
        forged = redrawn(forged, b"Line pull, S-2", name)
        said = refusal(of_two_units | {"fleet.pdf": forged})
        assert f"it states “{name.decode()}”, and proves entries of" in said


def test_what_a_unit_pulled_handed_out_and_taken_back_is_held_to_the_entry_of_each(
    auditor_client: Client,
) -> None:
    unit = rated_unit()
    hire = out(unit)
    back(unit, hire, unsound={"A1": "cracked"})
    seal = make_seal().text.encode()
    paper = auditor_client.get(reverse("hand-over-paper", args=[hire.pk])).content
    files = {"hire.pdf": paper, "seal.txt": seal}
    assert "it shows line pull, taken back, 21.0 tons (42,000 lbf)" in " ".join(check(files))
    swapped = paper
    for before, after in ((b"handed out", b"..."), (b"taken back", b"handed out")):
        swapped = restated(swapped, b'"Line pull, ' + before, b'"Line pull, ' + after)
    said = refusal(files | {"hire.pdf": restated(swapped, b"pull, ...", b"pull, taken back")})
    assert "it states “Line pull, taken back: 24.0 tons (48,000 lbf)”, and no page shows" in said


def test_handed_out_is_the_earlier_entry_and_taken_back_the_later() -> None:
    plain = {"working_capacity_lbf": 1.0, "listed_lbf": None, "standing": "x"}
    entries = []
    for sequence, pull_lbf in ((3, 48_000.0), (5, 42_000.0)):
        results = plain | {"pull_lbf": pull_lbf}
        document = json.dumps({"housing": "S-1", "results": results})
        row = {"document": document, "hash": sha256(document.encode()).hexdigest()}
        leaf = {"row": row | results | {"sequence": sequence}}
        entries.append(check_record.Entry("here", leaf))
    named = [{"unit": "S-1", "sequence": each.sequence, "hash": each.hash} for each in entries]
    ways = ("handed out", "taken back")
    for pulls, holds in ((PULLS.values(), True), (reversed(PULLS.values()), False)):
        figures = [(f"Line pull, {way}", pull) for way, pull in zip(ways, pulls, strict=True)]
        stated = {"system": "us", "figures": figures, "entries": named}
        shown = " ".join(word for figure in figures for word in figure)
        if holds:
            assert check_record.check_stated("hire", stated, entries, None, shown)
            continue
        with pytest.raises(check_record.Wrong, match=r"48,000 lbf\) in entry 3 of S-1"):
            check_record.check_stated("hire", stated, entries, None, shown)


@pytest.fixture
def certificate(auditor_client: Client) -> Files:
    """The certificate of an approved rating, and a seal made after it."""
    lot = PadLotFactory(mark="L-7 of the long quay, the north crane 12")
    rating = bench_test(lot, ManagerFactory(), rate_lbf_in=1000.0).rating
    seal = make_seal().text.encode()
    paper = auditor_client.get(reverse("lot-certificate", args=[rating.pk])).content
    return {"certificate.pdf": paper, "seal.txt": seal}


def test_a_certificate_proves_its_rating_its_lot_and_that_it_was_approved(
    certificate: Files,
) -> None:
    told = " ".join(check(certificate))
    for shown in ("state, approved", "spring rate, 1,000 lbf/in", "tested stretch, 8 in"):
        assert f"it shows {shown}, as the record has it" in told


@pytest.mark.parametrize(
    ("before", "after", "says"),
    [
        (b'"1,000 lbf/in"', b'"1,500 lbf/in"', "no page shows that"),
        (b'"8 in"', b'"9 in"', "it states “Tested stretch: 9 in”"),
        (b'"approved"', b'"withdrawn"', "it states “State: withdrawn”"),
        (b"ratings.ratingapproval", b"ratings.ratingapprovals", "is not in the journal of"),
        (b"rate_lbf_in", b"rate_lbf_is", "is not in the journal of"),
    ],
)
def test_a_certificate_that_states_or_proves_anything_else_is_found(
    certificate: Files, before: bytes, after: bytes, says: str
) -> None:
    forged = restated(certificate["certificate.pdf"], before, after)
    assert forged != certificate["certificate.pdf"]
    assert says in refusal(certificate | {"certificate.pdf": forged})


def test_a_certificate_that_leaves_out_who_approved_it_is_not_approved(
    certificate: Files,
) -> None:
    def left_out(words: bytes, is_attached: bool) -> bytes:
        told = json.loads(words) if is_attached else {}
        if told.get("kind") != check_record.PROOF:
            return words
        told["leaves"] = [each for each in told["leaves"] if "approval" not in each["document"]]
        return json.dumps(told, ensure_ascii=False).encode()

    forged = rewritten(certificate["certificate.pdf"], left_out)
    said = refusal(certificate | {"certificate.pdf": forged})
    assert "it states “State: approved”, and the record has draft or" in said


@settings(max_examples=300, deadline=None)
@given(st.floats(0.01, 400_000.0), st.floats(0.01, 40.0), st.sampled_from(["us", "si"]))
def test_it_writes_rates_as_certificates_do(rate: float, tested: float, system: str) -> None:
    row = {"rate_lbf_in": rate, "tested_stretch_in": tested}
    said = check_record.Rating({"key": "1", "row": row}, "L-1", "").words(system)
    units = Units(system)
    assert said["spring rate"] == (units.rate_words(rate),)
    assert said["tested stretch"] == (units.length_words(tested),)
