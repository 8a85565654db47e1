"""What the broker's answers mean, in words for a person; delays between attempts; age in the queue. Pure."""

from __future__ import annotations

import ssl
from collections.abc import Iterable

EXPIRY_S = 604_800
"""Message Expiry Interval that an MQTT 5 node sets on each message (firmware notes), unless it says another
one in the user property `expiry`."""
SHORTEST_DELAY_S, LONGEST_DELAY_S = 1.0, 60.0
STEADY_S = 30.0
"""A connection that lived that long was a good one: the next delay starts small again."""

_REFUSALS = {
    "Not authorized": "the broker refused the user name or password",
    "Bad user name or password": "the broker refused the user name or password",
    "Unsupported protocol version": "the broker does not speak this version of MQTT; try [broker] protocol = "
    '"3.1.1"',
    "Client identifier not valid": "the broker refused the client id; choose another [broker] client_id",
    "Banned": "the broker has banned this client",
    "Server unavailable": "the broker says that it is not available now",
    "Server busy": "the broker says that it is busy",
}
TAKEN_OVER = "another program uses the same client id; give each its own [broker] client_id"


def refusal(reason: str) -> str:
    """Words for a CONNACK that is not a success."""
    return _REFUSALS.get(reason, f"the broker refused the connection: {reason}")


def unreachable(host: str, port: int, error: BaseException) -> str:
    """Words for a connection that did not come about."""
    where = f"{host}:{port}"
    if isinstance(error, ssl.SSLCertVerificationError):
        return (
            f"the broker's certificate at {where} is not trusted: {error.verify_message}; "
            "see [broker] ca_file"
        )
    if isinstance(error, ssl.SSLError):
        return f"no TLS connection to {where}: {error}; is this the broker's TLS port?"
    return f"nothing answers at {where}: {error}; is the broker running, and are host and port right?"


def lost(reason: str) -> str:
    """Words for a connection that ended."""
    detail = "" if reason == "Unspecified error" else f": {reason}"
    return f"the connection to the broker was lost{detail}"


def closed_early(where: str, *, has_password: bool, tls: bool) -> str:
    """Words for a broker that hung up before it answered."""
    guesses = [
        "wrong or missing user name or password" if has_password else "it wants a user name and password"
    ]
    guesses.append("it speaks another version of MQTT")
    guesses.append("it does not speak TLS" if tls else "the port wants TLS")
    return f"the broker at {where} hung up without an answer; perhaps: {', '.join(guesses)}"


def delay_s(failures: int, chance: float) -> float:
    """Growing delay before the next attempt, spread by `chance` (0..1) lest clients come in step."""
    longest = min(LONGEST_DELAY_S, SHORTEST_DELAY_S * 2.0 ** min(failures, 10))
    return longest * (0.5 + 0.5 * chance)


def age_s(remaining_s: int | None, user_properties: Iterable[tuple[str, str]] | None) -> float | None:
    """Time that a message waited in the broker, from the expiry that is left; None where it cannot be known.

    The broker counts in whole seconds: one second is no more than rounding.
    """
    if remaining_s is None:
        return None
    waited = _original_expiry(user_properties) - remaining_s
    return None if waited < 0 else float(waited) if waited > 1 else 0.0


def _original_expiry(user_properties: Iterable[tuple[str, str]] | None) -> int:
    for name, value in user_properties or ():
        if name == "expiry" and value.isascii() and value.isdecimal() and len(value) < 11:
            return int(value)
    return EXPIRY_S
