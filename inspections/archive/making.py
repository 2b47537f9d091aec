"""The record of a unit in one file, that a stranger checks and another site takes in."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass
from tempfile import TemporaryFile
from typing import Any, BinaryIO

from django.contrib.auth.models import User
from django.db.models.fields.files import FieldFile
from django.utils.text import slugify
from django.utils.timezone import localdate

from fleet.dates import moment_words
from fleet.journal.snapshot import one_moment
from fleet.journal.spelling import CHUNK_BYTES, file_hash
from fleet.models import Leaf, PersonName, SuppressorHousing
from inspections.archive.selection import Selection
from inspections.history.span import Span
from inspections.history.subjects import Subject
from ratings.check_record import ARCHIVE, CHAIN_FILE, JOURNAL_FILE, SEAL_FILE, Proven
from ratings.models import Commitment, LedgerEntry, LotRating, Seal
from ratings.record.excerpt import excerpt
from ratings.record.packing import Packing
from ratings.record.papers import self_proving
from ratings.record.seals import make_seal

# What the code of a pull sheet says in an archive: no stranger shall open the crew’s page by it.
NO_PAGE = "Given out with an archive of the unit: ask the yard whether this sheet holds."


@dataclass(frozen=True)
class Options:
    """What goes into an archive. is_chain: the ledger alone, with nothing else.

    with_pull_sheet: the last one, which names a job. system: of the papers' figures.
    """

    is_chain: bool = False
    with_files: bool = True
    with_pull_sheet: bool = False
    system: str = "us"


def archive_name(housing: SuppressorHousing, seal: Seal, options: Options) -> str:
    """Return what an archive's file is called."""
    what = "ledger" if options.is_chain else "archive"
    return f"{what}-{slugify(housing.mark) or housing.pk}-seal-{seal.number}.zip"


def make_archive(
    housing: SuppressorHousing, *, maker: User, options: Options
) -> tuple[Seal, BinaryIO]:
    """Return the seal an archive of a unit stands under, and the archive, opened at its beginning.

    The same record, maker and options give the same bytes. Raises TooMuch.
    """
    seal = make_seal()
    opened: BinaryIO = TemporaryFile()  # noqa: SIM115 - whoever sends it closes it
    try:
        with one_moment():
            _pack(Packing(opened), housing, seal, maker, options)
    except BaseException:
        opened.close()
        raise
    opened.seek(0)
    return seal, opened


def _pack(
    packing: Packing, housing: SuppressorHousing, seal: Seal, maker: User, options: Options
) -> None:
    selection = Selection(housing, maker, is_chain=options.is_chain)
    proven = Proven("", str(housing.pk))
    packing.add(SEAL_FILE, [seal.text.encode()])
    packing.add(JOURNAL_FILE, _journal(selection, seal, proven))
    packing.add(CHAIN_FILE, _chain(housing, seal))
    if not options.is_chain:
        for name, paper in _papers(housing, seal, maker, options):
            packing.add(f"papers/{name}.pdf", [paper])
    if options.with_files:
        _pack_files(packing, selection, proven)
    packing.finish(
        {
            "format": 1,
            "key": str(housing.pk),
            "kind": ARCHIVE,
            "left_out": {
                digest: record
                for digest, record in proven.files.items()
                if f"files/{digest}" not in packing.files
            },
            "made_by": _name_of(maker),
            "options": asdict(options),
            "seal": {"code": seal.hash, "made": _made(seal), "number": seal.number},
            "site": housing.yard.name,
            "unit": housing.mark,
        }
    )


def _made(seal: Seal) -> str:
    return seal.text.splitlines()[1].removeprefix("made ")


def _name_of(maker: User) -> str:
    return PersonName.objects.filter(user=maker).order_by("known_from", "pk").reverse()[0].name


def _journal(selection: Selection, seal: Seal, proven: Proven) -> Iterator[bytes]:
    for line in excerpt(selection.places(seal.size), seal):
        text = line.encode()
        if text.startswith(b'{"at":'):
            proven.note("the journal", text)
        yield text + b"\n"


def _chain(housing: SuppressorHousing, seal: Seal) -> Iterator[bytes]:
    label = LedgerEntry._meta.label_lower
    entries = LedgerEntry.objects.filter(housing=housing).order_by("sequence")
    for key, document in entries.values_list("pk", "document").iterator(chunk_size=500):
        # What came since is the next seal's.
        if not Leaf.objects.filter(model=label, row_key=str(key), place__lt=seal.size).exists():
            return
        yield document.encode() + b"\n"


def _papers(
    housing: SuppressorHousing, seal: Seal, maker: User, options: Options
) -> Iterator[tuple[str, bytes]]:
    """Yield papers and their names, as they print when the seal is made."""
    # Imported on need: the site must not wait for the PDF library at start.
    from inspections.history.report import Asked, history_pdf
    from ratings.certificate.facts import KIND as CERTIFICATE
    from ratings.certificate.paper import certificate_pdf
    from ratings.pullsheet.stated import KIND as PULL_SHEET

    name = _name_of(maker)
    told: dict[str, Any] = {"by": name, "made_at": seal.made_at}
    span = Span(None, None, localdate(seal.made_at))
    yield "history", history_pdf(Asked(Subject(housing), span, options.system, name))
    fitted = housing.positions.exclude(lot=None).order_by().values_list("lot", flat=True)
    in_force = LotRating.objects.in_force_by_lot(sorted(set(fitted)))
    keys = [rating.pk for rating in in_force.values()]
    ratings = LotRating.objects.with_state().select_related("lot").filter(pk__in=keys)
    for rating in ratings.order_by("lot__mark"):
        lot = slugify(rating.lot.mark)[:60]
        pages = certificate_pdf(rating, options.system)
        yield (
            f"certificate-{rating.pk}{f'-{lot}' if lot else ''}",
            self_proving(pages, CERTIFICATE, str(rating.pk), options.system, **told),
        )
    if options.with_pull_sheet:
        printed = f"{moment_words(seal.made_at)} by {name}"
        for key, pages in _pull_sheet(housing, printed, options.system):
            yield "pull-sheet", self_proving(pages, PULL_SHEET, key, options.system, **told)


def _pull_sheet(
    housing: SuppressorHousing, printed: str, system: str
) -> Iterator[tuple[str, bytes]]:
    """Yield the key of the last commitment of a unit and its pages, where it has such a sheet."""
    from ratings.jobs.validity import Word, commitment_now
    from ratings.pullsheet.facts import read_sheet
    from ratings.pullsheet.paper import pull_sheet_pdf

    last = Commitment.objects.filter(housing=housing).order_by("-pk").first()
    now = commitment_now(last.pk) if last else None
    if now is not None and now.word is not Word.NOT_YET and not now.fault:
        yield str(now.commitment.pk), pull_sheet_pdf(read_sheet(now, NO_PAGE, system, printed))


def _pack_files(packing: Packing, selection: Selection, proven: Proven) -> None:
    """Put in each file that a record names and that is still the one it names."""
    for file in selection.files():
        digest = file_hash(file.storage, file.name or "")
        name = f"files/{digest}"
        if digest in proven.files and name not in packing.files:
            packing.add(name, _pieces(file))


def _pieces(file: FieldFile) -> Iterator[bytes]:
    with file.storage.open(file.name or "") as opened:
        while piece := opened.read(CHUNK_BYTES):
            yield piece
