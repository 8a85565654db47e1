"""Signed, single-use, expiring links with which a person acknowledges an alarm from a message.

A token says who (the recipient), what (the alarm and which of its occurrences) and until when. Programs that
scan messages open links too, so the page behind a link asks for one tap before it spends the token.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import hmac
import json
import secrets
from collections.abc import Callable
from dataclasses import astuple, dataclass

from monitor.errors import UsageError
from monitor.records import MS_PER_HOUR

LIFETIME_MS = 24 * MS_PER_HOUR
KEY_BYTES = 32
LONGEST_TOKEN = 600
_NOT_VALID = "this link is not valid; acknowledge the alarm on the page or with: rearing-monitor ack"
_EXPIRED = "this link has expired; acknowledge the alarm on the page or with: rearing-monitor ack"
_SPENT = "this link has been used already; the alarm is acknowledged unless it has come again since"


@dataclass(frozen=True, slots=True)
class Claim:
    """What a token says. `since_ms` is the occurrence of the alarm: an old link acknowledges no new one."""

    alarm_id: str
    recipient: str
    since_ms: int
    expires_ms: int
    nonce: str


def new_key() -> bytes:
    """A signing key, to be kept in the store: with a new key all older links end."""
    return secrets.token_bytes(KEY_BYTES)


def new_nonce() -> str:
    """The number that makes a token single-use."""
    return secrets.token_urlsafe(9)


def _encoded(data: bytes) -> str:
    return base64.urlsafe_b64encode(data).rstrip(b"=").decode("ascii")


def _decoded(text: str) -> bytes:
    return base64.b64decode(text + "=" * (-len(text) % 4), altchars=b"-_", validate=True)


def _signature(payload: str, key: bytes) -> str:
    return _encoded(hmac.digest(key, payload.encode("ascii"), hashlib.sha256))


def sign(claim: Claim, key: bytes) -> str:
    """The token of a claim: letters, digits, `-`, `_` and one dot."""
    payload = _encoded(json.dumps(astuple(claim), ensure_ascii=True, separators=(",", ":")).encode("ascii"))
    return f"{payload}.{_signature(payload, key)}"


def verify(token: str, key: bytes, now_ms: int) -> Claim:
    """The claim of a token that we signed and that has not expired; raises UsageError."""
    payload, _, signature = token.partition(".")
    if len(token) > LONGEST_TOKEN or not token.isascii():
        raise UsageError(_NOT_VALID)
    if not hmac.compare_digest(_signature(payload, key), signature):
        raise UsageError(_NOT_VALID)
    try:
        claim = Claim(*json.loads(_decoded(payload)))
    except (binascii.Error, ValueError, TypeError):
        raise UsageError(_NOT_VALID) from None
    if now_ms >= claim.expires_ms:
        raise UsageError(_EXPIRED)
    return claim


def redeem(token: str, key: bytes, now_ms: int, spend: Callable[[str, int], bool]) -> Claim:
    """Verify and use up a token; `spend(nonce, expires_ms)` is True only once. Raises UsageError."""
    claim = verify(token, key, now_ms)
    if not spend(claim.nonce, claim.expires_ms):
        raise UsageError(_SPENT)
    return claim


class SpentNonces:
    """Used numbers in memory, forgotten once their tokens have expired; a twin of the table in the store."""

    def __init__(self, clock_ms: Callable[[], int]) -> None:
        self._clock_ms, self._spent = clock_ms, dict[str, int]()

    def spend(self, nonce: str, expires_ms: int) -> bool:
        """True the first time."""
        now_ms = self._clock_ms()
        self._spent = {known: end for known, end in self._spent.items() if end > now_ms}
        if nonce in self._spent:
            return False
        self._spent[nonce] = expires_ms
        return True
