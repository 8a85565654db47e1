"""Signed, single-use, expiring links with which a person acknowledges an alarm from a message.

A token says who (the recipient), what (the alarm and which of its occurrences) and until when. Programs that
scan messages open links too, so the page behind a link asks for one tap before it spends the token.
"""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Callable
from dataclasses import astuple, dataclass

from itsdangerous import BadData, URLSafeSerializer

from monitor.errors import UsageError
from monitor.records import MS_PER_HOUR

LIFETIME_MS = 24 * MS_PER_HOUR
LONGEST_TOKEN = 600
PURPOSE = "acknowledge"


@dataclass(frozen=True, slots=True)
class Claim:
    """What a token says. `since_ms` is the occurrence of the alarm: an old link acknowledges no new one."""

    alarm_id: str
    recipient: str
    since_ms: int
    expires_ms: int
    nonce: str


def new_nonce() -> str:
    """The number that makes a token single-use."""
    return secrets.token_urlsafe(9)


def serializer(key: bytes, purpose: str) -> URLSafeSerializer:
    """Signs values as text for a link or a cookie; a token of one purpose is of no use for another.

    SHA-384, since its signature fills base64 exactly: a token with any letter changed is refused.
    """
    return URLSafeSerializer(key, salt=purpose, signer_kwargs={"digest_method": hashlib.sha384})


def sign(claim: Claim, key: bytes) -> str:
    """The token of a claim: letters, digits, `-`, `_` and dots."""
    return str(serializer(key, PURPOSE).dumps(astuple(claim)))


def verify(token: str, key: bytes, now_ms: int) -> Claim:
    """The claim of a token that we signed and that has not expired; raises UsageError."""
    not_valid = UsageError(
        "this link is not valid; acknowledge the alarm on the page or with: rearing-monitor ack"
    )
    if len(token) > LONGEST_TOKEN or not token.isascii():
        raise not_valid
    try:
        claim = Claim(*serializer(key, PURPOSE).loads(token))
    except (BadData, TypeError):
        raise not_valid from None
    if now_ms >= claim.expires_ms:
        raise UsageError(
            "this link has expired; acknowledge the alarm on the page or with: rearing-monitor ack"
        )
    return claim


def redeem(token: str, key: bytes, now_ms: int, spend: Callable[[str, int], bool]) -> Claim:
    """Verify and use up a token; `spend(nonce, expires_ms)` is True only once. Raises UsageError."""
    claim = verify(token, key, now_ms)
    if not spend(claim.nonce, claim.expires_ms):
        raise UsageError(
            "this link has been used already; the alarm is acknowledged unless it has come again since"
        )
    return claim
