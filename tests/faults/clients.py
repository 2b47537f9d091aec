"""Who works on a site in a storm, each of their own kind, and what they were answered."""

from __future__ import annotations

import http.client
import json
import re
import threading
import time
import uuid
from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from io import BytesIO
from random import Random
from typing import Any
from urllib.parse import urlencode

from PIL import Image

LONGEST_SECONDS = 30.0
AGAIN_AFTER_SECONDS = 0.4
# The least that is taken, so that each photo comes in several.
PIECE_BYTES = 16 * 1024
ROWS_OF_A_REGISTER = 5
CSRF = "a" * 32


@dataclass
class Storm:
    """What was sent, by kind and key, and what was answered.

    recorded: with what was told of each that was answered as recorded. rated_beside: re-ratings
    recorded as long work. put_off: answers that said to send it again.
    """

    sent: dict[str, dict[str, Any]] = field(default_factory=lambda: defaultdict(dict))
    recorded: dict[str, dict[str, Any]] = field(default_factory=lambda: defaultdict(dict))
    refused: list[str] = field(default_factory=list)
    rated_beside: int = 0
    put_off: int = 0
    broken_off: int = 0
    kills: int = 0
    kills_of_database: int = 0
    longest_seconds: float = 0.0
    statuses: Counter[int] = field(default_factory=Counter)
    is_over: threading.Event = field(default_factory=threading.Event)

    @property
    def all_recorded(self) -> int:
        return sum(map(len, self.recorded.values()))

    def words(self, kind: str) -> str:
        """Say of a kind how many were answered as recorded, of how many sent."""
        return f"{len(self.recorded[kind])} of {len(self.sent[kind])} {kind}"


@dataclass(frozen=True)
class Answer:
    """What came back, whole."""

    status: int
    headers: Mapping[str, str]
    text: str


class Client:
    """Somebody who sends something, again until it is answered, then the next."""

    kind = ""
    pause_seconds = 0.0
    # Which of the people signed in; none acts by a program's token.
    person: int | None = None

    def __init__(self, port: int, told: dict[str, Any], storm: Storm, number: int) -> None:
        self.port, self.told, self.storm = port, told, storm
        self.chance = Random(number)

    def work(self) -> None:
        """Send one after the other until it is over."""
        while not self.storm.is_over.is_set():
            key = str(uuid.uuid4())
            self.sent(key, None)
            if not self.is_done(key, self.made(key)):
                continue
            self.storm.is_over.wait(self.pause_seconds)

    def made(self, key: str) -> Any:
        """Make what is sent under a key."""
        raise NotImplementedError

    def is_done(self, key: str, what: Any) -> bool:
        """Send it, in as many steps as it takes; False where it was left."""
        raise NotImplementedError

    def sent(self, key: str, what: Any, kind: str = "") -> None:
        """Remember that something was, or is about to be, sent."""
        self.storm.sent[kind or self.kind][key] = what

    def is_recorded(self, key: str, told: Any, kind: str = "") -> bool:
        """Remember that something was answered as recorded."""
        self.storm.recorded[kind or self.kind][key] = told
        return True

    def is_refused(self, answer: Answer) -> bool:
        """Remember an answer that nobody should have been given.

        Where the site itself failed, its log has more to say.
        """
        if answer.status == 500:
            return False
        main = re.search(r"(?s)<main.*?</main>", answer.text)
        text = re.sub(r"\s+", " ", re.sub(r"<[^>]*>", " ", main[0] if main else answer.text))
        self.storm.refused.append(f"{self.kind}: {answer.status}: {text[:4_000]}")
        return False

    def answer_to(
        self, method: str, path: str, body: bytes | str | None = None, **headers: str
    ) -> Answer | None:
        """Send until it is answered otherwise than to send again; None where it is over before.

        As a phone does: the very same again, since nobody knows whether it was recorded.
        """
        while True:
            answer = self.asked(method, path, body, **headers)
            if answer is not None and answer.status != 503:
                return answer
            if self.storm.is_over.is_set():
                return None
            time.sleep(0.05 if answer is None else AGAIN_AFTER_SECONDS)

    def asked(
        self, method: str, path: str, body: bytes | str | None = None, **headers: str
    ) -> Answer | None:
        """Send once; None where no answer came whole."""
        known = {name.replace("_", "-"): value for name, value in headers.items()}
        if self.person is None:
            known["Authorization"] = f"Bearer {self.told['token']}"
        else:
            session = self.told["people"][self.person]["session"]
            known |= {"Cookie": f"sessionid={session}; csrftoken={CSRF}", "X-CSRFToken": CSRF}
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=LONGEST_SECONDS)
        began = time.monotonic()
        try:
            connection.request(method, path, body, known)
            came = connection.getresponse()
            text = came.read().decode()
            # Of a head cut off, what is left reads as a whole one: the length is told last.
            if int(came.headers.get("Content-Length", -1)) != len(text.encode()):
                raise http.client.IncompleteRead(text.encode())
        except (OSError, ValueError, http.client.HTTPException):
            self.storm.broken_off += 1
            return None
        finally:
            connection.close()
            taken_seconds = time.monotonic() - began
            self.storm.longest_seconds = max(self.storm.longest_seconds, taken_seconds)
        self.storm.statuses[came.status] += 1
        if came.status == 503:
            self.storm.put_off += 1
        return Answer(came.status, dict(came.headers), text)

    def posted(self, path: str, fields: Mapping[str, str]) -> Answer | None:
        """Send a form as a page does."""
        return self.answer_to(
            "POST", path, urlencode(fields), Content_Type="application/x-www-form-urlencoded"
        )

    def inspection(self, key: str, **more: Any) -> dict[str, Any]:
        """An inspection that differs from all others, so that each posts an entry."""
        unit = self.chance.choice(self.told["units"])
        return {
            "housing": unit["housing"],
            "pads": unit["pads"],
            "kind": "pad count",
            "seen_at": datetime.now(UTC).isoformat(),
            "travel_in": round(self.chance.uniform(5.9, 6.1), 3),
            "travel_reason": "Taped again",
            "findings": [
                {
                    "number": 1,
                    "severity": "note",
                    "text": f"Hose rubs, {key}",
                    "act_by": None,
                    "who_acts": "",
                }
            ],
            **more,
        }


class Program(Client):
    """Sends inspections over the API; half of them once, whatever becomes of it."""

    kind = "inspections"
    pause_seconds = 0.1

    def made(self, key: str) -> Any:
        return self.inspection(key)

    def is_done(self, key: str, what: Any) -> bool:
        ask = self.answer_to if self.chance.random() < 0.5 else self.asked
        headers = {"Content_Type": "application/json", "Idempotency_Key": key}
        answer = ask("POST", "/api/v1/inspections", json.dumps(what), **headers)
        if answer is None or answer.status == 503:
            return False
        if answer.status != 201:
            return self.is_refused(answer)
        return self.is_recorded(key, json.loads(answer.text)["id"])


class Phone(Client):
    """Sends an inspection with a photo, then the photo in pieces."""

    kind = "inspections"
    person = 0
    pause_seconds = 0.1

    def made(self, key: str) -> Any:
        now = datetime.now(UTC).isoformat()
        photo = {"id": str(uuid.uuid4()), "caption": "Side A", "finding": 1}
        of_a_phone = {
            "id": key,
            "sent_at": now,
            "signed_by": self.told["people"][0]["user"],
            "hours": None,
            "weather": "",
            "note": "",
            "checklist": None,
            "answers": [],
            "photos": [photo],
        }
        return self.inspection(key, **of_a_phone)

    def is_done(self, key: str, what: Any) -> bool:
        body = json.dumps(what)
        answer = self.answer_to("POST", "/field/inspections/", body, Content_Type=JSON)
        if answer is None:
            return False
        if answer.status not in (200, 201):
            return self.is_refused(answer)
        self.is_recorded(key, json.loads(answer.text)["inspection"])
        return self._sends_photo(what["photos"][0]["id"])

    def _sends_photo(self, key: str) -> bool:
        held = BytesIO()
        Image.effect_noise((320, 240), self.chance.uniform(20, 80)).save(held, "JPEG")
        whole, here = held.getvalue(), 0
        self.sent(key, None, "photos")
        while True:
            piece = whole[here : here + PIECE_BYTES]
            answer = self.answer_to(
                "PUT",
                f"/field/photos/{key}/",
                piece,
                Content_Type="application/octet-stream",
                Upload_Offset=str(here),
                Upload_Length=str(len(whole)),
            )
            if answer is None:
                return False
            if answer.status not in (200, 201, 409):
                return self.is_refused(answer)
            came = json.loads(answer.text)
            here = came["received"]
            if came.get("done"):
                return self.is_recorded(key, None, "photos")


JSON = "application/json"


class Fitter(Client):
    """Fits pads from stock by the page, from the state that it shows."""

    kind = "replacements"
    person = 1
    pause_seconds = 0.2

    def made(self, key: str) -> Any:
        return self.chance.choice(self.told["fitted"])

    def is_done(self, key: str, what: Any) -> bool:
        path = f"/units/{what['housing']}/replace/"
        page = self.answer_to("GET", path)
        if page is None:
            return False
        if page.status != 200:
            return self.is_refused(page)
        fields = {
            "submission_id": key,
            "based_on": _field(page, "based_on"),
            "fitted_at": _field(page, "fitted_at"),
            "lot-A1": str(what["lot"]),
            "lot-B2": str(what["lot"]),
        }
        answer = self.posted(path, fields)
        if answer is None:
            return False
        if answer.status == 302:
            return self.is_recorded(key, what["lot"])
        # Others sign all the time: whoever is told so looks again.
        return ("signed" in answer.text and answer.status == 200) or self.is_refused(answer)


class Rater(Client):
    """Tests a lot over the API, and approves the rating that was drafted by the page."""

    kind = "re-ratings"
    person: int | None = 2
    pause_seconds = 1.0

    def made(self, key: str) -> Any:
        # None reads beyond what the gauge shows.
        rate_lbf_in = self.chance.uniform(900.0, 1_020.0)
        area_in2 = 12.566
        return {
            "lot": self.chance.choice(self.told["lots"]),
            "stand": self.told["stand"],
            "gauge": self.told["gauge"],
            "tape": self.told["tape"],
            "end": "blind",
            "pads_in_test": 2,
            "tape_datum_in": 10.0,
            "conditioning_cycles": 3,
            "rubber_temperature_f": 68.0,
            "tested_at": datetime.now(UTC).isoformat(),
            "is_read_again": True,
            "read_again_reason": "Read twice",
            "pads": [{"mark": f"P-{key[:6]}", "origin": "new"}],
            # Each stretch a little off, so that no two tests of a lot ever read the same.
            "readings": [
                {
                    "tape_in": 10.0 + stretch_in,
                    "gauge_psi": round(2 * rate_lbf_in * stretch_in / area_in2, 2),
                }
                for nearly_in in (1.5, 3.0, 4.5, 6.0)
                for stretch_in in [round(nearly_in + self.chance.uniform(-0.1, 0.1), 3)]
            ],
        }

    def is_done(self, key: str, what: Any) -> bool:
        person, self.person = self.person, None
        headers = {"Content_Type": JSON, "Idempotency_Key": key}
        answer = self.answer_to("POST", "/api/v1/bench-tests", json.dumps(what), **headers)
        self.person = person
        if answer is None:
            return False
        drafted = re.search(r"Rating (\d+) is drafted", answer.text)
        if answer.status != 201 or drafted is None:
            return self.is_refused(answer)
        self.sent(key, int(drafted[1]))
        return self._approves(key, f"/lot-ratings/{drafted[1]}/")

    def _approves(self, key: str, path: str) -> bool:
        page = self.answer_to("GET", path)
        if page is None:
            return False
        if page.status != 200 or "doubts_shown" not in page.text:
            return self.is_refused(page)
        fields = {
            "submission_id": key,
            "doubts_shown": _field(page, "doubts_shown"),
            "has_read_doubts": "on",
            "accepts_implausible": "on",
            "implausible_reason": "The rubber on record is a guess",
        }
        answer = self.posted(f"{path}approve/", fields)
        if answer is None:
            return False
        if answer.status != 302:
            return self.is_refused(answer)
        beside = answer.headers["Location"]
        return self._waits_for(key, beside) if "/rerating/" in beside else self._has_rated(key)

    def _waits_for(self, key: str, path: str) -> bool:
        """Look at the page of what is done beside it, until it is over."""
        while (page := self.answer_to("GET", path)) is not None:
            if page.status != 200:
                return self.is_refused(page)
            if "<strong>Recorded</strong>" in page.text:
                self.storm.rated_beside += 1
                return self._has_rated(key)
            if "Not recorded." in page.text:
                # Whoever did it was killed twice, and the page says so.
                return "The machine stopped twice" in page.text or self.is_refused(page)
            time.sleep(AGAIN_AFTER_SECONDS)
        return False

    def _has_rated(self, key: str) -> bool:
        return self.is_recorded(key, None)


class Importer(Client):
    """Tries a register, then takes it."""

    kind = "registers"
    person = 3
    pause_seconds = 0.5

    def made(self, key: str) -> Any:
        rows = [f"Storm {key} {number}" for number in range(ROWS_OF_A_REGISTER)]
        return "\r\n".join(["name", *rows, ""])

    def is_done(self, key: str, what: Any) -> bool:
        head = (
            '--xxx\r\nContent-Disposition: form-data; name="file"; filename="yards.csv"\r\n'
            "Content-Type: text/csv\r\n\r\n"
        )
        body = f"{head}{what}\r\n--xxx--\r\n"
        sort = "multipart/form-data; boundary=xxx"
        page = self.answer_to("POST", "/register/", body, Content_Type=sort)
        if page is None:
            return False
        if page.status != 200 or 'name="take"' not in page.text:
            return self.is_refused(page)
        answer = self.posted("/register/", {"take": _field(page, "take")})
        if answer is None:
            return False
        # What waited is gone where it was taken, and the answer to that was lost.
        if answer.status == 302 and answer.headers["Location"] == "/register/":
            return False
        if answer.status != 302:
            return self.is_refused(answer)
        return self.is_recorded(key, None)


def _field(page: Answer, name: str) -> str:
    """Return what a page's field holds."""
    found = re.search(rf'<(?:input|button)[^>]*name="{name}"[^>]*value="([^"]*)"', page.text)
    return found[1] if found else ""


CLIENTS: tuple[type[Client], ...] = (Program, Program, Phone, Fitter, Rater, Importer)
