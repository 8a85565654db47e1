"""The queue between the broker's thread and the turns, bounded: a flood must not fill the memory."""

from __future__ import annotations

import logging
import time
from contextlib import suppress
from queue import Empty, SimpleQueue

from monitor.errors import IntakeError
from monitor.records import IncomingMessage

log = logging.getLogger(__name__)

BATCH_MESSAGES = 500
BATCH_S = 0.25
MOST_WAITING = 4000
"""Messages that wait for a turn. Those with QoS 1 cannot be so many, since the broker waits for our
acknowledgements; QoS 0 has no such brake."""


class Inlet:
    """`put` is called by the network thread, the rest by the thread of the turns."""

    def __init__(self, most_waiting: int = MOST_WAITING) -> None:
        self._queue: SimpleQueue[IncomingMessage] = SimpleQueue()
        self._most = most_waiting
        self.dropped = 0

    def put(self, message: IncomingMessage) -> None:
        """Take a message over. Full: one without acknowledgement is dropped and counted, another refused."""
        if self._queue.qsize() >= self._most:
            if getattr(message.token, "qos", 0):
                raise IntakeError("too many messages wait; this one stays in the broker")
            self.dropped += 1
            if self.dropped == 1 or self.dropped % 10_000 == 0:
                log.warning(
                    "messages come faster than they can be taken in; %d sent with QoS 0 were dropped (boards "
                    "should publish with QoS 1)",
                    self.dropped,
                )
            return
        self._queue.put(message)

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
