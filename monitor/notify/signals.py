"""Signals that need no person's channel: the sounder in the barn, and the heartbeat to an outside service.

The sounder is on while an alarm of high priority stands and nobody has acknowledged it. It needs no
internet: a board that listens to the retained topic switches a buzzer of extra-low voltage. The heartbeat
is a call to an outside address while all is well, so that somebody else can tell when the machine is
dead; its address is a secret and appears in no error and no log line.
"""

from __future__ import annotations

import http.client
import logging
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Callable, Iterable, Mapping

from pydantic import SecretStr

from monitor.records import AlarmRule, AlarmState, AlarmStatus, Priority

Publish = Callable[[str, bytes, bool], object]
"""Sends (topic, payload, retain) to the broker."""

Fetch = Callable[[str, float], None]
"""One GET of (address, timeout [s]); raises where it does not succeed."""

ON, OFF = b"on", b"off"
TIMEOUT_S = 10.0
READ_BYTES = 1024

log = logging.getLogger(__name__)


def should_sound(states: Iterable[AlarmState], rules: Mapping[str, AlarmRule]) -> bool:
    """True while any `high` alarm is unacknowledged; acknowledged, shelved or returned ones are silent."""
    return any(
        state.status is AlarmStatus.UNACKNOWLEDGED and rules[state.alarm_id].priority is Priority.HIGH
        for state in states
        if state.alarm_id in rules
    )


class Sounder:
    """Publishes `on` and `off`, retained, when it changes and after each new connection to the broker."""

    def __init__(self, publish: Publish, topic: str) -> None:
        self._publish, self._topic = publish, topic
        self.sounding: bool | None = None

    def update(self, states: Iterable[AlarmState], rules: Mapping[str, AlarmRule]) -> None:
        """Follow the alarms; the first call always publishes, so a state left by a crash does not stay."""
        wanted = should_sound(states, rules)
        if wanted is not self.sounding:
            self.sounding = wanted
            self.repeat()

    def repeat(self) -> None:
        """Say it again, after the connection to the broker was lost."""
        if self.sounding is not None:
            self._publish(self._topic, ON if self.sounding else OFF, True)


def fetch(url: str, timeout_s: float) -> None:
    """One GET; raises OSError, HTTPException or ValueError where it does not succeed."""
    if urllib.parse.urlsplit(url).scheme not in ("http", "https"):
        raise ValueError("a heartbeat address begins with http:// or https://")
    with urllib.request.urlopen(url, timeout=timeout_s) as answer:
        answer.read(READ_BYTES)


class Heartbeat:
    """Calls the address when `healthy` says so; a failure harms nothing here, `lost` keeps it."""

    def __init__(self, url: SecretStr, healthy: Callable[[], bool], call: Fetch = fetch) -> None:
        self._url, self._healthy, self._call = url, healthy, call
        self.lost = False

    def beat(self) -> bool:
        """One beat; True when the other side took it. To be run by the scheduler, it may take ten seconds."""
        if not self._healthy():
            return False
        try:
            self._call(self._url.get_secret_value(), TIMEOUT_S)
        except (OSError, ValueError, http.client.HTTPException) as error:
            log.debug("the heartbeat was not taken: %s", _kind(error))
            self.lost = True
            return False
        self.lost = False
        return True


def _kind(error: Exception) -> str:
    """What went wrong, without the text of the error, which may hold the address."""
    if isinstance(error, urllib.error.HTTPError):
        return f"the other side answered {error.code}"
    if isinstance(error, TimeoutError) or isinstance(getattr(error, "reason", None), TimeoutError):
        return f"no answer within {TIMEOUT_S:.0f} s"
    if isinstance(error, urllib.error.URLError):
        return "the other side cannot be reached"
    return "the address cannot be called"
