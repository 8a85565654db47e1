"""The thread that hands waiting messages to their channels.

Only this thread touches the outbox; each hand-over runs in a thread of its own, one at a time per recipient,
so a dead channel holds up nobody else. A message may go out twice (a kill between hand-over and mark), never
none.
"""

from __future__ import annotations

import contextlib
import logging
import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from queue import Empty, SimpleQueue
from random import Random

from monitor.errors import ChannelError, MonitorError, StoreError
from monitor.notify.channels import Channel
from monitor.notify.outbox import IN_SUMMARY, OutboxStore
from monitor.notify.policy import Circle, LinkFor, no_link
from monitor.notify.sending import (
    Turn,
    backoff_s,
    final_text,
    is_urgent,
    next_action,
    summary_of,
    why_not,
)
from monitor.notify.wording import AlarmView, Text
from monitor.records import (
    MS_PER_HOUR,
    MS_PER_MINUTE,
    MS_PER_SECOND,
    OutboxMessage,
    Priority,
)
from monitor.settings.schema import Recipient

log = logging.getLogger(__name__)

POLL_S = 1.0
TRIES_PER_TURN = 2
GONE = "the recipient is no longer in the settings"

Look = Callable[[str], AlarmView | None]
PictureFor = Callable[[OutboxMessage], Path | None]
Launch = Callable[[Callable[[], None]], None]


def in_thread(job: Callable[[], None]) -> None:
    """Run one hand-over in a thread that does not keep the process alive."""
    threading.Thread(target=job, name="message", daemon=True).start()


def no_picture(message: OutboxMessage) -> Path | None:  # noqa: ARG001
    """Text only."""
    return None


@dataclass
class Lane:
    """What the worker remembers of one recipient; lost on restart without harm.

    `failed` are the messages refused in this turn, `poison` those refused while others went through, both
    with their next attempt: poison waits for its own, all else waits in order for `blocked_until_ms`.
    """

    recipient: Recipient
    busy: bool = False
    turns_lost: int = 0
    blocked_until_ms: int = 0
    failed: dict[int, int] = field(default_factory=dict)
    poison: dict[int, int] = field(default_factory=dict)
    tried: set[int] = field(default_factory=set)
    capped: bool = False


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one hand-over; `started_ms` is when its text was made."""

    lane: Lane
    message: OutboxMessage
    started_ms: int
    error: str | None


class OutboxWorker:
    """Sends what is due, tries again what failed, and says how long the oldest waits."""

    def __init__(
        self,
        outbox: OutboxStore,
        channels: Mapping[str, Channel],
        circle: Circle,
        look: Look,
        clock_ms: Callable[[], int],
        *,
        rng: Random | None = None,
        link_for: LinkFor = no_link,
        picture_for: PictureFor = no_picture,
        launch: Launch = in_thread,
    ) -> None:
        self._outbox, self._channels, self._circle, self._look = outbox, channels, circle, look
        self._clock_ms, self._rng = clock_ms, rng or Random()
        self._link_for, self._picture_for, self._launch = link_for, picture_for, launch
        self._lanes = {one.id: Lane(one) for one in circle.recipients}
        self._outcomes: SimpleQueue[Outcome] = SimpleQueue()
        self._marks: dict[int, Callable[[], None]] = {}
        self._wake, self._stopping = threading.Event(), threading.Event()
        self._thread: threading.Thread | None = None
        self.sent_count = self.failed_count = self.fault_count = 0

    def start(self) -> None:
        """Begin in a thread of its own."""
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

    @property
    def alive(self) -> bool:
        """Whether the thread runs."""
        return self._thread is not None and self._thread.is_alive()

    def _run(self) -> None:
        while not self._stopping.is_set():
            self._wake.clear()
            try:
                self.step(self._clock_ms())
            except Exception as error:
                # This thread must outlive any fault; the unsent-message alarm tells of one that lasts.
                self.fault_count += 1
                log.error("the outbox could not be worked on: %s", type(error).__name__)
            self._wake.wait(POLL_S)
        self._collect()

    def step(self, now_ms: int) -> None:
        """One round: note what was handed over, then start whatever may start now."""
        self._collect()
        self._mark_again()
        self._drop_strangers(now_ms)
        for lane in self._lanes.values():
            try:
                self._work(lane, now_ms)
            except StoreError as error:
                self.fault_count += 1
                log.error("messages to %s could not be worked on: %s", lane.recipient.id, error)

    def _work(self, lane: Lane, now_ms: int) -> None:
        while not lane.busy and self._advance(lane, now_ms):
            self._collect()

    def oldest_unsent_minutes(self, now_ms: int) -> float:
        """Minutes for which the oldest due message has waited; those that the cap holds do not count."""
        due = (
            max(one.created_ms, one.not_before_ms)
            for one in self._outbox.waiting()
            if not self._is_capped(one) and one.message_id not in self._marks
        )
        oldest_ms = min((at_ms for at_ms in due if at_ms <= now_ms), default=now_ms)
        return (now_ms - oldest_ms) / MS_PER_MINUTE

    def _is_capped(self, message: OutboxMessage) -> bool:
        lane = self._lanes.get(message.recipient)
        return lane is not None and lane.capped and not is_urgent(message)

    def _drop_strangers(self, now_ms: int) -> None:
        for message in self._outbox.waiting():
            if message.recipient not in self._lanes and message.message_id not in self._marks:
                self._drop(message, GONE, now_ms)

    def _advance(self, lane: Lane, now_ms: int) -> bool:
        """One move for one recipient; False when there is nothing to do for now."""
        due = self._due(lane, now_ms)
        sent = self._outbox.sent_since(lane.recipient.id, now_ms - MS_PER_HOUR)
        action = next_action(due, sent, lane.recipient.most_per_hour)
        lane.capped = bool(due) and action.send is None and not action.fold
        if action.fold:
            return self._fold(action.fold, lane, now_ms)
        if action.send is None:
            return self._end_turn(lane, now_ms)
        return self._send(action.send, lane, now_ms)

    def _due(self, lane: Lane, now_ms: int) -> list[OutboxMessage]:
        waiting = [one for one in self._outbox.waiting() if self._may_try(one, lane, now_ms)]
        if now_ms >= lane.blocked_until_ms:
            return waiting
        # A new alarm of high priority is tried once even while the channel is thought to be dead.
        return [one for one in waiting if one.priority is Priority.HIGH and self._is_fresh(one, lane)]

    @staticmethod
    def _is_fresh(message: OutboxMessage, lane: Lane) -> bool:
        return message.attempts == 0 and message.message_id not in lane.tried

    def _may_try(self, message: OutboxMessage, lane: Lane, now_ms: int) -> bool:
        number = message.message_id
        if number is None or message.recipient != lane.recipient.id or message.not_before_ms > now_ms:
            return False
        if number in self._marks or number in lane.failed:
            return False
        return lane.poison.get(number, now_ms) <= now_ms

    def _end_turn(self, lane: Lane, now_ms: int) -> bool:
        """Nothing left to try: after refusals, wait longer each time before all of them are tried again."""
        if lane.failed and now_ms >= lane.blocked_until_ms:
            lane.turns_lost += 1
            lane.blocked_until_ms = now_ms + round(backoff_s(lane.turns_lost, self._rng) * MS_PER_SECOND)
        lane.failed.clear()
        return False

    def _turn(self, message: OutboxMessage, now_ms: int) -> Turn:
        alarm_id = message.alarm_id
        if alarm_id is None:
            return Turn(message, None, (), self._circle.zone, now_ms)
        view = None
        with contextlib.suppress(MonitorError):
            view = self._look(alarm_id)
        rows = self._outbox.messages_for(alarm_id)
        link = self._link_for(message.recipient, alarm_id)
        return Turn(message, view, rows, self._circle.zone, now_ms, link)

    def _drop(self, message: OutboxMessage, reason: str, now_ms: int) -> None:
        number = message.message_id or 0
        self._mark(number, lambda: self._outbox.supersede(number, reason, now_ms))

    def _send(self, message: OutboxMessage, lane: Lane, now_ms: int) -> bool:
        turn = self._turn(message, now_ms)
        reason = why_not(turn)
        if reason:
            self._drop(message, reason, now_ms)
            return True
        lane.busy = True
        text = final_text(turn)
        self._launch(lambda: self._hand_over(lane, message, text, now_ms))
        return True

    def _fold(self, messages: tuple[OutboxMessage, ...], lane: Lane, now_ms: int) -> bool:
        """Put a summary in the place of those that are still wanted."""
        wanted = []
        for message in messages:
            reason = why_not(self._turn(message, now_ms))
            if reason:
                self._drop(message, reason, now_ms)
            else:
                wanted.append(message)
        if len(wanted) > 1:
            # The summary is kept before its parts go, so that a kill between the two tells twice, not never.
            self._outbox.add([summary_of(wanted, lane.recipient.most_per_hour, now_ms)])
            for message in wanted:
                self._drop(message, IN_SUMMARY, now_ms)
        return True

    def _hand_over(self, lane: Lane, message: OutboxMessage, text: Text, now_ms: int) -> None:
        """Runs in a thread of its own: text first, then the picture, whose failure changes nothing."""
        channel = self._channels[lane.recipient.id]
        error = _refusal(channel, text)
        if error is None:
            self._send_picture(channel, message, text)
        self._outcomes.put(Outcome(lane, message, now_ms, error))
        self._wake.set()

    def _send_picture(self, channel: Channel, message: OutboxMessage, text: Text) -> None:
        try:
            picture = self._picture_for(message)
            if picture is not None and picture.is_file():
                channel.send(text.title, "Picture", picture)
        except Exception as error:
            log.warning("the picture of a message was not taken: %s", type(error).__name__)

    def _collect(self) -> None:
        with contextlib.suppress(Empty):
            while True:
                self._note(self._outcomes.get_nowait())

    def _note(self, outcome: Outcome) -> None:
        lane, number = outcome.lane, outcome.message.message_id or 0
        lane.busy = False
        if outcome.error is None:
            self.sent_count += 1
            lane.poison |= lane.failed
            lane.poison.pop(number, None)
            lane.failed, lane.tried, lane.turns_lost, lane.blocked_until_ms = {}, set(), 0, 0
            self._mark(number, lambda: self._outbox.mark_sent(number, outcome.started_ms))
        else:
            self._note_failure(outcome, outcome.error, number)

    def _note_failure(self, outcome: Outcome, error: str, number: int) -> None:
        self.failed_count += 1
        lane, now_ms = outcome.lane, self._clock_ms()
        delay_s = backoff_s(outcome.message.attempts + 1, self._rng)
        again_ms = now_ms + round(delay_s * MS_PER_SECOND)
        lane.failed[number] = again_ms
        lane.tried.add(number)
        # A refusal that cannot be written down is remembered by the lane: the message is still tried again.
        with contextlib.suppress(StoreError):
            self._outbox.mark_failed(number, error, again_ms)
        log.warning("a message to %s was not taken: %s", lane.recipient.id, error)
        if number in lane.poison:
            lane.poison[number] = lane.failed.pop(number)
        elif len(lane.failed) >= TRIES_PER_TURN:
            self._end_turn(lane, now_ms)

    def _mark(self, number: int, mark: Callable[[], None]) -> None:
        """Write what became of a message; where the database refuses, remember it and ask again."""
        try:
            mark()
            self._marks.pop(number, None)
        except StoreError:
            self._marks[number] = mark

    def _mark_again(self) -> None:
        for number, mark in tuple(self._marks.items()):
            self._mark(number, mark)


def _refusal(channel: Channel, text: Text) -> str | None:
    """None when the channel took the text, else why not; no fault of a channel ends the hand-over."""
    try:
        channel.send(text.title, text.body)
    except ChannelError as error:
        return str(error)
    except Exception as error:
        return f"the channel broke ({type(error).__name__})"
    return None
