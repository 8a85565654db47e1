"""Writes lines to an InfluxDB v2 write address over one connection that is kept open.

Its closing tells what no answer does: a server that is killed takes with it what it had acknowledged and not
yet written to its disk, and may be back before the next request. So the connection is our own
(`http.client`), not one out of a library's pool, and a close that the server had not announced is seen
(`answers`).
"""

from __future__ import annotations

import datetime
import email.utils
import gzip
import http.client
import json
import re
import ssl
import time
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from enum import Enum
from urllib.parse import urlencode, urlsplit

from monitor.errors import ArchiveError, Phrase, sentence
from monitor.settings.schema import ArchiveSettings

LONGEST_RETRY_AFTER_S = 3600.0
TIMEOUT_S = 15.0
_MOST_REASON = 300
_MOST_ANSWER = 65_536
_REFUSED_DATA = frozenset({400, 413, 422})
_LATER = frozenset({408, 425, 429})
_NEEDS_PERSON = {
    401: sentence("the archive server does not know the token; give a valid one in [archive] token"),
    403: sentence("the token may not write into this bucket; give one that may in [archive] token"),
    404: sentence(
        "the archive server does not know this address, organisation or bucket; look at [archive] and "
        "create the bucket"
    ),
    407: sentence("a proxy between here and the archive server asks for a log in"),
}
_OTHER_REFUSAL = sentence(
    "the archive server, or something before it, does not take this request; look at [archive] url and at "
    "what stands between"
)


class Verdict(Enum):
    """What an answer means for the batch."""

    STORED = "stored"
    REFUSED_DATA = "refused_data"
    NEEDS_PERSON = "needs_person"
    LATER = "later"
    NO_CONTACT = "no_contact"


@dataclass(frozen=True, slots=True)
class Answer:
    """A server's answer, judged. `retry_after_s` is what the server asked for."""

    verdict: Verdict
    reason: Phrase = ""
    retry_after_s: float | None = None
    status: int = 0


def judge(status: int, reason: str, retry_after: str | None, now_ms: int) -> Answer:
    """What an HTTP status means; a server that is busy or broken is asked again later.

    Whether a refusal of data means these data or the way, the sender finds out.
    """
    if status in _REFUSED_DATA:
        return Answer(Verdict.REFUSED_DATA, reason, status=status)
    if 300 <= status < 500 and status not in _LATER:
        problem = _NEEDS_PERSON.get(status, _OTHER_REFUSAL)
        told = reason if status in _NEEDS_PERSON else f"{status}: {reason}"
        wrong = sentence("{problem} ({reason})", problem=problem, reason=told)
        return Answer(Verdict.NEEDS_PERSON, wrong, status=status)
    said = sentence(
        "the archive server is busy or in trouble ({status}: {reason}); it is asked again later",
        status=str(status),
        reason=reason,
    )
    return Answer(Verdict.LATER, said, retry_after_s(retry_after, now_ms), status)


def retry_after_s(header: str | None, now_ms: int) -> float | None:
    """Seconds from a Retry-After header (a number or a date), at most an hour; None where it says nothing."""
    if header is None:
        return None
    try:
        wait = float(header)
    except ValueError:
        wait = _seconds_until(header, now_ms)
    return min(max(wait, 0.0), LONGEST_RETRY_AFTER_S) if wait == wait else None


def _seconds_until(date: str, now_ms: int) -> float:
    try:
        moment = email.utils.parsedate_to_datetime(date)
    except ValueError:
        return float("nan")
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=datetime.UTC)
    return moment.timestamp() - now_ms / 1000


class ArchiveClient:
    """One connection to the archive server, opened when it is first needed and kept."""

    def __init__(self, settings: ArchiveSettings) -> None:
        parts = urlsplit(settings.url)
        self._secure, self._host, self._port = parts.scheme == "https", parts.hostname or "", parts.port
        asked = {"org": settings.org, "bucket": settings.bucket, "precision": "ms"}
        self._path = f"{parts.path.rstrip('/')}/api/v2/write?{urlencode(asked)}"
        self._token = settings.token.get_secret_value().strip() if settings.token else ""
        if not (self._token.isprintable() and self._token.isascii()):
            raise ArchiveError(
                "the token of [archive] holds what no token can hold: a line break, or a letter with an "
                "accent. To mend: copy it again from the archive server."
            )
        self._connection: http.client.HTTPConnection | None = None

    def send(self, lines: Sequence[str]) -> Answer:
        """Send lines and judge what the server says; never raises for what a server or network can do."""
        try:
            return self._post("\n".join(lines).encode())
        except (OSError, http.client.HTTPException) as error:
            self.close()
            silent = sentence("the archive server does not answer ({reason})", reason=self._told(str(error)))
            return Answer(Verdict.NO_CONTACT, silent)

    def answers(self) -> bool:
        """Whether the connection over which the last answer came is still open.

        A close that the server announced with an answer does not count: it was renewed at once.
        """
        opened = self._connection
        if opened is None or opened.sock is None:
            return False
        opened.sock.settimeout(0.0)
        try:
            opened.sock.recv(1)  # nobody asked anything, so whatever comes is the end
        except (BlockingIOError, ssl.SSLWantReadError):
            opened.sock.settimeout(TIMEOUT_S)
            return True
        except OSError:
            pass
        self.close()
        return False

    def _post(self, body: bytes) -> Answer:
        opened = self._connection or self._open()
        opened.request("POST", self._path, gzip.compress(body, 6), self._headers())
        answer = opened.getresponse()
        text = answer.read(_MOST_ANSWER)
        if answer.length and len(text) < _MOST_ANSWER:
            raise http.client.IncompleteRead(text)
        if not answer.isclosed():
            opened.close()
        judged = self._judged(answer, text.decode("utf-8", "replace"))
        if opened.sock is None:
            self._open()
        return judged

    def _headers(self) -> dict[str, str]:
        given = {"Content-Encoding": "gzip", "Content-Type": "text/plain; charset=utf-8"}
        return {**given, "Authorization": f"Token {self._token}"} if self._token else given

    def _open(self) -> http.client.HTTPConnection:
        self.close()
        kind = http.client.HTTPSConnection if self._secure else http.client.HTTPConnection
        opened = kind(self._host, self._port, timeout=TIMEOUT_S)
        try:
            opened.connect()
        except BaseException:
            opened.close()
            raise
        opened.auto_open = 0
        self._connection = opened
        return opened

    def _judged(self, answer: http.client.HTTPResponse, text: str) -> Answer:
        if 200 <= answer.status < 300:
            if "html" not in (answer.getheader("Content-Type") or ""):
                return Answer(Verdict.STORED)
            wrong = sentence(
                "what answers at [archive] url shows a web page and is no archive server (a log in to the "
                "network, perhaps)"
            )
            return Answer(Verdict.NEEDS_PERSON, wrong, status=answer.status)
        reason = _message(text) or answer.getheader("Location") or answer.reason
        now_ms = time.time_ns() // 1_000_000
        return judge(answer.status, self._told(reason), answer.getheader("Retry-After"), now_ms)

    def _told(self, text: str) -> str:
        """What a server said, short and without the token, which some repeat."""
        clean = text.replace(self._token, "***") if self._token else text
        return " ".join(clean.split())[:_MOST_REASON]

    def close(self) -> None:
        if self._connection is not None:
            self._connection.close()
            self._connection = None


def _message(body: str) -> str:
    with suppress(ValueError):
        answer = json.loads(body)
        if isinstance(answer, dict) and answer.get("message"):
            return str(answer["message"])
    title = re.search(r"<title>(.*?)</title>", body, re.IGNORECASE | re.DOTALL)
    return title[1] if title else body
