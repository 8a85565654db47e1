"""The broker that comes with the program, for farms (and the demo) that have none of their own.

It speaks MQTT 3.1.1 and keeps sessions and queues in memory only: they outlive the monitor's connection, not
the monitor's process, which starts and ends the broker. A farm that wants nothing lost over a power cut or
an update runs a broker of its own with persistence.
"""

from __future__ import annotations

import signal
import tempfile
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Self

from iotcore import Broker

from monitor.errors import IntakeError
from monitor.settings.schema import BrokerSettings

LARGEST_PACKET = 20 * 1024
"""A payload may have 16 KiB; topic and header come on top."""
MOST_IN_FLIGHT = 1000
MOST_CONNECTIONS = 2000

_WITH_PASSWORD = """\
id = 0
[router]
id = 0
max_connections = {connections}
max_outgoing_packet_count = 200
max_segment_size = 104857600
max_segment_count = 10
[v4.1]
name = "monitor"
listen = "{listen}:{port}"
next_connection_delay_ms = 1
[v4.1.connections]
connection_timeout_ms = 60000
max_payload_size = {packet}
max_inflight_count = {in_flight}
dynamic_filters = true
[v4.1.connections.auth]
{username} = {password}
"""


class EmbeddedBroker:
    """A broker in a child process, which ends when this process ends, however it ends."""

    def __init__(
        self, listen: str, port: int, username: str | None = None, password: str | None = None
    ) -> None:
        self._listen, self.port = listen, port
        self._username, self._password = username, password
        self._broker: Broker | None = None

    @classmethod
    def wanted(cls, settings: BrokerSettings) -> Self | None:
        """The broker that the settings ask for; None where the broker is somebody else's."""
        if not settings.embedded:
            return None
        password = settings.password.get_secret_value() if settings.password else None
        return cls(settings.listen, settings.port, settings.username, password)

    @property
    def running(self) -> bool:
        return self._broker is not None and self._broker.is_running

    def start(self) -> None:
        """Start it and wait until it answers; IntakeError when the port is taken or it does not come up."""
        if self.running:
            return
        try:
            self._broker = self._start()
        except (OSError, RuntimeError, ValueError) as error:
            raise IntakeError(
                "the embedded broker cannot listen on {where}: {error}. "
                "If another broker runs there, set [broker] embedded = false; else choose another port",
                where=f"{self._listen}:{self.port}",
                error=error,
            ) from error

    def keep_running(self, say: Callable[[str], None]) -> None:
        """Start it again if it has ended; a start that fails is tried again with the next call."""
        if not self.running:
            say("the embedded broker has ended and is started again")
            with suppress(IntakeError):
                self.start()

    def stop(self) -> None:
        if self._broker is not None:
            self._broker.stop()
            self._broker = None

    def _start(self) -> Broker:
        # The mask is inherited: Ctrl-C goes to the whole terminal group, and the broker must outlive our
        # last words.
        before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
        try:
            if self._username is None or self._password is None:
                return self._plain().start()
            return self._with_password(self._username, self._password)
        finally:
            signal.pthread_sigmask(signal.SIG_SETMASK, before)

    def _plain(self) -> Broker:
        return Broker(
            port=self.port,
            listen=self._listen,
            max_connections=MOST_CONNECTIONS,
            max_payload_size=LARGEST_PACKET,
            max_inflight_count=MOST_IN_FLIGHT,
        )

    def _with_password(self, username: str, password: str) -> Broker:
        with tempfile.TemporaryDirectory(prefix="broker-") as folder:
            path = Path(folder) / "broker.toml"
            path.touch(mode=0o600)
            path.write_text(self._settings(username, password), encoding="utf-8")
            return Broker(config_path=str(path)).start()

    def _settings(self, username: str, password: str) -> str:
        return _WITH_PASSWORD.format(
            connections=MOST_CONNECTIONS,
            listen=self._listen,
            port=self.port,
            packet=LARGEST_PACKET,
            in_flight=MOST_IN_FLIGHT,
            username=_quoted(username),
            password=_quoted(password),
        )


def _quoted(text: str) -> str:
    escaped = "".join(
        f"\\u{ord(sign):04x}" if sign in '"\\' or ord(sign) < 32 or ord(sign) == 127 else sign
        for sign in text
    )
    return f'"{escaped}"'
