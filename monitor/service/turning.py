"""One turn of the service: take messages in, look at the clock and at requests, write, acknowledge, tell."""

from __future__ import annotations

import logging
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from monitor.errors import StoreError
from monitor.notify.sounder import Sounder
from monitor.records import (
    MS_PER_MINUTE,
    MS_PER_SECOND,
    AlarmStatus,
    Batch,
    IncomingMessage,
    NodeMessage,
    NodeStatus,
    OutboxMessage,
    Rejected,
)
from monitor.service.announcer import Announcer
from monitor.service.bin_watch import BinWatch
from monitor.service.committing import Committer
from monitor.service.looking import AlarmLook
from monitor.service.reading_in import ReadingIn
from monitor.service.requests import carry_out
from monitor.service.self_watch import SelfFacts, SelfWatch
from monitor.service.watch import Turn, Watch
from monitor.settings.plan import Plan
from monitor.settings.schema import Node
from monitor.store import Store

log = logging.getLogger(__name__)

TICK_MS = 2 * MS_PER_SECOND
TELL_MS = MS_PER_MINUTE
OnEvent = Callable[[object], None]


@dataclass(slots=True)
class Work:
    """What one turn has gathered so far."""

    now_ms: int
    turn: Turn = field(default_factory=Turn)
    statuses: list[NodeStatus] = field(default_factory=list)
    rejected: list[Rejected] = field(default_factory=list)
    outbox: list[OutboxMessage] = field(default_factory=list)
    done: list[tuple[int, str]] = field(default_factory=list)


@dataclass(slots=True)
class Turner:
    """Carries out turns, all on one thread. The parts are given; nothing is built here."""

    store: Store
    reading_in: ReadingIn
    watch: Watch
    self_watch: SelfWatch
    bin_watch: BinWatch
    look: AlarmLook
    announcer: Announcer
    committer: Committer
    sounder: Sounder
    self_facts: Callable[[int], SelfFacts]
    on_event: OnEvent
    wake_outbox: Callable[[], None]
    last_tick_ms: int = 0
    last_tell_ms: int = 0
    taken: int = 0

    def turn(self, incoming: Sequence[IncomingMessage], now_ms: int) -> None:
        """One turn; a message that breaks it is refused alone, so that it cannot block the others."""
        work = Work(now_ms)
        for message in incoming:
            self._take(message, work)
        self._look_around(work)
        self.finish(work, tuple(incoming))
        self.taken += len(incoming)

    def finish(self, work: Work, incoming: tuple[IncomingMessage, ...] = ()) -> None:
        """Plan messages, write everything in one transaction, acknowledge, and tell who listens."""
        self.look.covered, self.look.dead = self.self_watch.silence.covered, self.self_watch.dead
        work.outbox += self.announcer.announce(work.turn.transitions, work.now_ms)
        self.committer.commit(self._batch(work), incoming)
        self.sounder.update(self.watch.states.values(), self.watch.plan.rules)
        if work.outbox:
            self.wake_outbox()
        for event in work.turn.transitions:
            self.tell(event)

    def tell(self, event: object) -> None:
        """Tell who listens; a listener that breaks (a closed terminal) must not end the watch."""
        try:
            self.on_event(event)
        except Exception:
            log.exception("an event could not be shown")

    def change_plan(self, plan: Plan, now_ms: int) -> None:
        """Follow changed settings: rules and places, boards that are new, in service again or gone."""
        before = self.watch.plan.nodes
        self.watch.change_plan(plan, now_ms)
        heard = self.self_watch.heard
        heard.forget(name for name in before if name not in plan.nodes)
        begin = [name for name, node in plan.nodes.items() if _begins(before.get(name), node)]
        heard.expect(begin, now_ms)
        self.reading_in.strangers.count_anew()

    def clock_was_set(self, now_ms: int, by_ms: int, margin_ms: int) -> None:
        """The machine's clock jumped: nobody was silent for that, and nothing waits for a far time."""
        self.last_tick_ms = self.last_tell_ms = 0
        self.self_watch.heard.shift(by_ms)
        if by_ms < 0:
            self.watch.clock_went_back(now_ms, margin_ms)

    def _take(self, message: IncomingMessage, work: Work) -> None:
        """One message; what it moved before it broke stays in the work, so that no alarm is lost by it."""
        try:
            understood = self.reading_in.take(message)
            if isinstance(understood, NodeMessage):
                flagged = self.watch.take_one(understood, work.now_ms, work.turn)
                if understood.node in self.watch.plan.nodes:
                    self.self_watch.heard.note(flagged)
            elif isinstance(understood, NodeStatus):
                work.statuses.append(understood)
            elif isinstance(understood, Rejected):
                work.rejected.append(understood)
        except Exception as error:
            log.exception("a message met an error of the program and is refused: %s", ascii(message.topic))
            work.rejected.append(_broken(message, error))

    def _look_around(self, work: Work) -> None:
        if 0 <= work.now_ms - self.last_tick_ms < TICK_MS:
            return
        self.last_tick_ms = work.now_ms
        self._requests(work)
        self.watch.tick(work.now_ms, work.turn)
        self.self_watch.tick(work.now_ms, self.self_facts(work.now_ms), work.turn)
        self.bin_watch.tick(work.now_ms, work.turn)
        if not 0 <= work.now_ms - self.last_tell_ms < TELL_MS:
            self.last_tell_ms = work.now_ms
            # Values and extremes of what is wrong, so that other processes see them no older than a minute.
            active = {name: state for name, state in self.watch.states.items() if state.active}
            work.turn.changed.update(active)
            standing = [
                state.alarm_id
                for state in self.watch.states.values()
                if state.status is AlarmStatus.UNACKNOWLEDGED
            ]
            fresh = {row.alarm_id for row in work.turn.transitions}
            work.outbox += self.announcer.tick((one for one in standing if one not in fresh), work.now_ms)

    def _requests(self, work: Work) -> None:
        try:
            pending = self.store.commands.pending()
        except StoreError:
            return
        for command in pending:
            outcome, messages = carry_out(command, self.watch, self.announcer.circle, work.now_ms, work.turn)
            work.outbox += messages
            work.done.append((command.command_id or 0, outcome))

    def _batch(self, work: Work) -> Batch:
        return Batch(
            now_ms=work.now_ms,
            messages=tuple(work.turn.messages),
            statuses=tuple(work.statuses),
            rejected=tuple(work.rejected),
            alarm_states=tuple(work.turn.changed.values()),
            transitions=tuple(work.turn.transitions),
            outbox=tuple(work.outbox),
            done_commands=tuple(work.done),
            found_late=tuple(work.turn.found_late),
        )


def _begins(before: Node | None, now: Node) -> bool:
    """Whether a board is to be listened for from now on."""
    return not now.out_of_service and (before is None or before.out_of_service)


def _broken(message: IncomingMessage, error: Exception) -> Rejected:
    reason = f"the monitor itself could not handle it ({type(error).__name__})"
    return Rejected(None, message.topic, message.received_ms, reason, message.payload[:512])
