"""What a message may say about one alarm, put together from the live picture and the journal."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from monitor.notify.wording import AlarmView
from monitor.records import QUANTITIES, AlarmEvent, AlarmRule, Computed, SensorKey, Transition
from monitor.service.watch import Watch


class AlarmLook:
    """Answers `look(alarm_id)` for the messages part. What it remembers only helps the wording."""

    def __init__(self, watch: Watch, advice: Callable[[AlarmRule], str] = lambda _rule: "") -> None:
        self._watch, self._advice = watch, advice
        self._acknowledged: dict[str, Transition] = {}
        self._returned_ms: dict[str, int] = {}
        self.covered: frozenset[str] = frozenset()
        self.dead: Mapping[str, tuple[SensorKey, ...]] = {}

    def remember(self, transitions: Iterable[Transition]) -> None:
        """Note who acknowledged and what returned."""
        for row in transitions:
            if row.event is AlarmEvent.ACKNOWLEDGE:
                self._acknowledged[row.alarm_id] = row
            elif row.event is AlarmEvent.CLEAR:
                self._returned_ms[row.alarm_id] = row.at_ms
            elif row.announces:
                self._acknowledged.pop(row.alarm_id, None)
                self._returned_ms.pop(row.alarm_id, None)

    def __call__(self, alarm_id: str) -> AlarmView | None:
        """The view of an alarm; None for one that the settings no longer have."""
        rule = self._watch.plan.rules.get(alarm_id)
        if rule is None:
            return None
        acknowledged = self._acknowledged.get(alarm_id)
        return AlarmView(
            rule=rule,
            state=self._watch.state(alarm_id),
            place_title=self._title(rule),
            suspect=self._watch.is_suspect(rule.place, rule.quantity),
            change_per_hour=self._watch.change_per_hour(rule.place, rule.quantity),
            returned_ms=self._returned_ms.get(alarm_id),
            acknowledged_ms=acknowledged.processed_ms if acknowledged else None,
            acknowledged_by=acknowledged.actor if acknowledged else "",
            common_cause=rule.place in self.covered,
            advice=self._advice(rule),
        )

    def _title(self, rule: AlarmRule) -> str:
        """The place; for a dead sensor the board with the names of its dead sensors."""
        title = self._watch.plan.title(rule.place)
        if rule.quantity != Computed.DEAD_SENSOR_MINUTES:
            return title
        names = [
            f"{one.probe} {QUANTITIES[one.quantity].title}".strip() for one in self.dead.get(rule.place, ())
        ]
        return f"{title} {', '.join(names)}" if names else title
