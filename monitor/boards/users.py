"""Users of the broker: names, passwords, and the line that mosquitto keeps of each.

mosquitto 2 keeps `name:$7$iterations$salt$hash`: PBKDF2 with SHA-512 (found by trial with mosquitto_passwd
2.0.11; the number of iterations stands in the line).
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import hmac
import re
import secrets

from monitor.errors import UsageError
from monitor.settings.schema import IDENTIFIER

MONITOR = "rearing-monitor"
"""The user that the monitor itself has at the broker."""
TRIAL = "rearing-trial-"
"""What the users of `broker test` begin with."""
RESERVED = frozenset({MONITOR, "service", "sounder"})
"""A board's rule lets it write {root}/{site}/NAME/#, which covers the topic NAME itself."""
ITERATIONS = 101
"""As mosquitto_passwd 2.0.11 does. Our passwords are drawn from 2**79: more iterations cannot better that."""
SALT_BYTES, HASH_BYTES = 12, 64
LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
"""What is easy to type on a phone: one case, and nothing that looks like something else (0 o 1 l i)."""
GROUPS, GROUP_LETTERS = 4, 4
LONGEST_PASSWORD = 63
_LINE = re.compile(r"([^:\r\n]+):\$7\$(\d{1,7})\$([A-Za-z0-9+/=]+)\$([A-Za-z0-9+/=]+)")


def new_password() -> str:
    """A password such as `k7mq-2xhd-9twr-bn4z`: 79 bits, and short enough to be typed."""
    drawn = [secrets.choice(LETTERS) for _ in range(GROUPS * GROUP_LETTERS)]
    return "-".join("".join(drawn[at : at + GROUP_LETTERS]) for at in range(0, len(drawn), GROUP_LETTERS))


def password_line(user: str, password: str, salt: bytes | None = None, iterations: int = ITERATIONS) -> str:
    """The line of mosquitto's password file for a user, without the end of the line."""
    salt = secrets.token_bytes(SALT_BYTES) if salt is None else salt
    salt_text = base64.b64encode(salt).decode()
    hashed = base64.b64encode(_hash(password, salt, iterations)).decode()
    return f"{user}:$7${iterations}${salt_text}${hashed}"


def matches(line: str, password: str) -> bool:
    """Whether a line of mosquitto's password file is that of this password."""
    found = _LINE.fullmatch(line.strip())
    if found is None:
        return False
    try:
        salt, hashed = (base64.b64decode(part, validate=True) for part in found.group(3, 4))
    except (ValueError, binascii.Error):
        return False
    return hmac.compare_digest(_hash(password, salt, int(found[2])), hashed)


def _hash(password: str, salt: bytes, iterations: int) -> bytes:
    return hashlib.pbkdf2_hmac("sha512", password.encode(), salt, max(1, iterations), HASH_BYTES)


def refuse_unusable_name(name: str) -> None:
    """Raise UsageError for a name under which a board cannot be a user of the broker."""
    if name.lower() in RESERVED or name.startswith(TRIAL):
        raise UsageError(
            '"{name}" is a name that the monitor needs itself; allowed: another, such as node-07', name=name
        )
    if not re.fullmatch(IDENTIFIER, name):
        raise UsageError(
            '"{name}" cannot be the name of a board; allowed: up to 40 letters, digits and _ . - without a '
            "space, such as node-07",
            name=name,
        )
