"""The messages that changes of alarms and the passing of time call for, and what they may say of an alarm."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import partial

from monitor.logbook.place_entries import Unguarded
from monitor.notify.outbox import OutboxStore
from monitor.notify.policy import (
    AlarmMessages,
    LinkFor,
    RecipientPolicy,
    no_link,
    on_tick,
    on_transition,
    on_unguarded,
)
from monitor.records import (
    STANDING,
    AlarmEvent,
    AlarmRule,
    Computed,
    OutboxMessage,
    Priority,
    SensorKey,
    Transition,
)
from monitor.service.site_state import SiteState
from monitor.words.alarm_messages import AlarmView
from monitor.words.localizer import Localizer


class AlarmViewBuilder:
    """Gives what a message may say of an alarm. What it remembers only helps the wording."""

    def __init__(
        self, site: SiteState, advice: Callable[[AlarmRule, Localizer], str] = lambda _rule, _words: ""
    ) -> None:
        self._site, self._advice = site, advice
        self._acknowledged: dict[str, Transition] = {}
        self.covered: frozenset[str] = frozenset()
        self.dead: Mapping[str, tuple[SensorKey, ...]] = {}
        self.unheard: tuple[str, ...] = ()

    def remember(self, transitions: Iterable[Transition]) -> None:
        for row in transitions:
            if row.event is AlarmEvent.ACKNOWLEDGE:
                self._acknowledged[row.alarm_id] = row
            elif row.announces:
                self._acknowledged.pop(row.alarm_id, None)

    def unguarded(self, place: str) -> Unguarded | None:
        """Why a place is not guarded now."""
        return self._site.plan.unguarded.get(place)

    def __call__(self, alarm_id: str) -> AlarmView | None:
        """The view of an alarm; None for one that the settings no longer have."""
        rule = self._site.plan.rules.get(alarm_id)
        if rule is None:
            return None
        acknowledged, state = self._acknowledged.get(alarm_id), self._site.state(alarm_id)
        is_dead_sensor = rule.quantity == Computed.DEAD_SENSOR_MINUTES
        return AlarmView(
            rule=rule,
            state=state,
            place_title=self._site.plan.title(rule.place),
            suspect=self._site.is_suspect(rule.place, rule.quantity),
            change_per_hour=self._site.change_per_hour(rule.place, rule.quantity, rule.side),
            returned_ms=None if state.active else state.over_ms,
            acknowledged_ms=acknowledged.processed_ms if acknowledged else None,
            acknowledged_by=acknowledged.actor if acknowledged else "",
            common_cause=rule.place in self.covered,
            dead_sensors=self.dead.get(rule.place, ()) if is_dead_sensor else (),
            boards=self.unheard if rule.quantity == Computed.UNHEARD_NODES else (),
            advice=partial(self._advice, rule),
            fresh_s=self._site.plan.longest_gap_s(rule.place),
        )


class Announcer:
    """Gives the messages that belong into the next transaction; it writes nothing itself."""

    def __init__(
        self,
        outbox: OutboxStore,
        policy: RecipientPolicy,
        view_of: AlarmViewBuilder,
        link_for: LinkFor = no_link,
        acknowledged: Callable[[str, int], bool] = lambda _alarm_id, _since_ms: False,
    ) -> None:
        self._outbox, self.policy, self._view_of, self._link_for = outbox, policy, view_of, link_for
        self._acknowledged = acknowledged

    def announce(self, transitions: Sequence[Transition], now_ms: int) -> list[OutboxMessage]:
        """Messages for the changes of one turn, in their order; each sees what those before called for."""
        self._view_of.remember(transitions)
        messages: list[OutboxMessage] = []
        for row in transitions:
            view = self._view_of(row.alarm_id)
            if view is not None and (row.announces or row.event is AlarmEvent.CLEAR):
                rows = self._rows(row.alarm_id, messages)
                messages += on_transition(row, self._messages(view, now_ms), rows)
        return [*messages, *self._unguarded(transitions, now_ms)]

    def _unguarded(self, transitions: Sequence[Transition], now_ms: int) -> Iterator[OutboxMessage]:
        """Where a person ended the guard of a place while an alarm stood: one message for each place."""
        ended = [row for row in transitions if row.event is AlarmEvent.SUPPRESS and row.before in STANDING]
        told: set[tuple[str, str]] = set()
        for row in sorted(ended, key=lambda row: list(Priority).index(row.priority)):
            view, why = self._view_of(row.alarm_id), self._view_of.unguarded(row.place)
            if view is None or why is None or not why.said_by:
                continue
            for message in on_unguarded(why, self._messages(view, now_ms), self._rows(row.alarm_id, ())):
                if (row.place, message.recipient) not in told:
                    told.add((row.place, message.recipient))
                    yield message

    def tick(self, alarm_ids: Iterable[str], now_ms: int) -> list[OutboxMessage]:
        """Escalations and reminders that are due for these unacknowledged alarms."""
        messages: list[OutboxMessage] = []
        for alarm_id in alarm_ids:
            view = self._view_of(alarm_id)
            if view is not None:
                messages += on_tick(self._messages(view, now_ms), self._rows(alarm_id, ()))
        return messages

    def _messages(self, view: AlarmView, now_ms: int) -> AlarmMessages:
        since = partial(self._acknowledged, view.rule.alarm_id)
        return AlarmMessages(view, self.policy, now_ms, self._link_for, since)

    def _rows(self, alarm_id: str, fresh: Iterable[OutboxMessage]) -> tuple[OutboxMessage, ...]:
        written = self._outbox.messages_for(alarm_id)
        return (*written, *(one for one in fresh if one.alarm_id == alarm_id))
