"""A wire between a browser and the site that can be cut, at a moment of a test's choosing."""

from __future__ import annotations

import contextlib
import socket
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass, field

PIECE = 16 * 1024
# As no piece begins, not even one of a photo.
NO_REQUEST = b"NONE / NONE/0.0\r\n\r\n"


@dataclass
class _Line:
    """One connection through the wire."""

    phone: socket.socket
    site: socket.socket
    is_losing: bool = False
    watched_bytes: int = -1

    def end(self) -> None:
        _end(self.phone)
        _end(self.site)


@dataclass
class Wire:
    """Listens on a port of its own and passes every byte on, until told otherwise.

    lose_answer_to: how the request begins whose answer never comes back: when the site answers
        it, the wire is cut.
    cut_after: how a request begins, and after how many bytes of it the wire is cut; the first
        ones, as many as `skip` says, get through.
    delay_s: how long each piece of an answer takes.
    """

    host: str
    port_of_site: int
    is_cut: bool = False
    lose_answer_to: bytes = NO_REQUEST
    cut_after: tuple[bytes, int] = (NO_REQUEST, 0)
    skip: int = 0
    delay_s: float = 0.0
    heads: list[bytes] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._lines: list[_Line] = []
        self._server = socket.create_server(("127.0.0.1", 0))
        self.port = self._server.getsockname()[1]
        threading.Thread(target=self._listen, daemon=True).start()

    @property
    def url(self) -> str:
        return f"http://localhost:{self.port}"

    def cut(self) -> None:
        """End every connection, and every one tried from now on."""
        self.is_cut = True
        for line in list(self._lines):
            line.end()

    def mend(self) -> None:
        """Let everything through again."""
        self.lose_answer_to, self.cut_after = NO_REQUEST, (NO_REQUEST, 0)
        self.is_cut, self.delay_s = False, 0.0

    def requests(self, beginning: bytes) -> list[bytes]:
        """The heads of all requests that got through and began so."""
        return [head for head in self.heads if head.startswith(beginning)]

    def close(self) -> None:
        self.cut()
        self._server.close()

    def _listen(self) -> None:
        with contextlib.suppress(OSError):
            while True:
                phone, _ = self._server.accept()
                if self.is_cut:
                    _end(phone)
                else:
                    threading.Thread(target=self._join, args=(phone,), daemon=True).start()

    def _join(self, phone: socket.socket) -> None:
        try:
            line = _Line(phone, socket.create_connection((self.host, self.port_of_site)))
        except OSError:
            _end(phone)
            return
        self._lines.append(line)
        threading.Thread(target=self._down, args=(line,), daemon=True).start()
        self._up(line)

    def _up(self, line: _Line) -> None:
        """From the phone to the site."""
        for piece in _pieces(line.phone):
            if piece.startswith((b"GET ", b"POST ", b"PUT ")):
                self.heads.append(piece.split(b"\r\n\r\n")[0])
            line.is_losing = line.is_losing or piece.startswith(self.lose_answer_to)
            if piece.startswith(self.cut_after[0]):
                line.watched_bytes = 0 if self.skip == 0 else -1
                self.skip = max(0, self.skip - 1)
            if not _send(line.site, piece):
                break
            if line.watched_bytes >= 0:
                line.watched_bytes += len(piece)
                if self.cut_after[1] and line.watched_bytes >= self.cut_after[1]:
                    self.cut()
                    break
        line.end()

    def _down(self, line: _Line) -> None:
        """From the site to the phone."""
        for piece in _pieces(line.site):
            if line.is_losing:
                self.cut()
                break
            time.sleep(self.delay_s)
            if not _send(line.phone, piece):
                break
        line.end()


def _pieces(source: socket.socket) -> Iterator[bytes]:
    with contextlib.suppress(OSError):
        while piece := source.recv(PIECE):
            yield piece


def _send(target: socket.socket, piece: bytes) -> bool:
    try:
        target.sendall(piece)
    except OSError:
        return False
    return True


def _end(each: socket.socket) -> None:
    with contextlib.suppress(OSError):
        each.shutdown(socket.SHUT_RDWR)
    with contextlib.suppress(OSError):
        each.close()
