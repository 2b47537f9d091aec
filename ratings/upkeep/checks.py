"""What a site in service must have: each looked at on the live site, and what to do about it."""

from __future__ import annotations

import os
import shutil
import uuid
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from datetime import timedelta
from enum import StrEnum
from pathlib import Path

from django.conf import settings
from django.contrib.auth.models import User
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.core.mail import get_connection
from django.db import DatabaseError, InterfaceError, connection
from django.db.migrations.executor import MigrationExecutor
from django.db.models import Max
from django.utils import timezone

from fleet.config.secretkey import KEY_FILE
from fleet.dates import moment_words
from fleet.guards import missing_triggers
from fleet.long_work.queue import is_in_hands, is_worker_there
from fleet.models import Leaf, LongWork
from fleet.replica import ask_age_seconds
from fleet.roles import MANAGER
from ratings.models import Seal, Verification
from ratings.record.verify import last_amiss, last_held

# What runs each day ran, with two hours to spare.
A_DAY = timedelta(hours=26)
LEAST_FREE_BYTES, LEAST_FREE_PART = 2 * 2**30, 0.1
MAIL_SECONDS = 10
CLOCKS_APART = timedelta(seconds=30)
WAITS_TOO_LONG = timedelta(minutes=10)
# Where files are kept that see whether files can be.
PROBES = "doctor"
LOCAL_HOSTS = {"localhost", "127.0.0.1", "[::1]", "testserver"}


class State(StrEnum):
    """How something stands, in the word it is printed with."""

    GOOD = "good"
    LOOK = "look"
    WRONG = "WRONG"


@dataclass(frozen=True)
class Found:
    """What a look found. what_to_do: "" where all is well."""

    state: State
    words: str
    what_to_do: str = ""


Look = Callable[[], Iterator[Found]]


def good(words: str) -> Found:
    return Found(State.GOOD, words)


def look(words: str, what_to_do: str) -> Found:
    return Found(State.LOOK, words, what_to_do)


def wrong(words: str, what_to_do: str) -> Found:
    return Found(State.WRONG, words, what_to_do)


# The settings


def look_at_settings() -> Iterator[Found]:
    """Look at what the environment says."""
    if settings.DEBUG:
        yield wrong("DEBUG is on: a fault shows its insides to whoever meets it", "unset DEBUG")
    else:
        yield good("DEBUG is off")
    if settings.PLAIN_HTTP:
        yield wrong(
            "pages and cookies travel without HTTPS",
            "unset LEDGER_PLAIN_HTTP, and put a proxy with a certificate before the site",
        )
    else:
        yield good("only HTTPS is answered, and cookies travel by it alone")
    if not settings.PLAIN_HTTP and settings.SECURE_PROXY_SSL_HEADER is None:
        yield look(
            "LEDGER_BEHIND_PROXY is not set",
            "set it to 1 where a proxy ends HTTPS and sets X-Forwarded-Proto: without it the site "
            "sends every page in a circle",
        )
    hosts = set(settings.ALLOWED_HOSTS)
    if "*" in hosts:
        yield wrong("ALLOWED_HOSTS lets any name through", "name the site’s own host in it")
    elif hosts <= LOCAL_HOSTS:
        yield wrong(
            "ALLOWED_HOSTS names this machine alone",
            "set it to the name people type, such as ledger.example",
        )
    else:
        yield good(f"it answers to {', '.join(sorted(hosts))}")
    zone = moment_words(timezone.now())
    if "TIME_ZONE" in os.environ:
        yield good(f"the yard’s clock is {settings.TIME_ZONE}: it is {zone} there")
    else:
        yield look(
            f"TIME_ZONE is not set: the yard’s clock is taken for {settings.TIME_ZONE}, {zone}",
            "set it to the yard’s own, such as Europe/Oslo",
        )


def look_at_secret_key() -> Iterator[Found]:
    """Look at the key that signs who is signed in."""
    path = settings.VAR_DIR / KEY_FILE
    if len(settings.SECRET_KEY) < 50 or len(set(settings.SECRET_KEY)) < 5:
        yield wrong(
            "the secret key can be guessed",
            "set SECRET_KEY to 50 random letters or more, or unset it to have one made",
        )
    elif not os.environ.get("SECRET_KEY") and path.stat().st_mode & 0o077:
        yield wrong(f"others may read {path}", f"chmod 600 {path}, and make another key")
    else:
        yield good("the secret key is long, and its owner’s alone")


# The database


def look_at_database() -> Iterator[Found]:
    """Look whether the database answers, and which it is."""
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("PRAGMA journal_mode")
            (mode,) = cursor.fetchone()
            words = f"SQLite answers ({connection.settings_dict['NAME']})"
            if mode != "wal":
                yield wrong(
                    f"{words}, and readers wait for writers (journal mode {mode})",
                    "put the data folder on a disk of this machine, not on the network",
                )
            else:
                yield good(f"{words}: for one machine")
        else:
            cursor.execute("SHOW server_version")
            (version,) = cursor.fetchone()
            yield good(f"PostgreSQL {version} answers ({connection.settings_dict['NAME']})")


def look_at_replica() -> Iterator[Found]:
    """Look whether the replica is one, and how old it is."""
    if not settings.READS_REPLICA:
        yield good("no replica is read: every page is read from the records")
        return
    most = settings.REPLICA_SECONDS
    try:
        age = ask_age_seconds()
    except (DatabaseError, InterfaceError) as trouble:
        yield wrong(
            f"the replica does not answer: {' '.join(str(trouble).split())}",
            "look at DATABASE_REPLICA_URL, and whether it runs; meanwhile its pages are read from "
            "the records",
        )
        return
    if age is None:
        yield wrong(
            "what DATABASE_REPLICA_URL names is no replica, or can’t tell how old it is",
            "let it stream from the server of DATABASE_URL (pg_basebackup -R)",
        )
    elif age > most:
        yield look(
            f"the replica is {age:.0f} s behind, and read up to {most} s",
            "look whether it streams (pg_stat_replication on the server of the records)",
        )
    else:
        yield good(f"the replica is {age:.0f} s behind, and read up to {most} s")


def look_at_migrations() -> Iterator[Found]:
    """Look whether the tables are those of this release."""
    executor = MigrationExecutor(connection)
    plan = executor.migration_plan(executor.loader.graph.leaf_nodes())
    if plan:
        yield wrong(
            f"{len(plan)} migrations are not applied: the tables are not this release’s",
            "back up, then manage.py migrate, as the role that owns the tables",
        )
    else:
        yield good("the tables are this release’s")


def look_at_guards() -> Iterator[Found]:
    """Look whether the database refuses what must not be, and whether the site could undo that."""
    lacking = missing_triggers()
    if lacking:
        yield wrong(
            f"{len(lacking)} guards of append-only tables are gone or altered, such as "
            f"{lacking[0]}: rows can be changed behind the site’s back",
            "find out who did it; manage.py ledger verify says what was changed; restore a backup",
        )
    else:
        yield good("every guard of the append-only tables stands, and refuses what it was to")
    if connection.vendor != "postgresql":
        yield look(
            "on SQLite whoever has the site’s files can lift the guards",
            "keep the seals elsewhere, or go over to PostgreSQL with an owner of its own",
        )
        return
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT current_user, "
            "(SELECT rolsuper FROM pg_roles WHERE rolname = current_user), "
            "(SELECT count(*) FROM pg_class WHERE relkind IN ('r', 'p') "
            "AND relnamespace = current_schema()::regnamespace "
            "AND (pg_has_role(current_user, relowner, 'USAGE') "
            "OR has_table_privilege(oid, 'TRIGGER') OR has_table_privilege(oid, 'TRUNCATE')))"
        )
        role, is_super, owned = cursor.fetchone()
    if is_super:
        yield wrong(
            f"the site signs in to PostgreSQL as {role}, who may do anything",
            "give it a role of its own: see “A real deployment” in How this site works",
        )
    elif owned:
        yield wrong(
            f"the site’s role {role} owns {owned} tables, or may lay triggers on them: it could "
            "lift the guards",
            "let another role own them: see “A real deployment” in How this site works",
        )
    else:
        yield good(f"the site’s role {role} owns no table, and can lift no guard")


def look_at_people() -> Iterator[Found]:
    """Look whether anybody can set the site up."""
    if User.objects.filter(groups__name=MANAGER, is_active=True).exists():
        yield good("an equipment manager may sign in")
    else:
        yield wrong("no equipment manager may sign in", "manage.py first_manager")


# What it needs about it


def look_at_files() -> Iterator[Found]:
    """Look whether photos can be kept, and by whom they can be read."""
    name = f"{PROBES}/{uuid.uuid4()}"
    try:
        kept = default_storage.save(name, ContentFile(b"looked at"))
        try:
            with default_storage.open(kept) as file:
                is_same = file.read() == b"looked at"
            is_public = _is_open_to_all(kept)
        finally:
            default_storage.delete(kept)
        is_gone = not default_storage.exists(kept)
    except OSError as trouble:
        yield wrong(
            f"photos and papers can’t be kept: {trouble}",
            "look at LEDGER_S3_BUCKET and what goes with it, and what its key may do"
            if settings.S3_BUCKET
            else "let the site’s user write into the folder of files, and see that its disk has "
            "room",
        )
        return
    if not is_same:
        yield wrong("a file that was kept reads otherwise", "look at that disk or store")
        return
    if not is_gone:
        yield wrong(
            f"a file that was let go is still there: {kept}",
            "let the key of the store delete objects",
        )
    if is_public:
        yield wrong(
            f"anybody may read the photos and papers in bucket {settings.S3_BUCKET}",
            "block public access to it: only the site gives them out",
        )
    elif settings.S3_BUCKET:
        yield good(
            f"photos and papers can be kept in bucket {settings.S3_BUCKET}, and nobody else reads "
            "them"
        )
    if settings.S3_BUCKET:
        return
    folder = Path(settings.MEDIA_ROOT)
    with suppress(OSError):
        (folder / PROBES).rmdir()
    if not _is_private(folder):
        yield wrong(
            f"others on this machine may read the photos in {folder}",
            f"chmod 700 {settings.VAR_DIR}",
        )
    else:
        yield good("photos and papers can be kept, and are the site’s alone")


def _is_open_to_all(kept: str) -> bool:
    """Whether anybody may read a file that a store on another machine keeps."""
    ask = getattr(default_storage, "is_open_to_all", None)
    return ask is not None and bool(ask(kept))


def _is_private(folder: Path) -> bool:
    """Whether a folder, or one it lies in, is its owner’s alone."""
    return any(
        each.exists() and not each.stat().st_mode & 0o007 for each in (folder, *folder.parents)
    )


def look_at_disk() -> Iterator[Found]:
    """Look whether the records have room to grow."""
    folders = (Path(settings.VAR_DIR), Path(settings.MEDIA_ROOT))
    for folder in folders[:1] if settings.S3_BUCKET else dict.fromkeys(folders):
        if not folder.exists():
            continue
        room = shutil.disk_usage(folder)
        words = f"{room.free / 1e9:.1f} of {room.total / 1e9:.1f} GB are free where {folder} is"
        if room.free < min(LEAST_FREE_BYTES, LEAST_FREE_PART * room.total):
            yield wrong(words, "make room: on a full disk nothing is signed")
        else:
            yield good(words)


def look_at_clock() -> Iterator[Found]:
    """Look whether the machine's clock agrees with the database's, and with what is on record."""
    now, there = timezone.now(), timezone.now()
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT clock_timestamp()")
            (there,) = cursor.fetchone()
    newest = Leaf.objects.aggregate(newest=Max("recorded_at"))["newest"]
    if abs(there - now) > CLOCKS_APART:
        yield wrong(
            f"the database’s clock is {abs(there - now).total_seconds():.0f} s off this machine’s",
            "keep both by NTP",
        )
    elif newest is not None and newest > now + CLOCKS_APART:
        yield wrong(
            f"something is on record of {moment_words(newest)}, which is still to come: the clock "
            "of this machine was ahead then, or is behind now",
            "keep it by NTP (timedatectl)",
        )
    else:
        yield good("the clock is not behind what is on record")


def look_at_mail() -> Iterator[Found]:
    """Look whether the server of letters answers."""
    if not settings.EMAIL_HOST:
        yield look(
            "EMAIL_HOST is not set: the daily letter is printed, and reaches nobody",
            "name the server that sends it",
        )
        return
    server = get_connection(timeout=MAIL_SECONDS)
    try:
        server.open()
        server.close()
    except OSError as trouble:
        yield wrong(
            f"{settings.EMAIL_HOST}:{settings.EMAIL_PORT} does not take letters: {trouble}",
            "look at EMAIL_HOST and what goes with it",
        )
    else:
        yield good(f"{settings.EMAIL_HOST} takes letters")


# What is done day by day


def look_at_record() -> Iterator[Found]:
    """Look when the record was last verified and sealed, and what came of it."""
    every_day = "run manage.py daily each day, by a timer: see “A real deployment”"
    now = timezone.now()
    amiss, held = last_amiss(), last_held()
    if amiss is not None:
        yield wrong(
            f"the record did not hold on {moment_words(amiss.at)}: {amiss.words}",
            "manage.py ledger verify; nothing is to be lifted by it until that is cleared up",
        )
    last = Verification.objects.order_by("-at").first()
    if last is None:
        yield wrong("the record was never verified", every_day)
    elif last.at < now - A_DAY:
        yield wrong(f"the record was last verified on {moment_words(last.at)}", every_day)
    elif held is not None and amiss is None:
        yield good(f"the whole record held on {moment_words(held.at)}")
    seal = Seal.objects.order_by("-number").first()
    if seal is None:
        yield wrong("the record was never sealed", every_day)
    else:
        yield good(f"seal {seal.number} was made on {moment_words(seal.made_at)}")


def look_at_long_work() -> Iterator[Found]:
    """Look whether long work is done."""
    old = LongWork.objects.filter(ended_at=None, asked_at__lt=timezone.now() - WAITS_TOO_LONG)
    late = sum(not is_in_hands(work) for work in old)
    if late:
        yield wrong(
            f"{late} long works wait for more than ten minutes", "start manage.py worker anew"
        )
    elif is_worker_there():
        yield good("a worker does long work")
    else:
        yield look(
            "no worker runs: the site does long work itself, beside its pages",
            "run manage.py worker as a service",
        )


# By name, in their order; those after the migrations need tables.
OF_SETTINGS: dict[str, Look] = {
    "settings": look_at_settings,
    "secret key": look_at_secret_key,
    "disk": look_at_disk,
    "files": look_at_files,
    "mail": look_at_mail,
    "database": look_at_database,
    "replica": look_at_replica,
    "tables": look_at_migrations,
}
OF_RECORDS: dict[str, Look] = {
    "guards": look_at_guards,
    "people": look_at_people,
    "clock": look_at_clock,
    "record": look_at_record,
    "long work": look_at_long_work,
}


def examine() -> Iterator[tuple[str, Found]]:
    """Look at everything, and yield what was found, by the name of what was looked at."""
    is_usable = True
    for name, each in OF_SETTINGS.items():
        for found in _safely(each):
            yield name, found
            if name in ("database", "tables") and found.state is State.WRONG:
                is_usable = False
    for name, each in OF_RECORDS.items() if is_usable else ():
        for found in _safely(each):
            yield name, found
    if not is_usable:
        yield (
            "records",
            look("nothing on record could be looked at", "put the database right, and look again"),
        )


def _safely(each: Look) -> Iterator[Found]:
    try:
        yield from each()
    except DatabaseError as trouble:
        yield wrong(
            f"the database does not answer: {' '.join(str(trouble).split())}",
            "look at DATABASE_URL, and whether the database runs and has room",
        )
    except Exception as trouble:
        yield wrong(f"it can’t be looked at ({type(trouble).__name__}: {trouble})", "tell us of it")
