"""The site's secret key: from the environment, or made once and kept beside the data."""

from __future__ import annotations

import os
from pathlib import Path

from django.core.management.utils import get_random_secret_key


def read_or_make_secret_key(var_folder: Path) -> str:
    """Return SECRET_KEY from the environment, else from var/secret_key, made if absent."""
    if given := os.environ.get("SECRET_KEY"):
        return given
    path = var_folder / "secret_key"
    if not path.exists():
        _write_once(path)
    return path.read_text(encoding="ascii").strip()


def _write_once(path: Path) -> None:
    # Exclusive creation: of two processes that start at once, one writes and both read.
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return
    with os.fdopen(handle, "w", encoding="ascii") as file:
        file.write(get_random_secret_key() + get_random_secret_key())
