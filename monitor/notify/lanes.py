"""One recipient's way out: what may be tried now, and how long to wait after refusals."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from random import Random

from monitor.errors import ChannelError
from monitor.notify.channels import Channel
from monitor.notify.sending import backoff_s
from monitor.notify.wording import Text
from monitor.records import MS_PER_HOUR, MS_PER_SECOND, OutboxMessage, Priority
from monitor.settings.schema import Recipient

TRIES_PER_TURN = 2
LONGEST_HOLD_MS = 26 * MS_PER_HOUR


def is_held(message: OutboxMessage, now_ms: int) -> bool:
    """Whether its time has not come. One held for longer than quiet hours can last is from a wrong clock."""
    return now_ms < message.not_before_ms <= now_ms + LONGEST_HOLD_MS


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

    def begin_anew(self, recipient: Recipient) -> None:
        """The recipient's entry in the settings changed, or the clock did: waiting times mean nothing now."""
        self.recipient = recipient
        self.failed, self.poison, self.tried = {}, {}, set()
        self.turns_lost = self.blocked_until_ms = 0

    def due(self, waiting: Iterable[OutboxMessage], now_ms: int) -> list[OutboxMessage]:
        """The messages to this recipient that may be tried now."""
        open_now = [one for one in waiting if self._may_try(one, now_ms)]
        if now_ms >= self.blocked_until_ms:
            return open_now
        # A new alarm of high priority is tried once even while the channel is thought to be dead.
        return [one for one in open_now if one.priority is Priority.HIGH and self._is_fresh(one)]

    def _may_try(self, message: OutboxMessage, now_ms: int) -> bool:
        number = message.message_id
        if number is None or message.recipient != self.recipient.id or is_held(message, now_ms):
            return False
        return number not in self.failed and self.poison.get(number, now_ms) <= now_ms

    def _is_fresh(self, message: OutboxMessage) -> bool:
        return message.attempts == 0 and message.message_id not in self.tried

    def note_success(self, number: int) -> bool:
        """A message went through; True when that ends an outage."""
        was_down = self.turns_lost > 0
        self.busy = False
        self.poison |= self.failed
        self.poison.pop(number, None)
        self.failed, self.tried, self.turns_lost, self.blocked_until_ms = {}, set(), 0, 0
        return was_down

    def note_refusal(self, number: int, attempt: int, now_ms: int, rng: Random) -> int:
        """A message was refused; gives its next attempt."""
        self.busy = False
        again_ms = now_ms + round(backoff_s(attempt, rng) * MS_PER_SECOND)
        self.tried.add(number)
        if number in self.poison:
            self.poison[number] = again_ms
            return again_ms
        self.failed[number] = again_ms
        if len(self.failed) >= TRIES_PER_TURN:
            self.end_turn(now_ms, rng)
        return again_ms

    def end_turn(self, now_ms: int, rng: Random) -> None:
        """Nothing left to try: after refusals, wait longer each time before all of them are tried again."""
        if self.failed and now_ms >= self.blocked_until_ms:
            self.turns_lost += 1
            self.blocked_until_ms = now_ms + round(backoff_s(self.turns_lost, rng) * MS_PER_SECOND)
        self.failed.clear()


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one hand-over; `started_ms` is when its text was made."""

    lane: Lane
    message: OutboxMessage
    started_ms: int
    error: str | None


def refusal(channel: Channel, text: Text) -> str | None:
    """None when the channel took the text, else why not; no fault of a channel ends the hand-over."""
    try:
        channel.send(text.title, text.body)
    except ChannelError as error:
        return str(error)
    except Exception as error:
        return f"the channel broke ({type(error).__name__})"
    return None
