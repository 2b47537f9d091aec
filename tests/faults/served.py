"""A site of its own on a SQLite database, whose serving process may be killed at any moment.

`python -m tests.faults.served PORT` in the environment of that site. It prints what a client needs
to sign, then the number of each process that serves: when one is killed, the next begins at once.
"""

from __future__ import annotations

import json
import os
import socket
import sys
from socketserver import ThreadingMixIn
from typing import Any
from wsgiref.simple_server import WSGIRequestHandler, WSGIServer

import django

UNITS = 2


class Server(ThreadingMixIn, WSGIServer):
    """Answers each request by a thread, on a socket that outlasts the process."""

    daemon_threads = True


class Quiet(WSGIRequestHandler):
    """Writes no line for each request."""

    def log_message(self, *_: Any) -> None:
        """Say nothing."""


def what_to_sign() -> dict[str, Any]:
    """Make units and a program's token, and return what an inspection of each is sent with."""
    from factory.django import DjangoModelFactory

    from tests import factories
    from tests.builders import rated_unit
    from tests.inspections.api.asking import token_of
    from tests.inspections.field.sent import pads_sent

    for each in vars(factories).values():
        if isinstance(each, type) and issubclass(each, DjangoModelFactory) and each._meta.model:
            # Beyond the marks of the demo.
            each.reset_sequence(1_000, force=True)
    units = [rated_unit(in_stock=4) for _ in range(UNITS)]
    return {
        "token": token_of(units[0].manager).secret,
        "units": [
            {"housing": each.housing.pk, "pads": pads_sent(each.housing, each.lot)}
            for each in units
        ],
    }


def serve(listening: socket.socket, application: Any) -> None:
    """Answer on a socket until killed."""
    server = Server(("127.0.0.1", 0), Quiet, bind_and_activate=False)
    server.socket.close()
    server.socket = listening
    server.server_name, server.server_port = "127.0.0.1", listening.getsockname()[1]
    server.setup_environ()
    server.set_app(application)
    server.serve_forever()


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "fleet.config.settings")
    django.setup()
    from django.core.wsgi import get_wsgi_application
    from django.db import connections

    application = get_wsgi_application()
    print(json.dumps(what_to_sign()), flush=True)
    # No connection may be shared with the processes that serve.
    connections.close_all()
    listening = socket.create_server(("127.0.0.1", int(sys.argv[1])))
    while True:
        child = os.fork()
        if child == 0:
            serve(listening, application)
        print(child, flush=True)
        os.waitpid(child, 0)


if __name__ == "__main__":
    main()
