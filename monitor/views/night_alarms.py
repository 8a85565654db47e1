"""From the rows of the journal to the alarms of a night."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from monitor.records import AlarmEvent, Transition
from monitor.settings.plan import Plan
from monitor.views.view_records import AlarmNight


def alarms_of(plan: Plan, transitions: Iterable[Transition]) -> list[AlarmNight]:
    """One entry per annunciation, with the acknowledgement and the end that followed it."""
    found: list[AlarmNight] = []
    rows = list(transitions)
    for index, row in enumerate(rows):
        if row.announces:
            later = [other for other in rows[index + 1 :] if other.alarm_id == row.alarm_id]
            found.append(_alarm(plan, row, later))
    return found


def _alarm(plan: Plan, row: Transition, later: list[Transition]) -> AlarmNight:
    until = next((other for other in later if other.announces), None)
    mine = later[: later.index(until)] if until else later
    acknowledged = _first(mine, lambda other: other.event is AlarmEvent.ACKNOWLEDGE)
    ended = _first(mine, lambda other: other.event in (AlarmEvent.CLEAR, AlarmEvent.SUPPRESS))
    return AlarmNight(
        title=plan.title(row.place),
        rule=plan.rules.get(row.alarm_id),
        priority=row.priority,
        alarm_id=row.alarm_id,
        began_ms=row.at_ms,
        value=row.value,
        extreme=None,
        acknowledged_by=acknowledged.actor if acknowledged else "",
        acknowledged_ms=acknowledged.processed_ms if acknowledged else None,
        cleared_ms=ended.at_ms if ended else None,
        reason=ended.reason if ended and ended.event is AlarmEvent.SUPPRESS else row.reason,
        hidden=ended is not None and ended.event is AlarmEvent.SUPPRESS,
    )


def _first(rows: Iterable[Transition], wanted: Callable[[Transition], bool]) -> Transition | None:
    return next((row for row in rows if wanted(row)), None)
