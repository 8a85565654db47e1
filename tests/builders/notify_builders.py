"""Alarms, people and clocks for the tests of messages. Everything in them is invented."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, time, tzinfo
from zoneinfo import ZoneInfo

from pydantic import SecretStr

from monitor.errors import ChannelError
from monitor.notify.outbox import MemoryOutbox
from monitor.notify.policy import AlarmMessages, RecipientPolicy, on_tick, on_transition
from monitor.records import (
    MS_PER_HOUR,
    MS_PER_MINUTE,
    AlarmEvent,
    AlarmRule,
    AlarmState,
    AlarmStatus,
    Priority,
    Quantity,
    Side,
    Transition,
)
from monitor.settings.schema import Language, QuietHours, Recipient
from monitor.words.alarm_messages import AlarmView
from monitor.words.localizer import Localizer

GABORONE = ZoneInfo("Africa/Gaborone")
BERLIN = ZoneInfo("Europe/Berlin")
MINUTE, HOUR = MS_PER_MINUTE, MS_PER_HOUR


def at(text: str, zone: tzinfo = GABORONE, fold: int = 0) -> int:
    """Milliseconds of a local time like "2026-11-25 02:10"."""
    local = datetime.fromisoformat(text).replace(tzinfo=zone, fold=fold)
    return round(local.astimezone(UTC).timestamp() * 1000)


def words(now_ms: int, zone: tzinfo = GABORONE, language: str = "en") -> Localizer:
    """The words of a message."""
    return Localizer.plain(language, zone, now_ms)


def rule(
    priority: Priority = Priority.HIGH,
    quantity: str = Quantity.SUBSTRATE_TEMPERATURE,
    side: Side = Side.HIGH,
    setpoint: float = 42.0,
    alarm_id: str = "bin-3/substrate_temperature/high/high",
) -> AlarmRule:
    return AlarmRule(
        alarm_id=alarm_id,
        place="bin-3",
        quantity=quantity,
        side=side,
        setpoint=setpoint,
        deadband=1.0,
        on_delay_s=120.0,
        off_delay_s=300.0,
        priority=priority,
        consequence="Larvae leave the bin or die within the hour.",
        response="Spread the substrate thinner and turn it over.",
        caution="A hot bin burns skin; wear gloves.",
    )


def view(
    at_ms: int,
    status: AlarmStatus = AlarmStatus.UNACKNOWLEDGED,
    value: float = 42.6,
    of: AlarmRule | None = None,
    **known: object,
) -> AlarmView:
    used = of or rule()
    state = AlarmState(
        used.alarm_id,
        status,
        active=status in (AlarmStatus.UNACKNOWLEDGED, AlarmStatus.ACKNOWLEDGED),
        since_ms=at_ms,
        last_at_ms=at_ms,
        last_value=value,
        extreme_value=value,
    )
    return replace(AlarmView(used, state, "Bin 3"), **known)  # type: ignore[arg-type]


def with_state(seen: AlarmView, **changes: object) -> AlarmView:
    return replace(seen, state=replace(seen.state, **changes))  # type: ignore[arg-type]


def change(
    seen: AlarmView, event: AlarmEvent, before: AlarmStatus, after: AlarmStatus, at_ms: int
) -> Transition:
    used = seen.rule
    return Transition(
        used.alarm_id, used.place, used.quantity, used.priority, event, before, after, at_ms, at_ms
    )


def person(
    name: str,
    order: int = 1,
    priorities: Sequence[Priority] = (Priority.HIGH, Priority.MEDIUM),
    quiet: tuple[str, str] | None = None,
    most_per_hour: int = 6,
    address: str = "folder:///nowhere",
    language: Language | None = None,
) -> Recipient:
    hours = (
        QuietHours(start=time.fromisoformat(quiet[0]), end=time.fromisoformat(quiet[1])) if quiet else None
    )
    return Recipient(
        id=name,
        address=SecretStr(address),
        order=order,
        priorities=tuple(priorities),
        quiet_hours=hours,
        most_per_hour=most_per_hour,
        language=language,
    )


def circle(*people: Recipient, zone: tzinfo = GABORONE) -> RecipientPolicy:
    return RecipientPolicy(people, zone, escalate_after_ms=15 * MINUTE, remind_after_ms=60 * MINUTE)


class RecordingChannel:
    """Takes messages while it is up, refuses them while it is down."""

    def __init__(self, up: bool = True) -> None:
        self.up, self.got, self.tries = up, list[tuple[str, str]](), 0
        self.refused_words: tuple[str, ...] = ()

    def send(self, title: str, body: str) -> None:
        self.tries += 1
        if not self.up or any(word in title for word in self.refused_words):
            raise ChannelError("the line is dead")
        self.got.append((title, body))

    @property
    def titles(self) -> list[str]:
        return [title for title, _ in self.got]


class Farm:
    """Alarms that a test moves, with the messages that follow written to an outbox as the service does it."""

    def __init__(self, people: RecipientPolicy) -> None:
        self.policy, self.outbox, self.views = people, MemoryOutbox(), dict[str, AlarmView]()

    def look(self, alarm_id: str) -> AlarmView | None:
        return self.views.get(alarm_id)

    def _move(self, seen: AlarmView, event: AlarmEvent, before: AlarmStatus, now_ms: int) -> None:
        alarm_id = seen.rule.alarm_id
        self.views[alarm_id] = seen
        transition = change(seen, event, before, seen.state.status, now_ms)
        rows = self.outbox.messages_for(alarm_id)
        self.outbox.add(on_transition(transition, AlarmMessages(seen, self.policy, now_ms), rows))

    def raise_alarm(self, of: AlarmRule, now_ms: int, value: float = 42.6) -> None:
        self._move(view(now_ms, value=value, of=of), AlarmEvent.ACTIVATE, AlarmStatus.NORMAL, now_ms)

    def acknowledge(self, of: AlarmRule, now_ms: int, by: str = "anna") -> None:
        seen = with_state(self.views[of.alarm_id], status=AlarmStatus.ACKNOWLEDGED, acknowledged=True)
        seen = replace(seen, acknowledged_ms=now_ms, acknowledged_by=by)
        self._move(seen, AlarmEvent.ACKNOWLEDGE, AlarmStatus.UNACKNOWLEDGED, now_ms)

    def clear(self, of: AlarmRule, now_ms: int, value: float = 40.5) -> None:
        old = self.views[of.alarm_id]
        after = (
            AlarmStatus.NORMAL
            if old.state.status is AlarmStatus.ACKNOWLEDGED
            else AlarmStatus.RETURNED_UNACKNOWLEDGED
        )
        seen = replace(with_state(old, status=after, active=False, last_value=value), returned_ms=now_ms)
        self._move(seen, AlarmEvent.CLEAR, old.state.status, now_ms)

    def tick(self, now_ms: int) -> None:
        for alarm_id, seen in self.views.items():
            rows = self.outbox.messages_for(alarm_id)
            self.outbox.add(on_tick(AlarmMessages(seen, self.policy, now_ms), rows))
