"""The broker that comes along, where the settings ask for it."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress

from monitor.errors import IntakeError
from monitor.intake.broker import EmbeddedBroker
from monitor.settings.schema import BrokerSettings


class OwnBroker:
    """Does nothing where the broker is somebody else's."""

    def __init__(self, settings: BrokerSettings) -> None:
        password = settings.password.get_secret_value() if settings.password else None
        wanted = settings.embedded
        self._broker = (
            EmbeddedBroker(settings.listen, settings.port, settings.username, password) if wanted else None
        )

    def start(self) -> None:
        """Start it and wait until it answers; IntakeError when it cannot."""
        if self._broker is not None:
            self._broker.start()

    def keep(self, say: Callable[[str], None]) -> None:
        """It is a process of its own; if it has ended, it is started again."""
        if self._broker is not None and not self._broker.running:
            say("the embedded broker has ended and is started again")
            with suppress(IntakeError):
                self._broker.start()

    def stop(self) -> None:
        """End it."""
        if self._broker is not None:
            self._broker.stop()
