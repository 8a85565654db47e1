"""Excursions whose readings came too late to wake anybody: found by the service, or seen in the night."""

from __future__ import annotations

from collections.abc import Iterable

from monitor.records import MS_PER_DAY, AlarmEvent, Excursion
from monitor.settings.plan import Plan
from monitor.store import Store
from monitor.views.view_records import LateExcursion

LOOK_BACK_MS = 8 * MS_PER_DAY
_CONDITION = (AlarmEvent.ACTIVATE, AlarmEvent.CLEAR)


def late_excursions(
    store: Store, plan: Plan, found_from_ms: int, found_to_ms: int, of_night: Iterable[LateExcursion]
) -> tuple[LateExcursion, ...]:
    """Those found in [from, to), whenever they were, and those of the night itself, each once, by time."""
    stored = [
        LateExcursion(plan.title(rule.place), rule, found.began_ms, found.ended_ms, found.extreme_value)
        for found in store.journal.found_late(found_from_ms, found_to_ms)
        if (rule := plan.rules.get(found.alarm_id)) is not None and not _was_known(store, found)
    ]
    fresh = [one for one in of_night if not any(_same(one, other) for other in stored)]
    return tuple(sorted((*stored, *fresh), key=lambda one: one.began_ms))


def _was_known(store: Store, found: Excursion) -> bool:
    """Whether the alarm was active then after all: the same readings can come twice."""
    rows = store.journal.transitions(found.began_ms - LOOK_BACK_MS, found.ended_ms + 1, found.alarm_id)
    changes = [row for row in rows if row.event in _CONDITION]
    within = any(row.event is AlarmEvent.ACTIVATE and row.at_ms >= found.began_ms for row in changes)
    before = [row for row in changes if row.at_ms < found.began_ms]
    return within or bool(before and before[-1].event is AlarmEvent.ACTIVATE)


def _same(one: LateExcursion, other: LateExcursion) -> bool:
    overlap = one.began_ms <= other.ended_ms and other.began_ms <= one.ended_ms
    return overlap and one.rule.alarm_id == other.rule.alarm_id
