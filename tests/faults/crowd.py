"""Many at once on one site, some signing and most reading, none with a pause."""

from __future__ import annotations

import threading
from typing import Any

from tests.faults.clients import Client, Program, Storm
from tests.faults.sites import Site
from tests.serving import served_by_gunicorn

PAGES = ("/", "/lots/", "/due/", "/schedule/", "/units/{housing}/")
# One of so many signs.
SIGNING = 4


class Reader(Client):
    """Reads pages, signed in."""

    kind = "pages"
    person = 4

    def made(self, key: str) -> Any:
        unit = self.chance.choice(self.told["units"])
        return self.chance.choice(PAGES).format(**unit)

    def is_done(self, key: str, what: Any) -> bool:
        answer = self.asked("GET", what)
        if answer is None or answer.status != 200:
            return answer is not None and self.is_refused(answer)
        return self.is_recorded(key, None)


class Signer(Program):
    """Sends inspections with no pause between."""

    pause_seconds = 0.0


def crowd(site: Site, told: dict[str, Any], clients: int, seconds: float) -> Storm:
    """Let so many clients read and sign for so long, and return what they were told.

    Served as in service, where whoever comes while all threads are busy waits for one: a thread for
    each of many would keep the one who signs from the processor while all others wait for the lock.
    """
    storm = Storm()
    with (
        (site.var / "served.log").open("a") as said,
        served_by_gunicorn(site.environment, said=said) as port,
    ):
        threads = [
            threading.Thread(
                target=(Reader if number % SIGNING else Signer)(port, told, storm, number).work
            )
            for number in range(clients)
        ]
        for each in threads:
            each.start()
        storm.is_over.wait(seconds)
        storm.is_over.set()
        for each in threads:
            each.join()
    return storm
