"""A clock that stands still until somebody moves it, and never runs backwards."""

from __future__ import annotations

import threading

from monitor.errors import UsageError


class SimulatedClock:
    """The time on the invented farm. Call it, or `now_ms`, wherever a clock is asked for."""

    def __init__(self, start_ms: int) -> None:
        self._now_ms = start_ms
        self._lock = threading.Lock()

    def __call__(self) -> int:
        """Milliseconds since 1970 UTC on the farm."""
        return self.now_ms()

    def now_ms(self) -> int:
        """Milliseconds since 1970 UTC on the farm."""
        with self._lock:
            return self._now_ms

    def advance_to(self, now_ms: int) -> None:
        """Move on to this time; going back is an error, since alarms count on time going forward."""
        with self._lock:
            if now_ms < self._now_ms:
                raise UsageError(
                    f"the simulated clock is at {self._now_ms} ms and cannot go back to {now_ms} ms"
                )
            self._now_ms = now_ms
