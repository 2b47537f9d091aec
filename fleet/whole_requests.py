"""A request that breaks off on the way: nothing of it is read as if it were all that was sent.

Servers hand on what came of a body whose sender went away, and a form cut off in the middle reads
as a shorter one: "3000" as "30". Nothing may be recorded of that. Who falls silent in the middle
is given up by the server (`fleet.config.gunicorn`), and is told the same.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.core.exceptions import BadRequest

TIMED_OUT = 408


class BrokenOff(BadRequest):
    """What was sent did not come whole. No OSError: nobody who expects one reads on."""

    def __init__(self) -> None:
        super().__init__(
            "What was sent did not come whole: the line broke off or fell silent on the way. "
            "Send it again."
        )


class _Whole:
    """A body of which less than was announced is nothing."""

    def __init__(self, body: Any, length_bytes: int) -> None:
        self._body, self._left_bytes = body, length_bytes

    def read(self, size: int = -1) -> bytes:
        """Return so many bytes, or the rest. Raises BrokenOff where they do not come."""
        asked = self._asked(size)
        came = self._taken(self._body.read, asked)
        if len(came) < asked:
            raise BrokenOff
        return came

    def readline(self, size: int = -1) -> bytes:
        """Return a line, or so much of it. Raises BrokenOff where it breaks off."""
        asked = self._asked(size)
        came = self._taken(self._body.readline, asked)
        if len(came) < asked and not came.endswith(b"\n"):
            raise BrokenOff
        return came

    def _asked(self, size: int) -> int:
        return self._left_bytes if size < 0 else min(size, self._left_bytes)

    def _taken(self, take: Callable[[int], bytes], asked: int) -> bytes:
        try:
            came = take(asked) if asked else b""
        except OSError as trouble:
            raise BrokenOff from trouble
        self._left_bytes -= len(came)
        return came


Environ = dict[str, Any]
# What comes back is iterated over by the server alone.
Application = Callable[[Environ, Any], Any]


def takes_whole_requests(application: Application) -> Application:
    """Let an application read no request but whole ones."""

    def answered(environ: Environ, start_response: Any) -> Any:
        length = str(environ.get("CONTENT_LENGTH") or "")
        if length.isascii() and length.isdigit():
            environ["wsgi.input"] = _Whole(environ["wsgi.input"], int(length))
        return application(environ, start_response)

    return answered
