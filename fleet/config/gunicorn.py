"""How gunicorn serves the site: `gunicorn --config python:fleet.config.gunicorn fleet.config.wsgi`.

What is given on its command line besides goes before this.
"""

from __future__ import annotations

import os
import socket
import struct
from typing import Any

bind = "127.0.0.1:8000"
workers = 3
threads = 4
# A worker that no longer says that it lives is killed, and another begun.
timeout = 120

# A visitor who sends nothing, or takes nothing of what is sent to them, for so long is given up:
# each holds one of the few threads meanwhile, and one whose line broke would hold it for good.
SILENT_SECONDS = float(os.environ.get("LEDGER_SILENT_SECONDS", "30"))


def when_ready(server: Any) -> None:
    """Bound how long a connection may be silent; each takes that over from where it came in."""
    seconds, rest = divmod(SILENT_SECONDS, 1.0)
    longest = struct.pack("ll", int(seconds), int(rest * 1e6))
    for listener in server.LISTENERS:
        for each in (socket.SO_RCVTIMEO, socket.SO_SNDTIMEO):
            listener.sock.setsockopt(socket.SOL_SOCKET, each, longest)
