"""The site's secret key: from the environment, or made once and kept beside the data."""

from __future__ import annotations

import os
from pathlib import Path

from django.core.management.utils import get_random_secret_key

KEY_FILE = "secret_key"


def read_or_make_secret_key(var_folder: Path) -> str:
    """Return SECRET_KEY from the environment, else from var/secret_key, made if absent.

    The folder is made with it, and is its owner's alone, one of an older release too.
    """
    _make_owners_alone(var_folder)
    if given := os.environ.get("SECRET_KEY"):
        return given
    path = var_folder / KEY_FILE
    if not path.exists():
        _write_once(path)
    return path.read_text(encoding="ascii").strip()


def _make_owners_alone(folder: Path) -> None:
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    # Of a folder that holds other things than the site's, who may read it is not for us to say.
    found = folder.stat()
    is_ours = (folder / KEY_FILE).exists() and found.st_uid == os.geteuid()
    if is_ours and found.st_mode & 0o077:
        folder.chmod(0o700)


def _write_once(path: Path) -> None:
    # Exclusive creation: of two processes that start at once, one writes and both read.
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return
    with os.fdopen(handle, "w", encoding="ascii") as file:
        file.write(get_random_secret_key() + get_random_secret_key())
