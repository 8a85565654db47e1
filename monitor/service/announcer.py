"""From changes of alarms and the passing of time to messages, by what was told before."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from monitor.notify.outbox import OutboxStore
from monitor.notify.policy import Circle, LinkFor, no_link, on_tick, on_transition
from monitor.records import AlarmEvent, OutboxMessage, Transition
from monitor.service.looking import AlarmLook


class Announcer:
    """Gives the messages that belong into the next transaction; it writes nothing itself."""

    def __init__(
        self, outbox: OutboxStore, circle: Circle, look: AlarmLook, link_for: LinkFor = no_link
    ) -> None:
        self._outbox, self.circle, self._look, self._link_for = outbox, circle, look, link_for

    def announce(self, transitions: Sequence[Transition], now_ms: int) -> list[OutboxMessage]:
        """Messages for the changes of one turn, in their order; each sees what those before called for."""
        self._look.remember(transitions)
        found: list[OutboxMessage] = []
        for row in transitions:
            view = self._look(row.alarm_id)
            if view is not None and (row.announces or row.event is AlarmEvent.CLEAR):
                rows = self._rows(row.alarm_id, found)
                found += on_transition(row, view, rows, self.circle, now_ms, self._link_for)
        return found

    def tick(self, alarm_ids: Iterable[str], now_ms: int) -> list[OutboxMessage]:
        """Escalations and reminders that are due for these unacknowledged alarms."""
        found: list[OutboxMessage] = []
        for alarm_id in alarm_ids:
            view = self._look(alarm_id)
            if view is not None:
                rows = self._rows(alarm_id, ())
                found += on_tick(view, rows, self.circle, now_ms, self._link_for)
        return found

    def _rows(self, alarm_id: str, fresh: Iterable[OutboxMessage]) -> tuple[OutboxMessage, ...]:
        written = self._outbox.messages_for(alarm_id)
        return (*written, *(one for one in fresh if one.alarm_id == alarm_id))
