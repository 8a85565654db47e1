"""Who is looking: signed cookies, new at each login, ended by logout, by time and by a new password."""

from __future__ import annotations

import base64
import binascii
import hashlib
import hmac
import json
import secrets
from collections.abc import Callable
from dataclasses import astuple, dataclass
from enum import StrEnum

from monitor.records import MS_PER_DAY

LIFETIME_MS = 30 * MS_PER_DAY
VISIT_MS = MS_PER_DAY // 12
_LONGEST_COOKIE = 600
_MOST_ENDED = 2000


class Role(StrEnum):
    """What a person may do. A visitor has not logged in."""

    VISITOR = "visitor"
    HELPER = "helper"
    OWNER = "owner"


@dataclass(frozen=True, slots=True)
class Visit:
    """One session: a number that nobody can guess, who it is, and until when."""

    nonce: str
    role: Role
    name: str
    expires_ms: int

    @property
    def known(self) -> bool:
        """Whether somebody logged in."""
        return self.role is not Role.VISITOR

    @property
    def owner(self) -> bool:
        """Whether settings may be changed."""
        return self.role is Role.OWNER


class Sessions:
    """Writes and reads the cookie. `key_for(role)` changes with the password of the role."""

    def __init__(self, key_for: Callable[[Role], bytes], clock: Callable[[], int]) -> None:
        self._key_for, self._clock = key_for, clock
        self._ended: dict[str, int] = {}

    def begin(self, role: Role, name: str = "") -> Visit:
        """A session with a number of its own, whatever cookie came before."""
        length_ms = VISIT_MS if role is Role.VISITOR else LIFETIME_MS
        return Visit(secrets.token_urlsafe(18), role, name, self._clock() + length_ms)

    def cookie(self, visit: Visit) -> str:
        """The cookie's value."""
        payload = _encoded(json.dumps(astuple(visit), separators=(",", ":")).encode())
        return f"{payload}.{self._signature(payload, visit.role)}"

    def read(self, cookie: str | None) -> Visit | None:
        """The session of a cookie that we signed, that has not expired and was not ended."""
        payload, _, signature = (cookie or "").partition(".")
        if not payload or len(cookie or "") > _LONGEST_COOKIE or not (cookie or "").isascii():
            return None
        visit = _visit(payload)
        if visit is None or not hmac.compare_digest(self._signature(payload, visit.role), signature):
            return None
        expired = self._clock() >= visit.expires_ms
        return None if expired or visit.nonce in self._ended else visit

    def end(self, visit: Visit) -> None:
        """No cookie of this session is taken any more."""
        now_ms = self._clock()
        self._ended = {nonce: until for nonce, until in self._ended.items() if until > now_ms}
        while len(self._ended) >= _MOST_ENDED:
            self._ended.pop(next(iter(self._ended)))
        self._ended[visit.nonce] = visit.expires_ms

    def form_token(self, visit: Visit) -> str:
        """What every form of this session must bring along."""
        return _encoded(
            hmac.digest(self._key_for(visit.role), f"form {visit.nonce}".encode(), hashlib.sha256)
        )

    def is_form_token(self, visit: Visit, token: str) -> bool:
        """Whether a form came from a page of this session."""
        return hmac.compare_digest(self.form_token(visit).encode(), token.encode("utf-8", "replace"))

    def _signature(self, payload: str, role: Role) -> str:
        return _encoded(hmac.digest(self._key_for(role), f"visit {payload}".encode(), hashlib.sha256))


def _visit(payload: str) -> Visit | None:
    try:
        padded = payload + "=" * (-len(payload) % 4)
        nonce, role, name, expires_ms = json.loads(base64.urlsafe_b64decode(padded))
        return Visit(str(nonce), Role(role), str(name), int(expires_ms))
    except (binascii.Error, ValueError, TypeError):
        return None


def _encoded(data: bytes) -> str:
    return base64.urlsafe_b64encode(data).rstrip(b"=").decode("ascii")
