"""The server's connection, with an end to the patience for a request that never comes whole."""

from __future__ import annotations

import asyncio
from typing import Any

from uvicorn.protocols.http.h11_impl import H11Protocol

HEAD_S = 10.0


class ImpatientProtocol(H11Protocol):
    """Closes a connection whose request line and headers take longer than `head_s`."""

    head_s = HEAD_S
    _waiting: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """A new connection: its first request is due."""
        super().connection_made(transport)
        self._expect()

    def data_received(self, data: bytes) -> None:
        """Something came: the clock stops while a request is answered, and only then."""
        super().data_received(data)
        if self._is_answering():
            self._stop_waiting()
        elif self._waiting is None:
            self._expect()

    def connection_lost(self, exc: Exception | None) -> None:
        """The connection is gone."""
        self._stop_waiting()
        super().connection_lost(exc)

    def _is_answering(self) -> bool:
        cycle: Any = self.cycle
        return cycle is not None and not cycle.response_complete

    def _expect(self) -> None:
        self._waiting = self.loop.call_later(self.head_s, self._give_up)

    def _stop_waiting(self) -> None:
        if self._waiting is not None:
            self._waiting.cancel()
            self._waiting = None

    def _give_up(self) -> None:
        self._waiting = None
        if not self._is_answering() and not self.transport.is_closing():
            self.transport.close()
