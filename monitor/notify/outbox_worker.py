"""The thread that hands waiting messages to their channels.

Only this thread touches the outbox; each hand-over runs in a thread of its own, one at a time per recipient,
so a dead channel holds up nobody else. A message may go out twice (a kill between hand-over and mark), never
none.
"""

from __future__ import annotations

import contextlib
import logging
import threading
import time
from collections.abc import Callable, Iterable, Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field, replace
from queue import Empty, SimpleQueue
from random import Random

from monitor.errors import ChannelBusy, ChannelError, MonitorError, Sentence, StoreError
from monitor.notify.channels import Channel, PushChannel, Pushed
from monitor.notify.delivery import (
    DeliveryContext,
    backoff_s,
    final_text,
    is_urgent,
    next_action,
    pushed,
    repeats,
    summary_of,
    why_not,
)
from monitor.notify.outbox import IN_SUMMARY, OutboxStore
from monitor.notify.policy import LinkFor, RecipientPolicy, no_link, person_of, phone_of
from monitor.records import MS_PER_HOUR, MS_PER_MINUTE, MS_PER_SECOND, OutboxMessage, Priority
from monitor.settings.schema import Recipient
from monitor.store.kept_sentences import packed
from monitor.words.alarm_messages import AlarmView, Text

log = logging.getLogger(__name__)

POLL_S = 1.0
LAST_MOMENT_S = 3.0
GONE = "the recipient is no longer in the settings"
TRIES_PER_ROUND = 2
LONGEST_HOLD_MS = 26 * MS_PER_HOUR

ViewOf = Callable[[str], AlarmView | None]
Launch = Callable[[Callable[[], None]], None]


def is_held(message: OutboxMessage, now_ms: int) -> bool:
    """Whether its time has not come. One held for longer than quiet hours can last is from a wrong clock."""
    return now_ms < message.not_before_ms <= now_ms + LONGEST_HOLD_MS


@dataclass
class RecipientQueue:
    """What the worker remembers of one recipient; lost on restart without harm.

    `failed` are the messages refused in this round, `poison` those refused while others went through, both
    with their next attempt: poison waits for its own, all else waits in order for `blocked_until_ms`.
    """

    recipient: Recipient
    busy: bool = False
    rounds_lost: int = 0
    blocked_until_ms: int = 0
    failed: dict[int, int] = field(default_factory=dict)
    poison: dict[int, int] = field(default_factory=dict)
    tried: set[int] = field(default_factory=set)
    capped: bool = False

    def restart(self, recipient: Recipient) -> None:
        """The recipient's entry in the settings changed, or the clock did: waiting times mean nothing now."""
        self.recipient = recipient
        self.failed, self.poison, self.tried = {}, {}, set()
        self.rounds_lost = self.blocked_until_ms = 0

    def due(self, waiting: Iterable[OutboxMessage], now_ms: int) -> list[OutboxMessage]:
        """The messages to this recipient that may be tried now."""
        allowed = [message for message in waiting if self._may_try(message, now_ms)]
        if now_ms >= self.blocked_until_ms:
            return allowed
        # A new alarm of high priority is tried once even while the channel is thought to be dead.
        return [
            message for message in allowed if message.priority is Priority.HIGH and self._is_fresh(message)
        ]

    def _may_try(self, message: OutboxMessage, now_ms: int) -> bool:
        number = message.message_id
        if number is None or message.recipient != self.recipient.id or is_held(message, now_ms):
            return False
        return number not in self.failed and self.poison.get(number, now_ms) <= now_ms

    def _is_fresh(self, message: OutboxMessage) -> bool:
        return message.attempts == 0 and message.message_id not in self.tried

    def note_success(self, number: int) -> bool:
        """A message went through; True when that ends an outage."""
        was_down = self.rounds_lost > 0
        self.busy = False
        self.poison |= self.failed
        self.poison.pop(number, None)
        self.failed, self.tried, self.rounds_lost, self.blocked_until_ms = {}, set(), 0, 0
        return was_down

    def note_refusal(self, number: int, attempt: int, now_ms: int, rng: Random, wait_ms: int = 0) -> int:
        """A message was refused; gives its next attempt. With `wait_ms` the channel takes none before."""
        self.busy = False
        again_ms = now_ms + max(wait_ms, round(backoff_s(attempt, rng) * MS_PER_SECOND))
        if wait_ms:
            self.blocked_until_ms = max(self.blocked_until_ms, now_ms + wait_ms)
        self.tried.add(number)
        if number in self.poison:
            self.poison[number] = again_ms
            return again_ms
        self.failed[number] = again_ms
        if len(self.failed) >= TRIES_PER_ROUND:
            self.end_round(now_ms, rng)
        return again_ms

    def forget_all_but(self, waiting: AbstractSet[int]) -> None:
        """What is over by another way than this channel (superseded, folded, gone) is remembered no more."""
        for known in (self.failed, self.poison):
            for number in known.keys() - waiting:
                del known[number]
        self.tried &= waiting

    def end_round(self, now_ms: int, rng: Random) -> None:
        """Nothing left to try: after refusals, wait longer each time before all of them are tried again."""
        if self.failed and now_ms >= self.blocked_until_ms:
            self.rounds_lost += 1
            self.blocked_until_ms = now_ms + round(backoff_s(self.rounds_lost, rng) * MS_PER_SECOND)
        self.failed.clear()


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one hand-over; `started_ms` is when its text was made."""

    queue: RecipientQueue
    message: OutboxMessage
    started_ms: int
    error: Sentence | None
    wait_ms: int = 0


def refusal(channel: Channel, text: Text, about: Pushed) -> ChannelError | None:
    """None when the channel took the text, else why not; no fault of a channel ends the hand-over."""
    try:
        if isinstance(channel, PushChannel):
            channel.push(text, about)
        else:
            channel.send(text.title, text.body)
    except ChannelError as error:
        return error
    except Exception as error:
        return ChannelError("the channel broke ({kind})", kind=type(error).__name__)
    return None


def in_thread(job: Callable[[], None]) -> None:
    """Run one hand-over in a thread that does not keep the process alive."""
    threading.Thread(target=job, name="message", daemon=True).start()


class OutboxWorker:
    """Sends what is due, tries again what failed, and says how long the oldest waits."""

    def __init__(
        self,
        outbox: OutboxStore,
        channels: Mapping[str, Channel],
        policy: RecipientPolicy,
        view_of: ViewOf,
        clock_ms: Callable[[], int],
        *,
        rng: Random | None = None,
        link_for: LinkFor = no_link,
        launch: Launch = in_thread,
    ) -> None:
        self._outbox, self._channels, self._policy, self._view_of = outbox, channels, policy, view_of
        self._clock_ms, self._rng = clock_ms, rng or Random()
        self._link_for, self._launch = link_for, launch
        self._queues = {person.id: RecipientQueue(person) for person in policy.recipients}
        self._outcomes: SimpleQueue[Outcome] = SimpleQueue()
        self._marks: dict[int, Callable[[], None]] = {}
        self._finished: set[int] = set()
        self._people: tuple[RecipientPolicy, Mapping[str, Channel]] | None = None
        self._wake, self._stopping = threading.Event(), threading.Event()
        self._thread: threading.Thread | None = None

    def start(self) -> None:
        self._thread = threading.Thread(target=self._run, name="outbox", daemon=True)
        self._thread.start()

    def stop(self, timeout_s: float = 5.0) -> None:
        """End the thread; what is being handed over is given a moment to finish and be marked."""
        self._stopping.set()
        self._wake.set()
        if self._thread is not None:
            self._thread.join(timeout_s)

    def wake(self) -> None:
        """Look at once: something new was written."""
        self._wake.set()

    def change(self, policy: RecipientPolicy, channels: Mapping[str, Channel] | None = None) -> None:
        """Follow other people and addresses from the next round on; any thread may call it.

        The thread goes on, so what is being handed over is still noted and never sent twice. Waiting times
        after refusals are forgotten: an address that was mended is tried at once.
        """
        self._people = policy, self._channels if channels is None else channels
        self._wake.set()

    def _follow(self) -> None:
        people, self._people = self._people, None
        if people is None:
            return
        self._policy, self._channels = people
        known, self._queues = self._queues, {}
        for person in self._policy.recipients:
            queue = self._queues[person.id] = known.get(person.id) or RecipientQueue(person)
            queue.restart(person)

    @property
    def policy(self) -> RecipientPolicy:
        """The people as they are known, or will be from the next round on."""
        return self._people[0] if self._people else self._policy

    @property
    def alive(self) -> bool:
        return self._thread is not None and self._thread.is_alive()

    def _run(self) -> None:
        while not self._stopping.is_set():
            self._wake.clear()
            try:
                self.step(self._clock_ms())
            except Exception as error:
                # This thread must outlive any fault; the unsent-message alarm tells of one that lasts.
                log.error("the outbox could not be worked on: %s", type(error).__name__)
            self._wake.wait(POLL_S)
        self._finish_up()

    def _finish_up(self) -> None:
        """Give what is being handed over a moment, so that it is noted and not sent again after a restart."""
        until = time.monotonic() + LAST_MOMENT_S
        self._collect()
        while any(queue.busy for queue in self._queues.values()) and time.monotonic() < until:
            self._wake.clear()
            self._collect()
            self._wake.wait(POLL_S / 10)

    def step(self, now_ms: int) -> None:
        """One round: note what was handed over, then start whatever may start now."""
        self._follow()
        self._collect()
        for number, mark in tuple(self._marks.items()):
            self._mark(number, mark)
        self._drop_departed(now_ms)
        self._forget_what_is_over()
        for queue in self._queues.values():
            try:
                while not queue.busy and self._advance(queue, now_ms):
                    self._collect()
            except StoreError as error:
                log.error("messages to %s could not be worked on: %s", queue.recipient.id, error)

    def _forget_what_is_over(self) -> None:
        remembering = [queue for queue in self._queues.values() if queue.tried or queue.poison]
        if remembering or self._finished:
            waiting = {message.message_id or 0 for message in self._outbox.waiting()}
            # One whose end the outbox does not know, or has forgotten, must not go out again.
            self._finished &= waiting | self._marks.keys()
            for queue in remembering:
                queue.forget_all_but(waiting)

    def oldest_unsent_minutes(self, now_ms: int) -> float:
        """Minutes for which the oldest due message has waited; those that the cap holds do not count."""
        due = (
            max(message.created_ms, message.not_before_ms)
            for message in self._waiting()
            if not self._is_capped(message)
        )
        oldest_ms = min((at_ms for at_ms in due if at_ms <= now_ms), default=now_ms)
        return (now_ms - oldest_ms) / MS_PER_MINUTE

    def _waiting(self) -> list[OutboxMessage]:
        """What waits; a message whose end could not be written yet does not."""
        return [message for message in self._outbox.waiting() if message.message_id not in self._finished]

    def _is_capped(self, message: OutboxMessage) -> bool:
        queue = self._queues.get(message.recipient)
        return queue is not None and queue.capped and not is_urgent(message)

    def _drop_departed(self, now_ms: int) -> None:
        for message in self._waiting():
            if message.recipient not in self._queues:
                self._carry_over(message)
                self._drop(message, GONE, now_ms)

    def _carry_over(self, message: OutboxMessage) -> None:
        """Who has no address but phones loses nothing when the first one comes, or the last one goes.

        Other people have the same message by their address already.
        """
        others = [
            queue.recipient
            for way, queue in self._queues.items()
            if person_of(way) == person_of(message.recipient) and queue.recipient.by_page_alone
        ]
        came, last = phone_of(message.recipient) is None, not any(phone_of(way.id) for way in others)
        if others and (came or last):
            fresh = replace(message, message_id=None, attempts=0, next_attempt_ms=0, last_error="")
            self._outbox.add([replace(fresh, recipient=way.id) for way in others])

    def _advance(self, queue: RecipientQueue, now_ms: int) -> bool:
        due = queue.due(self._waiting(), now_ms)
        sent = self._outbox.sent_since(queue.recipient.id, now_ms - MS_PER_HOUR)
        action = next_action(due, sent, queue.recipient.most_per_hour)
        queue.capped = bool(due) and action.send is None and not action.fold
        if action.fold:
            return self._fold(action.fold, queue, now_ms)
        if action.send is None:
            queue.end_round(now_ms, self._rng)
            return False
        return self._send(action.send, queue, now_ms)

    def _context(self, message: OutboxMessage, queue: RecipientQueue, now_ms: int) -> DeliveryContext:
        alarm_id, words = message.alarm_id, self._policy.words(queue.recipient, now_ms)
        if alarm_id is None:
            return DeliveryContext(message, None, (), words)
        view = None
        with contextlib.suppress(MonitorError):
            view = self._view_of(alarm_id)
        rows = self._outbox.messages_for(alarm_id)
        link, path = self._link_for(message.recipient, alarm_id), ""
        if phone_of(message.recipient) is not None:
            link, path = "", link
        return DeliveryContext(message, view, rows, words, link, path)

    def _drop(self, message: OutboxMessage, reason: str, now_ms: int) -> None:
        number = message.message_id or 0
        self._mark(number, lambda: self._outbox.supersede(number, reason, now_ms))

    def _send(self, message: OutboxMessage, queue: RecipientQueue, now_ms: int) -> bool:
        context = self._context(message, queue, now_ms)
        reason = why_not(context)
        if reason:
            self._drop(message, reason, now_ms)
            return True
        queue.busy = True
        text, channel = final_text(context), self._channels[queue.recipient.id]
        self._launch(lambda: self._hand_over(channel, queue, context, text))
        return True

    def _fold(self, messages: tuple[OutboxMessage, ...], queue: RecipientQueue, now_ms: int) -> bool:
        wanted: list[OutboxMessage] = []
        for message in messages:
            context = self._context(message, queue, now_ms)
            reason = why_not(context) or repeats(message, wanted)
            if reason:
                self._drop(message, reason, now_ms)
            else:
                text = final_text(context)
                wanted.append(replace(message, title=text.title, body=text.body))
        words = self._policy.words(queue.recipient, now_ms)
        if len(wanted) > 1:
            # The summary is kept before its parts go, so that a kill between the two tells twice, not never.
            self._outbox.add([summary_of(wanted, queue.recipient.most_per_hour, words)])
            for message in wanted:
                self._drop(message, IN_SUMMARY, now_ms)
        return True

    def _hand_over(
        self, channel: Channel, queue: RecipientQueue, context: DeliveryContext, text: Text
    ) -> None:
        error = refusal(channel, text, pushed(context))
        wait_ms = round(error.wait_s * MS_PER_SECOND) if isinstance(error, ChannelBusy) else 0
        said = error.said if error is not None else None
        self._outcomes.put(Outcome(queue, context.message, context.now_ms, said, wait_ms))
        self._wake.set()

    def _collect(self) -> None:
        with contextlib.suppress(Empty):
            while True:
                self._note(self._outcomes.get_nowait())

    def _note(self, outcome: Outcome) -> None:
        number = outcome.message.message_id or 0
        if outcome.error is not None:
            self._note_refusal(outcome, outcome.error, number)
            return
        if outcome.queue.note_success(number):
            log.info("messages to %s go out again", outcome.queue.recipient.id)
        self._mark(number, lambda: self._outbox.mark_sent(number, outcome.started_ms))

    def _note_refusal(self, outcome: Outcome, error: Sentence, number: int) -> None:
        queue = outcome.queue
        # One line for an outage, not one for each try.
        level = logging.DEBUG if queue.rounds_lost else logging.WARNING
        log.log(level, "a message to %s was not taken: %s", queue.recipient.id, error)
        attempt = outcome.message.attempts + 1
        again_ms = queue.note_refusal(number, attempt, self._clock_ms(), self._rng, outcome.wait_ms)
        # A refusal that cannot be written down is remembered by the queue: the message is still tried again.
        with contextlib.suppress(StoreError):
            self._outbox.mark_failed(number, packed(error), again_ms)

    def _mark(self, number: int, mark: Callable[[], None]) -> None:
        """Write the end of a message; where the database refuses, ask again later. It is never sent twice."""
        self._finished.add(number)
        try:
            mark()
            self._marks.pop(number, None)
        except StoreError:
            self._marks[number] = mark
