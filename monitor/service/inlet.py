"""The queue between the broker's thread and the turns, bounded: a flood must not fill the memory."""

from __future__ import annotations

import logging
import time
from contextlib import suppress
from queue import Empty, Full, Queue

from monitor.errors import IntakeError
from monitor.records import IncomingMessage

log = logging.getLogger(__name__)

BATCH_MESSAGES = 500
BATCH_S = 0.25
MOST_WAITING = 4000
"""Messages that wait for a turn."""
PATIENCE_S = 10.0
"""How long the network thread waits for room; well below the keep-alive time of a connection."""


class Inlet:
    """`put` is called by the network thread, the rest by the thread of the turns.

    Some brokers send all that they kept at once, more than we asked for. While there is no room, the network
    thread waits, so that the rest stays in the broker and in the network; refusing would end the
    connection, and all of it would come again.
    """

    def __init__(self, most_waiting: int = MOST_WAITING, patience_s: float = PATIENCE_S) -> None:
        self._queue: Queue[IncomingMessage] = Queue(most_waiting)
        self._patience_s = patience_s
        self.dropped = 0

    def put(self, message: IncomingMessage) -> None:
        """Take a message over. Full: one without acknowledgement is dropped and counted, another waits."""
        acknowledged = bool(getattr(message.token, "qos", 0))
        try:
            self._queue.put(message, block=acknowledged, timeout=self._patience_s)
        except Full:
            if acknowledged:
                raise IntakeError("too many messages wait; this one stays in the broker") from None
            self._drop()

    def _drop(self) -> None:
        self.dropped += 1
        if self.dropped == 1 or self.dropped % 10_000 == 0:
            log.warning(
                "messages come faster than they can be taken in; %d sent with QoS 0 were dropped (boards "
                "should publish with QoS 1)",
                self.dropped,
            )

    def batch(self) -> list[IncomingMessage]:
        """The next batch: what arrives within 250 ms, at most 500 messages."""
        found: list[IncomingMessage] = []
        until = time.monotonic() + BATCH_S
        with suppress(Empty):
            while len(found) < BATCH_MESSAGES:
                left_s = until - time.monotonic()
                found.append(self._queue.get(timeout=left_s) if left_s > 0 else self._queue.get_nowait())
        return found

    def exactly(self, count: int, timeout_s: float) -> list[IncomingMessage]:
        """So many messages, fewer when they do not come in time."""
        found: list[IncomingMessage] = []
        with suppress(Empty):
            while len(found) < count:
                found.append(self._queue.get(timeout=timeout_s))
        return found
