"""A bucket of a real server of the S3 protocol on this machine, where the site keeps its files."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from django.conf import settings as site
from django.test import override_settings

BUCKET = "ledger-files"


@pytest.fixture(scope="session")
def s3_server() -> Iterator[str]:
    """The address of the server, for a whole run of tests."""
    # Imported on need: few tests wait for it.
    from moto.server import ThreadedMotoServer

    running = ThreadedMotoServer(ip_address="127.0.0.1", port=0, verbose=False)
    running.start()
    host, port = running.get_host_and_port()
    yield f"http://{host}:{port}"
    running.stop()


def options(endpoint: str, **changes: Any) -> dict[str, Any]:
    """Settings of a site whose files a store keeps."""
    given = {
        "bucket_name": BUCKET,
        "endpoint_url": endpoint,
        "region_name": "us-east-1",
        "access_key": "key",
        "secret_key": "secret",
    }
    files = {"BACKEND": "fleet.object_storage.PrivateObjects", "OPTIONS": given | changes}
    return {"STORAGES": {**site.STORAGES, "default": files}, "S3_BUCKET": BUCKET}


@pytest.fixture
def bucket(s3_server: str) -> Iterator[Any]:
    """An empty bucket, in which the site keeps its files."""
    import boto3

    found = boto3.resource(
        "s3",
        endpoint_url=s3_server,
        region_name="us-east-1",
        aws_access_key_id="key",
        aws_secret_access_key="secret",
    ).Bucket(BUCKET)
    found.create()
    with override_settings(**options(s3_server)):
        yield found
    found.objects.all().delete()
    found.delete()
