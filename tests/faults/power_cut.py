"""What a disk holds after a power cut, rebuilt from every write and sync of a serving process.

strace tells what the process asked of the disk, in order, and what it answered its clients. A cut
is then any moment of that: what was synced by then stands, and of what was not, each sector of
512 bytes stands or is lost by chance, and so do the ends and names of files not synced.
"""

from __future__ import annotations

import hashlib
import re
import shutil
import sqlite3
import threading
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path
from random import Random

from tests.faults.aftermath import PHOTOS
from tests.faults.clients import Phone, Program, Storm
from tests.faults.sites import Site

SECTOR_BYTES = 512
TRACED = "pwrite64,pwritev,write,fsync,fdatasync,ftruncate,unlink,unlinkat,sendto"
# -y names the file of each number; one line holds all that a call wrote.
STRACE = (
    "strace",
    "-f",
    "--seccomp-bpf",
    "-y",
    "-xx",
    "-s",
    "4000000",
    "-e",
    f"trace={TRACED}",
    "-o",
)
_CALL = re.compile(r"(?P<thread>\d+) +(?P<name>\w+)\((?P<rest>.*)$")
_RESUMED = re.compile(r"(?P<thread>\d+) +<\.\.\. (?P<name>\w+) resumed>(?P<rest>.*)$")
_FILE = re.compile(r"\d+<(?P<path>[^>]*)>(?P<gone>\(deleted\))?")
_TEXT = re.compile(r'"((?:\\x[0-9a-f]{2})*)"(\.\.\.)?')
_ANSWER = re.compile(rb'"(?:id|inspection)": ?(\d+)')
# A photo's answer does not name it: the one phone sends each once, so that they are counted.
_WHOLE = re.compile(rb'"done": ?true')


@dataclass(frozen=True)
class Event:
    """Something a process asked for.

    what: write, truncate, unlink; syncing and synced, since only what was written before a sync
    began is synced once it is over; send. place: the file; at: where in it (None after what was
    written last), its length, or the thread that syncs.
    """

    what: str
    place: str
    content: bytes = b""
    at: int | None = None


def events_of(trace: Path) -> Iterator[Event]:
    """Read a trace: a write counts from when it began, an answer once it is over."""
    begun: dict[str, str] = {}
    with trace.open(encoding="ascii") as lines:
        for line in lines:
            if not line.endswith("\n"):
                # The last, which strace was ended over: as if the power had gone a call sooner.
                return
            if (found := _RESUMED.match(line)) is not None:
                first = begun.pop(found["thread"], "")
                if found["name"] in OVER and first:
                    rest = first + found["rest"]
                    yield from _over(found["name"], rest, int(found["thread"]))
            elif (found := _CALL.match(line)) is not None:
                name, rest, thread = found["name"], found["rest"].rstrip(), int(found["thread"])
                if " = -1 " in rest:
                    continue
                yield from _begun(name, rest, thread)
                if rest.endswith(UNFINISHED):
                    begun[found["thread"]] = rest.removesuffix(UNFINISHED)
                elif name in OVER:
                    yield from _over(name, rest, thread)


SYNCS = ("fsync", "fdatasync")
OVER = (*SYNCS, "sendto")
UNFINISHED = "<unfinished ...>"


def _begun(name: str, rest: str, thread: int) -> Iterator[Event]:
    if name == "pwritev":
        raise AssertionError("a write of a sort that is not read here")
    if name in ("unlink", "unlinkat"):
        yield Event("unlink", _text(rest).decode())
    elif (path := _file(rest)).startswith("/"):
        if name in SYNCS:
            yield Event("syncing", path, at=thread)
        elif name == "pwrite64":
            yield Event(
                "write", path, _text(rest), int(rest.split(", ")[3].split(")")[0].split()[0])
            )
        elif name == "write":
            yield Event("write", path, _text(rest))
        elif name == "ftruncate":
            yield Event("truncate", path, at=_number(rest, 1))


def _over(name: str, rest: str, thread: int) -> Iterator[Event]:
    path = _file(rest)
    if name in SYNCS:
        yield Event("synced", path, at=thread)
    elif path.startswith("socket:"):
        yield Event("send", path, _text(rest))


def _file(rest: str) -> str:
    """Return the file of a call; "" of one that was unlinked already."""
    found = _FILE.match(rest)
    if found is None or found["gone"]:
        return ""
    path = found["path"]
    path = bytes.fromhex(path.replace("\\x", "")).decode() if path.startswith("\\x") else path
    return "" if path.endswith("(deleted)") else path


def _number(rest: str, place: int) -> int:
    return int(rest.split(", ")[place].split(")")[0].split()[0])


def _text(rest: str) -> bytes:
    found = _TEXT.search(rest)
    assert found is not None, rest[:200]
    assert not found[2], f"a call cut short: {rest[:200]}"
    return bytes.fromhex(found[1].replace("\\x", ""))


@dataclass
class _File:
    """A file: what of it is synced, what was asked for since, and where a next write goes."""

    synced: bytearray = field(default_factory=bytearray)
    since: list[Event] = field(default_factory=list)
    end: int = 0


class Disk:
    """A disk as it stands while a process works on a folder, and as it stands after a cut.

    What lies in the folder to begin with is synced; so are its folders, whenever they are made.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._files: list[_File] = []
        # Which file each name is of, as synced and as it is; what became of names since, in order.
        self._synced: dict[str, int] = {}
        for path in folder.rglob("*"):
            if path.is_file():
                self._synced[str(path)] = len(self._files)
                self._files.append(_File(bytearray(path.read_bytes())))
        self._now = dict(self._synced)
        self._since: list[tuple[str, int | None]] = []
        self._syncing: dict[tuple[str, int | None], tuple[int | None, int]] = {}
        self._answers: dict[str, bytes] = {}
        # The keys of inspections answered as recorded, and how many photos were as whole.
        self.answered: set[int] = set()
        self.whole_photos = 0
        self.syncs = 0

    def take(self, event: Event) -> None:
        """Let an event happen."""
        if event.what == "send":
            self._answer(event)
        elif event.what == "synced":
            self._sync(event)
        elif event.place == str(self.folder) or self._is_kept(event.place):
            self._change(event)

    def _is_kept(self, place: str) -> bool:
        is_here = place.startswith(f"{self.folder}/")
        return is_here and not place.endswith(("-shm", ".log", ".pyc"))

    def _change(self, event: Event) -> None:
        key = self._now.get(event.place)
        if event.what == "syncing":
            until = len(self._since if key is None else self._files[key].since)
            self._syncing[event.place, event.at] = key, until
            return
        if event.what == "unlink":
            if self._now.pop(event.place, None) is not None:
                self._since.append((event.place, None))
            return
        if key is None:
            key = len(self._files)
            self._files.append(_File())
            self._now[event.place] = key
            self._since.append((event.place, key))
        file = self._files[key]
        if event.what == "write":
            at = file.end if event.at is None else event.at
            file.end = at + len(event.content)
            event = replace(event, at=at)
        file.since.append(event)

    def _sync(self, event: Event) -> None:
        key, until = self._syncing.pop((event.place, event.at), (None, 0))
        if key is not None:
            self.syncs += 1
            file = self._files[key]
            for each in file.since[:until]:
                _write(file.synced, each)
            del file.since[:until]
            return
        # A folder: its own names, of those there were when it began.
        left = []
        for place, (name, file_key) in enumerate(self._since):
            if place >= until or str(Path(name).parent) != event.place:
                left.append((name, file_key))
            elif file_key is None:
                self._synced.pop(name, None)
            else:
                self._synced[name] = file_key
        self._since = left

    def _answer(self, event: Event) -> None:
        """Note what was answered as recorded, once the client has all of it."""
        said = self._answers.get(event.place, b"") + event.content
        head, _, body = said.partition(b"\r\n\r\n")
        length = re.search(rb"(?i)content-length: (\d+)", head)
        if b"HTTP/1.0 201" in head and length and len(body) >= int(length[1]):
            if (found := _ANSWER.search(body)) is not None:
                self.answered.add(int(found[1]))
            elif _WHOLE.search(body) is not None:
                self.whole_photos += 1
            said = b""
        self._answers[event.place] = said

    def cut(self, chance: Random, to: Path) -> None:
        """Write to a folder what the disk would hold, were the power cut now."""
        names = dict(self._synced)
        # A file system keeps the order of names; not which of them are kept.
        for name, key in self._since[: chance.randint(0, len(self._since))]:
            names.pop(name, None)
            if key is not None:
                names[name] = key
        for name, key in names.items():
            file = self._files[key]
            content = bytearray(file.synced)
            kept = chance.choice((0.0, 0.5, 0.9, 1.0))
            for event in file.since:
                _write_by_chance(content, event, kept, chance)
            place = to / Path(name).relative_to(self.folder)
            place.parent.mkdir(parents=True, exist_ok=True)
            place.write_bytes(content)


def _write(content: bytearray, event: Event) -> None:
    at = event.at or 0
    if event.what == "truncate":
        del content[at:]
    content.extend(bytes(max(0, at - len(content))))
    content[at : at + len(event.content)] = event.content


def _write_by_chance(content: bytearray, event: Event, kept: float, chance: Random) -> None:
    if event.what == "truncate":
        if chance.random() < kept:
            _write(content, event)
        return
    at, begin = event.at or 0, 0
    while begin < len(event.content):
        end = begin + SECTOR_BYTES - (at + begin) % SECTOR_BYTES
        if chance.random() < kept:
            part = event.content[begin:end]
            _write(content, replace(event, content=part, at=at + begin))
        begin = end


@dataclass
class Cuts:
    """What was found after so many cuts.

    faults: in words. most_answered, most_whole: of the inspections, and of the photos, answered
    before a cut, the most.
    """

    made: int = 0
    most_answered: int = 0
    most_whole: int = 0
    syncs: int = 0
    faults: list[str] = field(default_factory=list)


def worked(site: Site, seconds: float, **settings: str) -> tuple[Disk, Path, Storm]:
    """Let clients work on a site for a while; return its disk of before, and the trace of it."""
    told = site.prepared()
    # What was written so far lies in one file.
    site.asked("PRAGMA wal_checkpoint(TRUNCATE)")
    disk, trace, storm = Disk(site.var), site.var.parent / "trace", Storm()
    with site.served(*STRACE, str(trace), **settings) as (port, process):
        assert process.stdout is not None
        process.stdout.readline()
        clients = [
            threading.Thread(target=client(port, told, storm, number).work)
            for number, client in enumerate((Program, Program, Phone))
        ]
        for each in clients:
            each.start()
        time.sleep(seconds)
        storm.is_over.set()
        for each in clients:
            each.join()
    return disk, trace, storm


def cut_often(
    disk: Disk,
    trace: Path,
    cuts: int,
    to: Path,
    *,
    verify_every: int,
    heeds_syncs: bool = True,
    seed: int = 1,
) -> Cuts:
    """Cut the power at so many moments of a trace, and look at what each leaves.

    verify_every: after how many cuts the whole record is verified once, which takes seconds.
    heeds_syncs: whether the disk does what it is asked when it is asked to sync.
    """
    found, chance = Cuts(), Random(seed)
    events = list(events_of(trace))
    answers = [place for place, event in enumerate(events) if event.what == "send"]
    first = answers[0]
    # At any moment, and just after answers, when least may be synced of what was promised.
    moments = [
        chance.choice(answers) if chance.random() < 0.5 else chance.randrange(first, len(events))
        for _ in range(cuts)
    ]
    by_place = Counter(moments)
    for place, event in enumerate(events):
        if heeds_syncs or event.what != "synced":
            disk.take(event)
        for _ in range(by_place[place]):
            folder = to / f"cut-{found.made}"
            folder.mkdir(parents=True)
            disk.cut(chance, folder)
            found.made += 1
            found.most_answered = max(found.most_answered, len(disk.answered))
            found.most_whole = max(found.most_whole, disk.whole_photos)
            found.faults += _faults_of(folder, disk)
            if found.made % verify_every == 0 and not found.faults:
                verified = Site(folder).run("manage.py", "ledger", "verify", check=False)
                if verified.returncode:
                    found.faults.append(f"ledger verify: {verified.stdout}{verified.stderr}")
            shutil.rmtree(folder)
    found.syncs = disk.syncs
    return found


def _faults_of(folder: Path, disk: Disk) -> list[str]:
    site, answered = Site(folder), disk.answered
    try:
        if damage := site.damage():
            return [f"the database is damaged: {damage[:200]}"]
        there = {int(key) for (key,) in site.asked("SELECT id FROM inspections_inspection")}
        photos = site.asked(PHOTOS)
    except sqlite3.DatabaseError as trouble:
        return [f"the database can't be read: {trouble}"]
    lost = answered - there
    told = [f"{len(lost)} of {len(answered)} answered as recorded are lost"] if lost else []
    # Those of the demo are not copied with its records.
    new = [each for each in photos if (folder / "media" / each[1]).exists() or _is_new(each[1])]
    if len(new) < disk.whole_photos:
        told.append(f"of {disk.whole_photos} photos answered as whole {len(new)} are on record")
    for key, name, known in new:
        path = folder / "media" / name
        if not path.is_file() or hashlib.sha256(path.read_bytes()).hexdigest() != known:
            told.append(f"photo {key} is on record, and its file is not whole")
    return told


def _is_new(name: str) -> bool:
    return name.startswith(f"inspections/{datetime.now(UTC):%Y}")
