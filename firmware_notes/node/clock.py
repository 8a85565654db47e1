"""What time it is, and where that is from: the monitor, the clock chip, the chip's own clock that ran on.

Whole numbers throughout: floats have 32 bits on these chips, which is minutes wide for a Unix time.
Uptime counts from power-on and runs on over deep sleep; Unix time is uptime plus `offset_ms`.
"""

import json
import os

from micropython import const

_FIRST_MS = const(1735689600000)  # 2025-01-01, the year of the first build: nobody's clock is right before it
_LAST_MS = const(4102444800000)  # 2100-01-01: the clock chip counts two digits of the year
_DAY_MS = const(86400000)
_LATE_MS = const(60000)  # choice: an answer that took longer says little about now
_SAME_MS = const(60000)  # choice: two answers that say the same
_DRIFT_MS = const(2000)  # choice: from here on the clock chip is set anew; its own step is a second


class Clock:
    """`before_ms`: uptime of this boot when this wake began; `chip`: a sensors.Ds3231."""

    def __init__(self, board, before_ms=0, chip=None):
        self.board = board
        self.before_ms = before_ms
        self.chip = chip
        self.offset_ms = self.asked_ms = None
        self.doubt = None  # an offset more than a day off, said once
        self.source = "none"
        self.id = int.from_bytes(os.urandom(2), "big")
        for source, unix_s in (("kept", board.now_s()), ("chip", chip and chip.read())):
            if unix_s and _FIRST_MS <= int(unix_s) * 1000 < _LAST_MS:
                # It tells whole seconds: half of one has passed, on average.
                self.offset_ms = int(unix_s) * 1000 + 500 - self.uptime_ms()
                self.source = source

    def uptime_ms(self):
        return self.before_ms + self.board.ticks_ms()

    def now_s(self):
        """(second, is it Unix time?): uptime while no time is known."""
        known = self.offset_ms is not None
        return (self.uptime_ms() + (self.offset_ms if known else 0)) // 1000, known

    def question(self, boot=None, first=None, last=None):
        """The payload of `ask`. Only the answer to the last one counts."""
        self.id = self.id % 1000000 + 1
        self.asked_ms = self.uptime_ms()
        said = {"id": self.id}
        if first is not None:
            said.update({"boot": boot, "first": first, "last": last})
        return json.dumps(said)

    def answer(self, payload):
        """Take the time from an answer and hand it on as a dict; None where we asked no such thing."""
        now = self.uptime_ms()
        try:
            said = json.loads(payload)
            if self.asked_ms is None or said["id"] != self.id or now - self.asked_ms > _LATE_MS:
                return None
        except (ValueError, KeyError, TypeError):
            return None
        unix_ms = said.get("unix_ms")
        middle = (self.asked_ms + now) // 2
        self.asked_ms = None
        if type(unix_ms) is int and _FIRST_MS <= unix_ms < _LAST_MS:
            self._take(unix_ms - middle)
        return said

    def _take(self, offset_ms):
        known = self.offset_ms
        if known is not None and abs(offset_ms - known) > _DAY_MS:
            doubt, self.doubt = self.doubt, offset_ms
            if doubt is None or abs(offset_ms - doubt) > _SAME_MS:
                return
        self.doubt = None
        self.offset_ms = offset_ms
        self.source = "monitor"
        now_s = (self.uptime_ms() + offset_ms + 500) // 1000
        self.board.set_now_s(now_s)
        if self.chip:
            said = self.chip.read()
            if said is None or abs(int(said) - now_s) * 1000 > _DRIFT_MS:
                try:
                    self.chip.write(now_s)
                except OSError:
                    pass  # it is silent; its fault is told by who opened it
