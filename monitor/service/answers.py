"""Answers boards that ask: what time it is, and which of their packs are stored.

Given after the commit of all that came before the question, and only then: a board deletes what it is told is
stored. While the database refuses, nobody is answered. While the clock of this machine is not to be trusted,
the answer holds no time.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Protocol

from monitor.errors import StoreError
from monitor.intake.board_talk import answer
from monitor.intake.payload import TIME, Topics
from monitor.records import MS_PER_MINUTE, Ask

log = logging.getLogger(__name__)

OLDEST_MS = MS_PER_MINUTE
"""Own choice: a question that waited so long here (or across a jump of the clock) is not answered."""


class Known(Protocol):
    """What the answers ask of the store."""

    def done(self, node: str, boot: int, first: int, last: int) -> int:
        """The highest sequence up to which every pack from `first` on is dealt with; below it: none is."""


@dataclass(frozen=True, slots=True)
class Answers:
    """Sends the answers of one batch."""

    known: Known
    publish: Callable[..., object]
    topics: Topics
    clock_ms: Callable[[], int]
    clock_is_trusted: Callable[[int], bool]

    def give(self, asks: Iterable[Ask]) -> None:
        """Answer each board once; it asks again where we cannot."""
        for ask in asks:
            try:
                self._answer(ask)
            except StoreError as error:
                log.warning("a board that asks is not answered: %s", error)

    def _answer(self, ask: Ask) -> None:
        done = None
        if ask.boot is not None and ask.first is not None and ask.last is not None:
            done = self.known.done(ask.node, ask.boot, ask.first, ask.last)
        now_ms = self.clock_ms()
        if not 0 <= now_ms - ask.received_ms <= OLDEST_MS:
            return
        # The board dates the answer at the middle between question and answer, so ours is the middle too.
        middle_ms = (ask.received_ms + now_ms) // 2
        time_ms = middle_ms if self.clock_is_trusted(now_ms) else None
        self.publish(self.topics.of(ask.node, TIME), answer(ask, time_ms, done), qos=0)
