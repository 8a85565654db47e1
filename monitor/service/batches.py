"""Processes one batch: take messages in, look at the clock and at requests, write, acknowledge, tell.

All of a batch is written in one transaction. While the database refuses, alarms go on from memory.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from typing import Protocol

from monitor.errors import SaidText, StoreError, sentence
from monitor.intake.payload import rejection
from monitor.notify.outbox import SafeOutbox
from monitor.notify.signals import Sounder
from monitor.records import (
    MS_PER_MINUTE,
    MS_PER_SECOND,
    AlarmRule,
    AlarmState,
    AlarmStatus,
    Ask,
    Batch,
    BoardReport,
    CommitResult,
    Excursion,
    IncomingMessage,
    NodeMessage,
    NodeStatus,
    OutboxMessage,
    Rejected,
    Transition,
)
from monitor.service.answers import Answers
from monitor.service.board_settings import BoardSettings
from monitor.service.commands import CommandDesk, carry_out
from monitor.service.ingest import MessageDecoder
from monitor.service.messages import AlarmViewBuilder, Announcer
from monitor.service.place_watch import BinWatch
from monitor.service.self_watch import SelfFacts, SelfWatch
from monitor.service.site_state import AlarmChanges, SiteState
from monitor.settings.plan import Plan
from monitor.settings.schema import Node
from monitor.store import Store

log = logging.getLogger(__name__)

RETRY_MS = 2 * MS_PER_SECOND
MOST_CARRIED = 10_000
SHORT_PATIENCE_S = 1.0
TICK_MS = 2 * MS_PER_SECOND
TELL_MS = MS_PER_MINUTE
OnEvent = Callable[[object], None]


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
        self._found_late: list[Excursion] = []
        self._left: Batch | None = None
        self._refused_ms: int | None = None
        self.fault: StoreError | None = None

    def commit(self, batch: Batch, incoming: tuple[IncomingMessage, ...]) -> CommitResult | None:
        """Write the batch with what is carried, then acknowledge; None when the database refused."""
        if self._refused_ms is not None and abs(batch.now_ms - self._refused_ms) < RETRY_MS:
            self._carry(batch)
            return None
        whole = self._with_carried(batch)
        self._left = None
        try:
            result = CommitResult() if whole == Batch(whole.now_ms) else self._write(whole)
        except StoreError as error:
            self._refused(batch if self._left is None else self._left, error)
            return None if self._left is None else CommitResult()
        self._nothing_carried()
        self.source.acknowledge(incoming)
        self._mended()
        return result

    def _nothing_carried(self) -> None:
        self._states.clear()
        self._transitions.clear()
        self._found_late.clear()

    def _with_carried(self, batch: Batch) -> Batch:
        if not (self._states or self._transitions or self._found_late):
            return batch
        states = {**self._states, **{state.alarm_id: state for state in batch.alarm_states}}
        transitions = (*self._transitions, *batch.transitions)
        found_late = (*self._found_late, *batch.found_late)
        return replace(
            batch, alarm_states=tuple(states.values()), transitions=transitions, found_late=found_late
        )

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
        total = self._store.commit(replace(batch, messages=(), statuses=(), rejected=(), reports=()))
        # States, journal rows, messages to people and outcomes are on disk: nothing of it is carried on.
        self._nothing_carried()
        self._left = Batch(batch.now_ms)
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
        reason = SaidText(
            sentence("the monitor itself could not store it ({kind})", kind=type(error).__name__)
        )
        for flagged in part.messages:
            message = flagged.message
            if message.boot is not None and message.sequence is not None:
                identity = (message.boot, message.sequence)
                named = Rejected(message.node, "", part.now_ms, reason, b"", identity)
                with suppress(Exception):
                    self._store.commit(Batch(part.now_ms, rejected=(named,)))
                    return
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
        self._found_late = [*self._found_late, *batch.found_late][-MOST_CARRIED:]
        self._outbox.memory.add(batch.outbox)

    def _mended(self) -> None:
        if self.fault is not None:
            log.warning("the database takes readings again")
            self.fault = self._refused_ms = None
            self._store.database.wait_at_most()
            self.source.listen_live(False)
            self.source.reconnect()


def _parts(batch: Batch) -> Iterator[Batch]:
    yield from (Batch(batch.now_ms, messages=(message,)) for message in batch.messages)
    yield from (Batch(batch.now_ms, statuses=(status,)) for status in batch.statuses)
    yield from (Batch(batch.now_ms, reports=(report,)) for report in batch.reports)
    yield from (Batch(batch.now_ms, rejected=(rejected,)) for rejected in batch.rejected)


@dataclass(slots=True)
class PendingBatch:
    """What one batch has gathered so far."""

    now_ms: int
    changes: AlarmChanges = field(default_factory=AlarmChanges)
    statuses: list[NodeStatus] = field(default_factory=list)
    rejected: list[Rejected] = field(default_factory=list)
    reports: dict[str, BoardReport] = field(default_factory=dict)
    asks: dict[str, Ask] = field(default_factory=dict)
    outbox: list[OutboxMessage] = field(default_factory=list)
    done: tuple[tuple[int, str], ...] = ()

    def batch(self) -> Batch:
        """All of it, to be written in one transaction."""
        return Batch(
            now_ms=self.now_ms,
            messages=tuple(self.changes.messages),
            statuses=tuple(self.statuses),
            rejected=tuple(self.rejected),
            alarm_states=tuple(self.changes.states.values()),
            transitions=tuple(self.changes.transitions),
            outbox=tuple(self.outbox),
            done_commands=self.done,
            found_late=tuple(self.changes.found_late),
            reports=tuple(self.reports.values()),
        )


@dataclass(slots=True)
class BatchProcessor:
    """Processes batches, all on one thread. The parts are given; nothing is built here."""

    store: Store
    decoder: MessageDecoder
    site: SiteState
    self_watch: SelfWatch
    bin_watch: BinWatch
    alarm_views: AlarmViewBuilder
    announcer: Announcer
    committer: Committer
    sounder: Sounder
    answers: Answers
    board_settings: BoardSettings
    desk: CommandDesk
    self_facts: Callable[[int], SelfFacts]
    on_event: OnEvent
    wake_outbox: Callable[[], None]
    last_tick_ms: int = 0
    last_tell_ms: int = 0
    taken: int = 0
    _sounded_rules: Mapping[str, AlarmRule] | None = None

    def process(self, incoming: Sequence[IncomingMessage], now_ms: int) -> None:
        """One batch; a message that breaks it is refused alone, so that it cannot block the others."""
        pending = PendingBatch(now_ms)
        for message in incoming:
            self._take(message, pending)
        self._tick(pending)
        self.finish(pending, tuple(incoming))
        self.taken += len(incoming)

    def finish(self, pending: PendingBatch, incoming: tuple[IncomingMessage, ...] = ()) -> None:
        """Plan messages, write everything in one transaction, acknowledge, and tell who listens."""
        self.alarm_views.covered = self.self_watch.silence.covered
        self.alarm_views.dead = self.self_watch.dead
        self.alarm_views.unheard = self.self_watch.unheard
        pending.outbox += self.announcer.announce(pending.changes.transitions, pending.now_ms)
        pending.done = self.desk.unwritten()
        if self.committer.commit(pending.batch(), incoming) is not None:
            self.desk.written(pending.done)
            if self.committer.fault is None:
                self.answers.give(pending.asks.values())
                self.board_settings.follow(self.site.plan.nodes, pending.reports.values(), pending.now_ms)
        self._sound(bool(pending.changes.transitions))
        if pending.outbox:
            self.wake_outbox()
        for event in pending.changes.transitions:
            self.tell(event)

    def _sound(self, changed: bool) -> None:
        """Have the sounder follow the alarms; only a change of their states or rules can switch it."""
        rules = self.site.plan.rules
        if changed or rules is not self._sounded_rules:
            self._sounded_rules = rules
            self.sounder.update(self.site.states.values(), rules)

    def tell(self, event: object) -> None:
        """Tell who listens; a listener that breaks (a closed terminal) must not end the watch."""
        try:
            self.on_event(event)
        except Exception:
            log.exception("an event could not be shown")

    def change_plan(self, plan: Plan, now_ms: int) -> None:
        """Follow changed settings and words: rules, places, boards that are new, back in service or gone."""
        old, before = self.site.plan, self.site.plan.nodes
        self.site.change_plan(plan, now_ms)
        last_seen = self.self_watch.last_seen
        last_seen.forget(name for name in before if name not in plan.nodes)
        begin = [name for name, node in plan.nodes.items() if _begins(before.get(name), node)]
        begin += old.said.boards_aside.keys() & plan.nodes.keys() - plan.said.boards_aside.keys()
        last_seen.expect(begin, now_ms)
        self.decoder.unknown_boards.count_again()

    def clock_was_set(self, now_ms: int, by_ms: int, margin_ms: int) -> None:
        """The machine's clock jumped: nobody was silent for that, and nothing waits for a far time."""
        self.last_tick_ms = self.last_tell_ms = 0
        self.self_watch.clock_was_set(by_ms)
        self.bin_watch.look_at_all(now_ms)
        if by_ms < 0:
            self.site.clock_went_back(now_ms, margin_ms, -by_ms)

    def _take(self, message: IncomingMessage, pending: PendingBatch) -> None:
        """One message; what it moved before it broke stays in the batch, so that no alarm is lost by it."""
        try:
            understood = self.decoder.take(message)
            if isinstance(understood, NodeMessage):
                flagged = self.site.take(understood, pending.now_ms, pending.changes)
                if understood.node in self.site.plan.nodes:
                    self.self_watch.last_seen.note(flagged)
            elif isinstance(understood, NodeStatus):
                pending.statuses.append(understood)
            elif isinstance(understood, Ask):
                # A board listens for the answer to its last question alone.
                pending.asks[understood.node] = understood
            elif isinstance(understood, BoardReport):
                pending.reports[understood.node] = understood
            elif isinstance(understood, Rejected):
                pending.rejected.append(understood)
        except Exception as error:
            log.exception("a message met an error of the program and is refused: %s", ascii(message.topic))
            reason = SaidText(
                sentence("the monitor itself could not handle it ({kind})", kind=type(error).__name__)
            )
            pending.rejected.append(rejection(self.decoder.board_of(message), message, reason))

    def _tick(self, pending: PendingBatch) -> None:
        if 0 <= pending.now_ms - self.last_tick_ms < TICK_MS:
            return
        self.last_tick_ms = pending.now_ms
        self._requests(pending)
        self.site.tick(pending.now_ms, pending.changes)
        self.self_watch.tick(pending.now_ms, self.self_facts(pending.now_ms), pending.changes)
        self.bin_watch.tick(pending.now_ms, pending.changes)
        if not 0 <= pending.now_ms - self.last_tell_ms < TELL_MS:
            self.last_tell_ms = pending.now_ms
            # Values and extremes of what is wrong, so that other processes see them no older than a minute.
            states = self.site.states
            pending.changes.states.update(
                (name, state) for name, state in states.items() if state.active or self.site.is_turning(state)
            )
            announced = {row.alarm_id for row in pending.changes.transitions}
            standing = (
                name
                for name, state in states.items()
                if state.status is AlarmStatus.UNACKNOWLEDGED and name not in announced
            )
            pending.outbox += self.announcer.tick(standing, pending.now_ms)

    def _requests(self, pending: PendingBatch) -> None:
        for command in self.desk.waiting():
            outcome, messages = carry_out(
                command, self.site, self.announcer.policy, pending.now_ms, pending.changes
            )
            pending.outbox += messages
            self.desk.done(command, outcome)


def _begins(before: Node | None, now: Node) -> bool:
    return not now.out_of_service and (before is None or before.out_of_service)
