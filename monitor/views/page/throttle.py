"""How often a password may be tried: few times from one address, a bounded number of times from all."""

from __future__ import annotations

import threading
from collections.abc import Callable

from monitor.records import MS_PER_MINUTE

WINDOW_MS = 15 * MS_PER_MINUTE
MOST_FROM_ONE = 5
MOST_FROM_ALL = 100
MOST_ADDRESSES = 2000
MOST_WAITING = 4


class Throttle:
    """Remembers failures of the last quarter of an hour; an address that got in before is let through."""

    def __init__(self, clock: Callable[[], int]) -> None:
        self._clock = clock
        self._failures: dict[str, list[int]] = {}
        self._trusted: dict[str, None] = {}
        self._lock = threading.Lock()
        # Checking a password takes work on purpose; only so many may wait for it at once.
        self.places = threading.BoundedSemaphore(MOST_WAITING)

    def wait_ms(self, address: str) -> int:
        """How long this address has to wait before it may try again; 0 when it may."""
        with self._lock:
            now_ms = self._clock()
            self._forget(now_ms)
            mine = self._failures.get(address, [])
            if len(mine) >= MOST_FROM_ONE:
                return mine[-MOST_FROM_ONE] + WINDOW_MS - now_ms
            everyone = sum(len(times) for times in self._failures.values())
            crowded = everyone >= MOST_FROM_ALL and address not in self._trusted
            return WINDOW_MS if crowded else 0

    def failed(self, address: str) -> None:
        """A wrong password came from there."""
        with self._lock:
            self._failures.setdefault(address, []).append(self._clock())
            while len(self._failures) > MOST_ADDRESSES:
                self._failures.pop(next(iter(self._failures)))

    def succeeded(self, address: str) -> None:
        """The right password came from there."""
        with self._lock:
            self._failures.pop(address, None)
            self._trusted[address] = None
            while len(self._trusted) > MOST_ADDRESSES:
                self._trusted.pop(next(iter(self._trusted)))

    def _forget(self, now_ms: int) -> None:
        recent = {
            address: [at_ms for at_ms in times if now_ms - at_ms < WINDOW_MS]
            for address, times in self._failures.items()
        }
        self._failures = {address: times for address, times in recent.items() if times}
