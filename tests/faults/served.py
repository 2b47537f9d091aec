"""Serves a site by processes of which each may be killed at any moment.

`python -m tests.faults.served PORT` in the environment of that site. It prints the number of each
process that serves: when one is killed, the next begins at once.
"""

from __future__ import annotations

import os
import pkgutil
import socket
import sys
from importlib import import_module
from socketserver import ThreadingMixIn
from typing import Any
from wsgiref.simple_server import WSGIRequestHandler, WSGIServer

import django


class Server(ThreadingMixIn, WSGIServer):
    """Answers each request by a thread, on a socket that outlasts the process."""

    daemon_threads = True


class Quiet(WSGIRequestHandler):
    """Writes no line for each request."""

    def log_message(self, *_: Any) -> None:
        """Say nothing."""


def serve(listening: socket.socket, application: Any) -> None:
    """Answer on a socket until killed."""
    server = Server(("127.0.0.1", 0), Quiet, bind_and_activate=False)
    server.socket.close()
    server.socket = listening
    server.server_name, server.server_port = "127.0.0.1", listening.getsockname()[1]
    server.setup_environ()
    server.set_app(application)
    server.serve_forever()


def _warm() -> None:
    """Load all there is and draw a page, so that each process begins where others were."""
    from django.db import connections
    from django.test import Client

    for app in ("fleet", "ratings", "inspections"):
        for module in pkgutil.walk_packages(import_module(app).__path__, f"{app}."):
            if ".migrations" not in module.name:
                import_module(module.name)
    Client(headers={"host": "localhost"}).get("/sign-in/")
    # No connection may be shared with the processes that serve.
    connections.close_all()


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "fleet.config.settings")
    django.setup()
    from django.conf import settings

    if "FAULTS_SYNCHRONOUS" in os.environ:
        # As the site must not be set, to show that it would be found out.
        options = settings.DATABASES["default"]["OPTIONS"]
        options["init_command"] += f" PRAGMA synchronous={os.environ['FAULTS_SYNCHRONOUS']};"
    from fleet.config.wsgi import application
    from ratings.ledger import ahead
    from ratings.rerating import long_work

    if most := os.environ.get("FAULTS_MOST_AT_ONCE"):
        # So that yards of a few units are rated as those of hundreds are.
        long_work.MOST_AT_ONCE = ahead.MANY = int(most)

    _warm()
    listening = socket.create_server(("127.0.0.1", int(sys.argv[1])), backlog=128)
    while True:
        child = os.fork()
        if child == 0:
            serve(listening, application)
        print(child, flush=True)
        os.waitpid(child, 0)


if __name__ == "__main__":
    main()
