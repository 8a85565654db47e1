"""Passwords: kept as scrypt hashes, made up where none was given."""

from __future__ import annotations

import base64
import hashlib
import hmac
import secrets

_N, _R, _P = 2**14, 8, 1
_SALT_BYTES, _KEY_BYTES = 16, 32
_SCHEME = "scrypt"
# Without letters and digits that look alike on paper.
_ALPHABET = "abcdefghjkmnpqrstuvwxyz23456789"
_GROUPS, _GROUP_LENGTH = 3, 4
LONGEST_PASSWORD = 200
SHORTEST_PASSWORD = 8


def first_password() -> str:
    """A new password that can be read out and typed: three groups of four, about 59 bits."""
    groups = ("".join(secrets.choice(_ALPHABET) for _ in range(_GROUP_LENGTH)) for _ in range(_GROUPS))
    return "-".join(groups)


def hash_password(password: str) -> str:
    """The salted hash of a password, with the figures needed to check one against it."""
    salt = secrets.token_bytes(_SALT_BYTES)
    return "$".join((_SCHEME, str(_N), _text(salt), _text(_derive(password, salt, _N))))


def matches(password: str, stored: str | None) -> bool:
    """Whether the password is the one; without a stored one never, after the same work."""
    parts = (stored or hash_of_nothing()).split("$")
    if len(parts) != 4 or parts[0] != _SCHEME or len(password) > LONGEST_PASSWORD:
        return False
    found = _derive(password, _bytes(parts[2]), int(parts[1]))
    return hmac.compare_digest(found, _bytes(parts[3])) and stored is not None


def hash_of_nothing() -> str:
    """A hash that no password has."""
    return "$".join((_SCHEME, str(_N), _text(bytes(_SALT_BYTES)), _text(bytes(_KEY_BYTES))))


def _derive(password: str, salt: bytes, n: int) -> bytes:
    return hashlib.scrypt(
        password.encode("utf-8", "surrogatepass"), salt=salt, n=n, r=_R, p=_P, dklen=_KEY_BYTES
    )


def _text(data: bytes) -> str:
    return base64.urlsafe_b64encode(data).decode("ascii")


def _bytes(text: str) -> bytes:
    return base64.urlsafe_b64decode(text)
