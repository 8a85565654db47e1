"""One turn, one transaction; and what happens while the database refuses."""

from __future__ import annotations

import logging
import time
from collections.abc import Callable

from monitor.errors import StoreError
from monitor.notify.outbox import SafeOutbox
from monitor.records import AlarmState, Batch, CommitResult, IncomingMessage, Transition
from monitor.store import Store

log = logging.getLogger(__name__)

RETRY_S = 10.0
MOST_CARRIED = 10_000


class Committer:
    """Writes batches and acknowledges what was written.

    While the database refuses (full disk, locked, damaged), alarms go on from memory: messages to people go
    into the outbox in memory, states and journal rows are carried to the next batch that succeeds, and
    readings stay unacknowledged in the broker, which sends them again after a reconnect.
    """

    def __init__(
        self,
        store: Store,
        outbox: SafeOutbox,
        acknowledge: Callable[[tuple[IncomingMessage, ...]], object],
        reconnect: Callable[[], None],
    ) -> None:
        self._store, self._outbox = store, outbox
        self.acknowledge, self.reconnect = acknowledge, reconnect
        self._states: dict[str, AlarmState] = {}
        self._transitions: list[Transition] = []
        self._refused_at: float | None = None
        self.fault: StoreError | None = None

    def commit(self, batch: Batch, incoming: tuple[IncomingMessage, ...]) -> CommitResult | None:
        """Write the batch with what is carried, then acknowledge; None when the database refused."""
        whole = self._with_carried(batch)
        if whole is None:
            self.acknowledge(incoming)
            return CommitResult()
        try:
            result = self._store.commit(whole)
        except StoreError as error:
            self._refused(batch, error)
            return None
        self._states.clear()
        self._transitions.clear()
        self.fault = None
        self.acknowledge(incoming)
        return result

    def _with_carried(self, batch: Batch) -> Batch | None:
        states = {**self._states, **{state.alarm_id: state for state in batch.alarm_states}}
        transitions = (*self._transitions, *batch.transitions)
        rest = (batch.messages, batch.statuses, batch.rejected, batch.outbox, batch.done_commands)
        if not states and not transitions and not any(rest):
            return None
        return Batch(
            now_ms=batch.now_ms,
            messages=batch.messages,
            statuses=batch.statuses,
            rejected=batch.rejected,
            alarm_states=tuple(states.values()),
            transitions=transitions,
            outbox=batch.outbox,
            done_commands=batch.done_commands,
        )

    def _refused(self, batch: Batch, error: StoreError) -> None:
        if self.fault is None:
            log.error("the database refuses: %s", error)
        self.fault = error
        self._states.update((state.alarm_id, state) for state in batch.alarm_states)
        self._transitions = [*self._transitions, *batch.transitions][-MOST_CARRIED:]
        self._outbox.memory.add(batch.outbox)
        now = time.monotonic()
        if self._refused_at is None or now - self._refused_at >= RETRY_S:
            self._refused_at = now
            self.reconnect()
