"""Kept files in a bucket of an S3-compatible store, in place of a folder of this machine.

By django-storages. Objects stay private and have no address: a file is given out by the site's own
pages alone, which ask who asks. Loaded only where `LEDGER_S3_BUCKET` is set.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, NoReturn

from boto3.exceptions import Boto3Error
from botocore.config import Config
from botocore.exceptions import BotoCoreError, ClientError
from django.utils.deconstruct import deconstructible
from storages.backends.s3 import S3Storage

from fleet.kept_files import StoreDown

# The site's pages wait for it: one that does not answer is given up soon.
CONNECT_SECONDS, READ_SECONDS, TRIES = 5, 20, 2
IN_MEMORY_BYTES = 8 * 1024**2


@deconstructible
class PrivateObjects(S3Storage):  # type: ignore[misc]  # the library carries no types
    """A bucket, whose troubles are those of files: FileNotFoundError, and StoreDown."""

    def __init__(self, **given: Any) -> None:
        config = Config(
            connect_timeout=CONNECT_SECONDS,
            read_timeout=READ_SECONDS,
            retries={"total_max_attempts": TRIES},
            signature_version="s3v4",
            # A store of one's own has seldom a name for each bucket.
            s3={"addressing_style": "path" if given.get("endpoint_url") else "auto"},
        )
        fixed = {
            "client_config": config,
            "default_acl": None,
            "file_overwrite": False,
            "max_memory_size": IN_MEMORY_BYTES,
        }
        super().__init__(**fixed | given)

    def url(self, name: str, *_: Any, **__: Any) -> NoReturn:
        """Refuse: whoever had the address of an object would need no right to it."""
        raise NotImplementedError(f"{name} has no address: it is given out by the site's pages.")

    def _open(self, name: str, mode: str = "rb") -> Any:
        with _as_of_files():
            opened = super()._open(name, mode)
            # Fetched now, so that no page is half sent when the store stops answering.
            opened.open(mode)
            return opened

    def _save(self, name: str, content: Any) -> Any:
        with _as_of_files():
            return super()._save(name, content)

    def delete(self, name: str) -> None:
        with _as_of_files():
            super().delete(name)

    def exists(self, name: str) -> bool:
        with _as_of_files():
            return bool(super().exists(name))

    def size(self, name: str) -> int:
        with _as_of_files():
            return int(super().size(name))

    def get_modified_time(self, name: str) -> Any:
        with _as_of_files():
            return super().get_modified_time(name)

    def listdir(self, name: str) -> Any:
        with _as_of_files():
            return super().listdir(name)

    def is_open_to_all(self, name: str) -> bool:
        """Whether anybody may read an object, who brings no key."""
        with _as_of_files():
            anybody = self.unsigned_connection.meta.client
            try:
                anybody.get_object(Bucket=self.bucket_name, Key=name)["Body"].close()
            except ClientError as refusal:
                if refusal.response["ResponseMetadata"]["HTTPStatusCode"] in (401, 403):
                    return False
                raise
            return True


@contextmanager
def _as_of_files() -> Iterator[None]:
    try:
        yield
    except (BotoCoreError, Boto3Error, ClientError) as trouble:
        raise StoreDown(f"the store of files does not answer as it should: {trouble}") from trouble
