"""One turn, one transaction; and what happens while the database refuses."""

from __future__ import annotations

import logging
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Protocol

from monitor.errors import StoreError
from monitor.notify.outbox import SafeOutbox
from monitor.records import (
    MS_PER_SECOND,
    AlarmState,
    Batch,
    CommitResult,
    IncomingMessage,
    Rejected,
    Transition,
)
from monitor.store import Store

log = logging.getLogger(__name__)

RETRY_MS = 2 * MS_PER_SECOND
MOST_CARRIED = 10_000
SHORT_PATIENCE_S = 1.0


class Source(Protocol):
    """What the committer asks of the connection to the broker."""

    def acknowledge(self, messages: Sequence[IncomingMessage]) -> object:
        """These are safe."""

    def reconnect(self) -> None:
        """Have sent again what was not acknowledged."""

    def listen_live(self, wanted: bool) -> None:
        """Begin or end to take in what comes now, beside what waits for an acknowledgement."""


class Committer:
    """Writes batches and acknowledges what was written.

    While the database refuses (full disk, locked, damaged), alarms go on from memory: messages to people go
    into the outbox in memory, states and journal rows are carried to the next batch that succeeds, and
    readings stay unacknowledged in the broker, which sends them again after the reconnect at the end. Since a
    broker sends only so many unacknowledged ones, the alarms see the present through a live connection.
    """

    def __init__(self, store: Store, outbox: SafeOutbox, source: Source) -> None:
        self._store, self._outbox, self.source = store, outbox, source
        self._states: dict[str, AlarmState] = {}
        self._transitions: list[Transition] = []
        self._refused_ms: int | None = None
        self.fault: StoreError | None = None

    def commit(self, batch: Batch, incoming: tuple[IncomingMessage, ...]) -> CommitResult | None:
        """Write the batch with what is carried, then acknowledge; None when the database refused."""
        if self._is_too_soon(batch.now_ms):
            self._carry(batch)
            return None
        whole = self._with_carried(batch)
        try:
            result = CommitResult() if _is_empty(whole) else self._write(whole)
        except StoreError as error:
            self._refused(batch, error)
            return None
        self._states.clear()
        self._transitions.clear()
        self.source.acknowledge(incoming)
        self._mended()
        return result

    def _is_too_soon(self, now_ms: int) -> bool:
        return self._refused_ms is not None and abs(now_ms - self._refused_ms) < RETRY_MS

    def _with_carried(self, batch: Batch) -> Batch:
        if not self._states and not self._transitions:
            return batch
        states = {**self._states, **{state.alarm_id: state for state in batch.alarm_states}}
        transitions = (*self._transitions, *batch.transitions)
        return replace(batch, alarm_states=tuple(states.values()), transitions=transitions)

    def _write(self, batch: Batch) -> CommitResult:
        try:
            return self._store.commit(batch)
        except Exception as error:
            if isinstance(error, StoreError) and type(error) is not StoreError:
                raise
            log.exception("a batch could not be written; its parts are written singly")
        return self._write_singly(batch)

    def _write_singly(self, batch: Batch) -> CommitResult:
        """What the database cannot take for what it is must not keep everything else from being written."""
        total = self._store.commit(replace(batch, messages=(), statuses=(), rejected=()))
        for part in _parts(batch):
            try:
                done = self._store.commit(part)
            except Exception as error:
                if isinstance(error, StoreError) and type(error) is not StoreError:
                    raise
                log.exception("a message that cannot be stored is refused")
                self._note_refusal(part, error)
                continue
            total = replace(total, stored=total.stored + done.stored)
        return total

    def _note_refusal(self, part: Batch, error: Exception) -> None:
        reason = f"the monitor itself could not store it ({type(error).__name__})"
        rejected = Rejected(None, "", part.now_ms, reason, b"")
        self._store.commit(Batch(part.now_ms, rejected=(rejected,)))

    def _refused(self, batch: Batch, error: StoreError) -> None:
        if self.fault is None:
            log.error("the database refuses: %s", error)
            self.source.listen_live(True)
            self._store.database.wait_at_most(SHORT_PATIENCE_S)
        self.fault, self._refused_ms = error, batch.now_ms
        self._carry(batch)

    def _carry(self, batch: Batch) -> None:
        self._states.update((state.alarm_id, state) for state in batch.alarm_states)
        self._transitions = [*self._transitions, *batch.transitions][-MOST_CARRIED:]
        self._outbox.memory.add(batch.outbox)

    def _mended(self) -> None:
        if self.fault is not None:
            log.warning("the database takes readings again")
            self.fault = self._refused_ms = None
            self._store.database.wait_at_most()
            self.source.listen_live(False)
            self.source.reconnect()


def _is_empty(batch: Batch) -> bool:
    alarms = (batch.alarm_states, batch.transitions, batch.outbox, batch.done_commands, batch.found_late)
    return not any((batch.messages, batch.statuses, batch.rejected, *alarms))


def _parts(batch: Batch) -> Iterator[Batch]:
    yield from (Batch(batch.now_ms, messages=(message,)) for message in batch.messages)
    yield from (Batch(batch.now_ms, statuses=(status,)) for status in batch.statuses)
    yield from (Batch(batch.now_ms, rejected=(rejected,)) for rejected in batch.rejected)
