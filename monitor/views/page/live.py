"""Tells open pages that something has changed: a bounded number of streams of server-sent events."""

from __future__ import annotations

import asyncio
import threading
from collections import Counter
from collections.abc import AsyncIterator
from contextlib import suppress

LOOK_S = 1.0
TICK_S = 20.0
LONGEST_S = 600.0
MOST_STREAMS = 24
MOST_OF_ONE = 4


class LiveFeed:
    """`note` may be called from any thread; a number says how many changes there have been."""

    def __init__(self, look_s: float = LOOK_S, tick_s: float = TICK_S, longest_s: float = LONGEST_S) -> None:
        self.look_s, self.tick_s, self.longest_s = look_s, tick_s, longest_s
        self._lock = threading.Lock()
        self._changes = 0
        self._streams: Counter[str] = Counter()
        self._closing = False

    def note(self, _event: object = None) -> None:
        """Something that a page shows has changed."""
        with self._lock:
            self._changes += 1

    def open(self) -> None:
        """Streams may begin: the server starts."""
        self._closing = False

    def close(self) -> None:
        """End all streams: the server stops."""
        self._closing = True

    def enter(self, who: str) -> bool:
        """Take a place for a stream; False when there is none."""
        with self._lock:
            if self._streams.total() >= MOST_STREAMS or self._streams[who] >= MOST_OF_ONE:
                return False
            self._streams[who] += 1
            return True

    def leave(self, who: str) -> None:
        """Give the place back."""
        with self._lock:
            self._streams[who] -= 1
            self._streams += Counter()

    async def stream(self, who: str) -> AsyncIterator[str]:
        """The text of one stream, from a place that was taken with `enter`; it ends after a while."""
        loop = asyncio.get_running_loop()
        end, seen = loop.time() + self.longest_s, self._changes
        try:
            yield "retry: 5000\n\n"
            told = loop.time()
            while loop.time() < end and not self._closing:
                await asyncio.sleep(self.look_s)
                if self._changes != seen or loop.time() - told >= self.tick_s:
                    seen, told = self._changes, loop.time()
                    yield f"event: changed\ndata: {seen}\n\n"
        finally:
            with suppress(RuntimeError):
                self.leave(who)
