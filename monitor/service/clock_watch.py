"""The machine's own clock: whether it is set at all, and when it was set anew while we run.

A small computer without a battery clock starts in the past, and without internet nobody corrects it; one
whose clock was wrong once is set by hours or years. A delay that counts on the wall clock would then end at
once, or never.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from threading import Event

from monitor.intake.node_clock import EARLIEST_CLOCK_MS, clock_is_set
from monitor.records import MS_PER_SECOND

LEAST_JUMP_MS = 30 * MS_PER_SECOND
LONGEST_WAIT_S = 600.0
POLL_S = 2.0


class ClockWatch:
    """Compares the wall clock with the steady one."""

    def __init__(self, clock_ms: Callable[[], int], steady_s: Callable[[], float] = time.monotonic) -> None:
        self._clock_ms, self._steady_s = clock_ms, steady_s
        self._wall_ms, self._steady_ms = clock_ms(), steady_s() * MS_PER_SECOND

    def jump_ms(self, now_ms: int) -> int:
        """By how much the clock was set since the last call: ahead above 0, back below, 0 if it was not."""
        steady_ms = self._steady_s() * MS_PER_SECOND
        jump = round((now_ms - self._wall_ms) - (steady_ms - self._steady_ms))
        self._wall_ms, self._steady_ms = now_ms, steady_ms
        return jump if abs(jump) >= LEAST_JUMP_MS else 0

    def wait(self, last_known_ms: int | None, stopping: Event, say: Callable[[str], None]) -> bool:
        """Wait until the clock is set; gives whether there was anything to wait for.

        A clock behind our last sign of life is waited for ten minutes at most: without internet nobody sets
        it, and a farm that is guarded by a clock some hours late is better off than one that is not. A clock
        from before this program was written is waited for without end.
        """
        began_s, waited = self._steady_s(), False
        while not clock_is_set(self._clock_ms(), last_known_ms) and not stopping.is_set():
            if not waited:
                say("the clock of this computer is not set yet; readings wait in the broker")
            waited = True
            is_plausible = self._clock_ms() >= EARLIEST_CLOCK_MS
            if is_plausible and self._steady_s() - began_s >= LONGEST_WAIT_S:
                say(
                    "the clock of this computer is behind the last sign of life of the monitor and nobody "
                    "sets it; guarding goes on by this clock. To mend: set the clock, or give the computer "
                    "internet or a battery clock"
                )
                break
            stopping.wait(POLL_S)
        self.jump_ms(self._clock_ms())
        return waited
