"""Turns changes of alarms and the passing of time into messages, by the rows already written."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from monitor.notify.outbox import OutboxStore, told_rows
from monitor.notify.policy import Circle, LinkFor, no_link, on_tick, on_transition
from monitor.notify.wording import AlarmView
from monitor.records import MS_PER_DAY, OutboxMessage, Transition

LOOK_BACK_MS = 40 * MS_PER_DAY

Look = Callable[[str], AlarmView | None]


class Announcer:
    """Gives the messages that belong into the next transaction; it writes nothing itself."""

    def __init__(self, outbox: OutboxStore, circle: Circle, look: Look, link_for: LinkFor = no_link) -> None:
        self._outbox, self._circle, self._look, self._link_for = outbox, circle, look, link_for

    def announce(self, transitions: Sequence[Transition], now_ms: int) -> tuple[OutboxMessage, ...]:
        """Messages for the changes of one batch, in their order; those of one change see the ones before."""
        messages: list[OutboxMessage] = []
        for transition in transitions:
            view = self._look(transition.alarm_id)
            if view is not None:
                rows = self._rows(transition.alarm_id, now_ms, messages)
                messages += on_transition(transition, view, rows, self._circle, now_ms, self._link_for)
        return tuple(messages)

    def tick(self, alarm_ids: Iterable[str], now_ms: int) -> tuple[OutboxMessage, ...]:
        """Escalations and reminders due now; to be called once a minute with the unacknowledged alarms."""
        messages: list[OutboxMessage] = []
        for alarm_id in alarm_ids:
            view = self._look(alarm_id)
            if view is not None:
                rows = self._rows(alarm_id, now_ms, ())
                messages += on_tick(view, rows, self._circle, now_ms, self._link_for)
        return tuple(messages)

    def _rows(self, alarm_id: str, now_ms: int, fresh: Iterable[OutboxMessage]) -> tuple[OutboxMessage, ...]:
        written = told_rows(self._outbox.history(now_ms - LOOK_BACK_MS, alarm_id))
        return (*written, *(one for one in fresh if one.alarm_id == alarm_id))
