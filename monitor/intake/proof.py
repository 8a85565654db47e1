"""The monitor proves its own way: a small message to itself, over the topics that boards use.

A broker confirms what its access rules then throw away (MQTT 3.1.1), and a subscription that its rules make
useless looks like any other. Only a message that comes back shows that site, rights and topics are right.
What a board sends shows the same.
"""

from __future__ import annotations

import re
import secrets
import time
from collections.abc import Callable
from enum import StrEnum

from monitor.errors import Sentence, sentence
from monitor.intake.payload import PROOF, READINGS, Topics
from monitor.settings.schema import BrokerSettings

WAIT_S = 30.0
"""A way that has not been proven for so long is taken for closed; own choice."""
AGAIN_S = 10.0
EVERY_S = 86_400.0
HANG_UP_S, MOST_HANG_UPS, REST_S = 5.0, 2, 3_600.0
"""A broker that hangs up on such a message, twice, is left in peace with it for an hour."""
_LEVEL = re.compile(r"[^/+#\s]{1,60}")


class Way(StrEnum):
    """What is known of the way."""

    UNKNOWN = "unknown"
    PROVEN = "proven"
    CLOSED = "closed"


class WayProof:
    """Decides when to send the next message, and what follows from what came back. No I/O.

    Called by the network thread; `way` and `problem` may be read by any.
    """

    def __init__(
        self, broker: BrokerSettings, topics: Topics, steady_s: Callable[[], float] = time.monotonic
    ) -> None:
        levels = (broker.username or "", broker.client_id)
        usable = dict.fromkeys(level for level in levels if _LEVEL.fullmatch(level))
        # Rules that bind a board to its own topics (%u, %c) let us through on these levels and no other.
        self.topics = tuple(f"{topics.base}/{level}/{READINGS}" for level in usable)
        self._base = topics.base
        self._username = broker.username
        self._steady_s = steady_s
        self._token = secrets.token_hex(8).encode()
        self._connected = self._waiting = self._owed = self._is_out = False
        self._refusals = 0
        self._began_s = self._sent_s = self._proven_s = 0.0
        self._rest_until_s = -1.0
        self._hang_ups = 0
        self.way = Way.UNKNOWN

    @property
    def problem(self) -> Sentence | None:
        """What is wrong with the way and what to check; None while nothing is known to be."""
        if self.way is not Way.CLOSED:
            return None
        return closed_way(self._base, self._username, self._refusals >= len(self.topics))

    def begin(self) -> None:
        """The subscription stands (again): the way is to be proven anew."""
        now_s = self._steady_s()
        self._token = secrets.token_hex(8).encode()
        self._is_out = False
        self._connected = self._waiting = self._owed = True
        self._began_s, self._sent_s = now_s, now_s - AGAIN_S

    def lost(self) -> None:
        """The connection has ended, perhaps because of our message."""
        if self._connected and self._is_out and self._steady_s() - self._sent_s < HANG_UP_S:
            self._hang_ups += 1
            if self._hang_ups >= MOST_HANG_UPS:
                self._rest_until_s = self._steady_s() + REST_S
        self._connected = False
        if self.way is Way.PROVEN:
            self.way = Way.UNKNOWN

    def due(self) -> bytes | None:
        """The message to send now on each of `topics`; None when it is not time for one."""
        if not self._connected:
            return None
        now_s = self._steady_s()
        if not self._waiting and now_s - self._proven_s >= EVERY_S:
            self.begin()
        if self._waiting and now_s - self._began_s >= WAIT_S:
            self.way = Way.CLOSED
        rests = now_s < self._rest_until_s
        owed = self._owed and self._hang_ups < MOST_HANG_UPS
        # One goes out on each connection, even when a board has proven the way before: what comes after it
        # did not wait in the broker.
        if not (self._waiting or owed) or rests or now_s - self._sent_s < AGAIN_S:
            return None
        self._sent_s, self._refusals, self._owed, self._is_out = now_s, 0, False, True
        return PROOF + self._token

    def refused(self) -> None:
        """The broker said (MQTT 5) that it does not take our message on one of the topics."""
        self._refusals += 1

    def is_own(self, payload: bytes) -> bool:
        """Whether it is the message that was sent on this connection."""
        return payload == PROOF + self._token

    def came(self, payload: bytes) -> bool:
        """A message has come; True for one of ours or of another monitor's, which is no reading."""
        if not payload.startswith(PROOF):
            # A board's message shows as well that the broker passes on what boards send.
            self._prove()
            return False
        if self.is_own(payload):
            self._is_out, self._hang_ups = False, 0
            self._prove()
        return True

    def _prove(self) -> None:
        if self._waiting:
            self._waiting, self._refusals = False, 0
            self._proven_s, self.way = self._steady_s(), Way.PROVEN


def closed_way(base: str, username: str | None, refused: bool) -> Sentence:
    """What to check when nothing comes back from the topics below `base`."""
    user: Sentence | str = sentence("for everybody, since no username is set")
    if username is not None:
        user = sentence('for the user "{name}"', name=username)
    root, _, site = base.rpartition("/")
    checks = sentence(
        "Check in the broker's access rules that {topics} may be read and written {user}, and in farm.toml "
        'the site id ("{site}") and topic_root ("{root}")',
        topics=f"{base}/+/{READINGS}",
        user=user,
        site=site,
        root=root,
    )
    if refused:
        return sentence(
            "the broker refuses what this program sends to itself, and no board is heard: rights. {checks}",
            checks=checks,
        )
    return sentence(
        "the broker takes what boards send, but does not pass it on: topic or rights. {checks}", checks=checks
    )
